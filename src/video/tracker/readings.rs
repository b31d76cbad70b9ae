//! Readings of the motion slice and of the body's fall, looked at one after another until
//! it is clear which of them are flights.

use super::{CLEAR, Care, Guess, Tracker};
use crate::video::arc::Arc;
use crate::video::body::BodyFlight;
use crate::video::contact::Leap;
use crate::video::pick::EVERYWHERE;

/// Curves of a smaller patch than this are drawn by legs that are pulled up.
const DRAWN_UP_M: f64 = 0.12;
/// Agreement at which no other reading is tried.
pub(super) const SETTLED: f64 = 0.93;
/// The same where the body flew at the same time.
const BACKED: f64 = 0.85;

/// What a quick look made of a candidate.
struct Reading {
    /// Certainty of the weaker end, 0 to 1.
    certainty: f64,
    guess: Guess,
    /// Strength of the evidence that led to it.
    evidence: f64,
    /// Whether the times of the body's fall weighed in.
    timed_by_body: bool,
}

impl Tracker<'_> {
    /// Looks at each reading with a few tiles, then closely at the most certain
    /// of those that cannot both be true.
    pub(in crate::video) fn leaps(&self, arcs: &[Arc]) -> Vec<Leap> {
        let told_by_feet = arcs.iter().map(|arc| (self.guess_of(arc), arc.evidence));
        let candidates: Vec<(Guess, f64)> = self.told_by_body().chain(told_by_feet).collect();
        let mut readings = self.explored(&candidates);
        readings.extend(self.without_the_body(&candidates, &readings));
        readings.sort_by(|a, b| b.certainty.total_cmp(&a.certainty));
        self.settled(&readings)
    }

    /// What a quick look makes of the candidates, but of those that another which is
    /// settled leaves no room for.
    fn explored(&self, candidates: &[(Guess, f64)]) -> Vec<Reading> {
        const FAINT: f64 = 0.12;
        let mut seen: Vec<Reading> = Vec::new();
        for &(guess, evidence) in candidates {
            // Feet and body that agree need no third witness.
            let enough = |g: &Guess| if self.is_backed(g) { BACKED } else { SETTLED };
            let told = |r: &Reading| r.certainty >= enough(&r.guess) && r.guess.overlaps(&guess);
            if seen.iter().any(told) {
                continue;
            }
            if let Some((certainty, guess)) = self.steadied(&guess).explore(guess, true)
                && certainty >= FAINT
            {
                seen.push(Reading {
                    certainty,
                    guess,
                    evidence,
                    timed_by_body: self.timed_by_body,
                });
            }
        }
        seen
    }

    /// Where a body flew and no feet were followed well, the times of its fall may be
    /// wrong: somebody who walks by behind stirs in its column, and it seemed to leave
    /// a tenth of a second late and to land as early. Its scale still tells a toe from a
    /// heel.
    fn without_the_body(&self, candidates: &[(Guess, f64)], readings: &[Reading]) -> Vec<Reading> {
        const WEAK: f64 = 0.35;
        const SAME_SCALE: (f64, f64) = (0.84, 1.22);
        let body = |guess: &Guess| self.body_at(guess.middle_s());
        let followed = |flight: &BodyFlight| {
            let mut sure = readings.iter().filter(|r| r.certainty >= WEAK);
            sure.any(|r| body(&r.guess) == Some(flight))
        };
        let open: Vec<(Guess, f64)> = candidates
            .iter()
            .filter(|(guess, _)| body(guess).is_some_and(|flight| !followed(flight)))
            .copied()
            .collect();
        let untimed = Self {
            timed_by_body: false,
            ..self.clone()
        };
        let mut found = untimed.explored(&open);
        found.retain(|r| {
            let scale = body(&r.guess).map(|flight| r.guess.scale_by(flight));
            scale.is_some_and(|scale| (SAME_SCALE.0..=SAME_SCALE.1).contains(&scale))
        });
        found
    }

    /// Looks closely at readings, most certain first. Of those that cannot both be true
    /// the next is looked at as well where the first turns out weak: a quick look may have
    /// seen a few parts only.
    fn settled(&self, readings: &[Reading]) -> Vec<Leap> {
        const WEAK: f64 = 0.5;
        const TRIES: usize = 3;
        let mut leaps: Vec<(Guess, Leap, usize)> = Vec::new();
        for reading in readings {
            let guess = reading.guess;
            let rival = leaps.iter().position(|(g, ..)| g.overlaps(&guess));
            let weak = |at: usize| leaps[at].1.certainty() < WEAK && leaps[at].2 < TRIES;
            if rival.is_some_and(|at| !weak(at)) {
                continue;
            }
            let tracker = Self {
                timed_by_body: reading.timed_by_body,
                ..self.steadied(&guess)
            };
            let Some(leap) = tracker.settle(guess, reading.evidence) else {
                continue;
            };
            let Some(at) = rival else {
                leaps.push((guess, leap, 1));
                continue;
            };
            leaps[at].2 += 1;
            if leap.certainty() > leaps[at].1.certainty() {
                leaps[at] = (guess, leap, leaps[at].2);
            }
        }
        leaps.into_iter().map(|(_, leap, _)| leap).collect()
    }

    fn guess_of(&self, arc: &Arc) -> Guess {
        let px_per_m = arc.rows_per_m * self.fine_per_coarse;
        Guess {
            takeoff_s: arc.takeoff_s,
            flight_s: arc.flight_s,
            // Steeper curves are legs drawn up, not a nearer camera.
            px_per_m: px_per_m.min(self.patch.height / DRAWN_UP_M),
            floor_px: arc.floor_row * self.fine_per_coarse,
            columns: EVERYWHERE,
        }
    }

    /// Readings from the free fall of the body, whatever the shoes look like.
    fn told_by_body(&self) -> impl Iterator<Item = (Guess, f64)> {
        const SOLE_PLACE: f64 = 0.7;
        let likely = self.body.iter();
        let likely = likely.filter(|flight| self.can_be_patch(flight.px_per_m));
        likely.map(|flight| {
            let guess = Guess {
                takeoff_s: flight.takeoff_s(),
                flight_s: flight.length_s(),
                px_per_m: flight.px_per_m,
                floor_px: self.patch.top + SOLE_PLACE * self.patch.height,
                columns: EVERYWHERE,
            };
            (guess, flight.straight)
        })
    }

    /// A quick look at both ends of a reading: how certain, and what it makes of the guess.
    fn explore(&self, guess: Guess, again: bool) -> Option<(f64, Guess)> {
        let (takeoff, landing) = self.ends(&guess, Care::Quick);
        let (takeoff, landing) = (takeoff.map(|e| e.0), landing.map(|e| e.0));
        let first = match (takeoff, landing) {
            (Some(takeoff), Some(landing)) => {
                let certainty = takeoff.certainty().min(landing.certainty());
                guess
                    .told(&takeoff, &landing)
                    .map(|guess| (certainty, guess))
            }
            _ => None,
        };
        if first.is_some_and(|f| f.0 >= CLEAR) {
            return first;
        }
        // The reading's scale may be far off; the speeds seen say what it is.
        let first = match first {
            Some((_, better)) if again && better.px_per_m < 0.75 * guess.px_per_m => {
                [first, self.explore(better, false)]
                    .into_iter()
                    .flatten()
                    .max_by(|a, b| a.0.total_cmp(&b.0))
            }
            other => other,
        };
        if first.is_some_and(|f| f.0 >= CLEAR) || !again {
            return first;
        }
        let second = self.second_thought(&guess, takeoff, landing);
        [first, second]
            .into_iter()
            .flatten()
            .max_by(|a, b| a.0.total_cmp(&b.0))
    }
}
