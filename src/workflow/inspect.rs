//! What a clip is, and how well a jump in it could be measured.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::jump::height::flight_time;
use crate::jump::{Event, Flight, Gravity, HeightResult};
use crate::report::model::{Failure, Inspection};
use crate::units::{CaptureTime, Metres, Span};
use crate::video::ClockReport;
use crate::video::clip::Clip;
use crate::video::decode::DecodeOptions;
use crate::video::repeats::find_repeats;

use super::apart::{self, Asked};
use super::{clock_of, document, failure, wording};

/// The jump for which a precision is stated.
const REFERENCE_HEIGHT: Metres = Metres::from_metres(0.30);

/// An inspection and what a person should know of the clip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Inspected {
    /// The facts.
    pub inspection: Inspection,
    /// Sentences on the clip as a whole.
    pub warnings: Vec<String>,
}

/// Looks into the clip at `path`; every frame is decoded once.
///
/// # Errors
/// When the clip cannot be read, or its times cannot be used.
pub fn inspect(
    path: &Path,
    capture_fps: Option<f64>,
    threads: usize,
) -> Result<Inspected, Failure> {
    match apart::inspect(path, capture_fps, threads) {
        Asked::Answer(inspected) => Ok(*inspected),
        Asked::Failed(failure) => Err(failure),
        Asked::Here(remark) => {
            let mut inspected = look(path, capture_fps, threads)?;
            inspected.warnings.extend(remark);
            Ok(inspected)
        }
    }
}

/// Looks into it in this process.
pub(super) fn look(
    path: &Path,
    capture_fps: Option<f64>,
    threads: usize,
) -> Result<Inspected, Failure> {
    let clip = Clip::open(path).map_err(failure)?;
    let facts = clip.facts();
    let clock = clock_of(&clip, capture_fps)?;
    let report = clock.report();
    let options = DecodeOptions {
        threads,
        range: None,
    };
    let repeats = find_repeats(&clip, &options).map_err(failure)?;
    let mut warnings = wording::of_clip(facts);
    warnings.extend(wording::of_clock(report));
    let mut clock = document::clock(report);
    clock.repeated = repeats.repeated.len();
    let (reference_bound_m, u) = precision(report)?;
    let inspection = Inspection {
        clip: path.display().to_string(),
        codec: format!(
            "{}, {} bit, in {}",
            facts.codec, facts.bit_depth, facts.container
        ),
        width_px: facts.size.0,
        height_px: facts.size.1,
        rotation_deg: i32::from(facts.rotation),
        measured_fps: report.measured_fps,
        clock,
        jitter_s: Span::from_seconds(report.jitter_s),
        tags: facts.tags.clone(),
        reference_height_m: REFERENCE_HEIGHT,
        reference_bound_m,
        reference_u_m: u.u,
    };
    Ok(Inspected {
        inspection,
        warnings,
    })
}

/// Farthest that the height of the reference jump can be off, and its result,
/// with each event known to lie between two frames and no better.
fn precision(report: &ClockReport) -> Result<(Metres, HeightResult), Failure> {
    let gravity = Gravity::standard();
    let flight = flight_time(REFERENCE_HEIGHT, gravity.value());
    let half = Span::from_seconds(0.5 / report.capture_fps);
    let event = |best: CaptureTime| Event::between_frames(best - half, best + half);
    let start = CaptureTime::from_seconds(1.0);
    let flight = event(start)
        .and_then(|takeoff| Flight::new(takeoff, event(start + flight)?))
        .map_err(wording::jump_failure)?;
    let result = HeightResult::of(&flight, &document::conditions(report, gravity)?);
    let off = |bound: Metres| (bound - result.height).abs();
    let (lo, hi) = (off(result.bounds.lo()), off(result.bounds.hi()));
    Ok((if lo > hi { lo } else { hi }, result))
}
