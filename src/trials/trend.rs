//! A trend over sessions that one odd day cannot bend.
//!
//! The slope is the median of the slopes between all pairs of days (Theil 1950;
//! Sen 1968, "Estimates of the regression coefficient based on Kendall's tau",
//! J Am Stat Assoc 63:1379). It stays put as long as fewer than 29 % of the
//! days are odd. Its interval comes from Kendall's S: it holds the slopes for
//! which days and what is left of the values show no order.

use serde::Serialize;

use super::error::TrialsError;
use super::student::normal_quantile;
use crate::units::Interval95;

/// Fewest days for an interval: with four, the 24 possible orders are too few
/// to exclude anything at 5 %; with five it takes all ten pairs in order.
pub const DAYS_FOR_INTERVAL: usize = 5;

/// Most days taken: all pairs are looked at, some 8 million for 4000.
pub const MOST_DAYS: usize = 4000;

/// A value on a date.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DatedValue {
    /// Day number; any fixed starting point.
    pub day: f64,
    /// The value, in its own unit (metres for heights).
    pub value: f64,
}

/// Where a series is going.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// The slope's 95 % interval lies above 0.
    Rising,
    /// It lies below 0.
    Falling,
    /// It holds 0.
    NotToldApart,
    /// Fewer than [`DAYS_FOR_INTERVAL`] days.
    TooFewDays,
}

impl Direction {
    /// The direction in a word or a few.
    pub fn label(self) -> &'static str {
        match self {
            Self::Rising => "rising",
            Self::Falling => "falling",
            Self::NotToldApart => "no trend told apart yet",
            Self::TooFewDays => "too few days for a trend",
        }
    }
}

/// A robust line through a series.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Trend {
    /// Values used.
    pub n: usize,
    /// Median slope, in the value's unit per day.
    pub slope_per_day: f64,
    /// 95 % interval of the slope.
    pub slope_interval95: Option<Interval95<f64>>,
    /// Value of the line at day 0: median value less slope times median day.
    pub intercept: f64,
    /// Kendall's tau-b of days and values.
    pub tau: f64,
    /// Typical distance of a value from the line: 1.4826 times the median
    /// absolute deviation, which is the standard deviation if normal.
    pub residual_sd: f64,
    /// The answer.
    pub direction: Direction,
}

impl Trend {
    /// The line's value on a day within the series. Beyond its ends it would be
    /// a prediction, for which nothing here stands.
    pub fn at(&self, day: f64) -> f64 {
        self.intercept + self.slope_per_day * day
    }
}

/// Fits the trend.
///
/// ```
/// use underfoot::trials::trend::{DatedValue, Direction, trend};
///
/// // Weekly means in metres; one bad day.
/// let heights = [0.310, 0.313, 0.316, 0.250, 0.322, 0.325, 0.327];
/// let points: Vec<DatedValue> = (0..)
///     .zip(heights)
///     .map(|(week, value)| DatedValue { day: 7.0 * f64::from(week), value })
///     .collect();
/// let line = trend(&points)?;
/// assert_eq!(format!("{:.1} mm a week", 7000.0 * line.slope_per_day), "3.0 mm a week");
/// # Ok::<(), underfoot::trials::TrialsError>(())
/// ```
///
/// # Errors
/// [`TrialsError::TooFew`] unless there are two different days,
/// [`TrialsError::BadSetting`] above [`MOST_DAYS`], and
/// [`TrialsError::BadValue`] for values that are no numbers.
pub fn trend(points: &[DatedValue]) -> Result<Trend, TrialsError> {
    check(points)?;
    let mut slopes = Vec::with_capacity(points.len() * points.len().saturating_sub(1) / 2);
    let mut order = 0.0;
    for (i, a) in points.iter().enumerate() {
        for b in points.iter().skip(i + 1) {
            let (days, rise) = (b.day - a.day, b.value - a.value);
            if days != 0.0 {
                slopes.push(rise / days);
                order += sign(rise) * sign(days);
            }
        }
    }
    if slopes.is_empty() {
        let what = "different days";
        return Err(TrialsError::TooFew {
            what,
            found: points.len().min(1),
            needed: 2,
        });
    }
    slopes.sort_by(f64::total_cmp);
    let slope = middle(&slopes);
    let median_of = |value: fn(&DatedValue) -> f64| median(points.iter().map(value).collect());
    let intercept = median_of(|p| p.value) - slope * median_of(|p| p.day);
    let residuals: Vec<f64> = points
        .iter()
        .map(|p| p.value - intercept - slope * p.day)
        .collect();
    let centre = median(residuals.clone());
    let spread = median(residuals.iter().map(|r| (r - centre).abs()).collect());
    let slope_interval95 = interval(points, &slopes);
    Ok(Trend {
        n: points.len(),
        slope_per_day: slope,
        slope_interval95,
        intercept,
        tau: tau_b(points, order),
        residual_sd: 1.4826 * spread,
        direction: direction(slope_interval95),
    })
}

