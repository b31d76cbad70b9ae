//! From the contact trace to jumps: which leaps are jumps, and when they
//! began and ended.
//!
//! The trace holds possible flights with the agreement of the parts of the
//! shoe on each end. Here the doubtful ones are sorted out, and each event gets
//! its bounds (frames between which it must lie), its best time and the
//! standard uncertainty of the fit below one frame.

use serde::{Deserialize, Serialize};

use super::body::{BodyLength, Lowering, fall_to};
use super::error::JumpError;
use super::flight::{Event, Flight};
use super::ground::GroundContact;
use super::kind::{JumpKind, kind_of};
use super::quality::Flag;
use super::sight;
use crate::trace::{ContactTrace, FootEvent, FootFlight, Leap};
use crate::units::{CaptureTime, FrameIndex, Span, StandardUncertainty};

/// A jump found in a clip.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct FoundJump {
    /// Take-off and landing with their bounds.
    pub flight: Flight,
    /// Frames on either side of each event.
    pub frames: EventFrames,
    /// How the jump began, if that was seen.
    pub kind: Option<JumpKind>,
    /// The contact before take-off, in drop jumps and rebounds.
    pub contact: Option<GroundContact>,
    /// Each foot's own flight, left to right in the picture, where two were seen side
    /// by side.
    pub feet: Option<[Flight; 2]>,
    /// How much lower the body was at landing, if it was seen.
    pub lowering: Option<Lowering>,
    /// From toes to head as free fall measures it, if both were seen.
    pub body_length: Option<BodyLength>,
    /// What makes the trial doubtful, as far as the trace tells. Not written down with
    /// the rest: there it has its place in the document.
    #[serde(skip)]
    pub flags: Vec<Flag>,
    /// Agreement of the parts of the shoe at the weaker event, 0 to 1.
    pub certainty: f64,
}

/// Frames that bound the events, as positions in the clip.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EventFrames {
    /// Last frame surely in contact and first surely in the air.
    pub takeoff: (FrameIndex, FrameIndex),
    /// Last frame surely in the air and first surely in contact.
    pub landing: (FrameIndex, FrameIndex),
}

/// Below this agreement a leap is not called a jump. On 66 clips with known truth
/// (simulated and drawn) one leap that was no jump got as far as being followed,
/// with 0.02; of 66 true ones two lay below this limit, the others at 0.31 and above.
const LEAST_CERTAINTY: f64 = 0.24;
/// The same where head and trunk fell freely at the same time.
const LEAST_BACKED: f64 = 0.12;
/// Below this agreement the fit is not trusted below one frame.
const FIT_CERTAINTY: f64 = 0.35;
/// Typical ratio of the speeds at both ends, as a natural logarithm: landing 10 cm
/// lower than taking off makes 0.2 to 0.4. A foot that falls from a box or steps
/// off leaves far more slowly than it lands, and counts as less certain.
const UNLIKE_SPEEDS: f64 = 0.5;
/// The same where the foot leaves faster than it lands, as with legs drawn up.
const DRAWN_UP: f64 = 1.0;
/// Largest difference in level of take-off and landing, in metres: more is a
/// box or a stair. Landing nearer or farther than the take-off shifts the row too.
const HIGHEST_STEP_M: f64 = 0.15;
/// Longest flight that can be a jump, in seconds (1.5 m).
const LONGEST_S: f64 = 1.1;
/// Shortest flight that is told where no body was seen to fly, in seconds (2.4 cm): a shoe
/// that rolls on after a drop seemed to fly for 0.1 s.
const SHORTEST_S: f64 = 0.14;

/// The jumps in a trace, in order of time.
///
/// # Errors
/// When an event's bounds are out of order, which would be a fault of this program.
pub fn find_jumps(trace: &ContactTrace) -> Result<Vec<FoundJump>, JumpError> {
    let mut jumps: Vec<FoundJump> = Vec::new();
    if trace.times_s.is_empty() || trace.times_s.len() != trace.indices.len() {
        return Ok(jumps);
    }
    let mut leaps: Vec<&Leap> = trace
        .leaps
        .iter()
        .filter(|leap| is_jump(leap, trace.px))
        .collect();
    if let Some(largest) = largest(&leaps) {
        leaps.retain(|leap| !is_of_another_scale(leap, largest));
    }
    let surest = surest_backed(&leaps);
    leaps.retain(|leap| !is_outshone(leap, surest));
    for leap in leaps {
        let jump = found(trace, leap, jumps.last())?;
        jumps.push(jump);
    }
    Ok(jumps)
}

