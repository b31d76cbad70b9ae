//! A jump with events that a person set, in the document's terms.

use super::document::{budget, conditions, contact, flag, record};
use super::wording;
use crate::jump::{Flag, FoundJump, Gravity, HandSet, HeightResult};
use crate::log::TrialRecord;
use crate::report::model::{self, Failure};
use crate::units::{Bounds, CaptureTime};
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
    let mut result = HeightResult::of(&moved.flight, &conditions);
    if let Some(posture) = moved
        .lowering
        .and_then(|lowering| lowering.overstatement(result.height))
    {
        result = result.with_posture(posture);
    }
    let contact = moved.contact.map(|one| contact(&one, &moved, &conditions));
    let contact = contact.unwrap_or_default();
    let mut raised = vec![Flag::HandSet];
    raised.extend(Flag::for_height(result.height));
    let telling = result.posture.filter(crate::jump::Lowering::is_telling);
    raised.extend(telling.map(|posture| Flag::PostureAtLanding(Some(posture))));
    let (was, stays) = (measured.jump, |code: &str| !OF_THE_EVENTS.contains(&code));
    let kept = was.flags.iter().filter(|flag| stays(&flag.code)).cloned();
    let flags = kept.chain(raised.iter().map(flag)).collect();
    let (takeoff, landing) = (moved.flight.takeoff(), moved.flight.landing());
    let frames = moved.frames;
    let jump = model::Jump {
        takeoff_s: takeoff.best(),
        landing_s: landing.best(),
        takeoff_bounds_s: Bounds::between(takeoff.earliest(), takeoff.latest()),
        landing_bounds_s: Bounds::between(landing.earliest(), landing.latest()),
        frames: model::EventFrames {
            takeoff: [frames.takeoff.0.0, frames.takeoff.1.0],
            landing: [frames.landing.0.0, frames.landing.1.0],
        },
        flight_time_s: result.flight_time,
        flight_time_bounds_s: result.flight_time_bounds,
        flight_time_u_s: result.flight_time_u,
        flight_time_interval95_s: result.flight_time_interval95,
        height_m: result.height,
        height_bounds_m: result.bounds,
        height_u_m: result.u,
        height_interval95_m: result.interval95,
        takeoff_velocity_m_s: result.takeoff_speed.metres_per_second(),
        contact_time_s: contact.time,
        contact_time_bounds_s: contact.bounds,
        contact_time_u_s: contact.u,
        rsi_m_s: contact.rebound.map(|r| r.index_m_s),
        rsi_u_m_s: contact.rebound.map(|r| r.u_index_m_s),
        flight_over_contact: contact.rebound.map(|r| r.ratio),
        flight_over_contact_u: contact.rebound.map(|r| r.u_ratio),
        posture: was.posture.filter(|_| moved.lowering.is_some()),
        body: was.body.filter(|_| moved.body_length.is_some()),
        budget: budget(&result),
        flags,
        ..was.clone()
    };
    let anew = record(&moved.flight, &result, &raised);
    let old = measured.record.flags.iter();
    let old = old.filter(|flag| stays(&flag.code)).cloned();
    let record = TrialRecord {
        kind: measured.record.kind,
        load_kg: measured.record.load_kg,
        drop_height: measured.record.drop_height,
        contact_time: contact.time,
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
