//! The best straight line when both coordinates err.
//!
//! York and others 2004, "Unified equations for the slope, intercept, and
//! standard errors of the best straight line", Am J Phys 72:367. Each point has
//! its own errors in x and y and a correlation between them.

use crate::trials::mat::basics::{mean, products, squares};

/// A point with standard uncertainties and their correlation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// First coordinate.
    pub x: f64,
    /// Second coordinate.
    pub y: f64,
    /// Standard uncertainty of x, above 0.
    pub u_x: f64,
    /// Standard uncertainty of y, above 0.
    pub u_y: f64,
    /// Correlation of the two errors, −1 to 1.
    pub r: f64,
}

/// y = intercept + slope x.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YorkLine {
    /// Slope.
    pub slope: f64,
    /// Intercept.
    pub intercept: f64,
    /// Standard error of the slope from the stated errors.
    pub u_slope: f64,
    /// Standard error of the intercept.
    pub u_intercept: f64,
    /// Weighted sum of squares; about n − 2 if the errors are well stated.
    pub chi_squared: f64,
}

/// Most rounds of the iteration.
const MOST_ROUNDS: usize = 500;

/// The line; None below three points, without spread in x, or when the
/// iteration does not settle.
pub fn york(points: &[Point]) -> Option<YorkLine> {
    if points.len() < 3 || points.iter().any(|p| p.u_x <= 0.0 || p.u_y <= 0.0) {
        return None;
    }
    let mut slope = ordinary_line(points)?.0;
    for _ in 0..MOST_ROUNDS {
        let next = Round::at(points, slope).next_slope(points);
        if !next.is_finite() {
            return None;
        }
        let settled = (next - slope).abs() <= 1e-13 * next.abs();
        slope = next;
        if settled {
            return Some(finish(points, slope));
        }
    }
    None
}

/// Slope and intercept by least squares of y on x alone; None without spread.
pub fn ordinary_line(points: &[Point]) -> Option<(f64, f64)> {
    let x: Vec<f64> = points.iter().map(|p| p.x).collect();
    let y: Vec<f64> = points.iter().map(|p| p.y).collect();
    let spread = squares(&x);
    if spread.is_nan() || spread <= 0.0 {
        return None;
    }
    let slope = products(&x, &y) / spread;
    Some((slope, mean(&y) - slope * mean(&x)))
}

/// The paper's W, X̄, Ȳ and β for one trial slope.
struct Round {
    weights: Vec<f64>,
    betas: Vec<f64>,
    mean_x: f64,
    mean_y: f64,
}

impl Round {
    fn at(points: &[Point], slope: f64) -> Self {
        // 1/W = u_y² + b² u_x² − 2 b r u_x u_y.
        let variance = |p: &Point| {
            p.u_y.powi(2) + slope.powi(2) * p.u_x.powi(2) - 2.0 * slope * p.r * p.u_x * p.u_y
        };
        let weights: Vec<f64> = points.iter().map(|p| 1.0 / variance(p)).collect();
        let total: f64 = weights.iter().sum();
        let weighted = |of: fn(&Point) -> f64| {
            weights
                .iter()
                .zip(points)
                .map(|(w, p)| w * of(p))
                .sum::<f64>()
                / total
        };
        let (mean_x, mean_y) = (weighted(|p| p.x), weighted(|p| p.y));
        let betas = weights
            .iter()
            .zip(points)
            .map(|(w, p)| {
                let (u, v) = (p.x - mean_x, p.y - mean_y);
                w * (u * p.u_y.powi(2) + slope * v * p.u_x.powi(2)
                    - (slope * u + v) * p.r * p.u_x * p.u_y)
            })
            .collect();
        Self {
            weights,
            betas,
            mean_x,
            mean_y,
        }
    }

    fn next_slope(&self, points: &[Point]) -> f64 {
        let sum = |of: &dyn Fn(&Point) -> f64| -> f64 {
            let terms = self.weights.iter().zip(&self.betas).zip(points);
            terms.map(|((w, b), p)| w * b * of(p)).sum()
        };
        sum(&|p| p.y - self.mean_y) / sum(&|p| p.x - self.mean_x)
    }
}

fn finish(points: &[Point], slope: f64) -> YorkLine {
    let round = Round::at(points, slope);
    let intercept = round.mean_y - slope * round.mean_x;
    let total: f64 = round.weights.iter().sum();
    let adjusted: Vec<f64> = round.betas.iter().map(|b| round.mean_x + b).collect();
    let weighted =
        |values: &[f64]| -> f64 { round.weights.iter().zip(values).map(|(w, v)| w * v).sum() };
    let centre = weighted(&adjusted) / total;
    let distances: Vec<f64> = adjusted.iter().map(|x| (x - centre).powi(2)).collect();
    let u_slope = (1.0 / weighted(&distances)).sqrt();
    let residuals: Vec<f64> = points
        .iter()
        .map(|p| (p.y - intercept - slope * p.x).powi(2))
        .collect();
    YorkLine {
        slope,
        intercept,
        u_slope,
        u_intercept: (1.0 / total + centre * centre * u_slope * u_slope).sqrt(),
        chi_squared: weighted(&residuals),
    }
}
