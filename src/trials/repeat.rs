//! The trials of one day: mean, best, scatter, and what was left out.
//!
//! The mean is the summary. Claudino and others 2017 ("The countermovement jump
//! to monitor neuromuscular status: A meta-analysis", J Sci Med Sport 20:397)
//! found the mean height more sensitive to change than the best one; the best
//! is shown beside it.

use serde::Serialize;

use super::error::TrialsError;
use super::student::{sd_interval95, t95};
use super::trial::{Sample, Session, TrialHeight, pooled_variance, usable};
use crate::units::{Interval95, Metres, StandardUncertainty};

/// A trial that does not count, and why.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeftOut {
    /// Its position in the session.
    pub order: usize,
    /// Its height, for the record.
    #[serde(rename = "height_m")]
    pub height: Metres,
    /// Codes of the flags or reasons; never its height alone.
    pub reasons: Vec<String>,
}

/// The typical error: the standard deviation of one athlete's repeated trials
/// (Hopkins 2000, "Measures of reliability in sports medicine and science",
/// Sports Med 30:1). Film error is in it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TypicalError {
    /// The standard deviation of one trial.
    #[serde(rename = "sd_m")]
    pub sd: Metres,
    /// Degrees of freedom behind it; infinite for a stated figure.
    pub dof: f64,
    /// 95 % interval, from chi-square.
    #[serde(rename = "interval95_m")]
    pub interval95: Interval95<Metres>,
}

impl TypicalError {
    /// A typical error estimated with `dof` degrees of freedom, or stated
    /// (infinite `dof`).
    ///
    /// # Errors
    /// [`TrialsError::BadSetting`] unless `sd` is finite and not negative and
    /// `dof` is above 0.
    pub fn new(sd: Metres, dof: f64) -> Result<Self, TrialsError> {
        let value = sd.metres();
        if !(value >= 0.0 && value.is_finite()) {
            let what = "a typical error in metres";
            return Err(TrialsError::BadSetting { what, value });
        }
        if dof.is_nan() || dof <= 0.0 {
            let what = "a number of degrees of freedom";
            return Err(TrialsError::BadSetting { what, value: dof });
        }
        let (lo, hi) = sd_interval95(value, dof);
        Ok(Self {
            sd,
            dof,
            interval95: metres_interval(lo, hi),
        })
    }
}

/// A day's trials in figures.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DaySummary {
    /// Trials that count.
    pub n: usize,
    /// Their mean, the summary of the day.
    #[serde(rename = "mean_m")]
    pub mean: Metres,
    /// 95 % interval of the mean from Student's t; none for a single trial.
    /// Says where more trials of the same day would settle, not how the day
    /// compares with other days.
    #[serde(rename = "mean_interval95_m")]
    pub mean_interval95: Option<Interval95<Metres>>,
    /// The highest trial that counts.
    #[serde(rename = "best_m")]
    pub best: Metres,
    /// Its position.
    pub best_order: usize,
    /// Standard deviation of the trials, which over one day is the typical
    /// error; none for a single trial.
    pub typical_error: Option<TypicalError>,
    /// Typical error as a share of the mean.
    pub cv: Option<f64>,
    /// 95 % interval of the CV: that of the typical error over the mean.
    pub cv_interval95: Option<Interval95<f64>>,
    /// Root mean square of the trials' own film errors.
    #[serde(rename = "film_u_m")]
    pub film_u: StandardUncertainty<Metres>,
    /// Film error that all trials share and the mean keeps.
    #[serde(rename = "shared_u_m")]
    pub shared_u: StandardUncertainty<Metres>,
    /// Trials that do not count.
    pub left_out: Vec<LeftOut>,
    /// Positions of trials that count although their height is improbable:
    /// somebody should look at them.
    pub improbable: Vec<usize>,
}

