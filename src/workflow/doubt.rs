//! Whether a clip is slow motion that does not say so.
//!
//! A slow-motion file played at its own pace shows flights of seconds, which no
//! person makes; the detector looks for none of those. So where it finds no
//! convincing jump, the clip is watched again on faster clocks. A jump that is
//! convincing there puts the clock in doubt, and a height would be a guess.

use crate::jump::{FoundJump, find_jumps};
use crate::report::model::Failure;
use crate::units::Span;
use crate::video::clip::Clip;
use crate::video::{CaptureClock, ClockSource, FloorPatch, Suggestion};

use super::{Progress, Stage, clock_of, floor, watch_with, wording};

/// A jump of this certainty is convincing: on clips of known truth, what was no
/// jump stayed below 0.03.
const CONVINCING: f64 = 0.3;
/// A jump found on the file's own clock stands unless a faster clock's is so
/// many times as certain.
const CLEARLY_BETTER: f64 = 2.0;
/// The detector looks for flights up to this long, in seconds; a shorter one that
/// it did not find is no jump on the file's own clock, and none on another.
const LONGEST_SOUGHT_S: f64 = 0.95;
/// Highest rate at which slow-motion files are made to play, with some slack.
const FASTEST_PLAYBACK_FPS: f64 = 61.0;
/// How much slower than the world phones let a clip play.
const FACTORS: [f64; 3] = [2.0, 4.0, 8.0];
/// Usual rates of playback and of the slow motion they come from.
const USUAL_FPS: [f64; 6] = [24.0, 25.0, 30.0, 48.0, 50.0, 60.0];

/// A clock on which the clip shows a convincing jump.
struct Faster {
    capture_fps: f64,
    factor: f64,
    certainty: f64,
    flight: Span,
}

/// Refuses a clip that looks like slow motion and does not say so.
pub(super) fn check(
    clip: &Clip,
    clock: &CaptureClock,
    patch: FloorPatch,
    found: &[FoundJump],
    threads: usize,
    progress: &mut dyn Progress,
) -> Result<(), Failure> {
    let certainty = surest(found).map_or(0.0, |jump| jump.certainty);
    if !may_be_slowed(clock) || certainty >= CONVINCING {
        return Ok(());
    }
    let mut best: Option<Faster> = None;
    for factor in FACTORS {
        let other = watched_faster(clip, clock, factor, patch, threads, progress)?;
        let surer = |other: &Faster| best.as_ref().is_none_or(|b| other.certainty > b.certainty);
        best = other.filter(surer).or(best);
    }
    match best {
        Some(best) if best.certainty >= CONVINCING.max(CLEARLY_BETTER * certainty) => {
            Err(refusal(clock, &best))
        }
        _ => Ok(()),
    }
}

fn surest<'a>(jumps: impl IntoIterator<Item = &'a FoundJump>) -> Option<&'a FoundJump> {
    jumps
        .into_iter()
        .max_by(|a, b| a.certainty.total_cmp(&b.certainty))
}

/// The surest jump on a clock `factor` times faster than the file's.
fn watched_faster(
    clip: &Clip,
    clock: &CaptureClock,
    factor: f64,
    patch: FloorPatch,
    threads: usize,
    progress: &mut dyn Progress,
) -> Result<Option<Faster>, Failure> {
    let (capture_fps, clock) = faster(clip, clock, factor)?;
    let stage = Stage::TryingSlowMotion;
    let watched = watch_with(clip, &clock, patch, threads, stage, progress)?;
    let jumps = find_jumps(&watched.trace).map_err(wording::jump_failure)?;
    let flown = |jump: &FoundJump| jump.flight.flight_time();
    let too_long = |jump: &FoundJump| flown(jump).seconds() * factor > LONGEST_SOUGHT_S;
    Ok(
        surest(jumps.iter().filter(|j| too_long(j))).map(|jump| Faster {
            capture_fps,
            factor,
            certainty: jump.certainty,
            flight: flown(jump),
        }),
    )
}

/// A patch suggested on faster clocks, where the file's own shows no jumper.
pub(super) fn suggested(
    clip: &Clip,
    clock: &CaptureClock,
    threads: usize,
    progress: &mut dyn Progress,
) -> Result<Option<Suggestion>, Failure> {
    let mut best: Option<Suggestion> = None;
    if !may_be_slowed(clock) {
        return Ok(best);
    }
    for factor in FACTORS {
        let (_, faster) = faster(clip, clock, factor)?;
        let other = floor::suggested(clip, &faster, threads, progress)?;
        let surer = |o: &Suggestion| best.is_none_or(|b| o.certainty > b.certainty);
        best = other.filter(surer).or(best);
    }
    Ok(best)
}

/// Whether the clip's speed is the player's and nobody said otherwise.
fn may_be_slowed(clock: &CaptureClock) -> bool {
    let report = clock.report();
    report.source == ClockSource::FileTimes && report.measured_fps <= FASTEST_PLAYBACK_FPS
}

/// The capture rate that makes the clip slowed `factor` times, and its clock.
fn faster(clip: &Clip, clock: &CaptureClock, factor: f64) -> Result<(f64, CaptureClock), Failure> {
    let capture_fps = usual(clock.report().measured_fps) * factor;
    Ok((capture_fps, clock_of(clip, Some(capture_fps))?))
}

/// The usual rate within one per cent, or the rate itself.
fn usual(fps: f64) -> f64 {
    USUAL_FPS
        .into_iter()
        .find(|usual| (fps / usual - 1.0).abs() < 0.01)
        .unwrap_or(fps)
}

fn refusal(clock: &CaptureClock, best: &Faster) -> Failure {
    let as_filed = best.flight * best.factor;
    let longer = match clock.doubt_from_flight(as_filed) {
        Some(_) => ", too long for a person",
        None => "",
    };
    Failure {
        message: format!(
            "clock in doubt: at the file's own {:.0} frames a second there is a flight of {:.2} s\
             {longer}; a clip slowed {:.0} times would make it {:.2} s",
            clock.report().measured_fps,
            as_filed.seconds(),
            best.factor,
            best.flight.seconds(),
        ),
        hint: format!(
            "if the camera was set to {0:.0} frames a second, measure again with \
             --capture-fps {0:.0}",
            best.capture_fps
        ),
    }
}
