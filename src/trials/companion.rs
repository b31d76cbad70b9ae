//! Jump height beside one companion measure: throw speed, sprint time, …
//!
//! Two dated series of one athlete, each with its own detectable change, and,
//! from ten paired dates on, how far they went together. No prediction of one
//! from the other: an association within one athlete over some dates says
//! neither which drives which nor what happens outside the range seen.

use serde::Serialize;

use super::error::TrialsError;
use super::student::{normal_quantile, sd_interval95};
use super::trend::{DatedValue, Trend, trend};
use crate::units::Interval95;

/// Fewest paired dates for an association. Our own choice: with ten, even a
/// rank correlation of 0.6 has an interval that starts below 0.
pub const DATES_FOR_ASSOCIATION: usize = 10;

/// Fewest degrees of freedom behind a detectable change from repeats. Our own
/// choice: with five, the typical error is known to within a factor of 0.6 to
/// 2.5.
pub const DOF_FOR_DETECTABLE: usize = 5;

/// Normal quantile of the minimal detectable change, by convention.
const DETECTABLE_Z: f64 = 1.96;

/// Why no prediction is made, for people.
pub const NO_PREDICTION: &str = "Two measures that rise together over a season need not hang \
    together: training, growth and the calendar move both. So nothing is predicted from one to \
    the other.";

/// One measure over time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SeriesSummary {
    /// One mean per date, in order.
    pub dates: Vec<DatedValue>,
    /// Typical error of one value, from repeats on the same date or as stated.
    pub typical_error: Option<f64>,
    /// Its 95 % interval, if from repeats.
    pub typical_error_interval95: Option<Interval95<f64>>,
    /// Detectable change between two dates: 1.96 √2 TE/√m, m being the number
    /// of values on a usual date (harmonic mean).
    pub detectable: Option<f64>,
    /// Robust trend; none with fewer than two dates.
    pub trend: Option<Trend>,
}

/// How far two series went together.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Association {
    /// Paired dates.
    pub dates: usize,
    /// Spearman's rank correlation.
    pub spearman: f64,
    /// Its 95 % interval.
    pub interval95: Interval95<f64>,
    /// The same after each series' own trend is taken out: whether ups and
    /// downs go together, not only the season's drift. None if a series is
    /// nothing but its trend.
    pub without_trend: Option<f64>,
    /// Its 95 % interval.
    pub without_trend_interval95: Option<Interval95<f64>>,
}

/// Why there is no association.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoAssociation {
    /// Too few dates have both measures.
    TooFewDates {
        /// Dates there are.
        found: usize,
        /// Dates it takes.
        needed: usize,
    },
    /// One measure never changed on the paired dates.
    NoVariation,
}

impl NoAssociation {
    /// The reason in a sentence.
    pub fn text(&self) -> String {
        match self {
            Self::TooFewDates { found, needed } => format!(
                "{found} date(s) have both measures; an association is shown from {needed} on, \
                 because with fewer almost any two series seem to go together or apart."
            ),
            Self::NoVariation => "One of the measures was the same on every date.".to_owned(),
        }
    }
}

/// The two series side by side.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Companion {
    /// Jump height.
    pub jump: SeriesSummary,
    /// The companion measure.
    pub companion: SeriesSummary,
    /// Dates that have both: day, height, companion.
    pub pairs: Vec<(f64, f64, f64)>,
    /// The association, if there is one to show.
    pub association: Option<Association>,
    /// Why not.
    pub no_association: Option<NoAssociation>,
}

/// A series to look at: all values, several on a date if there are several.
#[derive(Clone, Copy, Debug)]
pub struct Series<'a> {
    /// The values. Those with the same whole day number share a date.
    pub values: &'a [DatedValue],
    /// Typical error of one value if it is known from elsewhere.
    pub typical_error: Option<f64>,
}

/// Puts two series of one athlete side by side.
///
/// # Errors
/// [`TrialsError::BadValue`] for values that are no numbers,
/// [`TrialsError::BadSetting`] for a typical error not above 0.
pub fn side_by_side(jump: Series, companion: Series) -> Result<Companion, TrialsError> {
    let (jump, companion) = (summary(jump)?, summary(companion)?);
    let pairs = paired(&jump.dates, &companion.dates);
    let result = associate(&pairs);
    Ok(Companion {
        jump,
        companion,
        pairs,
        association: result.ok(),
        no_association: result.err(),
    })
}

