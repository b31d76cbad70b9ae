//! Is it really higher? A baseline and today.
//!
//! The difference of two means is set against its standard uncertainty, built
//! from what scatters: trials within a day (film error is in their scatter
//! already, and the interval is never narrower than film error alone makes it),
//! and, where the baseline has three sessions or more, days. Degrees of freedom follow
//! Welch 1947 and Satterthwaite 1946 (as in JCGM 100:2008, G.4.1).
//!
//! What all clips of one phone in one place share cancels. A clock that runs
//! wrong by ε and a gravity that is wrong by γ stretch every height by the same
//! factor 1 + 2ε + γ, so a difference of 2 cm is wrong by that share of 2 cm,
//! not of 30 cm. Where phones or places differ, say so:
//! [`SharedErrors::Differ`].

use serde::Serialize;

use super::error::TrialsError;
use super::noise::Noise;
use super::repeat::{TypicalError, metres_interval};
use super::student::{t_cdf, t95};
use super::trial::{Sample, Session};
use super::verdict::{ChangeWarning, SmallestWorthwhile, Verdict, chance_in_words};
use crate::units::{Interval95, Metres, StandardUncertainty};

/// Fewest baseline sessions from which day-to-day variation is taken.
pub const SESSIONS_FOR_DAY_TO_DAY: usize = 3;

/// Below this many baseline sessions their variation is called a rough one.
const ENOUGH_SESSIONS: usize = 6;

/// Below this many trials a session is called small.
const ENOUGH_TRIALS: usize = 3;

/// Normal quantile of the minimal detectable change, by convention (Weir 2005,
/// "Quantifying test-retest reliability using the intraclass correlation
/// coefficient and the SEM", J Strength Cond Res 19:231).
const DETECTABLE_Z: f64 = 1.96;

/// How the athlete varies from day to day, beyond trial noise.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DayToDay {
    /// From the baseline where it has [`SESSIONS_FOR_DAY_TO_DAY`] sessions or
    /// more; otherwise left out, with a warning.
    #[default]
    FromBaseline,
    /// A known standard deviation of days.
    Known(TypicalError),
    /// Left out: the question is about these days only.
    LeftOut,
}

/// What becomes of the film errors that all clips of a session share.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SharedErrors {
    /// Same phone, same place: they cancel.
    #[default]
    Cancel,
    /// Another phone or place today: they do not.
    Differ,
}

/// The usual height about which baselines scatter: of a squad, or of the
/// athlete over the long run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Reference {
    /// Mean.
    #[serde(rename = "mean_m")]
    pub mean: Metres,
    /// Standard deviation of true heights about it.
    #[serde(rename = "sd_m")]
    pub sd: Metres,
}

/// How a change is judged. The default suits two sessions of one phone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChangeOptions {
    /// The smallest change worth having.
    pub smallest: SmallestWorthwhile,
    /// Trial noise known from elsewhere (the log) instead of these sessions'.
    pub typical_error: Option<TypicalError>,
    /// Day-to-day variation.
    pub day_to_day: DayToDay,
    /// Shared film errors.
    pub shared: SharedErrors,
    /// The usual height, for the warning of regression to the mean.
    pub reference: Option<Reference>,
}

impl Default for ChangeOptions {
    fn default() -> Self {
        Self {
            smallest: SmallestWorthwhile::Default,
            typical_error: None,
            day_to_day: DayToDay::default(),
            shared: SharedErrors::default(),
            reference: None,
        }
    }
}

/// One side of a comparison.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Side {
    /// Sessions with a usable trial.
    pub sessions: usize,
    /// Trials that count.
    pub trials: usize,
    /// Mean of the sessions' means.
    #[serde(rename = "mean_m")]
    pub mean: Metres,
}