fn check(points: &[DatedValue]) -> Result<(), TrialsError> {
    if points.len() > MOST_DAYS {
        let value = points.len() as f64;
        return Err(TrialsError::BadSetting {
            what: "a series with a number of days",
            value,
        });
    }
    for (position, point) in points.iter().enumerate() {
        for (what, value) in [("day", point.day), ("value", point.value)] {
            if !value.is_finite() {
                return Err(TrialsError::BadValue {
                    what,
                    position,
                    value,
                });
            }
        }
    }
    Ok(())
}

fn direction(interval: Option<Interval95<f64>>) -> Direction {
    match interval {
        None => Direction::TooFewDays,
        Some(interval) if interval.lo > 0.0 => Direction::Rising,
        Some(interval) if interval.hi < 0.0 => Direction::Falling,
        Some(_) => Direction::NotToldApart,
    }
}

/// −1, 0 or 1; 0 for 0, unlike `f64::signum`.
fn sign(x: f64) -> f64 {
    if x == 0.0 { 0.0 } else { x.signum() }
}

/// Sizes of groups of equal values.
fn ties(mut values: Vec<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    values
        .chunk_by(|a, b| a == b)
        .map(|group| group.len() as f64)
        .collect()
}

/// Kendall's tau-b, from the pairs in order less the pairs out of order.
fn tau_b(points: &[DatedValue], order: f64) -> f64 {
    let n = points.len() as f64;
    let untied = |values: Vec<f64>| {
        let tied: f64 = ties(values).iter().map(|t| t * (t - 1.0) / 2.0).sum();
        n * (n - 1.0) / 2.0 - tied
    };
    let days = untied(points.iter().map(|p| p.day).collect());
    let values = untied(points.iter().map(|p| p.value).collect());
    if values == 0.0 {
        0.0
    } else {
        order / (days * values).sqrt()
    }
}

/// Sen's interval: the slopes at the ranks (N ∓ z σ)/2, σ² being the variance
/// of Kendall's S with its correction for ties (Sen 1968, eq. 2.6).
fn interval(points: &[DatedValue], slopes: &[f64]) -> Option<Interval95<f64>> {
    let days = ties(points.iter().map(|p| p.day).collect());
    if days.len() < DAYS_FOR_INTERVAL {
        return None;
    }
    let values = ties(points.iter().map(|p| p.value).collect());
    let n = points.len() as f64;
    let term = |t: f64| t * (t - 1.0) * (2.0 * t + 5.0);
    let tied = |groups: &[f64]| groups.iter().map(|t| term(*t)).sum::<f64>();
    let sigma = ((term(n) - tied(&days) - tied(&values)) / 18.0)
        .max(0.0)
        .sqrt();
    let reach = normal_quantile(0.975) * sigma;
    let count = slopes.len() as f64;
    let last = slopes.len() - 1;
    let upper = ((count + reach) / 2.0).round_ties_even() as usize;
    // A float below 0 becomes rank 0, the lowest slope.
    let lower = (((count - reach) / 2.0).round_ties_even() - 1.0) as usize;
    Some(Interval95 {
        lo: *slopes.get(lower.min(last))?,
        hi: *slopes.get(upper.min(last))?,
    })
}

/// The middle of sorted values; NaN if there are none.
fn middle(sorted: &[f64]) -> f64 {
    let half = sorted.len() / 2;
    let at = |i: usize| sorted.get(i).copied().unwrap_or(f64::NAN);
    if sorted.len() % 2 == 1 {
        at(half)
    } else {
        0.5 * (at(half.wrapping_sub(1)) + at(half))
    }
}

/// The median; NaN if there are no values.
pub(super) fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    middle(&values)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(values: &[f64]) -> Vec<DatedValue> {
        (0..)
            .zip(values)
            .map(|(i, value)| DatedValue {
                day: f64::from(i),
                value: *value,
            })
            .collect()
    }

    #[test]
    fn four_days_give_a_slope_and_no_verdict() {
        let line = trend(&series(&[1.0, 2.0, 3.0, 4.0])).unwrap();
        assert_eq!((line.slope_per_day, line.tau), (1.0, 1.0));
        assert_eq!(
            (line.slope_interval95, line.direction),
            (None, Direction::TooFewDays)
        );
    }

    #[test]
    fn one_day_repeated_has_no_slope() {
        let points = [DatedValue {
            day: 3.0,
            value: 1.0,
        }; 3];
        assert!(matches!(trend(&points), Err(TrialsError::TooFew { .. })));
        assert!(matches!(trend(&[]), Err(TrialsError::TooFew { .. })));
        assert!(trend(&series(&[1.0, f64::NAN])).is_err());
    }

    #[test]
    fn flat_values_are_flat() {
        let line = trend(&series(&[2.0; 8])).unwrap();
        assert_eq!(
            (line.slope_per_day, line.tau, line.residual_sd),
            (0.0, 0.0, 0.0)
        );
        assert_eq!(line.direction, Direction::NotToldApart);
    }
}
