//! The line of mean force against mean velocity over several loads.
//!
//! Both come from the same height, so one error moves a point along both axes
//! at once; the push-off distance and the body mass move all points together.
//! The line is York's with fully correlated errors; the intervals come from
//! repeating the measurement on paper: heights, distance and mass drawn anew
//! about the measured ones, each time with a new line (parametric bootstrap,
//! Efron and Tibshirani 1993, "An introduction to the bootstrap").

use serde::Serialize;

use super::cautions::PROFILE_DOUBTS;
use super::error::{LoadError, within};
use super::mechanics::{check_height, check_push_off, push_of};
use super::random::Draws;
use super::york::{Point, ordinary_line, york};
use crate::trials::mat::basics::Estimate;
use crate::units::{Acceleration, Metres, StandardUncertainty};

/// Least number of loads for a line with intervals.
pub const LEAST_LOADS: usize = 3;

/// Simulated repetitions behind the intervals.
const REPETITIONS: usize = 2000;

/// Share of repetitions without a falling line from which the data say nothing.
const LOST_SHARE: f64 = 0.025;

/// Places along the line at which its band is worked out.
const BAND_PLACES: u32 = 24;

/// Always the same, so that the same jumps give the same intervals.
const SEED: u64 = 0x1d5a_77e1;

/// Mean height at one load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadedHeight {
    /// Load beyond the body, in kg.
    pub load_kg: f64,
    /// Mean height.
    pub height: Metres,
    /// Standard uncertainty of that mean.
    pub u: StandardUncertainty<Metres>,
}

/// The body that is pushed, with standard uncertainties.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// Body mass in kg.
    pub mass_kg: f64,
    /// Its standard uncertainty in kg.
    pub u_mass_kg: f64,
    /// Push-off distance.
    pub push_off: Metres,
    /// Its standard uncertainty.
    pub u_push_off: StandardUncertainty<Metres>,
    /// Gravity.
    pub gravity: Acceleration,
}

/// Coefficients of a line without intervals.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Coefficients {
    /// Newtons per metre per second; negative.
    pub slope_n_s_m: f64,
    /// Force at velocity 0, in newtons.
    pub f0_n: f64,
    /// Velocity at force 0, in metres per second.
    pub v0_m_s: f64,
    /// F0 V0/4, in watts.
    pub pmax_w: f64,
}

impl Coefficients {
    fn of(slope: f64, intercept: f64) -> Option<Self> {
        if !(slope < 0.0 && intercept > 0.0) {
            return None;
        }
        let v0 = -intercept / slope;
        Some(Self {
            slope_n_s_m: slope,
            f0_n: intercept,
            v0_m_s: v0,
            pmax_w: intercept * v0 / 4.0,
        })
    }
}

/// A place on the line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BandPoint {
    /// Mean velocity, m/s.
    pub velocity_m_s: f64,
    /// Force on the line with its interval at this velocity alone, N.
    pub force_n: Estimate<f64>,
}

/// Force against velocity.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Profile {
    /// Slope with its interval, N·s/m.
    pub slope_n_s_m: Estimate<f64>,
    /// F0 with its interval, N. An extrapolation: nobody jumped at velocity 0.
    pub f0_n: Estimate<f64>,
    /// V0 with its interval, m/s. An extrapolation: nobody jumped without force.
    pub v0_m_s: Estimate<f64>,
    /// Pmax with its interval, W.
    pub pmax_w: Estimate<f64>,
    /// The line with its interval at single velocities, from 0 to V0.
    pub band: Vec<BandPoint>,
    /// Ordinary least squares of force on velocity, for comparison.
    pub ordinary: Coefficients,
    /// Least and greatest mean force jumped, N.
    pub measured_force_n: (f64, f64),
    /// Least and greatest mean velocity jumped, m/s.
    pub measured_velocity_m_s: (f64, f64),
    /// By what the stated errors were widened since the points scatter more
    /// about the line; 1 where they do not.
    pub widened: f64,
    /// Share of the simulated repetitions without a falling line.
    pub lost_share: f64,
}

