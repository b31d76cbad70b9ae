//! Does the mat's clock step show through its display?
//!
//! A mat that prints milliseconds may look at its switch only every 8 ms. Its
//! times then cluster on a grid coarser than the display, and no jump can be told
//! better than that grid.

use serde::Serialize;

use crate::units::Span;

/// A grid on which all readings lie.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ClockStep {
    /// Distance of the grid's lines.
    #[serde(rename = "step_s")]
    pub step: Span,
    /// Distinct readings that support it.
    pub distinct: usize,
    /// Upper limit of the probability that readings spread evenly over the
    /// display's steps fall on such a grid.
    pub chance: f64,
}

/// Coarsest grid looked for.
const COARSEST_S: f64 = 0.050;

/// The chance below which a grid is taken for real.
const BELIEVED: f64 = 0.01;

/// The coarsest grid that holds all readings, if chance would hardly make one.
///
/// For each candidate step the readings' phases are laid on a circle; on a grid
/// they fill an arc no longer than the display's own step. n readings at random
/// do so with probability n (arc)^(n−1) (Stevens 1939, "Solution to a geometrical
/// problem in probability", Ann Eugenics 9:315), times the number of candidate
/// steps that could have been found.
pub(super) fn clock_step(times: &[Span], display_step: Span) -> Option<ClockStep> {
    let display = display_step.seconds();
    let mut distinct: Vec<f64> = times.iter().map(|t| t.seconds()).collect();
    distinct.sort_by(f64::total_cmp);
    distinct.dedup_by(|a, b| (*a - *b).abs() < 0.25 * display);
    let (first, last) = (*distinct.first()?, *distinct.last()?);
    let spread = last - first;
    let n = distinct.len();
    // Below a hundredth of a millisecond the grid is no coach's trouble.
    if n < 4 || display < 1e-5 || spread <= 4.0 * display {
        return None;
    }
    let independent = 10.0 * spread / display + 10.0;
    // Two steps of the display cannot be told from one: even and odd readings
    // always lie on such a grid, within one step.
    let finest = 3.0 * display;
    let mut step = COARSEST_S.min(spread / 2.0);
    while step >= finest {
        let allowed = 1.2 * display / step;
        if fits(&distinct, first, step, allowed) {
            // Rounding to the display may have narrowed the arc by one step of it.
            let before_rounding = allowed + display / step;
            let chance = independent * n as f64 * before_rounding.powi(n as i32 - 1);
            if chance < BELIEVED {
                return Some(ClockStep {
                    step: Span::from_seconds(centre_of_run(&distinct, first, step, allowed)),
                    distinct: n,
                    chance,
                });
            }
        }
        // The far end of the readings moves by a twentieth of the display's step.
        step *= 1.0 - 0.05 * display / spread;
    }
    None
}

/// Whether all phases lie within an arc of `allowed` < ½ of the circle. Seen from
/// any one of them the others are then within ± `allowed`, so that the circle
/// need not be closed.
fn fits(times: &[f64], origin: f64, step: f64, allowed: f64) -> bool {
    let (mut lo, mut hi) = (0.0f64, 0.0f64);
    for time in times {
        let turns = (time - origin) / step;
        let phase = turns - turns.round();
        lo = lo.min(phase);
        hi = hi.max(phase);
        if hi - lo > allowed {
            return false;
        }
    }
    true
}

/// A run of neighbouring steps fits; its middle is the best guess.
fn centre_of_run(sorted: &[f64], origin: f64, coarsest: f64, allowed: f64) -> f64 {
    let mut finest = coarsest;
    loop {
        let next = finest * (1.0 - 1e-4);
        if next < 0.9 * coarsest || !fits(sorted, origin, next, allowed) {
            return 0.5 * (coarsest + finest);
        }
        finest = next;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spans(millis: &[f64]) -> Vec<Span> {
        millis.iter().map(|m| Span::from_millis(*m)).collect()
    }

    #[test]
    fn a_grid_of_ten_milliseconds_shows() {
        let times = spans(&[
            480.0, 500.0, 510.0, 530.0, 540.0, 560.0, 590.0, 500.0, 620.0, 650.0, 450.0, 400.0,
        ]);
        let found = clock_step(&times, Span::from_millis(1.0)).unwrap();
        assert!((found.step.millis() - 10.0).abs() < 0.1, "{found:?}");
    }

    #[test]
    fn scattered_times_show_none() {
        let times = spans(&[
            481.0, 503.0, 512.0, 534.0, 541.0, 567.0, 592.0, 509.0, 621.0, 655.0, 448.0, 403.0,
        ]);
        assert_eq!(clock_step(&times, Span::from_millis(1.0)), None);
    }
}
