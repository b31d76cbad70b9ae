//! Arguments of the log: where it lies.

use std::path::PathBuf;

use clap::Args;

use crate::cli::log_file;
use crate::report::model::Failure;

/// What every command that uses the log takes.
#[derive(Args)]
pub(in crate::cli) struct RawLogFile {
    /// The log; else the file that UNDERFOOT_LOG names, else your own log
    #[arg(long = "log", value_name = "FILE")]
    file: Option<PathBuf>,
}

impl RawLogFile {
    /// Where the log lies, whether or not it is there.
    pub(in crate::cli) fn checked(self) -> Result<PathBuf, Failure> {
        log_file::locate(self.file)
    }
}
