//! A trial as this stage sees it: a height, its film error, its doubts.

use serde::Serialize;

use super::error::TrialsError;
use crate::jump::{BudgetSource, Flag, HeightResult};
use crate::units::{Metres, StandardUncertainty};

/// One jump's height, ready to be compared with others.
///
/// The film's error comes in two parts that behave differently. What each clip
/// draws anew (frames, fit, rounding, shutter) averages out over trials. What
/// all clips of one phone in one place share (rate of its clock, gravity) does
/// not average out, but cancels in a change.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrialHeight {
    /// Position in the session, as the caller counts.
    pub order: usize,
    /// Height.
    #[serde(rename = "height_m")]
    pub height: Metres,
    /// Film error of this trial alone.
    #[serde(rename = "film_u_m")]
    pub film_u: StandardUncertainty<Metres>,
    /// Film error shared with all trials of the same phone and place.
    #[serde(rename = "shared_u_m")]
    pub shared_u: StandardUncertainty<Metres>,
    /// Codes of the flags that make the trial doubtful, and any reason for
    /// which a person set it aside.
    pub doubts: Vec<String>,
}

impl TrialHeight {
    /// A trial without doubts and without a shared error.
    pub fn new(order: usize, height: Metres, film_u: StandardUncertainty<Metres>) -> Self {
        Self {
            order,
            height,
            film_u,
            shared_u: StandardUncertainty::default(),
            doubts: Vec::new(),
        }
    }

    /// A measured trial: the budget's lines sorted into own and shared error,
    /// and the flags that make it doubtful.
    pub fn of(order: usize, result: &HeightResult, flags: &[Flag]) -> Self {
        let square = |shared: bool| -> f64 {
            result
                .budget
                .iter()
                .filter(|line| is_shared(line.source) == shared)
                .map(|line| line.u_height.0.metres().powi(2))
                .sum()
        };
        let u = |shared| StandardUncertainty(Metres::from_metres(square(shared).sqrt()));
        Self {
            order,
            height: result.height,
            film_u: u(false),
            shared_u: u(true),
            doubts: flags
                .iter()
                .filter(|flag| flag.makes_doubtful())
                .map(|flag| flag.code().to_owned())
                .collect(),
        }
    }

    /// Whether the trial counts.
    ///
    /// Only doubts about how it was filmed or jumped leave a trial out. That a
    /// height is improbable is no such doubt on its own: dropping the highest
    /// trials for being high would make every athlete worse and steadier than
    /// she is.
    pub fn is_usable(&self) -> bool {
        self.doubts.iter().all(|code| *code == improbable())
    }

    /// Whether it counts although its height is improbable.
    pub fn is_improbable(&self) -> bool {
        self.is_usable() && !self.doubts.is_empty()
    }

    fn checked(&self) -> Result<&Self, TrialsError> {
        let (height, film_u) = (self.height, self.film_u.0);
        let fine = |m: Metres| m.metres().is_finite() && m.metres() >= 0.0;
        if fine(film_u) && fine(self.shared_u.0) && fine(height) {
            Ok(self)
        } else {
            let order = self.order;
            Err(TrialsError::BadTrial {
                order,
                height,
                film_u,
            })
        }
    }
}

fn improbable() -> &'static str {
    Flag::ImprobableHeight.code()
}

/// Whether all clips of one phone in one place have the error in common.
fn is_shared(source: BudgetSource) -> bool {
    matches!(source, BudgetSource::Clock | BudgetSource::Gravity)
}

/// The trials of one day.
#[derive(Clone, Copy, Debug)]
pub struct Session<'a> {
    /// The date as a day number; any fixed starting point.
    pub day: f64,
    /// The trials.
    pub trials: &'a [TrialHeight],
}

/// The usable trials of a session in figures, in metres.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    pub(super) n: f64,
    pub(super) mean: f64,
    /// Sum of squared deviations from the mean.
    pub(super) squares: f64,
    /// Mean of the trials' own film variances.
    pub(super) film_variance: f64,
    /// Largest shared film error.
    pub(super) shared_u: f64,
}

