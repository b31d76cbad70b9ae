//! One event out of many paths: each part of the shoe casts a vote.
//!
//! A toe stands still until the event and then flies; a heel, a shin or a shadow
//! fits that story badly. Each path's hinge votes with a weight that falls with
//! its misfit, with a speed that no free fall explains, and with too little to
//! see on either side; a heap of votes wins, not their mean.

use rayon::prelude::*;

use super::hinge::{Hinge, HingePrior, Sighting, Sightings};
use super::tiles::{Contact, Path};
use crate::trace::FREE_FALL;
pub use crate::trace::FootEvent;

/// Run-up of the toe after the force ends: mean and standard deviation in
/// seconds. Read by this very fit from rigid-body jumps filmed at 240 frames a
/// second, where the frames resolve it (5 to 9 ms); a person's toe has not been
/// measured, which is why the budget carries a line for it.
pub const TOE_RUN_UP_S: (f64, f64) = (0.0065, 0.0025);

/// The flight as known so far.
#[derive(Clone, Copy, Debug)]
pub(in crate::video) struct Expected {
    pub(in crate::video) event_s: f64,
    /// When the fall of the body says the event was, if it tells.
    pub(in crate::video) likely_s: Option<f64>,
    pub(in crate::video) flight_s: f64,
    pub(in crate::video) px_per_m: f64,
    pub(in crate::video) spacing_s: f64,
    /// Tiles looked for.
    pub(in crate::video) tiles: usize,
    /// Rows in which a part of the shoe can stand: the patch and a little round it.
    pub(in crate::video) ground: (f64, f64),
}

impl Expected {
    /// Speed at the floor, `g s T / 2`, in pixels per second.
    pub(in crate::video) fn speed_px_s(&self) -> f64 {
        0.5 * FREE_FALL * self.px_per_m * self.flight_s
    }

    /// Whether a part that stands in this row stands on the marked floor.
    fn on_ground(&self, row: f64) -> bool {
        self.ground.0 <= row && row <= self.ground.1
    }

    /// Scatter of a sighting: a fifth of a pixel, what a shoe bends (1 mm), or what
    /// blur and turning leave of the way from frame to frame (one part in forty).
    fn scatter_px(&self) -> f64 {
        let way = self.speed_px_s() * self.spacing_s;
        (0.001 * self.px_per_m).max(0.2).max(0.025 * way)
    }
}

/// A vote: a hinge with its weight.
struct Vote {
    hinge: Hinge,
    weight: f64,
}

/// The event on which the paths agree most, and after it those for which some of them
/// speak as well: a toe that shows little beside its heel.
pub(in crate::video) fn agree(paths: &[Path], contact: Contact, seen: &Expected) -> Vec<FootEvent> {
    // In parallel, yet in the order of the paths: the same with any number of threads.
    let mut votes: Vec<Vote> = paths
        .par_iter()
        .filter_map(|path| hinge_of(path, contact, seen))
        .map(|hinge| Vote {
            weight: trust(&hinge, seen),
            hinge,
        })
        .filter(|vote| vote.weight > 1e-6 && seen.on_ground(vote.hinge.floor_px))
        .collect();
    prefer_the_lowest(&mut votes, seen);
    prefer_the_likely(&mut votes, contact, seen);
    let width = (0.15 * seen.spacing_s).max(0.001_2);
    let total: f64 = votes.iter().map(|v| v.weight).sum();
    let paths = paths.len().max(seen.tiles * 3 / 4);
    heaps(&votes, width)
        .into_iter()
        .map(|centre| {
            let near = |v: &&Vote| (v.hinge.t - centre).abs() < 2.5 * width;
            let heap: Vec<&Vote> = votes.iter().filter(near).collect();
            let event = event_of(&heap, contact, seen.event_s);
            FootEvent {
                share: event.weight / total,
                paths,
                ..event
            }
        })
        .collect()
}

/// The event that a heap of votes tells.
fn event_of(heap: &[&Vote], contact: Contact, event_s: f64) -> FootEvent {
    let weight: f64 = heap.iter().map(|v| v.weight).sum();
    let mean = |value: &dyn Fn(&Hinge) -> f64| {
        let sum: f64 = heap.iter().map(|v| v.weight * value(&v.hinge)).sum();
        sum / weight
    };
    let t = mean(&|h| h.t);
    FootEvent {
        t_s: event_s + contact.sign() * t,
        spread_s: mean(&|h| (h.t - t).powi(2)).sqrt(),
        weight,
        paths: heap.len(),
        share: 1.0,
        votes: heap.len(),
        speed_px_s: mean(&|h| h.speed_px_s),
        run_up_s: mean(&|h| h.run_up_s),
        rms_px: mean(&|h| h.rms_px),
        floor_px: mean(&|h| h.floor_px),
    }
}

