//! Following the foot round both ends of a flight, from a rough reading of the
//! motion slice to events on which the parts of the shoe agree.

use super::FREE_FALL;
mod ends;
mod feet;
mod other_end;
mod readings;
mod standing;

use super::agree::FootEvent;
use super::body::BodyFlight;
use super::contact::Leap;
use super::film::Film;
use super::sight::{Patch, Sight, Steady, Unsteady};
use super::tiles::{Contact, Path};

/// Shorter flights than this (1.2 cm) are not looked for.
const SHORTEST_S: f64 = 0.1;

/// A marked patch is this many metres high at least and at most.
const PATCH_M: (f64, f64) = (0.065, 0.6);
/// How far outside a carelessly marked patch the feet may stand, in patch heights.
const ROUND_PATCH: f64 = 0.4;

/// Where the scales of feet and body are farther apart than this, one of the two readings
/// is wrong.
const POSSIBLE_SCALES: (f64, f64) = (0.6, 1.6);
/// Agreement at which an event counts as clear.
const CLEAR: f64 = 0.7;

/// Follows the foot round both ends of a flight.
#[derive(Clone)]
pub(in crate::video) struct Tracker<'a> {
    pub(in crate::video) film: &'a Film,
    pub(in crate::video) spacing_s: f64,
    pub(in crate::video) patch: Patch,
    pub(in crate::video) fine_per_coarse: f64,
    /// When the body fell freely, if it is in view.
    pub(in crate::video) body: Vec<BodyFlight>,
    /// Whether the times of the body's fall weigh on those of the feet.
    pub(in crate::video) timed_by_body: bool,
    /// The picture's own movement, where it could be followed.
    pub(in crate::video) steady: Result<Steady, Unsteady>,
}

/// A flight as known so far, in fine pixels.
#[derive(Clone, Copy)]
struct Guess {
    takeoff_s: f64,
    flight_s: f64,
    px_per_m: f64,
    floor_px: f64,
    /// Columns in which the foot is looked for.
    columns: (f64, f64),
}

/// An end of a flight, and the paths that tell it.
type End = (FootEvent, Vec<Path>);

/// A guess, and what following both its ends with care made of it.
struct Followed {
    guess: Guess,
    takeoff: (FootEvent, Vec<Path>),
    landing: (FootEvent, Vec<Path>),
}

impl Followed {
    /// Certainty of the weaker end, 0 to 1.
    fn certainty(&self) -> f64 {
        self.takeoff.0.certainty().min(self.landing.0.certainty())
    }
}

impl Guess {
    fn events_s(&self) -> (f64, f64) {
        (self.takeoff_s, self.takeoff_s + self.flight_s)
    }

    fn middle_s(&self) -> f64 {
        self.takeoff_s + 0.5 * self.flight_s
    }

    /// Its scale over the one by which a body fell.
    fn scale_by(&self, body: &BodyFlight) -> f64 {
        self.px_per_m / body.px_per_m
    }

    /// The same with one end moved so far into the flight.
    fn moved(self, contact: Contact, into_flight_s: f64) -> Self {
        Self {
            takeoff_s: match contact {
                Contact::Before => self.takeoff_s + into_flight_s,
                Contact::After => self.takeoff_s,
            },
            flight_s: self.flight_s - into_flight_s,
            ..self
        }
    }

    fn overlaps(&self, other: &Guess) -> bool {
        self.takeoff_s < other.takeoff_s + other.flight_s
            && other.takeoff_s < self.takeoff_s + self.flight_s
    }

    /// What two events make of the guess; `None` when they leave no flight.
    fn told(mut self, takeoff: &FootEvent, landing: &FootEvent) -> Option<Self> {
        let speed = (takeoff.speed_px_s * landing.speed_px_s).sqrt();
        self.takeoff_s = takeoff.t_s;
        self.flight_s = landing.t_s - takeoff.t_s;
        self.px_per_m = speed / (0.5 * FREE_FALL * self.flight_s);
        (self.flight_s >= SHORTEST_S).then_some(self)
    }
}

fn is_possible(scale: f64) -> bool {
    (POSSIBLE_SCALES.0..=POSSIBLE_SCALES.1).contains(&scale)
}

/// How closely to look.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Care {
    Quick,
    Full,
}

impl Care {
    /// Heights in the air from which to follow the foot, in patch heights.
    fn clearances(self) -> &'static [f64] {
        match self {
            Care::Quick => &[0.7, 1.6],
            Care::Full => &[0.35, 0.7, 1.1, 1.6],
        }
    }

    fn tiles(self) -> usize {
        match self {
            Care::Quick => 10,
            Care::Full => 24,
        }
    }
}

