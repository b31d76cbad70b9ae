//! Where the log lies, and opening it.

use std::path::{Path, PathBuf};

use directories::ProjectDirs;

use crate::log::{Log, LogError};
use crate::report::model::Failure;
use crate::workflow;

/// Names the log, for those who always use one of their own.
const VARIABLE: &str = "UNDERFOOT_LOG";
/// The file's name in the data folder.
const FILE: &str = "log.sqlite";

/// Where the log lies: where stated, else where [`VARIABLE`] says, else in the folder
/// that the system has for a program's data.
pub(in crate::cli) fn locate(stated: Option<PathBuf>) -> Result<PathBuf, Failure> {
    let named = || std::env::var_os(VARIABLE).filter(|value| !value.is_empty());
    if let Some(path) = stated.or_else(|| named().map(PathBuf::from)) {
        return Ok(path);
    }
    let folders = ProjectDirs::from("", "", "underfoot").ok_or_else(|| Failure {
        message: "the system names no folder for a program's data".to_owned(),
        hint: format!("say where the log is to be: --log FILE, or {VARIABLE}=FILE"),
    })?;
    Ok(folders.data_dir().join(FILE))
}

/// Opens the log for reading.
pub(in crate::cli) fn read(path: &Path) -> Result<Log, Failure> {
    Log::open_read_only(path).map_err(|error| failure(path, &error))
}

/// Opens the log for reading and writing; makes it if there is none.
pub(in crate::cli) fn write(path: &Path) -> Result<Log, Failure> {
    Log::open(path).map_err(|error| failure(path, &error))
}

/// Opens a log that is there for reading and writing.
pub(in crate::cli) fn change(path: &Path) -> Result<Log, Failure> {
    if path.exists() {
        write(path)
    } else {
        Err(failure(path, &LogError::Missing(path.to_owned())))
    }
}

/// What went wrong with the log at `path`, with the remedy.
pub(in crate::cli) fn failure(path: &Path, error: &LogError) -> Failure {
    let plain = workflow::failure(error);
    match error {
        LogError::NotALog
        | LogError::Newer { .. }
        | LogError::Damaged { .. }
        | LogError::DiskFull
        | LogError::Disk(_)
        | LogError::ReadOnly
        | LogError::Busy
        | LogError::Other(_) => Failure {
            message: format!("{}: {}", path.display(), plain.message),
            hint: plain.hint,
        },
        _ => plain,
    }
}
