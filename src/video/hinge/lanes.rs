//! Fitting the branches at several event times at once.
//!
//! Each lane does what a fit by itself would do, operation by operation, so that the
//! numbers are the same whatever the processor's vectors hold. A sighting that is on
//! the floor in one lane and in the air in another counts in both branches, with no
//! weight in the one where it does not belong.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

use multiversion::multiversion;

use super::branches::{Branches, Misfits, solve};
use super::{HingePrior, Sightings, flown};

/// Event times fitted at once: what a vector of a common processor holds.
pub(super) const LANES: usize = 4;

/// One number for each lane.
#[derive(Clone, Copy, Default)]
pub(super) struct Lanes(pub(super) [f64; LANES]);

impl Lanes {
    #[inline(always)]
    pub(super) fn all(value: f64) -> Self {
        Self([value; LANES])
    }

    #[inline(always)]
    fn map2(self, other: Self, of: impl Fn(f64, f64) -> f64) -> Self {
        Self(std::array::from_fn(|lane| of(self.0[lane], other.0[lane])))
    }
}

impl Add for Lanes {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        self.map2(other, |a, b| a + b)
    }
}

impl AddAssign for Lanes {
    #[inline(always)]
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Neg for Lanes {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self(self.0.map(|value| -value))
    }
}

impl Sub for Lanes {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        self.map2(other, |a, b| a - b)
    }
}

impl Mul for Lanes {
    type Output = Self;
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        self.map2(other, |a, b| a * b)
    }
}

impl Div for Lanes {
    type Output = Self;
    #[inline(always)]
    fn div(self, other: Self) -> Self {
        self.map2(other, |a, b| a / b)
    }
}

/// Neighbouring event times, later and later, and what to fit them to.
pub(super) struct Batch<'a> {
    pub(super) seen: &'a Sightings,
    pub(super) prior: &'a HingePrior,
    pub(super) t: Lanes,
    pub(super) run_up_s: f64,
    /// A fit that costs as much or more is none.
    pub(super) most: f64,
}

/// The branches that meet at each time, and their cost: infinite where there are none, or
/// where they are `most` or more from what was expected.
pub(super) struct Fits {
    pub(super) branches: Branches,
    pub(super) costs: Lanes,
}

/// Sightings before `first` are on the floor in all lanes, those from `last` on in the
/// air in all.
#[derive(Clone, Copy)]
struct Split {
    first: usize,
    last: usize,
}

/// Fits each lane. `distances` is room to work in.
#[multiversion(targets("x86_64+avx2"))]
pub(super) fn fits(batch: &Batch, distances: &mut Vec<Lanes>) -> Fits {
    const ROUNDS: usize = 3;
    let (times, prior) = (&batch.seen.t, batch.prior);
    let on_floor = batch.t.0.map(|t| times.partition_point(|&at| at <= t));
    let split = Split {
        first: on_floor[0],
        last: on_floor[LANES - 1],
    };
    fly(batch, split, distances);
    let mut branches = Branches::expected(prior);
    let mut told = on_floor.map(|on_floor| on_floor >= 1 && times.len() >= on_floor + 2);
    for round in 0..ROUNDS {
        // At first all count alike, wherever the floor is.
        let doubt = match round {
            0 => 0.0,
            _ => 0.5 / prior.scatter_px,
        };
        let [stood, flew] = sums(batch, split, distances, &branches, doubt);
        let (better, solved) = solve(&stood, &flew, prior);
        branches = better;
        told = std::array::from_fn(|lane| told[lane] && solved[lane]);
    }
    let expected = branches.distance_from(prior);
    let open: [bool; LANES] =
        std::array::from_fn(|lane| told[lane] && expected.0[lane] < batch.most);
    let mut costs = Lanes::all(f64::INFINITY);
    if open.contains(&true) {
        let misfits = misfits(batch, split, distances, &branches);
        for lane in (0..LANES).filter(|&lane| open[lane]) {
            costs.0[lane] = expected.0[lane] + misfits.told(lane);
        }
    }
    Fits { branches, costs }
}

/// Distances flown at each sighting from `split.first` on, 0 on the floor.
#[inline(always)]
fn fly(batch: &Batch, split: Split, distances: &mut Vec<Lanes>) {
    let times = batch.seen.t.iter().skip(split.first);
    let flown = |u: f64| flown(u, batch.run_up_s, batch.prior.flight_s);
    distances.clear();
    distances.extend(times.map(|at| Lanes(batch.t.0.map(|t| flown(at - t)))));
}

/// Sums over one branch for the normal equations.
#[derive(Default)]
pub(super) struct Sums {
    pub(super) w: Lanes,
    pub(super) wx: Lanes,
    pub(super) wxx: Lanes,
    pub(super) wy: Lanes,
    pub(super) wxy: Lanes,
}

