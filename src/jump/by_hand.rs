//! Events that a person sets by looking at the frames.
//!
//! What a person can tell is between which frames an event lies. So an event set by
//! hand is bounded by the neighbouring frames and no better known than they let it be:
//! a rectangular distribution over them (JCGM 100:2008, 4.3.7), however exactly the
//! moment was pointed at. The bounds hold if the person judged those frames rightly.

use super::error::JumpError;
use super::events::{EventFrames, FoundJump};
use super::flight::{Event, Flight};
use super::ground::GroundContact;
use super::quality::Flag;
use crate::units::{CaptureTime, FrameIndex, Span, StandardUncertainty};

/// Places of the events that were set by hand, counted in frames from the clip's first:
/// 12 is the moment of frame 12, 12.5 is halfway to the next.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HandSet {
    /// Where the feet left the floor; `None` to leave it as found.
    pub takeoff: Option<f64>,
    /// Where they met it again; `None` to leave it as found.
    pub landing: Option<f64>,
}

impl HandSet {
    /// Whether nothing is set.
    pub fn is_empty(&self) -> bool {
        self.takeoff.is_none() && self.landing.is_none()
    }
}

/// An event and the frames on either side of it.
type Placed = (Event, (FrameIndex, FrameIndex));

impl FoundJump {
    /// This jump with events set by hand; `times` are those of all frames of the clip.
    ///
    /// What the body told of posture and scale was read at the events as found, so it
    /// stays only where those lie within the new bounds.
    ///
    /// # Errors
    /// [`JumpError::NoSuchPlace`] for a place between no two frames,
    /// [`JumpError::LandingNotAfterTakeoff`].
    pub fn by_hand(&self, times: &[CaptureTime], hand: HandSet) -> Result<Self, JumpError> {
        let found = (*self.flight.takeoff(), self.frames.takeoff);
        let (takeoff, before) = placed(times, hand.takeoff, found)?;
        let found = (*self.flight.landing(), self.frames.landing);
        let (landing, after) = placed(times, hand.landing, found)?;
        let near = holds(&takeoff, self.flight.takeoff()) && holds(&landing, self.flight.landing());
        let mut flags = self.flags.clone();
        flags.push(Flag::HandSet);
        Ok(Self {
            flight: Flight::new(takeoff, landing)?,
            frames: EventFrames {
                takeoff: before,
                landing: after,
            },
            contact: self.contact.and_then(|contact| ending(contact, takeoff)),
            lowering: self.lowering.filter(|_| near),
            body_length: self.body_length.filter(|_| near),
            flags,
            ..self.clone()
        })
    }
}

/// The contact with another end; none where it would end before it began.
fn ending(contact: GroundContact, takeoff: Event) -> Option<GroundContact> {
    (contact.touch.best() < takeoff.best()).then_some(GroundContact { takeoff, ..contact })
}

fn holds(set: &Event, found: &Event) -> bool {
    (set.earliest()..=set.latest()).contains(&found.best())
}