/// A change and everything that is claimed about it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// Where it started.
    pub baseline: Side,
    /// Where it is now.
    pub today: Side,
    /// Today's mean less the baseline's.
    #[serde(rename = "difference_m")]
    pub difference: Metres,
    /// Standard uncertainty of the difference; none with too few trials.
    #[serde(rename = "u_m")]
    pub u: Option<StandardUncertainty<Metres>>,
    /// Its degrees of freedom.
    pub dof: Option<f64>,
    /// 95 % interval of the true difference.
    #[serde(rename = "interval95_m")]
    pub interval95: Option<Interval95<Metres>>,
    /// Minimal detectable change, 1.96 u. For one session of n trials on each
    /// side this is 1.96 √2 TE/√n.
    #[serde(rename = "detectable_m")]
    pub detectable: Option<Metres>,
    /// Smallest worthwhile change.
    #[serde(rename = "smallest_worthwhile_m")]
    pub smallest_worthwhile: Metres,
    /// Where that comes from.
    pub smallest: SmallestWorthwhile,
    /// Day-to-day standard deviation used; none if left out.
    #[serde(rename = "day_to_day_sd_m")]
    pub day_to_day_sd: Option<Metres>,
    /// Chance that the true change is above 0, all changes being equally
    /// likely beforehand.
    pub p_higher: Option<f64>,
    /// Chance that it is above the smallest worthwhile change.
    pub p_worthwhile_rise: Option<f64>,
    /// Chance that it is a fall of more than that.
    pub p_worthwhile_fall: Option<f64>,
    /// The answer.
    pub verdict: Verdict,
    /// What to beware of.
    pub warnings: Vec<ChangeWarning>,
}

impl Change {
    /// Whether the interval lies within the smallest worthwhile change on
    /// either side: whatever changed is too small to matter.
    pub fn is_trivial(&self) -> bool {
        self.interval95.is_some_and(|interval| {
            interval.hi < self.smallest_worthwhile && interval.lo > -self.smallest_worthwhile
        })
    }

    /// The answer in words; `length` writes a length for people.
    pub fn sentence(&self, length: &dyn Fn(Metres) -> String) -> String {
        let from_to = format!(
            "From {} to {}: {}.",
            length(self.baseline.mean),
            length(self.today.mean),
            self.verdict.label()
        );
        let mut text = format!(
            "{from_to} {}",
            self.verdict.meaning(self.day_to_day_sd.is_some())
        );
        let smallest = length(self.smallest_worthwhile);
        if self.is_trivial() {
            text += &format!(" Whatever changed is less than the smallest worthwhile {smallest}.");
        } else if let (Some(up), Some(down)) = (self.p_worthwhile_rise, self.p_worthwhile_fall) {
            let (p, word) = if self.difference >= Metres::default() {
                (up, "rise")
            } else {
                (down, "fall")
            };
            let chance = chance_in_words(p);
            text += &format!(" Chance of a true {word} of more than {smallest}: {chance}.");
        }
        text
    }
}

/// Compares today with a baseline of one or several sessions.
///
/// Sessions of the baseline without a usable trial are passed over.
///
/// ```
/// use underfoot::trials::{ChangeOptions, Session, TrialHeight, Verdict, compare};
/// use underfoot::units::{Metres, StandardUncertainty};
///
/// let day = |heights: [f64; 4]| {
///     let film_u = StandardUncertainty(Metres::from_metres(0.002));
///     let trial = |(i, h)| TrialHeight::new(i, Metres::from_metres(h), film_u);
///     heights.into_iter().enumerate().map(trial).collect::<Vec<_>>()
/// };
/// let before = day([0.312, 0.318, 0.309, 0.317]);
/// let after = day([0.336, 0.343, 0.337, 0.340]);
/// let change = compare(
///     &[Session { day: 0.0, trials: &before }],
///     &Session { day: 28.0, trials: &after },
///     &ChangeOptions::default(),
/// )?;
/// assert_eq!(change.verdict, Verdict::Higher);
/// # Ok::<(), underfoot::trials::TrialsError>(())
/// ```
///
/// # Errors
/// [`TrialsError::NoUsableTrials`] when a side has none,
/// [`TrialsError::BadTrial`] for figures that are no numbers, and
/// [`TrialsError::BadSetting`] for a smallest worthwhile change not above 0.
pub fn compare(
    baseline: &[Session],
    today: &Session,
    options: &ChangeOptions,
) -> Result<Change, TrialsError> {
    options.smallest.checked()?;
    let before = Sample::all(baseline)?;
    if before.is_empty() {
        let day = baseline.first().map(|session| session.day);
        return Err(TrialsError::NoUsableTrials { day });
    }
    let now = Sample::of(today)?;
    let sides = (side(&before), side(&[now]));
    let noise = Noise::of(&before, &now, options);
    let mut change = judge(sides, noise.as_ref(), options.smallest);
    change.warnings = warnings(&change, noise.as_ref(), baseline, today, options);
    Ok(change)
}

