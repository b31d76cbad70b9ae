//! What the log needs to know of a clip: its contents, its name, its day.

use std::fs::File;
use std::path::Path;
use std::time::SystemTime;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

use crate::log::{ClipHash, ClipRef};
use crate::report::model::Failure;
use crate::video::FloorPatch;

/// Years before this are what phones without a clock write.
const FIRST_YEAR: i16 = 2005;

/// The clip at `path` as the log knows it, and when its file was last changed.
///
/// # Errors
/// When the clip cannot be read again.
pub fn clip_ref(
    path: &Path,
    name: &str,
    patch: FloorPatch,
) -> Result<(ClipRef, Option<SystemTime>), Failure> {
    let unreadable = |error: std::io::Error| Failure {
        message: format!("the clip cannot be read again, to log it ({error})"),
        hint: "look whether it is still there, and measure it again".to_owned(),
    };
    let clip = File::open(path).map_err(unreadable)?;
    let modified = clip.metadata().and_then(|data| data.modified()).ok();
    let clip = ClipRef {
        sha256: ClipHash::of(clip).map_err(unreadable)?,
        name: name.to_owned(),
        patch_px: Some([patch.x, patch.y, patch.w, patch.h]),
    };
    Ok((clip, modified))
}

/// The time of an entry, to the second.
pub fn now() -> Timestamp {
    let now = Timestamp::now();
    Timestamp::from_second(now.as_second()).unwrap_or(now)
}

/// How the day of a clip is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DayFrom {
    /// A tag of the clip.
    Tag,
    /// The time at which its file was last changed.
    File,
    /// Nothing but today.
    Today,
}

/// The day of a clip: from its own tag, else from its file, else today.
pub fn day(
    tags: &[(String, String)],
    modified: Option<SystemTime>,
    now: Timestamp,
) -> (Date, DayFrom) {
    let here = |moment: Timestamp| moment.to_zoned_datetime(TimeZone::system()).date();
    let tagged = tags
        .iter()
        .filter(|(key, _)| key.to_ascii_lowercase().contains("creation_time"))
        .filter_map(|(_, value)| value.trim().parse::<Timestamp>().ok())
        .find(|moment| is_likely(*moment, now));
    if let Some(moment) = tagged {
        return (here(moment), DayFrom::Tag);
    }
    let modified = modified.and_then(|time| Timestamp::try_from(time).ok());
    match modified {
        Some(moment) => (here(moment), DayFrom::File),
        None => (here(now), DayFrom::Today),
    }
}

/// Whether a clock that runs can have said this.
fn is_likely(moment: Timestamp, now: Timestamp) -> bool {
    let a_day = SignedDuration::from_hours(24);
    let year = moment.to_zoned_datetime(TimeZone::UTC).year();
    year >= FIRST_YEAR && moment.duration_since(now) < a_day
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_day_comes_from_the_tag_only_if_a_clock_can_have_said_it() {
        let now: Timestamp = "2026-03-02T12:00:00Z".parse().unwrap();
        let modified: Timestamp = "2026-02-20T12:00:00Z".parse().unwrap();
        let modified = SystemTime::try_from(modified).ok();
        let tag = |value: &str| vec![("creation_time".to_owned(), value.to_owned())];
        let told = |value: &str| day(&tag(value), modified, now);
        assert_eq!(
            told("2026-03-01T12:00:00.000000Z"),
            (jiff::civil::date(2026, 3, 1), DayFrom::Tag)
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