/// The event at a place; as found where none is given.
fn placed(times: &[CaptureTime], place: Option<f64>, found: Placed) -> Result<Placed, JumpError> {
    let Some(place) = place else {
        return Ok(found);
    };
    let nowhere = || JumpError::NoSuchPlace {
        place,
        frames: times.len(),
    };
    if !(place > 0.0 && place < times.len() as f64) {
        return Err(nowhere());
    }
    let (before, after) = (place.ceil() as usize - 1, place.floor() as usize + 1);
    let at = |frame: usize| times.get(frame).copied().ok_or_else(nowhere);
    let (earliest, latest) = (at(before)?, at(after)?);
    let lower = at(place.floor() as usize)?;
    let upper = at(place.ceil() as usize)?;
    let best = lower + (upper - lower) * place.fract();
    let frames = (FrameIndex(before), FrameIndex(after));
    let half = (latest - earliest) / 2.0;
    // A thousandth of a frame from the middle is the middle.
    if (best - earliest.midpoint(latest)).abs() < half * 2e-3 {
        return Ok((Event::between_frames(earliest, latest)?, frames));
    }
    let u = StandardUncertainty(Span::from_seconds(half.seconds() / 3_f64.sqrt()));
    Ok((Event::fitted(earliest, best, latest, u)?, frames))
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME_S: f64 = 0.01;

    fn times() -> Vec<CaptureTime> {
        (0..200)
            .map(|k| CaptureTime::from_seconds(f64::from(k) * FRAME_S))
            .collect()
    }

    fn found() -> FoundJump {
        let at = CaptureTime::from_seconds;
        let u = StandardUncertainty(Span::from_millis(1.0));
        let takeoff = Event::fitted(at(0.495), at(0.5), at(0.505), u).expect("in order");
        let landing = Event::fitted(at(0.995), at(1.0), at(1.005), u).expect("in order");
        let frame = FrameIndex;
        FoundJump {
            feet: None,
            flight: Flight::new(takeoff, landing).expect("in order"),
            frames: EventFrames {
                takeoff: (frame(49), frame(51)),
                landing: (frame(99), frame(101)),
            },
            kind: None,
            contact: None,
            lowering: None,
            body_length: None,
            flags: Vec::new(),
            certainty: 1.0,
        }
    }

    fn set(takeoff: f64) -> HandSet {
        HandSet {
            takeoff: Some(takeoff),
            landing: None,
        }
    }

    #[test]
    fn between_two_frames_the_event_is_known_to_one_frame() {
        let jump = found().by_hand(&times(), set(52.5)).expect("in the clip");
        let takeoff = jump.flight.takeoff();
        assert_eq!(jump.frames.takeoff, (FrameIndex(52), FrameIndex(53)));
        assert!((takeoff.best().seconds() - 0.525).abs() < 1e-12);
        assert!((takeoff.u().0.seconds() - FRAME_S / 12_f64.sqrt()).abs() < 1e-9);
        assert_eq!(jump.flight.landing(), found().flight.landing());
        assert!(jump.flags.contains(&Flag::HandSet));
    }

    #[test]
    fn on_a_frame_both_neighbours_bound_it() {
        let jump = found().by_hand(&times(), set(52.0)).expect("in the clip");
        assert_eq!(jump.frames.takeoff, (FrameIndex(51), FrameIndex(53)));
        let width = jump.flight.takeoff().latest() - jump.flight.takeoff().earliest();
        assert!((width.seconds() - 2.0 * FRAME_S).abs() < 1e-12);
        let u_s = jump.flight.takeoff().u().0.seconds();
        assert!((u_s - 2.0 * FRAME_S / 12_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn pointing_within_a_frame_moves_the_best_and_not_the_bounds() {
        let jump = found().by_hand(&times(), set(52.25)).expect("in the clip");
        let takeoff = jump.flight.takeoff();
        assert!((takeoff.best().seconds() - 0.5225).abs() < 1e-12);
        assert!((takeoff.earliest().seconds() - 0.52).abs() < 1e-12);
        assert!((takeoff.latest().seconds() - 0.53).abs() < 1e-12);
    }

    #[test]
    fn a_dropped_frame_widens_what_was_set_there() {
        let mut times = times();
        times.remove(53);
        let jump = found().by_hand(&times, set(52.5)).expect("in the clip");
        let takeoff = jump.flight.takeoff();
        assert!(((takeoff.latest() - takeoff.earliest()).seconds() - 0.02).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_is_refused() {
        for place in [0.0, -1.0, 199.5, 200.0, f64::NAN, f64::INFINITY] {
            let refused = found().by_hand(&times(), set(place));
            assert!(
                matches!(refused, Err(JumpError::NoSuchPlace { .. })),
                "{place}"
            );
        }
        let late = found().by_hand(&times(), set(120.5));
        assert!(matches!(
            late,
            Err(JumpError::LandingNotAfterTakeoff { .. })
        ));
    }
}