impl Contact {
    /// +1 where flight follows contact in time, -1 where contact follows flight.
    pub(in crate::video) fn sign(self) -> f64 {
        match self {
            Contact::Before => 1.0,
            Contact::After => -1.0,
        }
    }
}

/// A path that misses its first fit by so many times the usual scatter is dropped.
const HOPELESS: f64 = 20.0;

/// Sightings from which an event is told roughly: of more, every second or third will do.
const ROUGHLY: usize = 32;

/// Fits a path twice: all of it, then only what lies near the event.
fn hinge_of(path: &Path, contact: Contact, seen: &Expected) -> Option<Hinge> {
    const FEWEST: usize = 4;
    let sightings: Vec<Sighting> = path
        .iter()
        .map(|p| Sighting {
            t: contact.sign() * (p.t - seen.event_s),
            y: p.y,
            weight: ((p.likeness - 0.5) / 0.5).clamp(0.05, 1.0),
        })
        .collect();
    if sightings.len() < FEWEST {
        return None;
    }
    let mut prior = HingePrior {
        flight_s: seen.flight_s,
        speed_px_s: seen.speed_px_s(),
        speed_u_rel: 0.5,
        scatter_px: seen.scatter_px(),
        run_up_s: None,
    };
    let first = sightings.iter().map(|s| s.t).fold(f64::INFINITY, f64::min);
    let last = sightings
        .iter()
        .map(|s| s.t)
        .fold(f64::NEG_INFINITY, f64::max);
    let each = sightings.len().div_ceil(ROUGHLY);
    let some: Vec<Sighting> = sightings.iter().copied().step_by(each).collect();
    let rough = fit_falling_or_drawn(&some, &prior, (first + 1e-4, last - 1e-4))?;
    if rough.rms_px > HOPELESS * seen.scatter_px() {
        return None;
    }
    let on_floor = (2.2 * seen.spacing_s).max(0.03);
    let until = |in_air: f64| -> Vec<Sighting> {
        let near = |s: &&Sighting| s.t > rough.t - on_floor && s.t < rough.t + in_air;
        sightings.iter().filter(near).copied().collect()
    };
    let near = until((4.2 * seen.spacing_s).max(0.06));
    if near.len() < FEWEST {
        return None;
    }
    if contact == Contact::Before {
        prior.run_up_s = Some(TOE_RUN_UP_S);
    }
    // A hinge at the end of its range is none: the path only seems to bend there.
    let range = (rough.t - 0.02, rough.t + 0.02);
    let fit = |seen: &[Sighting]| {
        fit_falling_or_drawn(seen, &prior, range)
            .filter(|h| h.t - range.0 > 1e-3 && range.1 - h.t > 1e-3)
    };
    let usual = fit(&near);
    if usual.is_some_and(|h| h.rms_px <= POOR * seen.scatter_px()) {
        return usual;
    }
    let soon = until((3.2 * seen.spacing_s).max(0.055));
    if !(FEWEST..near.len()).contains(&soon.len()) {
        return usual;
    }
    let better = |h: &Hinge| usual.is_none_or(|usual| h.rms_px < 0.5 * usual.rms_px);
    let doubt = DOUBT * seen.scatter_px();
    let shorter = fit(&soon).filter(better).map(|h| Hinge {
        rms_px: h.rms_px.hypot(doubt),
        ..h
    });
    shorter.or(usual)
}

/// At few frames a second the foot is looked at for a seventh of a second off the floor,
/// and legs that are drawn up or stretched for the landing go neither with free fall nor
/// with another bend throughout. Where a fit misses by so many times the usual scatter,
/// only the frames nearest to the floor are asked ...
const POOR: f64 = 3.5;
/// ... and what so few say counts as if it missed by as much, in times the scatter.
const DOUBT: f64 = 2.5;

/// Fits free fall; where that misses, legs that are drawn up or stretched, which
/// bend the path the other way or more strongly: so many times free fall, with
/// the more reserve the farther from it.
fn fit_falling_or_drawn(
    sightings: &[Sighting],
    prior: &HingePrior,
    range: (f64, f64),
) -> Option<Hinge> {
    const BENDS: [f64; 6] = [-0.5, -2.0, -3.5, -5.0, 2.5, 4.0];
    const USUAL_BEND: f64 = 1.5;
    const GOOD: f64 = 3.0;
    let sightings = Sightings::of(sightings);
    let falling = sightings.fit(prior, range);
    if falling.is_some_and(|h| h.rms_px <= GOOD * prior.scatter_px) {
        return falling;
    }
    let drawn = BENDS.into_iter().filter_map(|bend| {
        let bent = HingePrior {
            flight_s: prior.flight_s / bend,
            ..*prior
        };
        let mut hinge = sightings.fit(&bent, range)?;
        hinge.cost += 0.5 * ((bend - 1.0) / USUAL_BEND).powi(2);
        Some(hinge)
    });
    drawn
        .chain(falling)
        .min_by(|a, b| a.cost.total_cmp(&b.cost))
}

