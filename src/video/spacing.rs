//! How evenly a clip's time stamps lie: frame period, jitter, gaps, repeats.

/// Rounds of narrowing in on the period.
const ROUNDS: usize = 8;

/// A spacing beyond this many periods means that a frame is missing.
const GAP_PERIODS: f64 = 1.5;

/// From a median absolute deviation to a standard deviation, normal law
/// (Rousseeuw & Croux 1993, from memory).
const MAD_TO_SIGMA: f64 = 1.4826;

/// Typical spacing of a stretch of times: the median; infinite with fewer than two.
/// For looking round in; the capture rate comes from [`Spacing`].
pub(in crate::video) fn median_spacing(times: &[f64]) -> f64 {
    let mut gaps: Vec<f64> = times.windows(2).map(|w| w[1] - w[0]).collect();
    median(&mut gaps).unwrap_or(f64::INFINITY)
}

/// The middle value, the upper one of two; `None` of nothing.
pub(in crate::video) fn median(values: &mut [f64]) -> Option<f64> {
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// Frames that should lie between two neighbours and do not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Gap {
    /// Position of the last frame before the gap.
    pub after: usize,
    /// How many frames are missing there.
    pub missing: u64,
}

/// What the spacings of a clip's time stamps say; lengths in ticks.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Spacing {
    /// Time from frame to frame.
    pub period: f64,
    /// Standard deviation of single spacings beyond what rounding explains.
    pub jitter: f64,
    /// Where frames are missing.
    pub gaps: Vec<Gap>,
    /// Positions of frames whose time does not lie after the one before.
    pub repeated: Vec<usize>,
}

impl Spacing {
    /// Measures the spacings of at least two time stamps in capture order;
    /// `None` where time never advances.
    pub fn measure(ticks: &[i64]) -> Option<Self> {
        let mut repeated = Vec::new();
        let mut steps = Vec::with_capacity(ticks.len());
        for (i, pair) in ticks.windows(2).enumerate() {
            let &[earlier, later] = pair else { continue };
            let step = later.saturating_sub(earlier);
            if step <= 0 {
                repeated.push(i + 1);
            } else {
                steps.push((i, step as f64));
            }
        }
        let rough = rough_period(steps.iter().map(|&(_, step)| step).collect())?;
        let gaps: Vec<Gap> = steps
            .iter()
            .filter(|&&(_, step)| is_gap(step, rough))
            .map(|&(after, step)| Gap {
                after,
                missing: periods(step, rough) - 1,
            })
            .collect();
        let period = fitted_period(&steps, rough);
        Some(Self {
            period,
            jitter: jitter(&steps, period),
            gaps,
            repeated,
        })
    }
}

/// Stamps are whole ticks, so a spacing may be a tick off by rounding alone.
fn is_gap(step: f64, period: f64) -> bool {
    step > GAP_PERIODS * period + 1.0
}

/// Whole periods in a spacing, at least one.
fn periods(step: f64, period: f64) -> u64 {
    if is_gap(step, period) {
        ((step / period).round() as u64).max(2)
    } else {
        1
    }
}

/// The mean of the spacings that are about one period long. A median alone
/// fails where the ticks are coarse: 2.5 ticks show as 2, 3, 2, 3.
fn rough_period(mut steps: Vec<f64>) -> Option<f64> {
    steps.sort_unstable_by(f64::total_cmp);
    let mut period = *steps.get(steps.len() / 2)?;
    for _ in 0..ROUNDS {
        let near = steps
            .iter()
            .filter(|&&step| step >= period / GAP_PERIODS - 1.0 && !is_gap(step, period));
        let (sum, count) = near.fold((0.0, 0.0), |(sum, count), step| (sum + step, count + 1.0));
        if count == 0.0 {
            break;
        }
        period = sum / count;
    }
    Some(period)
}

