//! A jump with events that a person set, in the document's terms.

use super::document::{conditions, flag, of_events, record};
use super::wording;
use crate::jump::{Flag, FoundJump, Gravity, HandSet, Lowering};
use crate::log::TrialRecord;
use crate::report::model::{self, Failure};
use crate::units::CaptureTime;
use crate::video::ClockReport;

/// Flags that a jump loses when its events are set by hand: they speak of events or of
/// a height that is no longer there, and are raised anew where they still hold.
const OF_THE_EVENTS: [&str; 3] = [
    "whole_frames_only",
    "posture_at_landing",
    "improbable_height",
];

/// A jump as it was measured.
#[derive(Clone, Copy, Debug)]
pub struct Measured<'a> {
    /// In the document.
    pub jump: &'a model::Jump,
    /// For the log.
    pub record: &'a TrialRecord,
    /// With its events.
    pub found: &'a FoundJump,
}

/// The jump with events set by hand: times, height, uncertainty and flags worked out
/// anew. `times` are those of all frames of the clip.
///
/// # Errors
/// A place outside the clip, a landing that does not follow the take-off.
pub fn by_hand(
    measured: Measured,
    times: &[CaptureTime],
    clock: &ClockReport,
    gravity: Gravity,
    hand: HandSet,
) -> Result<(model::Jump, TrialRecord), Failure> {
    let moved = measured.found.by_hand(times, hand);
    let moved = moved.map_err(wording::jump_failure)?;
    let conditions = conditions(clock, gravity)?;
    let (result, anew) = of_events(&moved, &conditions);
    let mut raised = vec![Flag::HandSet];
    raised.extend(Flag::for_height(result.height));
    let telling = result.posture.filter(Lowering::is_telling);
    raised.extend(telling.map(|posture| Flag::PostureAtLanding(Some(posture))));
    let (was, stays) = (measured.jump, |code: &str| !OF_THE_EVENTS.contains(&code));
    let kept = was.flags.iter().filter(|flag| stays(&flag.code)).cloned();
    let flags = kept.chain(raised.iter().map(flag)).collect();
    let jump = model::Jump {
        number: was.number,
        body: was.body.filter(|_| moved.body_length.is_some()),
        flags,
        ..anew
    };
    let anew = record(&moved.flight, &result, &raised);
    let old = measured.record.flags.iter();
    let old = old.filter(|flag| stays(&flag.code)).cloned();
    let record = TrialRecord {
        kind: measured.record.kind,
        load_kg: measured.record.load_kg,
        drop_height: measured.record.drop_height,
        contact_time: jump.contact_time_s,
        note: remark(was, hand),
        flags: old.chain(anew.flags).collect(),
        ..anew
    };
    Ok((jump, record))
}

/// What the log keeps of the events as they were found.
fn remark(was: &model::Jump, hand: HandSet) -> String {
    let parts = [
        (hand.takeoff, "take-off", was.takeoff_s),
        (hand.landing, "landing", was.landing_s),
    ];
    let set: Vec<String> = parts
        .iter()
        .filter(|(place, ..)| place.is_some())
        .map(|(_, name, found)| format!("{name} (found at {:.4} s)", found.seconds()))
        .collect();
    format!(
        "set by hand: {}; found height {:.1} cm",
        set.join(", "),
        was.height_m.centimetres()
    )
}