impl Sample {
    pub(super) fn of(session: &Session) -> Result<Self, TrialsError> {
        let trials = usable(session.trials)?;
        if trials.is_empty() {
            let day = Some(session.day);
            return Err(TrialsError::NoUsableTrials { day });
        }
        let n = trials.len() as f64;
        let heights = || trials.iter().map(|trial| trial.height.metres());
        let mean = heights().sum::<f64>() / n;
        Ok(Self {
            n,
            mean,
            squares: heights().map(|h| (h - mean).powi(2)).sum(),
            film_variance: trials
                .iter()
                .map(|trial| trial.film_u.0.metres().powi(2))
                .sum::<f64>()
                / n,
            shared_u: trials
                .iter()
                .map(|trial| trial.shared_u.0.metres())
                .fold(0.0, f64::max),
        })
    }

    /// Samples of the sessions that have a usable trial.
    pub(super) fn all(sessions: &[Session]) -> Result<Vec<Self>, TrialsError> {
        sessions
            .iter()
            .filter_map(|session| match Self::of(session) {
                Err(TrialsError::NoUsableTrials { .. }) => None,
                other => Some(other),
            })
            .collect()
    }

    pub(super) fn dof(&self) -> f64 {
        self.n - 1.0
    }

    /// Variance of one trial as it stands.
    pub(super) fn variance(&self) -> Option<f64> {
        (self.n > 1.0).then(|| self.squares / self.dof())
    }
}

/// Variance of one trial over all samples and its degrees of freedom.
pub(super) fn pooled_variance(samples: &[Sample]) -> Option<(f64, f64)> {
    let dof: f64 = samples.iter().map(Sample::dof).sum();
    let squares: f64 = samples.iter().map(|sample| sample.squares).sum();
    (dof > 0.0).then(|| (squares / dof, dof))
}

/// The trials that count, all of them checked.
pub(super) fn usable(trials: &[TrialHeight]) -> Result<Vec<&TrialHeight>, TrialsError> {
    trials
        .iter()
        .filter(|trial| trial.is_usable())
        .map(TrialHeight::checked)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jump::{ClockUncertainty, Conditions, Event, Flight, Gravity};
    use crate::units::{CaptureTime, Span};

    #[test]
    fn budget_splits_into_own_and_shared_and_adds_up_again() {
        let at = CaptureTime::from_seconds;
        let takeoff = Event::between_frames(at(0.0), at(0.01)).unwrap();
        let landing = Event::between_frames(at(0.5), at(0.51)).unwrap();
        let clock = ClockUncertainty::new(1e-3, Span::from_millis(1.0)).unwrap();
        let conditions = Conditions::new(clock, Gravity::standard());
        let flight = Flight::new(takeoff, landing).unwrap();
        let result = HeightResult::of(&flight, &conditions);
        let flags = [Flag::Blur, Flag::LandingBeside, Flag::ImprobableHeight];
        let trial = TrialHeight::of(3, &result, &flags);
        let (own, shared) = (trial.film_u.0.metres(), trial.shared_u.0.metres());
        assert!((own.hypot(shared) - result.u.0.metres()).abs() < 1e-12);
        // The clock: h times twice its relative error, and gravity besides.
        assert!(shared > 2e-3 * result.height.metres());
        assert_eq!(trial.doubts, ["landing_beside", "improbable_height"]);
        assert!(!trial.is_usable());
    }

    #[test]
    fn a_height_alone_leaves_nothing_out() {
        let mut trial =
            TrialHeight::new(0, Metres::from_metres(0.9), StandardUncertainty::default());
        trial.doubts = vec!["improbable_height".into()];
        assert!(trial.is_usable() && trial.is_improbable());
        trial.doubts.push("set_aside".into());
        assert!(!trial.is_usable() && !trial.is_improbable());
    }
}