/// Slope of time over frame number, missing frames counted, least squares.
///
/// A clip whose rate really changes does not lie on one line; then the mean
/// spacing stands.
fn fitted_period(steps: &[(usize, f64)], rough: f64) -> f64 {
    let (mut number, mut time) = (0.0, 0.0);
    let mut points = vec![(0.0, 0.0)];
    for &(_, step) in steps {
        number += periods(step, rough) as f64;
        time += step;
        points.push((number, time));
    }
    let n = points.len() as f64;
    let mean = points
        .iter()
        .fold((0.0, 0.0), |sum, point| (sum.0 + point.0, sum.1 + point.1));
    let mean = (mean.0 / n, mean.1 / n);
    let (mut across, mut along) = (0.0, 0.0);
    for (number, time) in points {
        across += (number - mean.0) * (time - mean.1);
        along += (number - mean.0).powi(2);
    }
    let slope = across / along;
    if (slope / rough - 1.0).abs() < 0.05 {
        slope
    } else {
        rough
    }
}

fn jitter(steps: &[(usize, f64)], period: f64) -> f64 {
    let mut off: Vec<f64> = steps
        .iter()
        .map(|&(_, step)| (step - periods(step, period) as f64 * period).abs())
        .collect();
    off.sort_unstable_by(f64::total_cmp);
    let sigma = MAD_TO_SIGMA * off.get(off.len() / 2).copied().unwrap_or(0.0);
    // Rounding alone can put a spacing off by up to a tick.
    if sigma <= 1.0 { 0.0 } else { sigma }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coarse_ticks_hold_a_rate_only_on_average() {
        // 240 frames a second on 600 ticks: 2.5 ticks each.
        let ticks: Vec<i64> = (0..480)
            .map(|i| (f64::from(i) * 2.5).round() as i64)
            .collect();
        let spacing = Spacing::measure(&ticks).unwrap();
        assert!((spacing.period - 2.5).abs() < 1e-3, "{}", spacing.period);
        assert_eq!(spacing.jitter, 0.0);
        assert_eq!((spacing.gaps, spacing.repeated), (vec![], vec![]));
    }

    #[test]
    fn millisecond_ticks_are_no_jitter_and_no_gaps() {
        let ticks: Vec<i64> = (0..480)
            .map(|i| (f64::from(i) * 1000.0 / 240.0).round() as i64)
            .collect();
        let spacing = Spacing::measure(&ticks).unwrap();
        assert!((1000.0 / spacing.period - 240.0).abs() < 0.02);
        assert_eq!((spacing.jitter, spacing.gaps), (0.0, vec![]));
    }

    #[test]
    fn missing_frames_are_counted_where_they_are_missing() {
        let ticks: Vec<i64> = (0..60)
            .filter(|i| ![10, 11, 30].contains(i))
            .map(|i| i * 1500)
            .collect();
        let spacing = Spacing::measure(&ticks).unwrap();
        assert!((spacing.period - 1500.0).abs() < 1e-6);
        let gap = |after, missing| Gap { after, missing };
        assert_eq!(spacing.gaps, [gap(9, 2), gap(27, 1)]);
    }

    #[test]
    fn time_that_stands_or_runs_back_is_noted() {
        let spacing = Spacing::measure(&[0, 10, 10, 20, 15, 30, 40]).unwrap();
        assert_eq!(spacing.repeated, [2, 4]);
        assert_eq!(Spacing::measure(&[5, 5, 5]), None);
        assert_eq!(Spacing::measure(&[5]), None);
    }

    #[test]
    fn jitter_is_about_what_was_put_in() {
        // Spacings 1500 +- 60, drawn from a fixed little generator.
        let mut state = 1_u64;
        let mut time = 0.0;
        let ticks: Vec<i64> = (0..400)
            .map(|_| {
                let mut sum = 0.0;
                for _ in 0..12 {
                    state = state
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1);
                    sum += (state >> 40) as f64 / (1_u64 << 24) as f64;
                }
                time += 1500.0 + 60.0 * (sum - 6.0);
                time as i64
            })
            .collect();
        let spacing = Spacing::measure(&ticks).unwrap();
        assert!(
            (spacing.jitter / 60.0 - 1.0).abs() < 0.2,
            "{}",
            spacing.jitter
        );
        assert!((spacing.period / 1500.0 - 1.0).abs() < 0.005);
    }

    #[test]
    fn wild_stamps_do_not_panic() {
        let ticks = [i64::MIN, i64::MAX, 0, i64::MAX, i64::MIN, 3];
        assert!(Spacing::measure(&ticks).is_some());
    }
}
