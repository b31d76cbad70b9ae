//! The whole comparison of a mat with the film.

use serde::Serialize;

use super::agree::{Agreement, Difference, JumpsNeeded, LimitsRule, agreement, jumps_needed};
use super::basics::mean;
use super::clock_step::{ClockStep, clock_step};
use super::correct::{Correction, carried};
use super::error::MatError;
use super::explain::{Point, Weighing, weigh};
use super::lines::{Line, OrdinaryLine, deming, ordinary, passing_bablok};
use super::pair::{JumpComparison, Pair};
use super::say::{HeightUnit, paragraph};
use crate::jump::gravity::STANDARD_GRAVITY;
use crate::jump::height::height_per_time;
use crate::units::{Acceleration, Metres, Span, StandardUncertainty};

/// Settings of the comparison.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CrosscheckOptions {
    /// Form of the limits of agreement.
    pub rule: LimitsRule,
    /// Gravity for heights from flight times.
    #[serde(rename = "gravity_m_s2")]
    pub gravity: Acceleration,
    /// Half-width wished for the intervals of mean and limits.
    #[serde(rename = "wanted_half_width_s")]
    pub wanted_half_width: Span,
}

impl Default for CrosscheckOptions {
    /// Limits as of 1999, standard gravity, ± 5 ms (about 0.6 cm of height).
    fn default() -> Self {
        Self {
            rule: LimitsRule::default(),
            gravity: STANDARD_GRAVITY,
            wanted_half_width: Span::from_millis(5.0),
        }
    }
}

/// Does the difference grow with the jump? In seconds, film as x, mat as y.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Proportionality {
    /// Difference on mean, ordinary least squares (Bland and Altman 1999).
    pub difference_on_mean: OrdinaryLine,
    /// Mat on film, both with errors.
    pub deming: Line,
    /// Error variance of the mat over that of the film, as used.
    pub deming_ratio: f64,
    /// Whether that ratio comes from the film's known error; else 1 is assumed.
    pub deming_ratio_known: bool,
    /// Mat on film, robust against single wild readings.
    pub passing_bablok: Line,
}

/// A mat compared with the film.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Crosscheck {
    /// Jump by jump, in the order of the session.
    pub jumps: Vec<JumpComparison>,
    /// Jumps in which the mat cannot be right.
    pub outside: usize,
    /// Agreement in flight time: every number in seconds.
    #[serde(rename = "flight_time_s")]
    pub flight_time: Agreement<Span>,
    /// Agreement in height: every number in metres.
    #[serde(rename = "height_m")]
    pub height: Agreement<Metres>,
    /// None where the jumps are too few or too alike for a line. In seconds.
    #[serde(rename = "proportionality_s")]
    pub proportionality: Option<Proportionality>,
    /// None below [`super::explain::LEAST_JUMPS`] jumps.
    pub weighing: Option<Weighing>,
    /// Only when the data carry it.
    pub correction: Option<Correction>,
    /// The mat's clock step, where it shows.
    pub clock_step: Option<ClockStep>,
    /// Jumps for the wished precision; None where no scatter is seen.
    pub jumps_needed: Option<JumpsNeeded>,
    /// Settings in use.
    pub options: CrosscheckOptions,
    /// What it means, in plain words; heights in centimetres.
    pub paragraph: String,
}

/// Compares a mat with the film, flight times first.
///
/// # Errors
/// [`MatError`] for too few jumps, impossible readings or settings.
pub fn crosscheck(pairs: &[Pair], options: CrosscheckOptions) -> Result<Crosscheck, MatError> {
    check_options(&options)?;
    for pair in pairs {
        pair.check()?;
    }
    let mut pairs: Vec<&Pair> = pairs.iter().collect();
    pairs.sort_by_key(|p| p.order);
    let jumps: Vec<JumpComparison> = pairs.iter().map(|p| p.compare(options.gravity)).collect();
    let in_time = agree_in_time(&pairs, &jumps, options.rule)?;
    let height = agree_in_height(&pairs, &jumps, &options)?.map(Metres::from_metres);

    let film: Vec<f64> = jumps.iter().map(|j| j.film_time.seconds()).collect();
    let mat: Vec<f64> = jumps.iter().map(|j| j.mat_time.seconds()).collect();
    let errors = Errors::of(&pairs, &film, &mat, &in_time);
    let weighing = weigh(&errors.points(&pairs, &film, &mat), errors.mat_variance);
    let mat_times: Vec<Span> = jumps.iter().map(|j| j.mat_time).collect();
    let step = coarsest_step(&pairs);
    let correction = weighing.as_ref().and_then(|w| {
        let mean_margin = in_time.mean_difference.interval95.hi - in_time.mean_difference.value;
        let tolerance = Span::from_seconds(mean_margin.max(step.seconds()));
        let doubt = mean_margin / 2.0;
        let u = (errors.mat_variance + doubt * doubt).sqrt();
        carried(
            w,
            &mat_times,
            tolerance,
            StandardUncertainty(Span::from_seconds(u)),
        )
    });
    let wanted = options.wanted_half_width.seconds();
    let mut result = Crosscheck {
        outside: jumps.iter().filter(|j| !j.inside).count(),
        proportionality: proportionality(&film, &mat, &errors).ok(),
        weighing,
        correction,
        clock_step: clock_step(&mat_times, step),
        jumps_needed: jumps_needed(in_time.sd, wanted, options.rule).ok(),
        flight_time: in_time.map(Span::from_seconds),
        height,
        options,
        jumps,
        paragraph: String::new(),
    };
    result.paragraph = paragraph(&result, HeightUnit::CENTIMETRES);
    Ok(result)
}

