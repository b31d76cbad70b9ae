//! The hinge: where a path in the air meets the stand on the floor.
//!
//! A part of the shoe stands still while it is on the floor and flies on a
//! parabola while it is not. Its height in the picture against time is two
//! branches that meet at the event. With `u` the time into the flight, counted
//! from the event and away from the contact,
//!
//! ```text
//! contact (u <= 0)   y = y_floor
//! air     (u >  0)   y = y_floor - V (phi(u) - u^2 / T)
//! ```
//!
//! with `V = g s T / 2` the speed at the floor in pixels per second (`s` pixels
//! per metre, `T` flight time): free fall ties the curvature to the speed.
//! `phi(u)` is `u` for a foot that has its full speed at once (a landing seen
//! backwards). At take-off the toe starts from rest when the force ends and
//! needs the time `r` (the *run-up*) to reach the body's speed:
//! `phi(u) = u^2 / 2r` up to `r`, then `u - r/2`.
//!
//! The event time is searched, the floor level and the speed follow linearly,
//! by least squares reweighted against outliers (Cauchy weights). On the contact
//! side a small steady drift is allowed for, since a shoe rolls.

mod branches;
mod lanes;

use lanes::{Batch, LANES, Lanes, fits};

/// One sighting of a part of the shoe: time away from contact, height, weight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sighting {
    /// Seconds, counted so that contact lies at small and flight at large values.
    pub t: f64,
    /// Height in the picture in pixels, downwards.
    pub y: f64,
    /// Trust in this sighting, 0 to 1.
    pub weight: f64,
}

/// What is known of the flight before the fit.
#[derive(Clone, Copy, Debug)]
pub struct HingePrior {
    /// Flight time in seconds, for the curvature.
    pub flight_s: f64,
    /// Expected speed at the floor in pixels per second.
    pub speed_px_s: f64,
    /// Relative standard uncertainty of that speed.
    pub speed_u_rel: f64,
    /// Typical scatter of a sighting in pixels.
    pub scatter_px: f64,
    /// Run-up time of the toe: mean and standard deviation in seconds, or
    /// `None` for a foot that has its full speed at once.
    pub run_up_s: Option<(f64, f64)>,
}

/// A fitted hinge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hinge {
    /// Event time on the sightings' own axis, in seconds.
    pub t: f64,
    /// Floor level in pixels.
    pub floor_px: f64,
    /// Speed at the floor in pixels per second.
    pub speed_px_s: f64,
    /// Run-up time in seconds; 0 without one.
    pub run_up_s: f64,
    /// Root mean square of the residuals in pixels.
    pub rms_px: f64,
    /// How long the part was seen on the floor, in seconds.
    pub on_floor_s: f64,
    /// How long it was seen in the air.
    pub in_air_s: f64,
    /// Mean height gained in the air over what the expected speed in free fall
    /// would have gained at the same moments.
    pub rise_ratio: f64,
    /// Misfit and distance from what was expected, as a negative log likelihood.
    pub cost: f64,
}

/// Fits one hinge; `None` with fewer than two sightings in the air or none on the floor.
///
/// `range` limits the event time. Sightings need not be sorted.
pub fn fit_hinge(sightings: &[Sighting], prior: &HingePrior, range: (f64, f64)) -> Option<Hinge> {
    Sightings::of(sightings).fit(prior, range)
}

/// The sightings of one path, ready for many fits.
pub(in crate::video) struct Sightings {
    /// In order of time; times, heights and weights by themselves, for the arithmetic
    /// of many at once.
    t: Vec<f64>,
    y: Vec<f64>,
    weight: Vec<f64>,
}

impl Sightings {
    pub(in crate::video) fn of(sightings: &[Sighting]) -> Self {
        let mut sorted = sightings.to_vec();
        sorted.sort_by(|a, b| a.t.total_cmp(&b.t));
        Self {
            t: sorted.iter().map(|s| s.t).collect(),
            y: sorted.iter().map(|s| s.y).collect(),
            weight: sorted.iter().map(|s| s.weight).collect(),
        }
    }

