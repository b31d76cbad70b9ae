//! What can be wrong with the log, and what to do about it.

use std::path::PathBuf;

use jiff::civil::Date;
use rusqlite::ErrorCode;
use thiserror::Error;

/// A log that cannot be used, or an entry that does not fit: what, and after the
/// dash the remedy.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum LogError {
    /// There is no log yet.
    #[error("there is no log at {} — add an athlete first, or name another log", .0.display())]
    Missing(PathBuf),
    /// The system refuses the file or its folder.
    #[error("the log {} cannot be used ({cause}) — {remedy}", path.display())]
    File {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        cause: String,
        /// What to do.
        remedy: &'static str,
    },
    /// A file of another kind.
    #[error(
        "this file is no log of this program, or its beginning is damaged — name another file, \
         or put the latest backup in its place; it was left as it is"
    )]
    NotALog,
    /// A log of a newer version of the program.
    #[error(
        "the log is of layout {found}, this program knows layouts up to {known} — \
         use the newer program that wrote it; the log was left as it is"
    )]
    Newer {
        /// Layout of the file.
        found: i64,
        /// Newest layout known here.
        known: i64,
    },
    /// The file's contents are broken.
    #[error(
        "the log is damaged ({cause}) — put the latest backup in its place; keep the damaged \
         file, much of it can often be read out"
    )]
    Damaged {
        /// What is broken.
        cause: String,
    },
    /// No room left.
    #[error("the disk is full, nothing was changed — make room and try again")]
    DiskFull,
    /// The disk fails, or may take no larger file.
    #[error(
        "the disk refuses to read or write the log ({0}), nothing was changed — make room, and \
         look whether the disk is sound"
    )]
    Disk(String),
    /// The file or its folder may be read only.
    #[error(
        "the log may only be read here, nothing was changed — give yourself the right to \
         write to the file and its folder, or name another log"
    )]
    ReadOnly,
    /// Another program holds the log for too long.
    #[error("another program is writing to the log — try again when it is done")]
    Busy,
    /// No athlete of this name.
    #[error("no athlete is called \"{name}\" — {}", close_names(close))]
    UnknownAthlete {
        /// The name that was asked for.
        name: String,
        /// Names that look like it, the most alike first.
        close: Vec<String>,
    },
    /// An entry for somebody who is not in the log any more.
    #[error(
        "the athlete is not in the log any more — look at `underfoot log athletes`; somebody \
         may have deleted her or him just now"
    )]
    Gone,
    /// Deleted, but older pages are still in use.
    #[error(
        "everything was deleted, but another program is reading the log, and what it reads still \
         lies in a file beside it — close that program; the file goes with the last that uses \
         the log"
    )]
    StillRead,
    /// The name is taken.
    #[error("there is an athlete called \"{0}\" already — choose a name that tells them apart")]
    AthleteExists(String),
    /// A number that belongs to no entry.
    #[error("there is no {what} number {number} — `underfoot log show` lists the numbers")]
    NoSuchEntry {
        /// What was looked for.
        what: &'static str,
        /// Its number.
        number: i64,
    },
    /// A clip that was logged for somebody else.
    #[error(
        "this clip is logged for {athlete} already (trial {trial}) — look whether the name is \
         right; if it was wrong then, take it out with `underfoot log remove {trial}` first"
    )]
    ClipOfAnother {
        /// Who it was logged for.
        athlete: String,
        /// First of its trials.
        trial: i64,
    },
    /// The place in the day is taken by another entry.
    #[error(
        "{athlete} has another {what} number {place} on {date} — correct the number, or take \
         the older entry out"
    )]
    PlaceTaken {
        /// What was entered.
        what: &'static str,
        /// Whose day.
        athlete: String,
        /// Which day.
        date: Date,
        /// Which place.
        place: u32,
    },
    /// A value that cannot be.
    #[error("{what} cannot be {value} — {remedy}")]
    BadValue {
        /// Which value.
        what: &'static str,
        /// What was given.
        value: String,
        /// What it may be.
        remedy: String,
    },
    /// What is wrong with a line of a file.
    #[error("line {line}: {error}")]
    AtLine {
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        error: Box<LogError>,
    },
    /// A file that the system refuses to read, or that is none of ours.
    #[error("the file cannot be read ({0}) — look whether it is the right one")]
    Unreadable(String),
    /// A file that the system refuses to write.
    #[error("the file cannot be written ({0}) — make room, or choose another folder")]
    Unwritable(String),
    /// Anything else that SQLite says.
    #[error("the log cannot be used ({0}) — try again; if it stays, restore the latest backup")]
    Other(rusqlite::Error),
}

fn close_names(close: &[String]) -> String {
    match close {
        [] => "add her or him with `underfoot log athlete add NAME`".to_owned(),
        names => format!(
            "did you mean {}? A new one is added with `underfoot log athlete add NAME`",
            names.join(" or ")
        ),
    }
}

impl LogError {
    /// A value that cannot be.
    pub(super) fn bad(
        what: &'static str,
        value: impl ToString,
        remedy: impl Into<String>,
    ) -> LogError {
        Self::BadValue {
            what,
            value: value.to_string(),
            remedy: remedy.into(),
        }
    }

    /// The same, in a line of a file.
    pub(super) fn at_line(self, line: u64) -> LogError {
        match self {
            // What concerns the log as a whole lies in no line.
            Self::Busy | Self::DiskFull | Self::Disk(_) | Self::ReadOnly | Self::AtLine { .. } => {
                self
            }
            error => Self::AtLine {
                line,
                error: Box::new(error),
            },
        }
    }

    /// A file that cannot be read.
    pub(super) fn unreadable(error: std::io::Error) -> LogError {
        Self::Unreadable(error.to_string())
    }

    /// A file that cannot be written.
    pub(super) fn unwritable(error: std::io::Error) -> LogError {
        Self::Unwritable(error.to_string())
    }

    /// A content that this program cannot have written.
    pub(super) fn damaged(cause: impl ToString) -> LogError {
        Self::Damaged {
            cause: cause.to_string(),
        }
    }
}

impl From<rusqlite::Error> for LogError {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::Error as Sql;
        match &error {
            Sql::FromSqlConversionFailure(..)
            | Sql::IntegralValueOutOfRange(..)
            | Sql::InvalidColumnType(..) => return Self::damaged(&error),
            _ => {}
        }
        match error.sqlite_error_code() {
            Some(ErrorCode::NotADatabase) => Self::NotALog,
            Some(ErrorCode::DatabaseCorrupt) => Self::damaged(&error),
            Some(ErrorCode::DiskFull) => Self::DiskFull,
            Some(ErrorCode::ConstraintViolation) if is_foreign_key(&error) => Self::Gone,
            Some(ErrorCode::SystemIoFailure) => Self::Disk(error.to_string()),
            Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen) => Self::ReadOnly,
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy,
            _ => Self::Other(error),
        }
    }
}

fn is_foreign_key(error: &rusqlite::Error) -> bool {
    let code = error.sqlite_error().map(|error| error.extended_code);
    code == Some(rusqlite::ffi::SQLITE_CONSTRAINT_FOREIGNKEY)
}
