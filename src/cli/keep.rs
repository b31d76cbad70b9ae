//! Keeping measured jumps in the log.

use std::path::{Path, PathBuf};

use jiff::civil::Date;

use super::args::Keep;
use super::{load, log_file, output};
use crate::log::{AthleteId, ClipRef, ClipTrials, Log, LogError, TrialRecord};
use crate::report::model::Failure;
use crate::report::terminal::harmless;
use crate::workflow::Measurement;
use crate::workflow::keeping::{self, DayFrom};

/// The log, open, and whose jumps go into it.
pub(super) struct Keeper {
    log: Log,
    file: PathBuf,
    athlete: AthleteId,
    name: String,
}

/// A clip's jumps, ready to be kept.
pub(super) struct Ready {
    clip: ClipRef,
    /// The day, and how it is known.
    day: (Date, &'static str),
    trials: Vec<(u32, TrialRecord)>,
}

/// What is to be kept of a clip; nothing where no jump was found.
///
/// # Errors
/// When the clip cannot be read again.
pub(super) fn ready(
    path: &Path,
    measured: &Measurement,
    note: &str,
) -> Result<Option<Ready>, Failure> {
    let Some(evidence) = measured
        .evidence
        .as_ref()
        .filter(|_| !measured.trials.is_empty())
    else {
        return Ok(None);
    };
    let name = path.file_name().unwrap_or(path.as_os_str());
    let (clip, modified) = keeping::clip_ref(path, &name.to_string_lossy(), evidence.patch)?;
    let (date, from) = keeping::day(&evidence.tags, modified, keeping::now());
    let with_note = |record: &TrialRecord| TrialRecord {
        note: note.to_owned(),
        ..record.clone()
    };
    Ok(Some(Ready {
        clip,
        day: (date, known(from)),
        trials: (1..).zip(measured.trials.iter().map(with_note)).collect(),
    }))
}

/// How the day is known, in words.
fn known(from: DayFrom) -> &'static str {
    match from {
        DayFrom::Tag => "as the clip says",
        DayFrom::File => "the day of the file; --date states another",
        DayFrom::Today => "today; --date states another",
    }
}

impl Keeper {
    /// Opens the log and looks the athlete up, before any clip is measured.
    ///
    /// # Errors
    /// When there is no log or no such athlete.
    pub(super) fn open(keep: &Keep) -> Result<Self, Failure> {
        let failed = |error: LogError| log_file::failure(&keep.file, &error);
        if !keep.file.exists() {
            return Err(failed(LogError::UnknownAthlete {
                name: keep.athlete.clone(),
                close: Vec::new(),
            }));
        }
        let log = log_file::write(&keep.file)?;
        let athlete = log.athlete(&keep.athlete).map_err(failed)?;
        if keep.stated.load_kg.is_some_and(|load_kg| load_kg > 0.0) {
            load::before_the_first(&log, &athlete).map_err(failed)?;
        }
        Ok(Self {
            log,
            file: keep.file.clone(),
            athlete: athlete.id,
            name: athlete.name,
        })
    }

    /// Number of the athlete in the log.
    pub(super) fn athlete(&self) -> i64 {
        self.athlete.number()
    }

    /// Keeps the jumps of a clip and says so on standard error.
    ///
    /// # Errors
    /// When the clip is somebody else's, or the log refuses.
    pub(super) fn keep(&mut self, call: &Keep, clip: &str, ready: &Ready) -> Result<(), Failure> {
        let wanted = ClipTrials {
            athlete: self.athlete,
            clip: ready.clip.clone(),
            date: ready.day.0,
            stated: call.stated,
            trials: &ready.trials,
        };
        let kept = self.log.keep_clip(&wanted, keeping::now());
        let kept = kept.map_err(|error| log_file::failure(&self.file, &error))?;
        let how = match (call.stated.date, kept.replaced) {
            (Some(_), _) => "as stated",
            (None, 0) => ready.day.1,
            (None, _) => "as it was kept",
        };
        let numbers: Vec<String> = kept.trials.iter().map(|id| id.0.to_string()).collect();
        let again = match kept.replaced {
            0 => String::new(),
            count => {
                let older = output::count(count, "older trial");
                format!("; the clip was known, this takes the place of {older}")
            }
        };
        output::murmur(&format!(
            "{}: logged as trial {} of {}, {} ({how}){again}\n",
            harmless(clip),
            numbers.join(", "),
            self.name,
            kept.date,
        ));
        Ok(())
    }
}