fn side(samples: &[Sample]) -> Side {
    Side {
        sessions: samples.len(),
        trials: samples.iter().map(|s| s.n as usize).sum(),
        mean: Metres::from_metres(mean(samples.iter().map(|s| s.mean))),
    }
}

pub(super) fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (count, sum) = values.fold((0.0, 0.0), |(n, sum), value| (n + 1.0, sum + value));
    sum / count
}

fn judge(
    (baseline, today): (Side, Side),
    noise: Option<&Noise>,
    smallest: SmallestWorthwhile,
) -> Change {
    let difference = today.mean - baseline.mean;
    let worthwhile = smallest.size(baseline.mean);
    let d = difference.metres();
    let u = noise.map(|noise| noise.variance.sqrt());
    let above = |threshold: f64| {
        noise
            .zip(u)
            .map(|(noise, u)| t_cdf((d - threshold) / u, noise.dof))
    };
    let interval95 = noise.zip(u).map(|(noise, u)| {
        let half = t95(noise.dof) * u;
        metres_interval(d - half, d + half)
    });
    let zero = Metres::default();
    Change {
        baseline,
        today,
        difference,
        u: u.map(|u| StandardUncertainty(Metres::from_metres(u))),
        dof: noise.map(|noise| noise.dof),
        interval95,
        detectable: u.map(|u| Metres::from_metres(DETECTABLE_Z * u)),
        smallest_worthwhile: worthwhile,
        smallest,
        day_to_day_sd: noise.and_then(|n| n.day_to_day).map(Metres::from_metres),
        p_higher: above(0.0),
        p_worthwhile_rise: above(worthwhile.metres()),
        p_worthwhile_fall: above(-worthwhile.metres()).map(|p| 1.0 - p),
        verdict: match interval95 {
            None => Verdict::TooFewTrials,
            Some(interval) if interval.lo > zero => Verdict::Higher,
            Some(interval) if interval.hi < zero => Verdict::Lower,
            Some(_) => Verdict::NotToldApart,
        },
        warnings: Vec::new(),
    }
}

fn warnings(
    change: &Change,
    noise: Option<&Noise>,
    baseline: &[Session],
    today: &Session,
    options: &ChangeOptions,
) -> Vec<ChangeWarning> {
    let trials = || baseline.iter().chain([today]).flat_map(|s| s.trials);
    let counts = baseline
        .iter()
        .chain([today])
        .map(|s| s.trials.iter().filter(|t| t.is_usable()).count());
    let mut found = Vec::new();
    if let Some(fewest) = counts
        .filter(|n| *n > 0)
        .min()
        .filter(|n| *n < ENOUGH_TRIALS)
    {
        found.push(ChangeWarning::FewTrials { fewest });
    }
    if let Some(noise) = noise {
        let sessions = change.baseline.sessions;
        match (noise.day_to_day, options.day_to_day) {
            (None, _) => found.push(ChangeWarning::DayToDayLeftOut),
            (Some(_), DayToDay::FromBaseline) if sessions < ENOUGH_SESSIONS => {
                found.push(ChangeWarning::FewBaselineSessions { sessions });
            }
            _ => {}
        }
        if noise.borrowed {
            found.push(ChangeWarning::ScatterBorrowed);
        }
        let expected = options.reference.and_then(|r| regression(change, noise, r));
        found.extend(expected.map(|expected| ChangeWarning::RegressionToTheMean { expected }));
    }
    let count = trials().filter(|trial| !trial.is_usable()).count();
    if count > 0 {
        found.push(ChangeWarning::TrialsLeftOut { count });
    }
    if trials().any(|trial| trial.is_improbable()) {
        found.push(ChangeWarning::ImprobableHeight);
    }
    if options.smallest == SmallestWorthwhile::Default {
        found.push(ChangeWarning::DefaultSmallest);
    }
    found
}

/// How far a baseline more than one standard deviation from the usual is
/// expected to return by itself, if the change goes that way: (1 − r) times its
/// distance, r being the baseline's reliability (Galton's regression).
fn regression(change: &Change, noise: &Noise, usual: Reference) -> Option<Metres> {
    let distance = usual.mean - change.baseline.mean;
    let between = usual.sd.metres().powi(2);
    let reliability = between / (between + noise.baseline_variance);
    let returns = distance.metres() * change.difference.metres() > 0.0;
    let expected = distance * (1.0 - reliability);
    (distance.abs() > usual.sd && returns && expected.metres() != 0.0).then_some(expected)
}