fn is_jump(leap: &Leap, px: f64) -> bool {
    let step_m = (leap.takeoff.floor_px - leap.landing.floor_px) / leap.px_per_m;
    let least = if leap.backed {
        LEAST_BACKED
    } else {
        LEAST_CERTAINTY
    };
    likeness(leap) >= least
        && step_m.abs() <= HIGHEST_STEP_M
        && leap.flight_s() <= LONGEST_S
        && (leap.backed || leap.flight_s() >= SHORTEST_S)
        && !is_swayed(leap, px)
        && !is_anothers(leap)
}

/// Whether a hop may be the hand's: in pictures that sway by a centimetre, or of which
/// nobody knows how they swayed, three of 14 drawn clips had a "flight" of 0.14 to 0.22 s
/// where there was none. A body that flew would show that it was one.
fn is_swayed(leap: &Leap, px: f64) -> bool {
    const HOP_S: f64 = 0.25;
    let sways = leap.sight.surroundings_lost || sight::is_shaken_hard(leap, px);
    sways && leap.flight_s() < HOP_S && !leap.backed
}

/// Whether what flew is unlike what stood there afterwards: where no body was seen to fly,
/// turning leaves the parts of a shoe 2.1 times the edges that they have at rest at most
/// (some 70 drawn jumps; 2.6 where one was, of 325), while those of somebody who walked by
/// behind were 2.3 to 19 times those of the floor on which they were lost.
fn is_anothers(leap: &Leap) -> bool {
    const MOST: f64 = 2.5;
    !leap.backed
        && leap
            .sight
            .sharpness
            .is_some_and(|sharpness| sharpness > MOST)
}

/// The leap with the largest motion of those that are long and sure.
fn largest<'a>(leaps: &[&'a Leap]) -> Option<&'a Leap> {
    const LONG_S: f64 = 0.25;
    const SURE: f64 = 0.5;
    let sure = |leap: &&&Leap| leap.flight_s() >= LONG_S && likeness(leap) >= SURE;
    let speed = |leap: &Leap| leap.takeoff.speed_px_s.min(leap.landing.speed_px_s);
    let of_all = leaps.iter().filter(sure);
    of_all.max_by(|a, b| speed(a).total_cmp(&speed(b))).copied()
}

/// Whether a leap would need the athlete to stand much farther from the camera than for
/// the largest leap of the clip, or nearer still: a picture that sways by a pixel or two
/// falls and rises like a small hop far away. Two true readings of drawn and rendered jumps
/// differ by 1.45 at most (each lay between 0.84 and 1.22 of the body's scale on 240);
/// legs that are drawn up come down faster, which makes them seem nearer still.
fn is_of_another_scale(leap: &Leap, largest: &Leap) -> bool {
    const FARTHER: f64 = 1.6;
    const NEARER: f64 = 2.0;
    let scale = leap.px_per_m / largest.px_per_m;
    !leap.backed && !(1.0 / FARTHER..=NEARER).contains(&scale)
}

/// Certainty of the surest leap for which a body was seen to fly, 0 without one.
fn surest_backed(leaps: &[&Leap]) -> f64 {
    let backed = leaps.iter().filter(|leap| leap.backed);
    backed.map(|leap| leap.certainty()).fold(0.0, f64::max)
}

/// Whether a leap is known to whole frames at best, with no body seen to fly, though one
/// was for a leap of the clip that is certain to `surest`: somebody who walks by swings a
/// foot like that.
fn is_outshone(leap: &Leap, surest: f64) -> bool {
    !leap.backed && leap.certainty() < FIT_CERTAINTY.min(surest)
}

/// How much a leap is like a jump, 0 to 1: the agreement of the parts of the shoe, less
/// where the speeds at both ends are unlike and no body was seen to fly.
fn likeness(leap: &Leap) -> f64 {
    if leap.backed {
        return leap.certainty();
    }
    let speeds = (leap.takeoff.speed_px_s / leap.landing.speed_px_s).ln();
    let usual = if speeds < 0.0 {
        UNLIKE_SPEEDS
    } else {
        DRAWN_UP
    };
    leap.certainty() * (-0.5 * (speeds / usual).powi(2)).exp()
}