fn summary(series: Series) -> Result<SeriesSummary, TrialsError> {
    for (position, point) in series.values.iter().enumerate() {
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
    if let Some(value) = series
        .typical_error
        .filter(|te| !(*te > 0.0 && te.is_finite()))
    {
        return Err(TrialsError::BadSetting {
            what: "a typical error",
            value,
        });
    }
    let mut values = series.values.to_vec();
    values.sort_by(|a, b| a.day.total_cmp(&b.day));
    let groups: Vec<&[DatedValue]> = values
        .chunk_by(|a, b| a.day.floor() == b.day.floor())
        .collect();
    let dates: Vec<DatedValue> = groups.iter().map(|group| date(group)).collect();
    let repeats = repeats(&groups);
    let typical_error = series.typical_error.or(repeats.map(|(te, _)| te));
    let per_value = groups.iter().map(|g| 1.0 / g.len() as f64).sum::<f64>() / groups.len() as f64;
    Ok(SeriesSummary {
        typical_error,
        typical_error_interval95: repeats.filter(|_| series.typical_error.is_none()).map(
            |(te, dof)| {
                let (lo, hi) = sd_interval95(te, dof);
                Interval95 { lo, hi }
            },
        ),
        detectable: typical_error.map(|te| DETECTABLE_Z * te * (2.0 * per_value).sqrt()),
        trend: (dates.len() > 1).then(|| trend(&dates)).transpose()?,
        dates,
    })
}

/// The mean of one date's values, on the whole day.
fn date(group: &[DatedValue]) -> DatedValue {
    DatedValue {
        day: group.first().map_or(f64::NAN, |point| point.day.floor()),
        value: group.iter().map(|point| point.value).sum::<f64>() / group.len() as f64,
    }
}

/// Typical error from values repeated on a date, and its degrees of freedom.
fn repeats(groups: &[&[DatedValue]]) -> Option<(f64, f64)> {
    let dof: usize = groups.iter().map(|group| group.len() - 1).sum();
    let squares: f64 = groups
        .iter()
        .map(|group| {
            let mean = date(group).value;
            group.iter().map(|p| (p.value - mean).powi(2)).sum::<f64>()
        })
        .sum();
    (dof >= DOF_FOR_DETECTABLE && squares > 0.0)
        .then(|| ((squares / dof as f64).sqrt(), dof as f64))
}

/// Dates that stand in both series; both are in order, each date once.
fn paired(jump: &[DatedValue], companion: &[DatedValue]) -> Vec<(f64, f64, f64)> {
    let mut others = companion.iter().peekable();
    let mut pairs = Vec::new();
    for point in jump {
        while others.next_if(|other| other.day < point.day).is_some() {}
        if let Some(other) = others.next_if(|other| other.day == point.day) {
            pairs.push((point.day, point.value, other.value));
        }
    }
    pairs
}

fn associate(pairs: &[(f64, f64, f64)]) -> Result<Association, NoAssociation> {
    let found = pairs.len();
    if found < DATES_FOR_ASSOCIATION {
        let needed = DATES_FOR_ASSOCIATION;
        return Err(NoAssociation::TooFewDates { found, needed });
    }
    let column = |value: fn(&(f64, f64, f64)) -> f64| -> Vec<DatedValue> {
        let point = |pair: &(f64, f64, f64)| DatedValue {
            day: pair.0,
            value: value(pair),
        };
        pairs.iter().map(point).collect()
    };
    let (jump, companion) = (column(|pair| pair.1), column(|pair| pair.2));
    let plain = |series: &[DatedValue]| series.iter().map(|p| p.value).collect::<Vec<f64>>();
    let r = spearman(&plain(&jump), &plain(&companion)).ok_or(NoAssociation::NoVariation)?;
    let rest = residuals(&jump)
        .zip(residuals(&companion))
        .and_then(|(a, b)| spearman(&a, &b));
    Ok(Association {
        dates: found,
        spearman: r,
        interval95: rank_interval(r, found),
        without_trend: rest,
        without_trend_interval95: rest.map(|r| rank_interval(r, found)),
    })
}

/// What is left of a series without its trend; none if nothing is.
fn residuals(series: &[DatedValue]) -> Option<Vec<f64>> {
    let line = trend(series).ok()?;
    let rest: Vec<f64> = series.iter().map(|p| p.value - line.at(p.day)).collect();
    let largest = rest.iter().fold(0.0, |m: f64, r| m.max(r.abs()));
    let scale = series.iter().fold(0.0, |m: f64, p| m.max(p.value.abs()));
    // Rounding leaves something even of a perfect line.
    (largest > 1e-12 * scale).then_some(rest)
}

/// Spearman's rank correlation, ties at their mean rank; none if one side does
/// not vary.
pub fn spearman(a: &[f64], b: &[f64]) -> Option<f64> {
    if a.len() != b.len() || a.len() < 2 {
        return None;
    }
    let (a, b) = (ranks(a), ranks(b));
    let mean = (a.len() as f64 + 1.0) / 2.0;
    let product = |x: &[f64], y: &[f64]| -> f64 {
        x.iter().zip(y).map(|(x, y)| (x - mean) * (y - mean)).sum()
    };
    let scale = (product(&a, &a) * product(&b, &b)).sqrt();
    (scale > 0.0).then(|| (product(&a, &b) / scale).clamp(-1.0, 1.0))
}

fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<(usize, f64)> = values.iter().copied().enumerate().collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut ranked: Vec<(usize, f64)> = Vec::with_capacity(values.len());
    for group in order.chunk_by(|a, b| a.1 == b.1) {
        let rank = ranked.len() as f64 + (group.len() as f64 + 1.0) / 2.0;
        ranked.extend(group.iter().map(|(place, _)| (*place, rank)));
    }
    ranked.sort_by_key(|(place, _)| *place);
    ranked.into_iter().map(|(_, rank)| rank).collect()
}