/// Sums up the trials of one day.
///
/// ```
/// use underfoot::trials::{TrialHeight, summarise};
/// use underfoot::units::{Metres, StandardUncertainty};
///
/// let film_u = StandardUncertainty(Metres::from_metres(0.002));
/// let trials: Vec<TrialHeight> = [0.31, 0.33, 0.32]
///     .into_iter()
///     .enumerate()
///     .map(|(i, h)| TrialHeight::new(i, Metres::from_metres(h), film_u))
///     .collect();
/// let day = summarise(&trials)?;
/// assert_eq!(format!("{:.1} {:.1}", day.mean.centimetres(), day.best.centimetres()), "32.0 33.0");
/// assert_eq!(format!("{:.3}", day.cv.unwrap_or_default()), "0.031");
/// # Ok::<(), underfoot::trials::TrialsError>(())
/// ```
///
/// # Errors
/// [`TrialsError::NoUsableTrials`] when none counts, [`TrialsError::BadTrial`]
/// when a figure of one that counts is no number.
pub fn summarise(trials: &[TrialHeight]) -> Result<DaySummary, TrialsError> {
    let counted = usable(trials)?;
    let sample = Sample::of(&Session { day: 0.0, trials }).map_err(|error| match error {
        TrialsError::NoUsableTrials { .. } => TrialsError::NoUsableTrials { day: None },
        other => other,
    })?;
    let best = counted
        .iter()
        .max_by(|a, b| a.height.metres().total_cmp(&b.height.metres()))
        .ok_or(TrialsError::NoUsableTrials { day: None })?;
    let dof = sample.dof();
    let sd = (dof > 0.0).then(|| (sample.squares / dof).sqrt());
    let typical_error = sd
        .map(|sd| TypicalError::new(Metres::from_metres(sd), dof))
        .transpose()?;
    let share = |m: Metres| m.metres() / sample.mean;
    let relative = typical_error.filter(|_| sample.mean > 0.0);
    Ok(DaySummary {
        n: counted.len(),
        mean: Metres::from_metres(sample.mean),
        mean_interval95: sd.map(|sd| {
            let half = t95(dof) * sd / sample.n.sqrt();
            metres_interval(sample.mean - half, sample.mean + half)
        }),
        best: best.height,
        best_order: best.order,
        typical_error,
        cv: relative.map(|te| share(te.sd)),
        cv_interval95: relative.map(|te| Interval95 {
            lo: share(te.interval95.lo),
            hi: share(te.interval95.hi),
        }),
        film_u: StandardUncertainty(Metres::from_metres(sample.film_variance.sqrt())),
        shared_u: StandardUncertainty(Metres::from_metres(sample.shared_u)),
        left_out: trials
            .iter()
            .filter(|t| !t.is_usable())
            .map(left_out)
            .collect(),
        improbable: counted
            .iter()
            .filter(|trial| trial.is_improbable())
            .map(|trial| trial.order)
            .collect(),
    })
}

fn left_out(trial: &TrialHeight) -> LeftOut {
    LeftOut {
        order: trial.order,
        height: trial.height,
        reasons: trial.doubts.clone(),
    }
}

/// One athlete's typical error within a day, pooled over sessions: each trial
/// is compared with its own session's mean only, so a change from session to
/// session is not in it. Sessions without a usable trial are passed over.
///
/// # Errors
/// [`TrialsError::TooFew`] when no session has two usable trials.
pub fn typical_error(sessions: &[Session]) -> Result<TypicalError, TrialsError> {
    let samples = Sample::all(sessions)?;
    let most = samples.iter().map(|s| s.n as usize).max().unwrap_or(0);
    let (variance, dof) = pooled_variance(&samples).ok_or(TrialsError::TooFew {
        what: "trials in one session",
        found: most,
        needed: 2,
    })?;
    TypicalError::new(Metres::from_metres(variance.sqrt()), dof)
}

pub(super) fn metres_interval(lo: f64, hi: f64) -> Interval95<Metres> {
    Interval95 {
        lo: Metres::from_metres(lo),
        hi: Metres::from_metres(hi),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trials(heights: &[f64]) -> Vec<TrialHeight> {
        heights
            .iter()
            .enumerate()
            .map(|(i, h)| {
                TrialHeight::new(i, Metres::from_metres(*h), StandardUncertainty::default())
            })
            .collect()
    }

    #[test]
    fn a_flagged_trial_is_named_and_an_improbable_one_kept() {
        let mut day = trials(&[0.30, 0.95, 0.32, 0.31]);
        day[1].doubts = vec!["improbable_height".into()];
        day[2].doubts = vec!["landing_beside".into()];
        let summary = summarise(&day).unwrap();
        assert_eq!((summary.n, summary.best_order), (3, 1));
        assert_eq!(summary.improbable, [1]);
        assert_eq!(summary.left_out.len(), 1);
        assert_eq!(summary.left_out[0].order, 2);
        assert_eq!(summary.left_out[0].reasons, ["landing_beside"]);
    }

    #[test]
    fn one_trial_has_no_scatter_and_none_is_an_error() {
        let one = summarise(&trials(&[0.3])).unwrap();
        assert!(one.typical_error.is_none() && one.mean_interval95.is_none() && one.cv.is_none());
        assert_eq!(
            summarise(&[]),
            Err(TrialsError::NoUsableTrials { day: None })
        );
        let bad = trials(&[f64::NAN]);
        assert!(matches!(
            summarise(&bad),
            Err(TrialsError::BadTrial { order: 0, .. })
        ));
    }

    #[test]
    fn pooling_leaves_changes_between_sessions_out() {
        let (a, b) = (trials(&[0.30, 0.32]), trials(&[0.50, 0.52]));
        let both = [
            Session {
                day: 0.0,
                trials: &a,
            },
            Session {
                day: 7.0,
                trials: &b,
            },
        ];
        let pooled = typical_error(&both).unwrap();
        assert_eq!(pooled.dof, 2.0);
        assert!((pooled.sd.metres() - 0.02 / 2f64.sqrt()).abs() < 1e-12);
        let single = trials(&[0.3]);
        let alone = [Session {
            day: 0.0,
            trials: &single,
        }];
        assert!(matches!(
            typical_error(&alone),
            Err(TrialsError::TooFew { found: 1, .. })
        ));
    }
}