fn found(
    trace: &ContactTrace,
    leap: &Leap,
    previous: Option<&FoundJump>,
) -> Result<FoundJump, JumpError> {
    let takeoff = bracket(trace, &leap.takeoff, TAKEOFF_MODEL_S);
    let landing = bracket(trace, &leap.landing, LANDING_MODEL_S);
    let mut flags = Vec::new();
    if takeoff.whole_frames || landing.whole_frames {
        flags.push(Flag::WholeFramesOnly);
    }
    if takeoff.gap || landing.gap {
        flags.push(Flag::DroppedNearEvent);
    }
    flags.extend(Flag::for_frame_rate(1.0 / trace.spacing_s));
    let feet = feet(trace, leap)?;
    flags.extend(sight::flags(leap, trace.px));
    flags.extend(feet.as_ref().and_then(Flag::for_feet));
    let flight = Flight::new(takeoff.event()?, landing.event()?)?;
    let previous = previous.map(|jump| *jump.flight.landing());
    let kind = kind_of(leap, previous.map(|landing| landing.best().seconds()));
    Ok(FoundJump {
        flight,
        kind,
        contact: contact(trace, leap, &flight, kind, previous)?,
        feet,
        lowering: Lowering::of(leap),
        body_length: BodyLength::of(leap, trace.px),
        frames: EventFrames {
            takeoff: takeoff.frames,
            landing: landing.frames,
        },
        flags,
        certainty: leap.certainty(),
    })
}

/// Each foot's own flight, where both were followed.
fn feet(trace: &ContactTrace, leap: &Leap) -> Result<Option<[Flight; 2]>, JumpError> {
    let flight = |foot: FootFlight| {
        let takeoff = bracket(trace, &foot.takeoff, TAKEOFF_MODEL_S).event()?;
        Flight::new(
            takeoff,
            bracket(trace, &foot.landing, LANDING_MODEL_S).event()?,
        )
    };
    let Some([left, right]) = leap.feet else {
        return Ok(None);
    };
    Ok(Some([flight(left)?, flight(right)?]))
}

/// The contact before take-off, where the kind of jump has one.
fn contact(
    trace: &ContactTrace,
    leap: &Leap,
    flight: &Flight,
    kind: Option<JumpKind>,
    previous: Option<Event>,
) -> Result<Option<GroundContact>, JumpError> {
    let (touch, fall) = match (kind, leap.touchdown, previous) {
        (Some(JumpKind::Rebound), _, Some(landing)) => (landing, None),
        (Some(JumpKind::Drop), Some(touch), _) => {
            let event = bracket(trace, &touch, LANDING_MODEL_S).event()?;
            (event, fall_to(leap, touch.t_s))
        }
        _ => return Ok(None),
    };
    let takeoff = *flight.takeoff();
    Ok((touch.best() < takeoff.best()).then_some(GroundContact {
        touch,
        takeoff,
        fall,
    }))
}

/// What the models of toe and sole leave open, standard uncertainty in seconds:
/// at take-off half the spread of the toe's run-up, at landing the give of sole
/// and floor (feet on rigid simulated floors touched 0 to 1.5 ms before it showed).
const TAKEOFF_MODEL_S: f64 = 0.001_25;
const LANDING_MODEL_S: f64 = 0.000_8;
/// Share of a frame that matching and blur leave open, standard uncertainty.
const OF_A_FRAME: f64 = 0.06;

/// An event between two frames.
struct Bracket {
    earliest_s: f64,
    best_s: f64,
    latest_s: f64,
    u_s: f64,
    frames: (FrameIndex, FrameIndex),
    whole_frames: bool,
    gap: bool,
}

/// Frames that surely lie before and after the event, and the fit between them.
fn bracket(trace: &ContactTrace, event: &FootEvent, model_s: f64) -> Bracket {
    const SURE: f64 = 3.0;
    let votes = (event.votes as f64).clamp(1.0, 4.0);
    let matching = OF_A_FRAME * trace.spacing_s;
    let u_s = (event.spread_s.powi(2) / votes + matching.powi(2) + model_s.powi(2)).sqrt();
    let whole_frames = event.certainty() < FIT_CERTAINTY;
    let margin = if whole_frames {
        trace.spacing_s
    } else {
        SURE * u_s
    };
    let times = &trace.times_s;
    let last = times.len().saturating_sub(1);
    let before = times
        .partition_point(|&t| t <= event.t_s - margin)
        .saturating_sub(1);
    let after = times.partition_point(|&t| t < event.t_s + margin).min(last);
    let here = times
        .partition_point(|&t| t <= event.t_s)
        .clamp(1, last.max(1));
    let spacing = times
        .get(here)
        .zip(times.get(here - 1))
        .map_or(0.0, |(b, a)| b - a);
    Bracket {
        earliest_s: times[before].min(event.t_s),
        best_s: event.t_s,
        latest_s: times[after].max(event.t_s),
        u_s,
        frames: (trace.indices[before], trace.indices[after]),
        whole_frames,
        gap: spacing > 1.6 * trace.spacing_s,
    }
}