impl Tracker<'_> {
    /// What two events make of a guess; `None` when they leave no flight, a scale at which
    /// the patch could not be a patch, or a foot too fast to follow.
    fn told(&self, guess: Guess, takeoff: &FootEvent, landing: &FootEvent) -> Option<Guess> {
        let fastest = takeoff.speed_px_s.max(landing.speed_px_s);
        guess.told(takeoff, landing).filter(|told| {
            self.can_be_patch(told.px_per_m) && (self.can_follow(fastest) || self.is_backed(told))
        })
    }

    /// Whether the patch could be a patch at this scale.
    fn can_be_patch(&self, px_per_m: f64) -> bool {
        (PATCH_M.0..=PATCH_M.1).contains(&(self.patch.height / px_per_m))
    }

    /// Whether a foot of this speed, in pixels per second, is followed and not just found
    /// again: by more than the patch's height from one frame to the next goes none of the
    /// athlete's (six tenths of it at most, at 30 frames a second) but the feet of somebody
    /// who walks by behind (0.8 to 1.8 times).
    fn can_follow(&self, speed_px_s: f64) -> bool {
        speed_px_s * self.spacing_s <= self.patch.height
    }

    /// The body's flights at this moment, however evenly it fell.
    fn bodies_at(&self, time_s: f64) -> impl Iterator<Item = &BodyFlight> {
        let holds = move |f: &&BodyFlight| f.takeoff_s() < time_s && time_s < f.landing_s();
        self.body.iter().filter(holds)
    }

    /// The body's flight at this moment, if it fell evenly enough to be one.
    fn body_at(&self, time_s: f64) -> Option<&BodyFlight> {
        self.bodies_at(time_s).find(|flight| flight.is_clear())
    }

    /// When the body's fall says that an event was, if it tells and is asked.
    fn likely_s(&self, guess: &Guess, contact: Contact) -> Option<f64> {
        let flight = self
            .body_at(guess.middle_s())
            .filter(|_| self.timed_by_body)?;
        Some(match contact {
            Contact::Before => flight.takeoff_s(),
            Contact::After => flight.landing_s(),
        })
    }

    /// Whether the body flew when the feet did, and fell as the feet's scale demands.
    fn is_backed(&self, guess: &Guess) -> bool {
        const APART_S: f64 = 0.075;
        let (takeoff_s, landing_s) = guess.events_s();
        self.body_at(guess.middle_s()).is_some_and(|flight| {
            (flight.takeoff_s() - takeoff_s).abs() <= APART_S
                && (flight.landing_s() - landing_s).abs() <= APART_S
                && is_possible(guess.scale_by(flight))
        })
    }

    /// Scale of the feet over the one by which the body fell, where it tells. A body that
    /// fell unevenly tells no more than that a flight cannot be, and this only where it
    /// was in the air for a good while before take-off or after landing.
    fn scale_by_body(&self, guess: &Guess) -> Option<f64> {
        const LONGER_S: f64 = 0.1;
        let (takeoff_s, landing_s) = guess.events_s();
        let disagrees = |body: &&BodyFlight| {
            let longer_s = (takeoff_s - body.takeoff_s()).max(body.landing_s() - landing_s);
            longer_s > LONGER_S && !is_possible(guess.scale_by(body))
        };
        let unclear = || self.bodies_at(guess.middle_s()).find(disagrees);
        let body = self.body_at(guess.middle_s()).or_else(unclear)?;
        Some(guess.scale_by(body))
    }

    /// How long after the top of the body's fall the middle of the flight is, where the
    /// body fell evenly enough.
    fn after_top_s(&self, guess: &Guess) -> Option<f64> {
        let body = self.body_at(guess.middle_s())?;
        Some(guess.middle_s() - body.top_s)
    }

    /// The same, leaving out the picture's own movement round a reading.
    fn steadied(&self, guess: &Guess) -> Self {
        Self {
            steady: Steady::of(self.film, guess.events_s(), &self.patch),
            ..self.clone()
        }
    }

    /// Follows both ends with care, twice: the first round's times and speeds
    /// guide the second, unless they lead it astray.
    fn settle(&self, guess: Guess, evidence: f64) -> Option<Leap> {
        // Clearly less certain than the first, where that matters.
        const ASTRAY: (f64, f64) = (0.35, 0.8);
        let first = self.followed(guess)?;
        let second = self.followed(first.guess)?;
        let astray = second.certainty() < ASTRAY.0.min(ASTRAY.1 * first.certainty());
        let second = if astray { first } else { second };
        let (second, part_stood) = self.without_standing_parts(second);
        let feet = self.feet(&second);
        let (takeoff, takeoff_paths) = second.takeoff;
        let (landing, landing_paths) = second.landing;
        Some(Leap {
            takeoff,
            landing,
            px_per_m: second.guess.px_per_m,
            evidence,
            takeoff_paths,
            landing_paths,
            backed: self.is_backed(&second.guess),
            body: None,
            touchdown: None,
            feet,
            sight: Sight {
                shake_px: self.steady.as_ref().ok().map(Steady::swing_px),
                surroundings_lost: self.steady == Err(Unsteady::Lost),
                part_stood,
                scale_by_body: self.scale_by_body(&second.guess),
                after_top_s: self.after_top_s(&second.guess),
                ..Sight::default()
            },
        })
    }

    /// Follows both ends with care.
    fn followed(&self, guess: Guess) -> Option<Followed> {
        let (takeoff, landing) = self.ends(&guess, Care::Full);
        let (takeoff, landing) = takeoff.zip(landing)?;
        Some(Followed {
            guess: self.told(guess, &takeoff.0, &landing.0)?,
            takeoff,
            landing,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::video::FloorPatch;
    use crate::video::zone::Zone;

    #[test]
    fn a_foot_that_leaps_over_the_patch_between_frames_is_not_followed() {
        let patch = FloorPatch {
            x: 240,
            y: 280,
            w: 60,
            h: 25,
        };
        let film = Film::default();
        let tracker = |spacing_s: f64| Tracker {
            film: &film,
            spacing_s,
            patch: Patch::of(&Zone::new(patch, (640, 360))),
            fine_per_coarse: 1.0,
            body: Vec::new(),
            timed_by_body: true,
            steady: Err(Unsteady::NothingToFollow),
        };
        assert!(tracker(1.0 / 30.0).can_follow(500.0));
        assert!(!tracker(1.0 / 30.0).can_follow(1300.0));
        assert!(tracker(1.0 / 60.0).can_follow(1300.0));
    }
}