/// How far a hinge tells of a foot that stood and flew.
fn trust(hinge: &Hinge, seen: &Expected) -> f64 {
    let misfit = hinge.rms_px / (2.2 * seen.scatter_px());
    let speed = (hinge.speed_px_s / seen.speed_px_s()).max(0.05).ln() / 0.45;
    // Drawn-up legs rise more than free fall; what rises less does not fly.
    let rise = hinge.rise_ratio.max(0.05).ln();
    let rise = rise / if rise > 0.0 { 1.2 } else { 0.5 };
    let floor = (hinge.on_floor_s / (0.8 * seen.spacing_s).max(0.012)).min(1.0);
    let air = (hinge.in_air_s / (1.5 * seen.spacing_s).max(0.02)).min(1.0);
    (-misfit * misfit - 0.5 * (speed * speed + rise * rise)).exp() * floor * air
}

/// What touches the floor is the lowest part of the shoe: votes from higher up
/// (heel, ankle, shin) count less, over a hand's breadth.
fn prefer_the_lowest(votes: &mut [Vote], seen: &Expected) {
    const TELLING: f64 = 0.1;
    const BREADTH_M: f64 = 0.045;
    let lowest = votes
        .iter()
        .filter(|v| v.weight > TELLING)
        .map(|v| v.hinge.floor_px)
        .fold(f64::NEG_INFINITY, f64::max);
    if lowest.is_finite() {
        for vote in votes {
            let higher_m = (lowest - vote.hinge.floor_px).max(0.0) / seen.px_per_m;
            vote.weight *= (-0.5 * (higher_m / BREADTH_M).powi(2)).exp();
        }
    }
}

/// A heel leaves well before the toe and comes down well after it; the body's fall
/// knows the difference though not the moment. Votes far from it count less.
fn prefer_the_likely(votes: &mut [Vote], contact: Contact, seen: &Expected) {
    const SD_S: f64 = 0.035;
    const LEAST: f64 = 0.05;
    let Some(likely_s) = seen.likely_s else {
        return;
    };
    let likely = contact.sign() * (likely_s - seen.event_s);
    for vote in votes {
        let off = (vote.hinge.t - likely) / SD_S;
        vote.weight *= LEAST + (1.0 - LEAST) * (-0.5 * off * off).exp();
    }
}

/// Centres of the heaps of votes (Gaussian kernel of the given width), the one that
/// decides first.
///
/// Not simply the densest: a heel leaves before the toe and comes down after it,
/// and may show more of itself. The event is the last part to leave and the first
/// to touch, so of all heaps that hold their own the one farthest towards the
/// flight decides; votes count time in that direction.
fn heaps(votes: &[Vote], width: f64) -> Vec<f64> {
    const HOLDS_ITS_OWN: f64 = 0.3;
    /// Weaker ones than this are no rivals, nor are those nearer than so many seconds.
    const RIVALS: f64 = 0.1;
    const APART_S: f64 = 0.012;
    let density = |t: f64| -> f64 {
        let kernel = |v: &Vote| v.weight * (-0.5 * ((v.hinge.t - t) / width).powi(2)).exp();
        votes.iter().map(kernel).sum()
    };
    let mut all: Vec<(f64, f64)> = votes
        .iter()
        .map(|v| (v.hinge.t, density(v.hinge.t)))
        .collect();
    let highest = all.iter().map(|h| h.1).fold(0.0, f64::max);
    let held = all.iter().filter(|h| h.1 >= HOLDS_ITS_OWN * highest);
    let Some(farthest) = held.map(|h| h.0).max_by(f64::total_cmp) else {
        return Vec::new();
    };
    let near = all.iter().filter(|h| farthest - h.0 < 2.0 * width);
    let deciding = near.max_by(|a, b| a.1.total_cmp(&b.1)).map(|h| h.0);
    let mut centres: Vec<f64> = deciding.into_iter().collect();
    all.retain(|h| h.1 >= RIVALS * highest);
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    for (t, _) in all {
        if centres.iter().all(|centre| (centre - t).abs() > APART_S) {
            centres.push(t);
        }
    }
    centres
}
