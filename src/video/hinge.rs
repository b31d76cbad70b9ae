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

use super::linear::solve;

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
    const STEPS_S: [f64; 3] = [0.002, 0.000_5, 0.000_1];
    let usual = [(prior.run_up_s.map_or(0.0, |(mean, _)| mean), 0.0)];
    let mut best = best_over_grid(sightings, prior, range, STEPS_S[0], &usual)?;
    let near = |best: &Hinge, reach: f64| {
        let (lo, hi) = (best.t - reach, best.t + reach);
        (lo.max(range.0), hi.min(range.1))
    };
    let mut reach = STEPS_S[0] + prior.run_up_s.map_or(0.0, |(_, sd)| sd);
    let mut tried = run_ups(prior);
    for step in &STEPS_S[1..] {
        let finer = best_over_grid(sightings, prior, near(&best, reach), *step, &tried);
        best = finer.filter(|f| f.cost <= best.cost).unwrap_or(best);
        reach = *step;
        tried.retain(|&(run_up, _)| run_up == best.run_up_s);
    }
    Some(best)
}

fn best_over_grid(
    sightings: &[Sighting],
    prior: &HingePrior,
    range: (f64, f64),
    step: f64,
    run_ups: &[(f64, f64)],
) -> Option<Hinge> {
    let steps = ((range.1 - range.0) / step).floor();
    if !(0.0..=20_000.0).contains(&steps) {
        return None;
    }
    let mut best: Option<Hinge> = None;
    for &(run_up, penalty) in run_ups {
        for i in 0..=steps as usize {
            let t = range.0 + i as f64 * step;
            if let Some(mut hinge) = fit_at(sightings, prior, t, run_up) {
                hinge.cost += penalty;
                if best.is_none_or(|b| hinge.cost < b.cost) {
                    best = Some(hinge);
                }
            }
        }
    }
    best
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

fn fit_at(sightings: &[Sighting], prior: &HingePrior, t: f64, run_up: f64) -> Option<Hinge> {
    const ROUNDS: usize = 3;
    let in_air = sightings.iter().filter(|s| s.t > t).count();
    let on_floor = sightings.len() - in_air;
    if in_air < 2 || on_floor < 1 {
        return None;
    }
    let scatter = prior.scatter_px;
    let expected = prior.speed_px_s;
    let mut branches = Branches {
        floor: 0.0,
        speed: expected,
        roll: 0.0,
    };
    let at = |s: &Sighting| Moment {
        flown: flown(s.t - t, run_up, prior.flight_s),
        stood: (s.t - t).min(0.0),
    };
    for round in 0..ROUNDS {
        let mut sums = Normal::with_priors(prior);
        for s in sightings {
            let moment = at(s);
            let off = (s.y - branches.row(&moment)) / (2.0 * scatter);
            let doubt = if round == 0 { 1.0 } else { 1.0 + off * off };
            sums.add(s.weight / doubt, &moment, s.y);
        }
        branches = sums.solve()?;
    }
    let mut cost = 0.5 * ((branches.speed / expected - 1.0) / prior.speed_u_rel).powi(2)
        + 0.5 * (branches.roll / (ROLL_U_REL * expected)).powi(2);
    let mut square = 0.0;
    // The logarithm of the product is the sum of the logarithms, and one is enough.
    let mut product = 1.0;
    let mut span = (t, t);
    let (mut risen, mut due) = (0.0, 0.0);
    for s in sightings {
        if s.t > t {
            risen += branches.floor - s.y;
            due += expected * flown(s.t - t, run_up, prior.flight_s.abs());
        }
        span = (span.0.min(s.t), span.1.max(s.t));
        let residual = s.y - branches.row(&at(s));
        square += residual * residual;
        product *= 1.0 + s.weight * 0.5 * (residual / scatter).powi(2);
        if product > 1e200 {
            cost += f64::ln(product);
            product = 1.0;
        }
    }
    cost += f64::ln(product);
    Some(Hinge {
        t,
        floor_px: branches.floor,
        speed_px_s: branches.speed,
        run_up_s: run_up,
        rms_px: (square / sightings.len() as f64).sqrt(),
        on_floor_s: t - span.0,
        in_air_s: span.1 - t,
        rise_ratio: risen / due.max(1e-9),
        cost,
    })
}

/// A shoe on the floor rolls a little: its parts may drift at a small share of
/// the flying speed. Standard deviation of that share, by experience.
const ROLL_U_REL: f64 = 0.04;

/// Both branches: floor level, flying speed, drift while on the floor.
struct Branches {
    floor: f64,
    speed: f64,
    roll: f64,
}

/// What a moment contributes to each branch.
struct Moment {
    flown: f64,
    stood: f64,
}

impl Branches {
    fn row(&self, moment: &Moment) -> f64 {
        self.floor - self.speed * moment.flown + self.roll * moment.stood
    }
}

/// Normal equations of the three linear unknowns (floor, -speed, roll).
struct Normal {
    a: [[f64; 3]; 3],
    b: [f64; 3],
}

impl Normal {
    /// Starts with the pulls towards the expected speed and towards no drift.
    fn with_priors(prior: &HingePrior) -> Self {
        let pull = |sd: f64| (prior.scatter_px / sd).powi(2);
        let speed = pull(prior.speed_u_rel * prior.speed_px_s);
        let roll = pull(ROLL_U_REL * prior.speed_px_s);
        Self {
            a: [[1e-9, 0.0, 0.0], [0.0, speed, 0.0], [0.0, 0.0, roll]],
            b: [0.0, -speed * prior.speed_px_s, 0.0],
        }
    }

    fn add(&mut self, weight: f64, moment: &Moment, y: f64) {
        let row = [1.0, moment.flown, moment.stood];
        for i in 0..3 {
            for j in 0..3 {
                self.a[i][j] += weight * row[i] * row[j];
            }
            self.b[i] += weight * row[i] * y;
        }
    }

    /// `None` where the sightings do not tell the unknowns apart.
    fn solve(&self) -> Option<Branches> {
        let [floor, rise, roll] = solve(&self.a, &self.b, 1e-12)?;
        Some(Branches {
            floor,
            speed: -rise,
            roll,
        })
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