fn check_options(options: &CrosscheckOptions) -> Result<(), MatError> {
    let gravity = options.gravity.metres_per_second_squared();
    if !(gravity > 9.0 && gravity < 11.0) {
        return Err(MatError::BadSetting {
            what: "gravity in m/s²",
            value: gravity,
        });
    }
    let wanted = options.wanted_half_width.seconds();
    if !(wanted > 0.0 && wanted.is_finite()) {
        return Err(MatError::BadSetting {
            what: "wanted half-width in seconds",
            value: wanted,
        });
    }
    Ok(())
}

fn coarsest_step(pairs: &[&Pair]) -> Span {
    let steps = pairs.iter().map(|p| p.mat.time_step().seconds());
    Span::from_seconds(steps.fold(0.0, f64::max))
}

fn agree_in_time(
    pairs: &[&Pair],
    jumps: &[JumpComparison],
    rule: LimitsRule,
) -> Result<Agreement<f64>, MatError> {
    let differences: Vec<Difference<'_>> = pairs
        .iter()
        .zip(jumps)
        .map(|(pair, jump)| Difference {
            athlete: &pair.athlete,
            value: jump.difference.seconds(),
            u_film: pair.film.u.0.seconds(),
        })
        .collect();
    agreement(&differences, rule)
}

fn agree_in_height(
    pairs: &[&Pair],
    jumps: &[JumpComparison],
    options: &CrosscheckOptions,
) -> Result<Agreement<f64>, MatError> {
    let differences: Vec<Difference<'_>> = pairs
        .iter()
        .zip(jumps)
        .map(|(pair, jump)| {
            let per_time = height_per_time(jump.film_time, options.gravity);
            Difference {
                athlete: &pair.athlete,
                value: (jump.mat_height - jump.film_height).metres(),
                u_film: pair.film.u.0.seconds() * per_time.metres_per_second(),
            }
        })
        .collect();
    agreement(&differences, options.rule)
}

/// Whose error is how large, as far as the differences tell.
struct Errors {
    film_variance: f64,
    mat_variance: f64,
}

impl Errors {
    /// The scatter about a line of difference on mean, so that a pattern is not
    /// taken for scatter, less the film's known share.
    fn of(pairs: &[&Pair], film: &[f64], mat: &[f64], in_time: &Agreement<f64>) -> Self {
        let squared: Vec<f64> = pairs.iter().map(|p| p.film.u.0.seconds().powi(2)).collect();
        let film_variance = mean(&squared);
        let (difference, middle) = difference_and_mean(film, mat);
        let scatter = ordinary(&middle, &difference, 0.95).map_or(in_time.sd, |o| o.residual_sd);
        // A display's rounding alone is step²/12; no mat errs less.
        let rounding = coarsest_step(pairs).seconds().powi(2) / 12.0;
        Self {
            film_variance,
            mat_variance: (scatter * scatter - film_variance).max(rounding),
        }
    }

    fn points(&self, pairs: &[&Pair], film: &[f64], mat: &[f64]) -> Vec<Point> {
        let readings = film.iter().zip(mat);
        pairs
            .iter()
            .zip(readings)
            .map(|(pair, (film, mat))| Point {
                film: *film,
                mat: *mat,
                film_variance: pair.film.u.0.seconds().powi(2),
            })
            .collect()
    }
}

fn difference_and_mean(film: &[f64], mat: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let readings = || film.iter().zip(mat);
    (
        readings().map(|(f, m)| m - f).collect(),
        readings().map(|(f, m)| 0.5 * (m + f)).collect(),
    )
}

fn proportionality(
    film: &[f64],
    mat: &[f64],
    errors: &Errors,
) -> Result<Proportionality, MatError> {
    let (difference, middle) = difference_and_mean(film, mat);
    let known = errors.film_variance > 0.0;
    let ratio = if known {
        errors.mat_variance / errors.film_variance
    } else {
        1.0
    };
    Ok(Proportionality {
        difference_on_mean: ordinary(&middle, &difference, 0.95)?,
        deming: deming(film, mat, ratio, 0.95)?,
        deming_ratio: ratio,
        deming_ratio_known: known,
        passing_bablok: passing_bablok(film, mat, 0.95)?,
    })
}
