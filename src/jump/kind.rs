//! Kinds of jump, told by what came before take-off.

use serde::{Deserialize, Serialize};

use crate::trace::Leap;

/// How a jump began. Heights of different kinds are not compared.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
pub enum JumpKind {
    /// A dip and a push without a stop between them.
    #[default]
    #[serde(rename = "cmj")]
    Countermovement,
    /// A push from a held position.
    #[serde(rename = "squat")]
    Squat,
    /// A push straight after coming down from a box.
    #[serde(rename = "drop")]
    Drop,
    /// A push straight after landing from the jump before.
    #[serde(rename = "rebound")]
    Rebound,
}

impl JumpKind {
    /// The kind in one word, as a measurement's document has it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Countermovement => "countermovement",
            Self::Squat => "squat",
            Self::Drop => "drop",
            Self::Rebound => "rebound",
        }
    }
}

/// On the floor for longer than this, the jump before has nothing to do with the next,
/// in seconds. Common practice calls contacts above 0.25 s slow and knows none much
/// above half a second.
pub const LONGEST_CONTACT_S: f64 = 0.8;
/// A position held for this long makes a squat jump, in seconds: at the turn of a
/// countermovement the trunk stays within [`HELD_M`] for 0.15 to 0.2 s (measured on
/// rendered jumps), in a squat jump for 1 s and more.
const HELD_S: f64 = 0.35;
/// How still a held position is, in metres.
const HELD_M: f64 = 0.02;
/// A shallower dip than this tells nothing, in metres.
const LEAST_DIP_M: f64 = 0.06;
/// How far back from take-off a dip may lie, in seconds.
const LONGEST_PUSH_S: f64 = 0.9;

/// The kind of a jump; `previous_landing_s` is when the jump before it ended.
/// `None` where the trunk was not seen for long enough.
pub(super) fn kind_of(leap: &Leap, previous_landing_s: Option<f64>) -> Option<JumpKind> {
    let contact = |from_s: f64| (0.0..=LONGEST_CONTACT_S).contains(&(leap.takeoff.t_s - from_s));
    if previous_landing_s.is_some_and(contact) {
        return Some(JumpKind::Rebound);
    }
    // Coming down from the jump before is no drop.
    let free_s = previous_landing_s.map_or(f64::NEG_INFINITY, |landing_s| landing_s + LANDED_S);
    let touched = leap
        .touchdown
        .is_some_and(|event| event.t_s > free_s && contact(event.t_s));
    if touched || came_down(leap, free_s) {
        return Some(JumpKind::Drop);
    }
    dip(leap)
}

/// So long after a landing the trunk is surely down, in seconds.
const LANDED_S: f64 = 0.1;

/// Whether the trunk was clearly above its height at take-off shortly before, and later
/// than `free_s`: from standing, heels up, it is at that height at most.
fn came_down(leap: &Leap, free_s: f64) -> bool {
    const ABOVE_M: f64 = 0.1;
    const BEFORE_S: f64 = 1.0;
    leap.trunk_before()
        .into_iter()
        .any(|(t, rise_m)| leap.takeoff.t_s + t > free_s && t >= -BEFORE_S && rise_m > ABOVE_M)
}

/// Squat or countermovement, by whether the lowest position was held.
fn dip(leap: &Leap) -> Option<JumpKind> {
    let before = leap.trunk_before();
    let lowest = before
        .iter()
        .filter(|(t, _)| *t >= -LONGEST_PUSH_S)
        .map(|p| p.1)
        .fold(f64::INFINITY, f64::min);
    if lowest > -LEAST_DIP_M {
        return None;
    }
    let end = before.iter().rposition(|p| p.1 <= lowest + HELD_M)?;
    let start = before[..end].iter().rposition(|p| p.1 > lowest + HELD_M);
    let held_from_s = before[start.map_or(0, |k| k + 1)].0;
    match (start, before[end].0 - held_from_s >= HELD_S) {
        (_, true) => Some(JumpKind::Squat),
        (Some(_), false) => Some(JumpKind::Countermovement),
        // The clip begins at the bottom: held or not, nobody saw.
        (None, false) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jump::test_leap;
    use crate::trace::BodyPath;

    /// A trunk path of 60 pictures a second before a take-off at 2 s, in metres.
    fn leap_after(rise_m: impl Fn(f64) -> f64, seen_s: f64) -> Leap {
        let times_s: Vec<f64> = (0..120).map(|k| 2.0 - f64::from(120 - k) / 60.0).collect();
        let times_s: Vec<f64> = times_s.into_iter().filter(|t| *t >= 2.0 - seen_s).collect();
        let mut leap = test_leap(2.0, 2.5);
        let rise_px = times_s
            .iter()
            .map(|t| leap.px_per_m * rise_m(t - 2.0))
            .collect();
        leap.body = Some(BodyPath {
            times_s,
            rise_px,
            landing_px: 0.0,
            landing_spread_px: 0.1,
            fall_px_s2: 9.8 * leap.px_per_m,
            reach_px: None,
        });
        leap
    }

    fn dipping(t: f64) -> f64 {
        // Down for 0.5 s, up for 0.3 s.
        let depth = match t {
            t if t < -0.8 => 0.0,
            t if t < -0.3 => (1.0 - (std::f64::consts::PI * (t + 0.8) / 0.5).cos()) / 2.0,
            t => -t / 0.3,
        };
        -0.35 * depth
    }

    #[test]
    fn a_dip_without_a_stop_is_a_countermovement() {
        let kind = kind_of(&leap_after(dipping, 2.0), None);
        assert_eq!(kind, Some(JumpKind::Countermovement));
    }

    #[test]
    fn a_held_dip_is_a_squat_jump() {
        let held = |t: f64| if t < -0.3 { -0.35 } else { 0.35 * t / 0.3 };
        assert_eq!(kind_of(&leap_after(held, 1.5), None), Some(JumpKind::Squat));
    }

    #[test]
    fn what_was_not_seen_has_no_kind() {
        assert_eq!(kind_of(&leap_after(dipping, 0.35), None), None);
        assert_eq!(kind_of(&leap_after(|t| 0.05 * t, 2.0), None), None);
    }

    /// Seen to come down, though the touch itself was not: no contact time, yet no
    /// countermovement either.
    #[test]
    fn coming_down_from_a_box_is_a_drop() {
        let down = |t: f64| match t {
            t if t < -0.6 => 0.22,
            t if t < -0.3 => 0.22 - 0.5 * (t + 0.6) / 0.3,
            t => -0.28 * t / -0.3,
        };
        let leap = leap_after(down, 1.5);
        assert_eq!(kind_of(&leap, None), Some(JumpKind::Drop));
        // The same path after a jump that ended 0.85 s before: the way down was its own.
        let after = |t: f64| if t < -0.9 { 0.22 } else { dipping(t) };
        let kind = kind_of(&leap_after(after, 1.5), Some(1.15));
        assert_eq!(kind, Some(JumpKind::Countermovement));
    }

    #[test]
    fn a_landing_just_before_makes_a_rebound() {
        let leap = leap_after(dipping, 0.5);
        assert_eq!(kind_of(&leap, Some(1.75)), Some(JumpKind::Rebound));
        assert_ne!(kind_of(&leap, Some(0.5)), Some(JumpKind::Rebound));
    }
}
