//! `log import`, `log export`, `log backup`: the log and other files.

use std::fs::{self, File, OpenOptions};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use jiff::Timestamp;

use super::args::{Choice, Export, Import};
use super::{log_file, output, write};
use crate::log::exchange::{Format, Selection};
use crate::log::{Log, LogError};
use crate::report::model::Failure;

/// A bar on standard error, where somebody looks.
fn bar(of: u64, template: &str) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(of), ProgressDrawTarget::stderr());
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style);
    }
    bar
}

pub(super) fn import(file: &Path, call: &Import, now: Timestamp) -> Result<(), Failure> {
    let name = call.file.display();
    let unreadable = |error: std::io::Error| Failure {
        message: format!("{name} cannot be read ({error})"),
        hint: "look whether the name is right and the file is yours to read".to_owned(),
    };
    let input = File::open(&call.file).map_err(unreadable)?;
    let size = input.metadata().map_err(unreadable)?;
    if size.is_dir() {
        return Err(unreadable(std::io::ErrorKind::IsADirectory.into()));
    }
    let mut log = log_file::write(file)?;
    let bar = bar(size.len(), "importing {bar:24} {percent:>3} %  {eta} left");
    let mut tell = |bytes| bar.set_position(bytes);
    let done = log.import(call.format, input, call.add_athletes, now, &mut tell);
    bar.finish_and_clear();
    let done = done.map_err(|error| of_file(file, &call.file, &error))?;
    for athlete in &done.added {
        output::murmur(&format!("note: added the athlete {athlete}\n"));
    }
    output::say(&format!(
        "{} entered; {} there already\n",
        output::count(done.entered, "row"),
        done.already_there
    ))
}

/// What is wrong with the log or, if it lies in a line of it, with the other file.
fn of_file(log: &Path, other: &Path, error: &LogError) -> Failure {
    let plain = log_file::failure(log, error);
    match error {
        LogError::AtLine { .. } | LogError::Unreadable(_) | LogError::Unwritable(_) => Failure {
            message: format!("{}: {}", other.display(), plain.message),
            hint: format!("{}; nothing was changed", plain.hint),
        },
        _ => plain,
    }
}

pub(super) fn export(file: &Path, call: &Export) -> Result<(), Failure> {
    if !call.force {
        refuse_taken(&call.file, "overwrite it with --force")?;
    }
    let log = log_file::read(file)?;
    let selection = selection(&log, &call.choice).map_err(|e| log_file::failure(file, &e))?;
    let part = Part::beside(&call.file)?;
    let mut out = BufWriter::new(&part.file);
    let bar = bar(0, "exporting {human_pos} rows");
    let mut tell = |rows: usize| bar.set_position(rows as u64);
    let done = match call.format {
        Format::Csv => log.export_csv(call.table, &selection, &mut out, &mut tell),
        Format::JsonLines => log.export_json_lines(&selection, &mut out, &mut tell),
    };
    bar.finish_and_clear();
    let rows = done.map_err(|error| of_file(file, &call.file, &error))?;
    let flushed = out.flush();
    drop(out);
    flushed
        .and_then(|()| part.file.sync_all())
        .map_err(|error| write::unwritable(&call.file, &error))?;
    part.take_name(&call.file)?;
    let rows = output::count(rows, "row");
    output::say(&format!("{rows} in {}\n", call.file.display()))
}

fn selection(log: &Log, choice: &Choice) -> Result<Selection, LogError> {
    let athlete = choice.athlete.as_deref().map(|name| log.athlete(name));
    Ok(Selection {
        athlete: athlete.transpose()?.map(|athlete| athlete.id),
        from: choice.from,
        to: choice.to,
    })
}

pub(super) fn backup(file: &Path, to: &Path) -> Result<(), Failure> {
    refuse_taken(to, "name a new file")?;
    let log = log_file::read(file)?;
    let part = Part::beside(to)?;
    let bar = bar(0, "copying {bar:24} {percent:>3} %");
    let copied = log.backup(&part.path, &mut |done, of| {
        bar.set_length(of as u64);
        bar.set_position(done as u64);
    });
    bar.finish_and_clear();
    copied.map_err(|error| log_file::failure(to, &error))?;
    part.take_name(to)?;
    output::say(&format!("The log was copied to {}\n", to.display()))
}

/// Refuses a name that is taken.
pub(super) fn refuse_taken(path: &Path, hint: &str) -> Result<(), Failure> {
    match path.symlink_metadata() {
        Err(_) => Ok(()),
        Ok(_) => Err(Failure {
            message: format!("{} is there already", path.display()),
            hint: format!("name another file, or {hint}"),
        }),
    }
}

/// A new file that nobody else may read, which gets its name when it is complete;
/// if it never is, it goes away.
struct Part {
    path: PathBuf,
    file: File,
}

impl Part {
    fn beside(wanted: &Path) -> Result<Self, Failure> {
        let unwritable = |error: std::io::Error| write::unwritable(wanted, &error);
        let name = wanted.file_name();
        let name = name.ok_or_else(|| unwritable(std::io::ErrorKind::InvalidFilename.into()))?;
        let mut part = std::ffi::OsString::from(".");
        part.push(name);
        part.push(format!(".{}.part", std::process::id()));
        let path = wanted.with_file_name(part);
        let mut options = OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let file = options.open(&path).map_err(unwritable)?;
        Ok(Self { path, file })
    }

    fn take_name(&self, wanted: &Path) -> Result<(), Failure> {
        fs::rename(&self.path, wanted).map_err(|error| write::unwritable(wanted, &error))
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        // Gone already if it took its name.
        let _ = fs::remove_file(&self.path);
    }
}