impl Profile {
    /// The line in plain words, extrapolation and doubts named.
    pub fn text(&self) -> String {
        let (f, v) = (self.measured_force_n, self.measured_velocity_m_s);
        let share = |force: f64| 100.0 * force / self.f0_n.value;
        format!(
            "Jumped: mean forces of {:.0} to {:.0} N ({:.0} to {:.0} % of F0) at {:.2} to {:.2} \
             m/s. All beyond is extrapolated: F0 {:.0} N (95 % interval {:.0} to {:.0}), V0 {:.2} \
             m/s ({:.2} to {:.2}), Pmax {:.0} W ({:.0} to {:.0}). {PROFILE_DOUBTS}",
            f.0,
            f.1,
            share(f.0),
            share(f.1),
            v.0,
            v.1,
            self.f0_n.value,
            self.f0_n.interval95.lo,
            self.f0_n.interval95.hi,
            self.v0_m_s.value,
            self.v0_m_s.interval95.lo,
            self.v0_m_s.interval95.hi,
            self.pmax_w.value,
            self.pmax_w.interval95.lo,
            self.pmax_w.interval95.hi,
        )
    }
}

/// Why there is no line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ProfileFailure {
    /// Push-off distance not given.
    NoPushOff,
    /// Fewer loads than a line with intervals needs.
    FewLoads,
    /// Force does not fall with velocity in these jumps.
    NotFalling,
    /// It may or may not fall, given the errors.
    Undetermined,
}

impl ProfileFailure {
    /// In words.
    pub fn text(self) -> &'static str {
        match self {
            Self::NoPushOff => "state the push-off distance to see force and velocity",
            Self::FewLoads => {
                "three loads at least make a line; five spread widely make a fair one"
            }
            Self::NotFalling => "force does not fall with velocity in these jumps: no line",
            Self::Undetermined => {
                "given the errors these jumps do not even settle whether force falls with \
                 velocity: no line"
            }
        }
    }
}

/// The line over several loads with its intervals.
///
/// `dof` are the degrees of freedom behind the heights' uncertainties; None
/// where those are known and not estimated from few jumps.
///
/// # Errors
/// [`LoadError`] for impossible numbers. That the data carry no line is no
/// error but the inner [`ProfileFailure`].
pub fn profile(
    heights: &[LoadedHeight],
    body: &Body,
    dof: Option<u32>,
) -> Result<Result<Profile, ProfileFailure>, LoadError> {
    check(heights, body)?;
    if heights.len() < LEAST_LOADS {
        return Ok(Err(ProfileFailure::FewLoads));
    }
    let measured: Vec<f64> = heights.iter().map(|h| h.height.metres()).collect();
    let points = points(
        heights,
        &measured,
        body.mass_kg,
        body.push_off.metres(),
        body,
    );
    let plain = ordinary_line(&points).and_then(|(s, i)| Coefficients::of(s, i));
    let fitted = york(&points);
    let best = fitted.and_then(|l| Coefficients::of(l.slope, l.intercept));
    let (Some(ordinary), Some(line), Some(best)) = (plain, fitted, best) else {
        return Ok(Err(ProfileFailure::NotFalling));
    };
    // The points may scatter more than their stated errors: Birge 1932, "The
    // calculation of errors by the method of least squares", Phys Rev 40:207.
    let spare = (heights.len() - 2) as f64;
    let widened = (line.chi_squared / spare).sqrt().max(1.0);
    let repeats = repeat(heights, body, dof, widened);
    let lost_share = 1.0 - repeats.len() as f64 / REPETITIONS as f64;
    if lost_share > LOST_SHARE {
        return Ok(Err(ProfileFailure::Undetermined));
    }
    let estimate = |of: fn(&Coefficients) -> f64| interval(of(&best), repeats.iter().map(of));
    Ok(Ok(Profile {
        slope_n_s_m: estimate(|c| c.slope_n_s_m),
        f0_n: estimate(|c| c.f0_n),
        v0_m_s: estimate(|c| c.v0_m_s),
        pmax_w: estimate(|c| c.pmax_w),
        band: band(&best, &repeats),
        ordinary,
        measured_force_n: ends(points.iter().map(|p| p.y)),
        measured_velocity_m_s: ends(points.iter().map(|p| p.x)),
        widened,
        lost_share,
    }))
}

