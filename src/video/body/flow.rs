//! How fast the body moves up or down from picture to picture.
//!
//! Parts of the column that move are found again in the next picture; the median of
//! their steps is the body's. In a jump the speed falls evenly, by free fall, from
//! its highest value upwards to its highest value downwards: such stretches are
//! possible flights, whatever the shoes look like.

use rayon::prelude::*;

use crate::trace::{BodyFlight, FREE_FALL};
use crate::video::film::Film;
use crate::video::pick::{EVERYWHERE, Pick};
use crate::video::spacing::median;
use crate::video::template::{Half, Tile};

/// Speed of the body over one step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Step {
    /// Middle of the step in seconds.
    pub(super) t: f64,
    /// Upward speed in pixels per second.
    pub(super) up_px_s: f64,
}

/// Parts to follow from picture to picture, and how many must be found.
const PARTS: usize = 12;
const FEWEST: usize = 3;
/// Farthest step in rows: 3.4 m/s at a hundred pixels to the metre and 60 pictures a
/// second, with reserve.
const FARTHEST: f64 = 9.0;
const ASIDE: f64 = 3.0;
/// Longest step in time that is still followed, in seconds.
const LONGEST_STEP_S: f64 = 0.06;

/// The body's speed along the film.
pub(super) fn flow(film: &Film) -> Vec<Step> {
    // In parallel, yet in the order of time.
    (1..film.frames.len())
        .into_par_iter()
        .filter_map(|k| step(film, k - 1, k))
        .collect()
}

/// Speeds along a path of heights.
pub(super) fn steps(times_s: &[f64], rise_px: &[f64]) -> Vec<Step> {
    let points: Vec<(f64, f64)> = times_s
        .iter()
        .copied()
        .zip(rise_px.iter().copied())
        .collect();
    points
        .windows(2)
        .filter(|pair| pair[1].0 - pair[0].0 <= LONGEST_STEP_S)
        .map(|pair| Step {
            t: 0.5 * (pair[0].0 + pair[1].0),
            up_px_s: (pair[1].1 - pair[0].1) / (pair[1].0 - pair[0].0),
        })
        .collect()
}

fn step(film: &Film, k: usize, next: usize) -> Option<Step> {
    let (from, to) = (film.times[k], film.times[next]);
    if !(0.0..=LONGEST_STEP_S).contains(&(to - from)) {
        return None;
    }
    let picture = &film.frames[k];
    let before = &film.frames[k.saturating_sub(1)];
    let after = &film.frames[next];
    let half = Half { h: 5, w: 6 };
    let pick = Pick {
        picture,
        others: if k == 0 { [after; 2] } else { [before, after] },
        rows: (0.0, picture.height() as f64),
        columns: EVERYWHERE,
        half,
        wanted: PARTS,
    };
    let mut steps: Vec<f64> = pick
        .tiles()
        .into_iter()
        .filter_map(|(x, y)| {
            let tile = Tile::cut(film, k, x, y, half)?;
            let (x, y) = (x as f64, y as f64);
            let columns = (x - ASIDE, x + ASIDE);
            let found = tile.find(film, next, columns, (y - FARTHEST, y + FARTHEST))?;
            (found.likeness > 0.75).then_some(y - found.y)
        })
        .collect();
    if steps.len() < FEWEST {
        return None;
    }
    Some(Step {
        t: 0.5 * (from + to),
        up_px_s: median(&mut steps)? / (to - from),
    })
}

impl BodyFlight {
    /// When the feet likely left: the push fades before the feet leave. On 55
    /// jumps of known truth it was 15 to 20 ms after the fastest moment, standard
    /// deviation 23 ms.
    pub fn takeoff_s(&self) -> f64 {
        const LATER_S: f64 = 0.015;
        self.rising_s + LATER_S
    }

    /// When the feet likely touched: 5 to 10 ms before the fastest moment, standard
    /// deviation 21 ms on the same jumps.
    pub fn landing_s(&self) -> f64 {
        const EARLIER_S: f64 = 0.005;
        self.falling_s - EARLIER_S
    }

    /// Likely time in the air, in seconds.
    pub fn length_s(&self) -> f64 {
        self.landing_s() - self.takeoff_s()
    }

    /// Whether the fall was even enough to be believed.
    pub fn is_clear(&self) -> bool {
        const STRAIGHT: f64 = 0.95;
        self.straight >= STRAIGHT
    }

    /// Whether two stretches cannot both be flights of their own.
    pub(in crate::video) fn overlaps(&self, other: &Self) -> bool {
        self.rising_s < other.falling_s && other.rising_s < self.falling_s
    }
}

/// Possible flights along the film, surest first.
pub(super) fn flights(steps: &[Step]) -> Vec<BodyFlight> {
    const LENGTHS_S: (f64, f64) = (0.12, 1.05);
    const STRAIGHT: f64 = 0.9;
    let mut found: Vec<(f64, BodyFlight)> = Vec::new();
    for (i, from) in steps.iter().enumerate() {
        let peak = |j: usize, sign: f64| {
            let near = steps[j.saturating_sub(2)..(j + 3).min(steps.len())].iter();
            near.map(|s| sign * s.up_px_s)
                .fold(f64::NEG_INFINITY, f64::max)
        };
        if from.up_px_s <= 0.0 || from.up_px_s < peak(i, 1.0) {
            continue;
        }
        for (j, to) in steps.iter().enumerate().skip(i + 3) {
            let length_s = to.t - from.t;
            if length_s > LENGTHS_S.1 {
                break;
            }
            if length_s < LENGTHS_S.0 || to.up_px_s >= 0.0 || -to.up_px_s < peak(j, -1.0) {
                continue;
            }
            if let Some(flight) = falling(&steps[i..=j])
                && flight.straight >= STRAIGHT
            {
                found.push((
                    flight.straight.powi(4) * (from.up_px_s - to.up_px_s),
                    flight,
                ));
            }
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut kept: Vec<BodyFlight> = Vec::new();
    for (_, flight) in found {
        if !kept.iter().any(|other| other.overlaps(&flight)) {
            kept.push(flight);
        }
    }
    kept
}

/// A straight fall of the speed through these steps.
fn falling(steps: &[Step]) -> Option<BodyFlight> {
    let n = steps.len() as f64;
    let mean = |value: &dyn Fn(&Step) -> f64| steps.iter().map(value).sum::<f64>() / n;
    let (t, v) = (mean(&|s| s.t), mean(&|s| s.up_px_s));
    let tt = mean(&|s| (s.t - t).powi(2));
    let tv = mean(&|s| (s.t - t) * (s.up_px_s - v));
    let vv = mean(&|s| (s.up_px_s - v).powi(2));
    let (first, last) = (steps.first()?, steps.last()?);
    (tt > 0.0 && vv > 0.0 && tv < 0.0).then(|| BodyFlight {
        rising_s: first.t,
        falling_s: last.t,
        top_s: t - v * tt / tv,
        px_per_m: -tv / tt / FREE_FALL,
        straight: tv * tv / (tt * vv),
    })
}