/// Fisher's interval with the standard error for ranks, √((1 + r²/2)/(n − 3))
/// (Bonett and Wright 2000, "Sample size requirements for estimating Pearson,
/// Kendall and Spearman correlations", Psychometrika 65:23).
///
/// A perfect order has no finite transform; it is taken half a step below the
/// next smaller value that ranks can give.
pub fn rank_interval(r: f64, n: usize) -> Interval95<f64> {
    let n = n as f64;
    let most = 1.0 - 6.0 / (n * (n * n - 1.0));
    let z = r.clamp(-most, most).atanh();
    let half = normal_quantile(0.975) * ((1.0 + r * r / 2.0) / (n - 3.0)).sqrt();
    Interval95 {
        lo: (z - half).tanh(),
        hi: (z + half).tanh(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn daily(values: &[f64]) -> Vec<DatedValue> {
        (0..)
            .zip(values)
            .map(|(i, value)| DatedValue {
                day: f64::from(i) + 0.4,
                value: *value,
            })
            .collect()
    }

    fn plain(values: &[DatedValue]) -> Series<'_> {
        Series {
            values,
            typical_error: None,
        }
    }

    #[test]
    fn nine_dates_say_nothing_and_ten_do() {
        let values: Vec<f64> = (0..10).map(|i| f64::from(i * 7 % 10)).collect();
        let (nine, ten) = (daily(&values[..9]), daily(&values));
        let few = side_by_side(plain(&nine), plain(&ten)).unwrap();
        assert!(few.association.is_none());
        let reason = few.no_association.unwrap();
        assert_eq!(
            reason,
            NoAssociation::TooFewDates {
                found: 9,
                needed: 10
            }
        );
        let enough = side_by_side(plain(&ten), plain(&ten)).unwrap();
        let found = enough.association.unwrap();
        assert_eq!((found.spearman, found.dates), (1.0, 10));
        assert!(found.interval95.lo < 1.0 && found.interval95.hi <= 1.0);
    }

    #[test]
    fn a_common_drift_alone_vanishes_without_trend() {
        let up: Vec<f64> = (0..12)
            .map(|i| f64::from(i) + f64::from(i * 5 % 7) * 0.1)
            .collect();
        let other: Vec<f64> = (0..12)
            .map(|i| f64::from(i) - f64::from(i * 5 % 7) * 0.1)
            .collect();
        let (a, b) = (daily(&up), daily(&other));
        let found = side_by_side(plain(&a), plain(&b))
            .unwrap()
            .association
            .unwrap();
        assert!(found.spearman > 0.95, "{found:?}");
        assert!(found.without_trend.unwrap() < -0.8, "{found:?}");
    }

    #[test]
    fn repeats_give_a_detectable_change_and_single_values_none() {
        let single = daily(&[1.0, 2.0, 3.0]);
        let twice: Vec<DatedValue> = (0..6)
            .flat_map(|i| [(i, 10.0), (i, 10.2)])
            .map(|(i, value)| DatedValue {
                day: f64::from(i),
                value,
            })
            .collect();
        let result = side_by_side(plain(&single), plain(&twice)).unwrap();
        assert_eq!(result.jump.detectable, None);
        // SD of each pair is 0.2/√2; MDC of means of two is 1.96 times that.
        let expected = 1.96 * 0.2 / 2f64.sqrt();
        assert!((result.companion.detectable.unwrap() - expected).abs() < 1e-12);
        assert_eq!(result.companion.dates.len(), 6);
        let stated = Series {
            values: &single,
            typical_error: Some(0.5),
        };
        let result = side_by_side(stated, plain(&twice)).unwrap();
        assert!((result.jump.detectable.unwrap() - 1.96 * 0.5 * 2f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_measure_that_never_moves_is_not_associated() {
        let (flat, other) = (daily(&[1.0; 12]), daily(&[1.0, 2.0, 3.0].repeat(4)));
        let result = side_by_side(plain(&flat), plain(&other)).unwrap();
        assert_eq!(result.no_association, Some(NoAssociation::NoVariation));
        assert!(side_by_side(plain(&daily(&[f64::NAN])), plain(&other)).is_err());
    }
}