impl Sums {
    #[inline(always)]
    fn add(&mut self, w: Lanes, x: Lanes, y: Lanes) {
        let (wx, wy) = (w * x, w * y);
        self.w += w;
        self.wx += wx;
        self.wxx += wx * x;
        self.wy += wy;
        self.wxy += wx * y;
    }
}

/// A weight in the lanes in which a sighting belongs to a branch.
#[inline(always)]
fn in_lanes(belongs: [bool; LANES], weight: f64) -> Lanes {
    Lanes(belongs.map(|belongs| if belongs { weight } else { 0.0 }))
}

/// One branch as a straight line over time on the floor, or over distance flown.
#[derive(Clone, Copy)]
struct Line {
    floor: Lanes,
    slope: Lanes,
}

impl Line {
    /// The branch on the floor and the one in the air.
    #[inline(always)]
    fn both(branches: &Branches) -> [Self; 2] {
        [branches.roll, -branches.speed].map(|slope| Self {
            floor: branches.floor,
            slope,
        })
    }

    /// How far a sighting lies off it, in pixels.
    #[inline(always)]
    fn off(&self, y: Lanes, x: Lanes) -> Lanes {
        y - (self.floor + self.slope * x)
    }
}

/// What is made of the sightings of a branch: shown height, weight, and time or distance
/// flown of each. A trait in place of a closure, which the compiler may leave outside of
/// what is made for the wider vectors.
trait Take {
    fn take(&mut self, y: Lanes, weight: Lanes, x: Lanes);
}

/// Shows the sightings on the floor.
#[inline(always)]
fn show_stood(batch: &Batch, split: Split, to: &mut impl Take) {
    let Sightings { t, y, weight } = batch.seen;
    let all = t.iter().zip(y).zip(weight).take(split.last);
    for (k, ((at, y), weight)) in all.enumerate() {
        let x = Lanes::all(*at) - batch.t;
        let weights = match k < split.first {
            true => Lanes::all(*weight),
            false => in_lanes(x.0.map(|x| x <= 0.0), *weight),
        };
        to.take(Lanes::all(*y), weights, x);
    }
}

/// Shows the sightings in the air.
#[inline(always)]
fn show_flown(batch: &Batch, split: Split, distances: &[Lanes], to: &mut impl Take) {
    let Sightings { t, y, weight } = batch.seen;
    let all = t.iter().zip(y).zip(weight).enumerate().skip(split.first);
    for ((k, ((at, y), weight)), x) in all.zip(distances) {
        let weights = match k >= split.last {
            true => Lanes::all(*weight),
            false => in_lanes(batch.t.0.map(|t| at - t > 0.0), *weight),
        };
        to.take(Lanes::all(*y), weights, *x);
    }
}

/// Sums for least squares of one branch, sightings off the line counting less: by how
/// much, `doubt` says per pixel.
struct Weighed {
    line: Line,
    doubt: Lanes,
    sums: Sums,
}

impl Take for Weighed {
    #[inline(always)]
    fn take(&mut self, y: Lanes, weight: Lanes, x: Lanes) {
        let off = self.line.off(y, x) * self.doubt;
        let trusted = weight / (Lanes::all(1.0) + off * off);
        self.sums.add(trusted, x, y);
    }
}

/// Sums for least squares of both branches.
#[inline(always)]
fn sums(
    batch: &Batch,
    split: Split,
    distances: &[Lanes],
    branches: &Branches,
    doubt: f64,
) -> [Sums; 2] {
    let mut both = Line::both(branches).map(|line| Weighed {
        line,
        doubt: Lanes::all(doubt),
        sums: Sums::default(),
    });
    let [stood, flew] = &mut both;
    show_stood(batch, split, stood);
    show_flown(batch, split, distances, flew);
    both.map(|weighed| weighed.sums)
}

/// Sums up how far sightings lie off a line.
struct Missed {
    line: Line,
    scale: Lanes,
    misfits: Misfits,
}

impl Take for Missed {
    #[inline(always)]
    fn take(&mut self, y: Lanes, weight: Lanes, x: Lanes) {
        let off = self.line.off(y, x);
        self.misfits.add(weight * self.scale * off * off);
    }
}

/// Negative log likelihood of the distances from the branches.
#[inline(always)]
fn misfits(batch: &Batch, split: Split, distances: &[Lanes], branches: &Branches) -> Misfits {
    let [stood, flew] = Line::both(branches);
    let mut missed = Missed {
        line: stood,
        scale: Lanes::all(0.5 / batch.prior.scatter_px.powi(2)),
        misfits: Misfits::none(),
    };
    show_stood(batch, split, &mut missed);
    missed.line = flew;
    show_flown(batch, split, distances, &mut missed);
    missed.misfits
}