    /// [`fit_hinge`] of these sightings.
    pub(in crate::video) fn fit(&self, prior: &HingePrior, range: (f64, f64)) -> Option<Hinge> {
        const STEPS_S: [f64; 3] = [0.002, 0.000_5, 0.000_1];
        let usual = [(prior.run_up_s.map_or(0.0, |(mean, _)| mean), 0.0)];
        let mut fitter = Fitter {
            seen: self,
            prior,
            distances: Vec::with_capacity(self.t.len()),
        };
        let mut best = fitter.best_over_grid(range, STEPS_S[0], &usual)?;
        let near = |best: &Fit, reach: f64| {
            let (lo, hi) = (best.t - reach, best.t + reach);
            (lo.max(range.0), hi.min(range.1))
        };
        let mut reach = STEPS_S[0] + prior.run_up_s.map_or(0.0, |(_, sd)| sd);
        let mut tried = run_ups(prior);
        for step in &STEPS_S[1..] {
            let finer = fitter.best_over_grid(near(&best, reach), *step, &tried);
            best = finer.filter(|f| f.cost <= best.cost).unwrap_or(best);
            reach = *step;
            tried.retain(|&(run_up, _)| run_up == best.run_up_s);
        }
        Some(self.told(&best, prior))
    }

    /// All that a fit tells.
    fn told(&self, fit: &Fit, prior: &HingePrior) -> Hinge {
        let t = fit.t;
        let (mut risen, mut due, mut square) = (0.0, 0.0, 0.0);
        for (&at, &y) in self.t.iter().zip(&self.y) {
            let u = at - t;
            let flown = |flight_s: f64| flown(u, fit.run_up_s, flight_s);
            if u > 0.0 {
                risen += fit.floor - y;
                due += prior.speed_px_s * flown(prior.flight_s.abs());
            }
            let row = fit.floor - fit.speed * flown(prior.flight_s) + fit.roll * u.min(0.0);
            square += (y - row) * (y - row);
        }
        let span = |at: Option<&f64>| (at.copied().unwrap_or(t) - t).abs();
        Hinge {
            t,
            floor_px: fit.floor,
            speed_px_s: fit.speed,
            run_up_s: fit.run_up_s,
            rms_px: (square / self.t.len() as f64).sqrt(),
            on_floor_s: span(self.t.first()),
            in_air_s: span(self.t.last()),
            rise_ratio: risen / due.max(1e-9),
            cost: fit.cost,
        }
    }
}

/// Run-up times to try, each with the cost of its distance from the expected one.
fn run_ups(prior: &HingePrior) -> Vec<(f64, f64)> {
    let Some((mean, sd)) = prior.run_up_s else {
        return vec![(0.0, 0.0)];
    };
    (-4..=4)
        .map(|i| f64::from(i) * 0.5)
        .map(|z| (mean + z * sd, 0.5 * z * z))
        .filter(|&(run_up, _)| run_up > 0.0)
        .collect()
}

/// Distance flown per unit of floor speed, after `u` seconds of flight.
fn flown(u: f64, run_up: f64, flight_s: f64) -> f64 {
    if u <= 0.0 {
        return 0.0;
    }
    let rise = if u < run_up {
        u * u / (2.0 * run_up)
    } else {
        u - 0.5 * run_up
    };
    rise - u * u / flight_s
}

/// The best branches at one event time and run-up: floor level, flying speed, drift while
/// on the floor.
#[derive(Clone, Copy)]
struct Fit {
    t: f64,
    run_up_s: f64,
    floor: f64,
    speed: f64,
    roll: f64,
    cost: f64,
}

