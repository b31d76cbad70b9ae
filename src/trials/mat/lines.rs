//! Straight lines through two methods' readings.
//!
//! Ordinary least squares blames y for every deviation. Deming and
//! Passing–Bablok grant both methods their errors.

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};

use super::basics::{mean, median, products, squares};
use super::error::MatError;
use crate::jump::combine::coverage_factor;

/// Least number of points for a line with intervals.
pub const LEAST_POINTS: usize = 4;

/// A coefficient with its confidence interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Coefficient {
    /// Best estimate.
    pub value: f64,
    /// Lower end; may be −∞.
    pub lo: f64,
    /// Upper end; may be ∞.
    pub hi: f64,
}

impl Coefficient {
    fn around(value: f64, margin: f64) -> Self {
        Self {
            value,
            lo: value - margin,
            hi: value + margin,
        }
    }

    /// Whether `value` lies inside the interval.
    pub fn holds(&self, value: f64) -> bool {
        self.lo <= value && value <= self.hi
    }
}

/// y = intercept + slope x. The intercept is in the unit of y.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Line {
    /// Rise of y per x.
    pub slope: Coefficient,
    /// y where x is 0: mostly far outside the data.
    pub intercept: Coefficient,
    /// Confidence of the intervals, 0.95 as a rule.
    pub confidence: f64,
}

/// An ordinary regression and what it leaves over.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OrdinaryLine {
    /// The line.
    pub line: Line,
    /// Probability of a slope so far from 0 if the true one is 0.
    pub p_slope: f64,
    /// Standard deviation of the residuals, n − 2.
    pub residual_sd: f64,
}

fn check(x: &[f64], y: &[f64], confidence: f64) -> Result<(), MatError> {
    let got = x.len().min(y.len());
    if got < LEAST_POINTS || x.len() != y.len() {
        let needed = LEAST_POINTS.max(x.len()).max(y.len());
        return Err(MatError::TooFew { needed, got });
    }
    if !(confidence > 0.0 && confidence < 1.0) {
        return Err(MatError::BadSetting {
            what: "confidence",
            value: confidence,
        });
    }
    let spread = squares(x);
    if spread <= 0.0 || !(spread + squares(y)).is_finite() {
        return Err(MatError::NoSpread);
    }
    Ok(())
}

/// Least squares of y on x.
///
/// # Errors
/// [`MatError::TooFew`] below [`LEAST_POINTS`], [`MatError::NoSpread`],
/// [`MatError::BadSetting`] unless 0 < confidence < 1.
pub fn ordinary(x: &[f64], y: &[f64], confidence: f64) -> Result<OrdinaryLine, MatError> {
    check(x, y, confidence)?;
    let (n, sxx) = (x.len() as f64, squares(x));
    let slope = products(x, y) / sxx;
    let intercept = mean(y) - slope * mean(x);
    let left: f64 = x
        .iter()
        .zip(y)
        .map(|(x, y)| (y - intercept - slope * x).powi(2))
        .sum();
    let dof = n - 2.0;
    let residual_sd = (left / dof).sqrt();
    let t = coverage_factor(confidence, dof);
    let se_slope = residual_sd / sxx.sqrt();
    let se_intercept = residual_sd * (1.0 / n + mean(x).powi(2) / sxx).sqrt();
    let p_slope =
        StudentsT::new(0.0, 1.0, dof).map_or(f64::NAN, |d| 2.0 * d.cdf(-(slope / se_slope).abs()));
    Ok(OrdinaryLine {
        line: Line {
            slope: Coefficient::around(slope, t * se_slope),
            intercept: Coefficient::around(intercept, t * se_intercept),
            confidence,
        },
        p_slope,
        residual_sd,
    })
}

/// Slope and intercept of the Deming line; None where x and y do not covary.
fn deming_point(x: &[f64], y: &[f64], ratio: f64) -> Option<(f64, f64)> {
    let (sxx, syy, sxy) = (squares(x), squares(y), products(x, y));
    if sxy == 0.0 {
        return None;
    }
    let lead = syy - ratio * sxx;
    let slope = (lead + (lead * lead + 4.0 * ratio * sxy * sxy).sqrt()) / (2.0 * sxy);
    Some((slope, mean(y) - slope * mean(x)))
}