fn check(heights: &[LoadedHeight], body: &Body) -> Result<(), LoadError> {
    within("body mass", body.mass_kg, "kg", 20.0, 300.0)?;
    within("uncertainty of body mass", body.u_mass_kg, "kg", 0.0, 10.0)?;
    check_push_off(body.push_off)?;
    let u = body.u_push_off.0.metres();
    within("uncertainty of the push-off distance", u, "m", 0.0, 0.2)?;
    let g = body.gravity.metres_per_second_squared();
    within("gravity", g, "m/s²", 9.0, 11.0)?;
    for h in heights {
        within("jump load", h.load_kg, "kg", 0.0, 300.0)?;
        check_height(h.height)?;
        within("uncertainty of a height", h.u.0.metres(), "m", 1e-6, 0.3)?;
    }
    Ok(())
}

/// The points of force and velocity for drawn or measured heights.
fn points(
    loads: &[LoadedHeight],
    heights_m: &[f64],
    mass_kg: f64,
    push_off_m: f64,
    body: &Body,
) -> Vec<Point> {
    let g = body.gravity.metres_per_second_squared();
    loads
        .iter()
        .zip(heights_m)
        .map(|(load, h)| {
            let mass = mass_kg + load.load_kg;
            let push = push_of(mass, *h, push_off_m, g);
            let u = load.u.0.metres();
            Point {
                x: push.velocity_m_s,
                y: push.force_n,
                u_x: g / (4.0 * push.velocity_m_s) * u,
                u_y: mass * g / push_off_m * u,
                r: 1.0,
            }
        })
        .collect()
}

/// Lines of the simulated repetitions; those that do not fall are left out.
fn repeat(
    heights: &[LoadedHeight],
    body: &Body,
    dof: Option<u32>,
    widened: f64,
) -> Vec<Coefficients> {
    let mut draws = Draws::seeded(SEED);
    (0..REPETITIONS)
        .filter_map(|_| {
            let stretch = widened * draws.stretch(dof);
            let drawn: Vec<f64> = heights
                .iter()
                .map(|h| h.height.metres() + stretch * h.u.0.metres() * draws.normal())
                .collect();
            let mass = body.mass_kg + body.u_mass_kg * draws.normal();
            let push_off = body.push_off.metres() + body.u_push_off.0.metres() * draws.normal();
            // A draw below the floor is no jump.
            if drawn.iter().any(|h| *h <= 0.0) || mass <= 0.0 || push_off <= 0.0 {
                return None;
            }
            let line = york(&points(heights, &drawn, mass, push_off, body))?;
            Coefficients::of(line.slope, line.intercept)
        })
        .collect()
}

/// The line at evenly spaced velocities, each with its own interval.
fn band(best: &Coefficients, repeats: &[Coefficients]) -> Vec<BandPoint> {
    let force = |line: &Coefficients, v: f64| line.f0_n + line.slope_n_s_m * v;
    (0..=BAND_PLACES)
        .map(|place| {
            let velocity_m_s = best.v0_m_s * f64::from(place) / f64::from(BAND_PLACES);
            let drawn = repeats.iter().map(|line| force(line, velocity_m_s));
            BandPoint {
                velocity_m_s,
                force_n: interval(force(best, velocity_m_s), drawn),
            }
        })
        .collect()
}

/// The middle 95 % of the repetitions.
fn interval(value: f64, repeats: impl Iterator<Item = f64>) -> Estimate<f64> {
    let mut sorted: Vec<f64> = repeats.collect();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().saturating_sub(1);
    let at = |p: f64| {
        let rank = (p * last as f64).round() as usize;
        sorted.get(rank).copied().unwrap_or(f64::NAN)
    };
    Estimate::from_ends(value, at(0.025), at(0.975))
}

fn ends(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| {
        (lo.min(v), hi.max(v))
    })
}