/// Fits the branches at many event times, [`LANES`] at once.
struct Fitter<'a> {
    seen: &'a Sightings,
    prior: &'a HingePrior,
    /// Distances flown at the event times that are tried.
    distances: Vec<Lanes>,
}

impl Fitter<'_> {
    fn best_over_grid(
        &mut self,
        range: (f64, f64),
        step: f64,
        run_ups: &[(f64, f64)],
    ) -> Option<Fit> {
        let steps = ((range.1 - range.0) / step).floor();
        if !(0.0..=20_000.0).contains(&steps) {
            return None;
        }
        let steps = steps as usize;
        let mut best: Option<Fit> = None;
        for &(run_up_s, penalty) in run_ups {
            for first in (0..=steps).step_by(LANES) {
                // Beyond the range the last time is tried again.
                let at = |lane: usize| (first + lane).min(steps);
                let batch = Batch {
                    seen: self.seen,
                    prior: self.prior,
                    t: Lanes(std::array::from_fn(|lane| range.0 + at(lane) as f64 * step)),
                    run_up_s,
                    most: best.map_or(f64::INFINITY, |b| b.cost) - penalty,
                };
                let fits = fits(&batch, &mut self.distances);
                for lane in 0..LANES {
                    let cost = fits.costs.0[lane] + penalty;
                    if cost < best.map_or(f64::INFINITY, |b| b.cost) {
                        best = Some(Fit {
                            t: batch.t.0[lane],
                            run_up_s,
                            floor: fits.branches.floor.0[lane],
                            speed: fits.branches.speed.0[lane],
                            roll: fits.branches.roll.0[lane],
                            cost,
                        });
                    }
                }
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PRIOR: HingePrior = HingePrior {
        flight_s: 0.5,
        speed_px_s: 400.0,
        speed_u_rel: 0.35,
        scatter_px: 0.2,
        run_up_s: None,
    };

    fn sightings(rate: f64, event: f64, run_up: f64, speed: f64) -> Vec<Sighting> {
        (-3..12)
            .map(|k| f64::from(k) / rate)
            .map(|t| Sighting {
                t,
                y: 100.0 - speed * flown(t - event, run_up, 0.5),
                weight: 1.0,
            })
            .collect()
    }

    #[test]
    fn a_landing_is_found_between_frames() {
        for event in [0.0021, 0.0093, 0.0158] {
            let hinge = fit_hinge(&sightings(60.0, event, 0.0, 430.0), &PRIOR, (-0.03, 0.06));
            let hinge = hinge.expect("enough sightings");
            assert!((hinge.t - event).abs() < 3e-4, "{} for {event}", hinge.t);
            assert!((hinge.speed_px_s - 430.0).abs() < 5.0);
        }
    }

    #[test]
    fn run_up_is_read_from_many_frames() {
        let prior = HingePrior {
            run_up_s: Some((0.0065, 0.0025)),
            ..PRIOR
        };
        let hinge = fit_hinge(
            &sightings(240.0, 0.0031, 0.0078, 410.0),
            &prior,
            (-0.01, 0.03),
        );
        let hinge = hinge.expect("enough sightings");
        assert!((hinge.t - 0.0031).abs() < 1e-3, "{}", hinge.t);
    }

    #[test]
    fn one_wild_sighting_does_not_move_the_event() {
        let mut seen = sightings(120.0, 0.0042, 0.0, 400.0);
        seen[1].y += 30.0;
        let hinge = fit_hinge(&seen, &PRIOR, (-0.02, 0.05)).expect("enough sightings");
        assert!((hinge.t - 0.0042).abs() < 1e-3, "{}", hinge.t);
    }

    #[test]
    fn too_little_to_see_is_no_hinge() {
        let seen = sightings(120.0, 0.0042, 0.0, 400.0);
        assert!(fit_hinge(&seen[..4], &PRIOR, (0.0, 0.05)).is_none());
        assert!(fit_hinge(&[], &PRIOR, (-0.02, 0.05)).is_none());
    }
}