/// The Deming line: errors in x and y, `ratio` the variance of y's errors over
/// that of x's. Intervals by the jackknife with Student's t, n − 2 degrees of
/// freedom (Linnet 1990, "Estimation of the linear relationship between the
/// measurements of two methods with proportional errors", Stat Med 9:1463).
///
/// # Errors
/// As [`ordinary`]; [`MatError::BadSetting`] unless the ratio is positive.
pub fn deming(x: &[f64], y: &[f64], ratio: f64, confidence: f64) -> Result<Line, MatError> {
    check(x, y, confidence)?;
    if !(ratio > 0.0 && ratio.is_finite()) {
        return Err(MatError::BadSetting {
            what: "ratio of the error variances",
            value: ratio,
        });
    }
    let (slope, intercept) = deming_point(x, y, ratio).ok_or(MatError::NoSpread)?;
    let n = x.len();
    let mut pseudo = (Vec::with_capacity(n), Vec::with_capacity(n));
    for left_out in 0..n {
        let without = |values: &[f64]| -> Vec<f64> {
            let kept = values.iter().enumerate().filter(|(i, _)| *i != left_out);
            kept.map(|(_, v)| *v).collect()
        };
        let (s, i) = deming_point(&without(x), &without(y), ratio).ok_or(MatError::NoSpread)?;
        let count = n as f64;
        pseudo.0.push(count * slope - (count - 1.0) * s);
        pseudo.1.push(count * intercept - (count - 1.0) * i);
    }
    let t = coverage_factor(confidence, n as f64 - 2.0);
    let margin = |values: &[f64]| {
        let count = values.len() as f64;
        t * (squares(values) / (count - 1.0) / count).sqrt()
    };
    Ok(Line {
        slope: Coefficient::around(slope, margin(&pseudo.0)),
        intercept: Coefficient::around(intercept, margin(&pseudo.1)),
        confidence,
    })
}

/// The line of Passing and Bablok 1983, "A new biometrical procedure for testing
/// the equality of measurements from two different analytical methods", J Clin
/// Chem Clin Biochem 21:709: the shifted median of the slopes between all pairs
/// of points, so that single wild jumps count little.
///
/// # Errors
/// As [`ordinary`]; [`MatError::NoSpread`] also where y falls with x, for which
/// the method is not made.
pub fn passing_bablok(x: &[f64], y: &[f64], confidence: f64) -> Result<Line, MatError> {
    check(x, y, confidence)?;
    let mut slopes = pair_slopes(x, y);
    slopes.sort_by(f64::total_cmp);
    let shift = slopes.iter().filter(|s| **s < -1.0).count();
    let (n, count) = (x.len() as f64, slopes.len());
    let at = |rank: usize| {
        rank.checked_sub(1)
            .and_then(|i| slopes.get(i + shift))
            .copied()
            .ok_or(MatError::NoSpread)
    };
    let slope = if count % 2 == 1 {
        at(count.div_ceil(2))?
    } else {
        0.5 * (at(count / 2)? + at(count / 2 + 1)?)
    };
    let z = coverage_factor(confidence, f64::INFINITY);
    let half = z * (n * (n - 1.0) * (2.0 * n + 5.0) / 18.0).sqrt();
    let first = ((count as f64 - half) / 2.0).round();
    // Too few points for that confidence: nothing is excluded.
    let (lo, hi) = if first >= 1.0 {
        let first = first as usize;
        (at(first)?, at(count + 1 - first).unwrap_or(f64::INFINITY))
    } else {
        (f64::NEG_INFINITY, f64::INFINITY)
    };
    if !slope.is_finite() {
        return Err(MatError::NoSpread);
    }
    let intercept = |slope: f64| {
        if slope.is_finite() {
            median(x.iter().zip(y).map(|(x, y)| y - slope * x).collect())
        } else {
            -slope * mean(x).signum()
        }
    };
    Ok(Line {
        slope: Coefficient {
            value: slope,
            lo,
            hi,
        },
        intercept: Coefficient {
            value: intercept(slope),
            lo: intercept(hi),
            hi: intercept(lo),
        },
        confidence,
    })
}

/// Slopes between all pairs of points; equal points and slopes of exactly −1
/// are left out, as the paper has it.
fn pair_slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let points: Vec<(f64, f64)> = x.iter().copied().zip(y.iter().copied()).collect();
    let mut slopes = Vec::with_capacity(points.len() * points.len() / 2);
    for (i, (xi, yi)) in points.iter().enumerate() {
        for (xj, yj) in points.iter().skip(i + 1) {
            let (dx, dy) = (xj - xi, yj - yi);
            // With dx = 0 the slope is infinite, with the sign of dy.
            let slope = if dx == 0.0 {
                dy * f64::INFINITY
            } else {
                dy / dx
            };
            if !slope.is_nan() && slope != -1.0 {
                slopes.push(slope);
            }
        }
    }
    slopes
}
