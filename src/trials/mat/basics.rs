//! Means, spreads and quantiles that the statistics here share.

use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use crate::jump::combine::coverage_factor;
use crate::units::Interval95;

/// A value with the interval that holds the true one in 95 of 100 such sets.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Estimate<T> {
    /// Best estimate.
    pub value: T,
    /// Its interval.
    pub interval95: Interval95<T>,
}

impl Estimate<f64> {
    /// `value` ± `half_width`.
    pub(in crate::trials) fn around(value: f64, half_width: f64) -> Self {
        Self::from_ends(value, value - half_width, value + half_width)
    }

    /// A value with its interval's ends.
    pub(in crate::trials) fn from_ends(value: f64, lo: f64, hi: f64) -> Self {
        Self {
            value,
            interval95: Interval95 { lo, hi },
        }
    }
}

impl<T: Copy> Estimate<T> {
    /// The same in another type.
    pub fn map<U>(self, to: impl Fn(T) -> U) -> Estimate<U> {
        Estimate {
            value: to(self.value),
            interval95: Interval95 {
                lo: to(self.interval95.lo),
                hi: to(self.interval95.hi),
            },
        }
    }
}

/// Arithmetic mean; NaN of nothing.
pub(in crate::trials) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Sum of squared distances from the mean.
pub(in crate::trials) fn squares(values: &[f64]) -> f64 {
    let centre = mean(values);
    values.iter().map(|v| (v - centre) * (v - centre)).sum()
}

/// Sum of the products of the distances from the means.
pub(in crate::trials) fn products(x: &[f64], y: &[f64]) -> f64 {
    let (mx, my) = (mean(x), mean(y));
    x.iter().zip(y).map(|(a, b)| (a - mx) * (b - my)).sum()
}

/// Middle value, or the mean of the two middle ones; NaN of nothing.
pub(in crate::trials) fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    match (values.get(middle), values.len() % 2) {
        (Some(upper), 1) => *upper,
        (Some(upper), _) => values
            .get(middle.wrapping_sub(1))
            .map_or(f64::NAN, |lower| 0.5 * (lower + upper)),
        (None, _) => f64::NAN,
    }
}

/// Two-sided 95 % quantile of Student's t.
pub(in crate::trials) fn t95(dof: f64) -> f64 {
    coverage_factor(0.95, dof)
}

/// Two-sided 95 % quantile of the normal distribution, 1.95996.
pub(in crate::trials) fn z95() -> f64 {
    coverage_factor(0.95, f64::INFINITY)
}

/// Quantile of chi-squared; NaN for impossible arguments.
pub(in crate::trials) fn chi2(p: f64, dof: f64) -> f64 {
    ChiSquared::new(dof).map_or(f64::NAN, |d| d.inverse_cdf(p))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn median_takes_the_middle() {
        assert_eq!(median(vec![3.0, 1.0, 2.0]), 2.0);
        assert_eq!(median(vec![4.0, 1.0, 2.0, 3.0]), 2.5);
        assert!(median(Vec::new()).is_nan());
    }

    /// Table values of chi-squared with 10 degrees of freedom.
    #[test]
    fn chi_squared_matches_the_tables() {
        assert!((chi2(0.025, 10.0) - 3.247).abs() < 5e-4);
        assert!((chi2(0.975, 10.0) - 20.483).abs() < 5e-4);
    }
}
