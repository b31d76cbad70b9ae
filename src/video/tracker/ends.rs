//! The two ends of a flight, each told by following the foot from the air to the floor.

use super::{Care, End, Guess, ROUND_PATCH, SETTLED, Tracker};
use crate::video::FREE_FALL;
use crate::video::agree::{Expected, FootEvent, agree};
use crate::video::tiles::{Chase, Contact, follow};

/// The end on which most agrees.
fn strongest(ends: Vec<End>) -> Option<End> {
    let mut best: Option<End> = None;
    for end in ends {
        if best.as_ref().is_none_or(|b| end.0.weight > b.0.weight) {
            best = Some(end);
        }
    }
    best
}

/// How likely two events are the two ends of one flight, 1 at best: what left the floor
/// at some speed comes back at the same. Feet that are drawn up before they land come
/// down faster; they come down more slowly where a heel, which turns about a toe that
/// stands already, is taken for the sole.
fn goes_together(takeoff: &FootEvent, landing: &FootEvent) -> f64 {
    const FASTER: f64 = 0.35;
    const SLOWER: f64 = 0.12;
    let gain = (landing.speed_px_s / takeoff.speed_px_s).max(0.05).ln();
    let off = gain / if gain > 0.0 { FASTER } else { SLOWER };
    (-0.5 * off * off).exp()
}

/// How likely the scale that the feet imply is so many times the one by which head and
/// trunk fall, 1 at best: 0.84 to 1.22 times on rendered and drawn clips, 0.63 to 0.68
/// where a heel was taken for a toe.
fn falls_with(scale: f64) -> f64 {
    const USUAL: f64 = 1.03;
    const SD: f64 = 0.15;
    let off = (scale / USUAL).ln() / SD;
    (-0.5 * off * off).exp().max(1e-6)
}

impl Tracker<'_> {
    /// Both ends of a flight, the pair that goes together best.
    pub(super) fn ends(&self, guess: &Guess, care: Care) -> (Option<End>, Option<End>) {
        let mut takeoffs = self.events(guess, Contact::Before, care);
        let mut landings = self.events(guess, Contact::After, care);
        let body = self.body_at(guess.takeoff_s + 0.5 * guess.flight_s);
        let likelihood = |takeoff: &End, landing: &End| {
            let weights = takeoff.0.weight * landing.0.weight;
            let told = guess.told(&takeoff.0, &landing.0);
            let falls = body.zip(told).map_or(1.0, |(body, told)| {
                falls_with(told.px_per_m / body.px_per_m)
            });
            weights * goes_together(&takeoff.0, &landing.0) * falls
        };
        let pairs = (0..takeoffs.len()).flat_map(|t| (0..landings.len()).map(move |l| (t, l)));
        let best = pairs.max_by(|a, b| {
            let of = |&(t, l): &(usize, usize)| likelihood(&takeoffs[t], &landings[l]);
            of(a).total_cmp(&of(b))
        });
        match best {
            Some((t, l)) => (Some(takeoffs.swap_remove(t)), Some(landings.swap_remove(l))),
            None => (strongest(takeoffs), strongest(landings)),
        }
    }

    /// Follows the foot from several heights in the air; the best agreement wins.
    pub(super) fn event(&self, guess: &Guess, contact: Contact, care: Care) -> Option<End> {
        strongest(self.events(guess, contact, care))
    }

    /// What following the foot from several heights in the air tells, until one is clear.
    fn events(&self, guess: &Guess, contact: Contact, care: Care) -> Vec<End> {
        const OF_APEX: f64 = 0.75;
        let highest = OF_APEX * FREE_FALL * guess.px_per_m * guess.flight_s.powi(2) / 8.0;
        let mut clearances: Vec<f64> = care
            .clearances()
            .iter()
            .map(|c| (c * self.patch.height).min(highest))
            .collect();
        clearances.dedup();
        let mut told: Vec<End> = Vec::new();
        for clearance in clearances {
            let end = self.event_from(guess, contact, clearance, care.tiles());
            told.extend(end);
            if told.last().is_some_and(|end| end.0.certainty() >= SETTLED) {
                break;
            }
        }
        told
    }

    fn event_from(
        &self,
        guess: &Guess,
        contact: Contact,
        clearance: f64,
        tiles: usize,
    ) -> Option<End> {
        let event_s = match contact {
            Contact::Before => guess.takeoff_s,
            Contact::After => guess.takeoff_s + guess.flight_s,
        };
        let seen = Expected {
            event_s,
            likely_s: self.likely_s(guess, contact),
            flight_s: guess.flight_s,
            px_per_m: guess.px_per_m,
            spacing_s: self.spacing_s,
            tiles,
            ground: (
                self.patch.top - ROUND_PATCH * self.patch.height,
                self.patch.top + (1.0 + ROUND_PATCH) * self.patch.height,
            ),
        };
        let speed = seen.speed_px_s();
        let fall = FREE_FALL * guess.px_per_m;
        let root = speed * speed - 2.0 * fall * clearance;
        let away_s = (root > 0.0).then(|| (speed - root.sqrt()) / fall)?;
        if away_s > 0.42 * guess.flight_s {
            return None;
        }
        let start = self.nearest(match contact {
            Contact::Before => event_s + away_s,
            Contact::After => event_s - away_s,
        })?;
        let chase = Chase {
            start,
            sole_row: guess.floor_px - clearance,
            columns: guess.columns,
            patch_height: self.patch.height,
            contact,
            speed_px_s: speed,
            reach_s: (
                (3.2 * self.spacing_s).max(0.07),
                away_s + (3.2 * self.spacing_s).max(0.09),
            ),
            tiles,
        };
        let mut paths = follow(self.film, &chase);
        if let Ok(steady) = &self.steady {
            steady.take_out(&mut paths);
        }
        agree(&paths, contact, &seen).map(|event| (event, paths))
    }

    /// Frame nearest to a time, not the first or the last.
    fn nearest(&self, t: f64) -> Option<usize> {
        let k = self.film.nearest(t)?;
        (k > 0 && k + 1 < self.film.times().len()).then_some(k)
    }
}
