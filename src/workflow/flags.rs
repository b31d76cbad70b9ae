//! The flags of a jump: what the trace told, and what the clip adds.

use std::ops::RangeInclusive;

use crate::jump::{EventFrames, Flag, FoundJump, HeightResult, Lowering};
use crate::units::FrameIndex;

use super::Situation;

/// All flags of a jump, each once.
pub(super) fn of(jump: &FoundJump, result: &HeightResult, situation: &Situation) -> Vec<Flag> {
    let mut flags = jump.flags.clone();
    let report = situation.clock.report();
    let near = near(&jump.frames);
    let is_near = |frames: &[FrameIndex]| {
        frames
            .iter()
            .any(|f| near.iter().any(|range| range.contains(&f.0)))
    };
    flags.extend(Flag::for_frame_rate(report.capture_fps));
    flags.extend(Flag::for_height(result.height));
    let telling = result.posture.filter(Lowering::is_telling);
    flags.extend(telling.map(|posture| Flag::PostureAtLanding(Some(posture))));
    let further = [
        (
            report.doubt.is_some() || falls_wrongly(jump, situation),
            Flag::ClockInDoubt,
        ),
        (
            is_near(&situation.watched.summary.corrupt),
            Flag::CorruptFrames,
        ),
        (
            lost_near(&near, &situation.watched.trace.indices),
            Flag::LostFrames,
        ),
        (
            is_near(&situation.watched.repeats.repeated),
            Flag::RepeatedNearEvent,
        ),
        (situation.suggested, Flag::PatchSuggested),
        (situation.options.loaded, Flag::Loaded),
    ];
    flags.extend(further.into_iter().filter(|(holds, _)| *holds).map(|f| f.1));
    let mut seen = Vec::new();
    flags.retain(|flag| {
        let new = !seen.contains(&flag.code());
        seen.push(flag.code());
        new
    });
    flags
}

/// Whether the body falls as it would on another clock.
fn falls_wrongly(jump: &FoundJump, situation: &Situation) -> bool {
    jump.body_length.is_some_and(|length| {
        let check = situation.clock_check(&length);
        !length.is_human() || check.is_some_and(|check| !check.agrees)
    })
}

/// Frames that decide an event, and one beyond on either side.
fn near(frames: &EventFrames) -> [RangeInclusive<usize>; 2] {
    [frames.takeoff, frames.landing].map(|(before, after)| before.0.saturating_sub(1)..=after.0 + 1)
}

/// Whether a frame near an event is in the file's list but did not come.
fn lost_near(near: &[RangeInclusive<usize>], came: &[FrameIndex]) -> bool {
    let last = came.last().map_or(0, |frame| frame.0);
    near.iter().any(|range| {
        let wanted = (*range.start()).min(last)..=(*range.end()).min(last);
        let count = came.iter().filter(|f| wanted.contains(&f.0)).count();
        count < wanted.count()
    })
}
