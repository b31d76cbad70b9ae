//! Mean difference and 95 % limits of agreement.
//!
//! Bland and Altman 1986, "Statistical methods for assessing agreement between
//! two methods of clinical measurement", Lancet 327:307; 1999, "Measuring
//! agreement in method comparison studies", Stat Methods Med Res 8:135; and for
//! repeated jumps of one athlete, whose true heights differ, the variance
//! components of 1999 (section 5.3) and 2007, "Agreement between methods of
//! measurement with multiple observations per individual", J Biopharm Stat
//! 17:571. The limits' interval under repeats follows Zou 2013, "Confidence
//! interval estimation for the Bland–Altman limits of agreement with multiple
//! observations per individual", Stat Methods Med Res 22:630, except that the
//! mean's part takes Student's t for the normal quantile: few athletes jump.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

pub use super::basics::Estimate;
use super::basics::{chi2, mean, squares, t95, z95};
use super::error::MatError;

/// Least number of differences for limits of agreement.
pub const LEAST_JUMPS: usize = 3;

/// How many standard deviations the limits lie from the mean.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Multiplier {
    /// 1.96, the normal quantile as rounded by Bland and Altman 1999.
    #[default]
    Normal,
    /// 2, as in the tables of Bland and Altman 1986.
    Two,
}

impl Multiplier {
    /// The number.
    pub fn value(self) -> f64 {
        match self {
            Self::Normal => 1.96,
            Self::Two => 2.0,
        }
    }
}

/// The standard error of a limit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitError {
    /// s √(1/n + k²/(2(n−1))) (Bland and Altman 1999).
    #[default]
    Of1999,
    /// √(3 s²/n) (Bland and Altman 1986).
    Of1986,
}

/// Which of the published forms is in use; printed with every result.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct LimitsRule {
    /// Standard deviations either way.
    pub multiplier: Multiplier,
    /// Standard error of a limit; not used under repeats.
    pub limit_error: LimitError,
}

impl LimitsRule {
    /// The forms of the 1986 paper.
    pub const OF_1986: Self = Self {
        multiplier: Multiplier::Two,
        limit_error: LimitError::Of1986,
    };

    /// Standard error of a limit, in standard deviations of the differences.
    fn relative_error(self, n: f64) -> f64 {
        match self.limit_error {
            LimitError::Of1986 => (3.0 / n).sqrt(),
            LimitError::Of1999 => {
                (1.0 / n + self.multiplier.value().powi(2) / (2.0 * (n - 1.0))).sqrt()
            }
        }
    }
}

/// One difference: whose jump, mat minus film, the film's standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference<'a> {
    /// Who jumped.
    pub athlete: &'a str,
    /// Mat minus film.
    pub value: f64,
    /// The film's standard uncertainty of this jump; 0 where unknown.
    pub u_film: f64,
}

/// Scatter within and between athletes, one-way analysis of variance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Components<T> {
    /// Standard deviation of one athlete's differences.
    pub within_sd: T,
    /// Standard deviation of the athletes' own mean differences; 0 where the
    /// scatter within explains all.
    pub between_sd: T,
}

/// What is left for the mat once the film's known error is taken out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MatAlone<T> {
    /// The film's root mean square standard uncertainty.
    pub film_u: T,
    /// √(s² − film²), 0 where the film's error explains all scatter.
    pub sd: Estimate<T>,
    /// Limits of the mat against a film without error.
    pub lower_limit: T,
    /// Likewise.
    pub upper_limit: T,
}

/// Mean difference and limits of agreement, in the unit of the differences.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Agreement<T> {
    /// Jumps.
    pub jumps: usize,
    /// Athletes.
    pub athletes: usize,
    /// Mean of mat minus film.
    pub mean_difference: Estimate<T>,
    /// Standard deviation of a single difference.
    pub sd: T,
    /// Mean minus k standard deviations.
    pub lower_limit: Estimate<T>,
    /// Mean plus k standard deviations.
    pub upper_limit: Estimate<T>,
    /// Form of the limits.
    pub rule: LimitsRule,
    /// Only where several athletes jumped and at least one of them repeatedly.
    pub components: Option<Components<T>>,
    /// Only where the film's uncertainty is known.
    pub mat_alone: Option<MatAlone<T>>,
}

