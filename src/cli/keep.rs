//! Keeping measured jumps in the log.

use std::fs::File;
use std::path::{Path, PathBuf};

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

use super::args::Keep;
use super::{load, log_file, output};
use crate::log::{AthleteId, ClipHash, ClipRef, ClipTrials, Log, LogError, TrialRecord};
use crate::report::model::Failure;
use crate::workflow::Measurement;

/// Years before this are what phones without a clock write.
const FIRST_YEAR: i16 = 2005;

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
    let unreadable = |error: std::io::Error| Failure {
        message: format!("the clip cannot be read again, to log it ({error})"),
        hint: "look whether it is still there, and measure it again".to_owned(),
    };
    let clip = File::open(path).map_err(unreadable)?;
    let modified = clip.metadata().and_then(|data| data.modified());
    let sha256 = ClipHash::of(clip).map_err(unreadable)?;
    let patch = evidence.patch;
    let name = path.file_name().unwrap_or(path.as_os_str());
    let with_note = |record: &TrialRecord| TrialRecord {
        note: note.to_owned(),
        ..record.clone()
    };
    Ok(Some(Ready {
        clip: ClipRef {
            sha256,
            name: name.to_string_lossy().into_owned(),
            patch_px: Some([patch.x, patch.y, patch.w, patch.h]),
        },
        day: day(&evidence.clip.facts().tags, modified.ok(), log_file::now()),
        trials: (1..).zip(measured.trials.iter().map(with_note)).collect(),
    }))
}

/// The day of a clip: from its own tag, else from its file, else today.
fn day(
    tags: &[(String, String)],
    modified: Option<std::time::SystemTime>,
    now: Timestamp,
) -> (Date, &'static str) {
    let here = |moment: Timestamp| moment.to_zoned_datetime(TimeZone::system()).date();
    let tagged = tags
        .iter()
        .filter(|(key, _)| key.to_ascii_lowercase().contains("creation_time"))
        .filter_map(|(_, value)| value.trim().parse::<Timestamp>().ok())
        .find(|moment| is_likely(*moment, now));
    if let Some(moment) = tagged {
        return (here(moment), "as the clip says");
    }
    let modified = modified.and_then(|time| Timestamp::try_from(time).ok());
    match modified {
        Some(moment) => (here(moment), "the day of the file; --date states another"),
        None => (here(now), "today; --date states another"),
    }
}

/// Whether a clock that runs can have said this.
fn is_likely(moment: Timestamp, now: Timestamp) -> bool {
    let a_day = SignedDuration::from_hours(24);
    let year = moment.to_zoned_datetime(TimeZone::UTC).year();
    year >= FIRST_YEAR && moment.duration_since(now) < a_day
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
        let kept = self.log.keep_clip(&wanted, log_file::now());
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
            "{clip}: logged as trial {} of {}, {} ({how}){again}\n",
            numbers.join(", "),
            self.name,
            kept.date,
        ));
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_day_comes_from_the_tag_only_if_a_clock_can_have_said_it() {
        let now: Timestamp = "2026-03-02T12:00:00Z".parse().unwrap();
        let modified: Timestamp = "2026-02-20T12:00:00Z".parse().unwrap();
        let modified = std::time::SystemTime::try_from(modified).ok();
        let tag = |value: &str| vec![("creation_time".to_owned(), value.to_owned())];
        let told = |value: &str| day(&tag(value), modified, now);
        assert_eq!(
            told("2026-03-01T12:00:00.000000Z"),
            (jiff::civil::date(2026, 3, 1), "as the clip says")
        );
        for bad in [
            "1904-01-01T00:00:00Z",
            "1970-01-01T00:00:00Z",
            "2031-01-01T00:00:00Z",
            "x",
        ] {
            assert_eq!(told(bad).0, jiff::civil::date(2026, 2, 20), "{bad}");
        }
        assert_eq!(day(&[], None, now).0, jiff::civil::date(2026, 3, 2));
    }
}
