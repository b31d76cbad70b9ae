//! The two ends of a flight, each told by following the foot from the air to the floor.

use super::readings::SETTLED;
use super::{Care, End, Guess, ROUND_PATCH, Tracker};
use crate::video::FREE_FALL;
use crate::video::agree::{Expected, FootEvent, agree};
use crate::video::tiles::{Chase, Contact, Path, follow};

/// What following the foot from one height in the air tells of an end.
struct Told {
    deciding: FootEvent,
    /// Other events for which some of the paths speak.
    rivals: Vec<FootEvent>,
    paths: Vec<Path>,
}

/// Every event told, with the height in the air that told it and its weight: a rival has
/// to go together twice as well as the one that decides by itself.
fn candidates(all: &[Told]) -> impl Iterator<Item = (usize, &FootEvent, f64)> {
    const RIVAL: f64 = 0.5;
    all.iter().enumerate().flat_map(|(k, told)| {
        let rivals = told.rivals.iter().map(|event| (event, RIVAL));
        let events = rivals.chain([(&told.deciding, 1.0)]);
        events.map(move |(event, share)| (k, event, share * event.weight))
    })
}

fn end_of(mut all: Vec<Told>, (k, event): (usize, FootEvent)) -> End {
    (event, all.swap_remove(k).paths)
}

/// The end on which most agrees.
fn strongest(all: Vec<Told>) -> Option<End> {
    let weight = |told: &Told| told.deciding.weight;
    let best = all.into_iter().reduce(|best, told| {
        if weight(&told) > weight(&best) {
            told
        } else {
            best
        }
    });
    best.map(|told| (told.deciding, told.paths))
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
    const SD: f64 = 0.1;
    let off = (scale / USUAL).ln() / SD;
    (-0.5 * off * off).exp().max(1e-6)
}

impl Tracker<'_> {
    /// Both ends of a flight, the pair that goes together best.
    pub(super) fn ends(&self, guess: &Guess, care: Care) -> (Option<End>, Option<End>) {
        let takeoffs = self.told_from(guess, Contact::Before, care);
        let landings = self.told_from(guess, Contact::After, care);
        let body = self.body_at(guess.middle_s());
        let mut best: Option<(f64, [(usize, FootEvent); 2])> = None;
        for (t, takeoff, takeoff_weight) in candidates(&takeoffs) {
            for (l, landing, landing_weight) in candidates(&landings) {
                let told = guess.told(takeoff, landing);
                let falls = body
                    .zip(told)
                    .map_or(1.0, |(body, told)| falls_with(told.scale_by(body)));
                let weights = takeoff_weight * landing_weight;
                let likelihood = weights * goes_together(takeoff, landing) * falls;
                if best.is_none_or(|(most, _)| likelihood > most) {
                    best = Some((likelihood, [(t, *takeoff), (l, *landing)]));
                }
            }
        }
        match best {
            Some((_, [takeoff, landing])) => (
                Some(end_of(takeoffs, takeoff)),
                Some(end_of(landings, landing)),
            ),
            None => (strongest(takeoffs), strongest(landings)),
        }
    }

    /// Follows the foot from several heights in the air; the best agreement wins.
    pub(super) fn event(&self, guess: &Guess, contact: Contact, care: Care) -> Option<End> {
        strongest(self.told_from(guess, contact, care))
    }

    /// What following the foot from several heights in the air tells, until one is clear.
    fn told_from(&self, guess: &Guess, contact: Contact, care: Care) -> Vec<Told> {
        const OF_APEX: f64 = 0.75;
        let highest = OF_APEX * FREE_FALL * guess.px_per_m * guess.flight_s.powi(2) / 8.0;
        let mut clearances: Vec<f64> = care
            .clearances()
            .iter()
            .map(|c| (c * self.patch.height).min(highest))
            .collect();
        clearances.dedup();
        let mut all: Vec<Told> = Vec::new();
        for clearance in clearances {
            let told = self.told_at(guess, contact, clearance, care.tiles());
            let settled = told
                .as_ref()
                .is_some_and(|told| told.deciding.certainty() >= SETTLED);
            all.extend(told);
            if settled {
                break;
            }
        }
        all
    }

    fn told_at(
        &self,
        guess: &Guess,
        contact: Contact,
        clearance: f64,
        tiles: usize,
    ) -> Option<Told> {
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
        let mut events = agree(&paths, contact, &seen).into_iter();
        Some(Told {
            deciding: events.next()?,
            rivals: events.collect(),
            paths,
        })
    }

    /// Frame nearest to a time, not the first or the last.
    fn nearest(&self, t: f64) -> Option<usize> {
        let k = self.film.nearest(t)?;
        (k > 0 && k + 1 < self.film.times().len()).then_some(k)
    }
}