impl Agreement<f64> {
    /// The same with every quantity in a type of its own.
    pub fn map<T>(self, to: impl Fn(f64) -> T) -> Agreement<T> {
        Agreement {
            jumps: self.jumps,
            athletes: self.athletes,
            mean_difference: self.mean_difference.map(&to),
            sd: to(self.sd),
            lower_limit: self.lower_limit.map(&to),
            upper_limit: self.upper_limit.map(&to),
            rule: self.rule,
            components: self.components.map(|c| Components {
                within_sd: to(c.within_sd),
                between_sd: to(c.between_sd),
            }),
            mat_alone: self.mat_alone.map(|m| MatAlone {
                film_u: to(m.film_u),
                sd: m.sd.map(&to),
                lower_limit: to(m.lower_limit),
                upper_limit: to(m.upper_limit),
            }),
        }
    }
}

/// Mean difference, limits of agreement and their intervals.
///
/// Jumps of one athlete count as repeats when there are at least two athletes;
/// a set of one athlete holds for that athlete only.
///
/// # Errors
/// [`MatError::TooFew`] below [`LEAST_JUMPS`] differences.
pub fn agreement(
    differences: &[Difference<'_>],
    rule: LimitsRule,
) -> Result<Agreement<f64>, MatError> {
    if differences.len() < LEAST_JUMPS {
        return Err(MatError::TooFew {
            needed: LEAST_JUMPS,
            got: differences.len(),
        });
    }
    let mut by_athlete: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for d in differences {
        by_athlete.entry(d.athlete).or_default().push(d.value);
    }
    let values: Vec<f64> = differences.iter().map(|d| d.value).collect();
    let groups: Vec<Vec<f64>> = by_athlete.into_values().collect();
    let athletes = groups.len();
    let spread = if athletes >= 2 && athletes < values.len() {
        Spread::repeated(&groups, &values)
    } else {
        Spread::single(&values, rule)
    };
    let centre = mean(&values);
    let k = rule.multiplier.value();
    let sd = spread.variance.sqrt();
    let limit = |sign: f64| {
        let value = centre + sign * k * sd;
        let (inward, outward) = spread.limit_margins;
        if sign < 0.0 {
            Estimate::from_ends(value, value - outward, value + inward)
        } else {
            Estimate::from_ends(value, value - inward, value + outward)
        }
    };
    Ok(Agreement {
        jumps: values.len(),
        athletes,
        mean_difference: Estimate::around(centre, spread.mean_margin),
        sd,
        lower_limit: limit(-1.0),
        upper_limit: limit(1.0),
        rule,
        components: spread.components,
        mat_alone: mat_alone(differences, &spread, centre, k),
    })
}

/// Variance of one difference and what follows for mean and limits.
struct Spread {
    variance: f64,
    /// 95 % interval of the variance.
    variance_ends: (f64, f64),
    /// Half-width of the mean's interval.
    mean_margin: f64,
    /// A limit's margins towards and away from the mean.
    limit_margins: (f64, f64),
    components: Option<Components<f64>>,
}

impl Spread {
    /// Every jump independent.
    fn single(values: &[f64], rule: LimitsRule) -> Self {
        let n = values.len() as f64;
        let sum = squares(values);
        let variance = sum / (n - 1.0);
        let t = t95(n - 1.0);
        let margin = t * variance.sqrt() * rule.relative_error(n);
        Self {
            variance,
            variance_ends: (sum / chi2(0.975, n - 1.0), sum / chi2(0.025, n - 1.0)),
            mean_margin: t * (variance / n).sqrt(),
            limit_margins: (margin, margin),
            components: None,
        }
    }

    /// Several jumps of each athlete: the variance of a single difference is
    /// the one within athletes plus the one between them.
    fn repeated(groups: &[Vec<f64>], values: &[f64]) -> Self {
        let (n, total) = (groups.len() as f64, values.len() as f64);
        let centre = mean(values);
        let within_sum: f64 = groups.iter().map(|g| squares(g)).sum();
        let between_sum: f64 = groups
            .iter()
            .map(|g| g.len() as f64 * (mean(g) - centre).powi(2))
            .sum();
        let (ms_within, ms_between) = (within_sum / (total - n), between_sum / (n - 1.0));
        let sum_of_squares: f64 = groups.iter().map(|g| (g.len() as f64).powi(2)).sum();
        // Jumps per athlete in the sense of the 2007 paper, equal to the
        // common number when it is common.
        let per_athlete = (total - sum_of_squares / total) / (n - 1.0);
        let between = ((ms_between - ms_within) / per_athlete).max(0.0);
        let variance = between + ms_within;
        let (b, w) = (
            ms_between / per_athlete,
            ms_within * (1.0 - 1.0 / per_athlete),
        );
        let (dof_b, dof_w) = (n - 1.0, total - n);
        let side = |p: f64| {
            let part = |v: f64, dof: f64| v * (dof / chi2(p, dof) - 1.0);
            part(b, dof_b).hypot(part(w, dof_w))
        };
        let lo = (b + w - side(0.975)).clamp(0.0, variance);
        let hi = (b + w + side(0.025)).max(variance);
        let mean_variance = between * sum_of_squares / (total * total) + ms_within / total;
        let mean_margin = t95(n - 1.0) * mean_variance.sqrt();
        let margin = |end: f64| mean_margin.hypot(z95() * (end.sqrt() - variance.sqrt()));
        Self {
            variance,
            variance_ends: (lo, hi),
            mean_margin,
            limit_margins: (margin(lo), margin(hi)),
            components: Some(Components {
                within_sd: ms_within.sqrt(),
                between_sd: between.sqrt(),
            }),
        }
    }
}

fn mat_alone(
    differences: &[Difference<'_>],
    spread: &Spread,
    centre: f64,
    k: f64,
) -> Option<MatAlone<f64>> {
    let squared: Vec<f64> = differences.iter().map(|d| d.u_film * d.u_film).collect();
    let film = mean(&squared);
    if film.is_nan() || film <= 0.0 {
        return None;
    }
    let left = |variance: f64| (variance - film).max(0.0).sqrt();
    let sd = left(spread.variance);
    let (lo, hi) = spread.variance_ends;
    Some(MatAlone {
        film_u: film.sqrt(),
        sd: Estimate::from_ends(sd, left(lo), left(hi)),
        lower_limit: centre - k * sd,
        upper_limit: centre + k * sd,
    })
}

/// Repeatability coefficient of one method from two readings of each subject:
/// 2 √(mean d²), no mean difference assumed (Bland and Altman 1986).
///
/// # Errors
/// [`MatError::TooFew`] without a pair of readings.
pub fn repeatability(first: &[f64], second: &[f64]) -> Result<f64, MatError> {
    let got = first.len().min(second.len());
    if got == 0 {
        return Err(MatError::TooFew { needed: 1, got });
    }
    let sum: f64 = first.iter().zip(second).map(|(a, b)| (a - b).powi(2)).sum();
    Ok(2.0 * (sum / got as f64).sqrt())
}

/// How many jumps make the intervals as narrow as wished.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct JumpsNeeded {
    /// For the mean difference.
    pub for_mean: usize,
    /// For each limit of agreement.
    pub for_limits: usize,
}

/// The least number of jumps for which the 95 % intervals of the mean
/// difference, and of each limit, reach no further than `half_width` either
/// way, if the scatter stays as it is. Counts independent jumps: one each of
/// different athletes, or of one athlete for conclusions on that athlete.
///
/// # Errors
/// [`MatError::BadSetting`] unless both are positive, or beyond a million jumps.
pub fn jumps_needed(sd: f64, half_width: f64, rule: LimitsRule) -> Result<JumpsNeeded, MatError> {
    for (what, value) in [("scatter", sd), ("wanted half-width", half_width)] {
        if !(value > 0.0 && value.is_finite()) {
            return Err(MatError::BadSetting { what, value });
        }
    }
    let least = |relative: &dyn Fn(f64) -> f64| {
        let enough = |n: usize| {
            let n = n as f64;
            t95(n - 1.0) * relative(n) * sd <= half_width
        };
        const MOST: usize = 1_000_000;
        if !enough(MOST) {
            return Err(MatError::BadSetting {
                what: "wanted half-width, against the scatter",
                value: half_width,
            });
        }
        // The width only falls with n: halve the range until it is one jump.
        let (mut short, mut long) = (1, MOST);
        while long - short > 1 {
            let middle = (short + long) / 2;
            if enough(middle) {
                long = middle;
            } else {
                short = middle;
            }
        }
        Ok(long)
    };
    Ok(JumpsNeeded {
        for_mean: least(&|n: f64| (1.0 / n).sqrt())?,
        for_limits: least(&|n: f64| rule.relative_error(n))?,
    })
}