impl Bracket {
    fn event(&self) -> Result<Event, JumpError> {
        let at = CaptureTime::from_seconds;
        if self.whole_frames {
            return Event::between_frames(at(self.earliest_s), at(self.latest_s));
        }
        let u = StandardUncertainty(Span::from_seconds(self.u_s));
        Event::fitted(at(self.earliest_s), at(self.best_s), at(self.latest_s), u)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jump::test_leap;

    #[test]
    fn a_hop_of_another_scale_is_a_picture_that_sways() {
        let jump = test_leap(1.2, 1.78);
        let swayed = Leap {
            px_per_m: 93.0,
            ..test_leap(0.81, 0.996)
        };
        let hop = test_leap(2.4, 2.6);
        let all = [&swayed, &jump, &hop];
        let largest = largest(&all).expect("a jump");
        assert_eq!(largest.takeoff.t_s, 1.2);
        let other = all.map(|leap| is_of_another_scale(leap, largest));
        assert_eq!(other, [true, false, false]);
        // Who is seen to fly is believed.
        let backed = Leap {
            backed: true,
            ..swayed.clone()
        };
        assert!(!is_of_another_scale(&backed, largest));
    }

    #[test]
    fn a_hop_in_a_picture_that_sways_is_not_told() {
        let hop = |shake_px: f64, lost: bool, landing_s: f64| {
            let mut leap = test_leap(1.0, landing_s);
            leap.sight.shake_px = Some(shake_px);
            leap.sight.surroundings_lost = lost;
            leap
        };
        assert!(is_jump(&hop(0.3, false, 1.2), 1.0));
        assert!(!is_jump(&hop(3.0, false, 1.2), 1.0));
        assert!(!is_jump(&hop(0.3, true, 1.2), 1.0));
        assert!(is_jump(&hop(3.0, false, 1.4), 1.0));
    }

    #[test]
    fn a_weak_leap_beside_one_with_a_body_that_flew_is_not_told() {
        let weak = |backed: bool| {
            let mut leap = test_leap(0.6, 1.1);
            leap.landing.weight = 1.0;
            Leap { backed, ..leap }
        };
        assert!(weak(false).certainty() < FIT_CERTAINTY);
        assert!(is_outshone(&weak(false), 0.36));
        assert!(!is_outshone(&weak(true), 0.36));
        assert!(!is_outshone(&test_leap(0.6, 1.1), 0.36));
        // Where no body flew, or only less surely, nothing speaks against it.
        assert!(!is_outshone(&weak(false), 0.0));
        assert!(!is_outshone(&weak(false), 0.9 * weak(false).certainty()));
    }

    #[test]
    fn feet_that_fly_and_are_not_seen_to_stand_are_not_told() {
        let of = |sharpness: f64, backed: bool| {
            let mut leap = test_leap(1.0, 1.7);
            leap.sight.sharpness = Some(sharpness);
            Leap { backed, ..leap }
        };
        assert!(is_jump(&of(2.0, false), 1.0));
        assert!(!is_jump(&of(18.6, false), 1.0));
        assert!(is_jump(&of(18.6, true), 1.0));
    }

    #[test]
    fn a_shoe_that_rolls_on_is_no_hop() {
        let hop = |landing_s: f64, backed: bool| Leap {
            backed,
            ..test_leap(1.0, landing_s)
        };
        assert!(!is_jump(&hop(1.1, false), 1.0));
        assert!(is_jump(&hop(1.1, true), 1.0));
        assert!(is_jump(&hop(1.2, false), 1.0));
    }

    #[test]
    fn hops_alone_have_nothing_to_be_compared_with() {
        let (a, b) = (test_leap(0.8, 0.99), test_leap(2.4, 2.6));
        assert!(largest(&[&a, &b]).is_none());
    }
}
