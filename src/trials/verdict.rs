//! What a change means in plain words, and what to beware of.

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

use super::error::TrialsError;
use crate::units::Metres;

/// Share of the spread between athletes that counts as the smallest worthwhile
/// change. Common practice, after Cohen's "small" effect (Hopkins 2004, "How to
/// interpret changes in an athletic performance test", Sportscience 8:1, from
/// memory).
pub const SMALL_EFFECT: f64 = 0.2;

/// Spread between athletes as a share of their height where no squad is
/// logged. Common practice, no standard: squads of one sport and sex commonly
/// differ by some 4 to 6 cm about 35 cm (from memory).
pub const DEFAULT_BETWEEN_CV: f64 = 0.15;

/// Fewest athletes from whose spread a smallest worthwhile change is taken.
/// Our own choice: with fewer, the spread itself is known to within a factor of
/// two at best.
pub const SQUAD_FOR_SPREAD: usize = 10;

/// The smallest change worth having.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SmallestWorthwhile {
    /// [`SMALL_EFFECT`] times the standard deviation between athletes.
    BetweenAthletes {
        /// That standard deviation.
        #[serde(rename = "sd_m")]
        sd: Metres,
        /// How many athletes it comes from.
        athletes: usize,
    },
    /// As stated by the user.
    #[serde(rename = "stated_m")]
    Stated(Metres),
    /// [`SMALL_EFFECT`] times [`DEFAULT_BETWEEN_CV`] times the baseline height:
    /// 1 cm at 33 cm.
    Default,
}

impl SmallestWorthwhile {
    /// From the means of a squad's athletes; none for fewer than
    /// [`SQUAD_FOR_SPREAD`] or for values that are no numbers.
    ///
    /// The spread of the means holds their trial noise too, which makes the
    /// result a little too large: the careful side.
    pub fn from_squad(means: &[Metres]) -> Option<Self> {
        let athletes = means.len();
        if athletes < SQUAD_FOR_SPREAD {
            return None;
        }
        let (mean, sd) = mean_and_sd(means);
        // Equal means differ by rounding.
        (sd.is_finite() && sd > 1e-9 * mean).then(|| Self::BetweenAthletes {
            sd: Metres::from_metres(sd),
            athletes,
        })
    }

    /// Its size for an athlete who starts from `baseline`.
    pub fn size(&self, baseline: Metres) -> Metres {
        match *self {
            Self::BetweenAthletes { sd, .. } => sd * SMALL_EFFECT,
            Self::Stated(size) => size,
            Self::Default => baseline * (SMALL_EFFECT * DEFAULT_BETWEEN_CV),
        }
    }

    pub(super) fn checked(&self) -> Result<(), TrialsError> {
        let value = self.size(Metres::from_metres(1.0)).metres();
        if value > 0.0 && value.is_finite() {
            Ok(())
        } else {
            let what = "a smallest worthwhile change in metres";
            Err(TrialsError::BadSetting { what, value })
        }
    }
}

pub(super) fn mean_and_sd(values: &[Metres]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().map(|v| v.metres()).sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v.metres() - mean).powi(2)).sum();
    (mean, (squares / (n - 1.0)).sqrt())
}

/// The answer to "is it really higher?".
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The 95 % interval of the change lies above 0.
    Higher,
    /// It lies below 0.
    Lower,
    /// It holds 0.
    NotToldApart,
    /// There is no interval: too few trials to know the scatter.
    TooFewTrials,
}

impl Verdict {
    /// The verdict in a word or a few.
    pub fn label(self) -> &'static str {
        match self {
            Self::Higher => "higher",
            Self::Lower => "lower",
            Self::NotToldApart => "not told apart yet",
            Self::TooFewTrials => "too few trials",
        }
    }

    /// What it means, in a sentence; `with_days` where the athlete's ups and
    /// downs from day to day are in the interval.
    pub fn meaning(self, with_days: bool) -> &'static str {
        match (self, with_days) {
            (Self::Higher, false) => "The jump is higher than trial noise and film error explain.",
            (Self::Higher, true) => {
                "The jump is higher than the usual ups and downs, trial noise and film error \
                 explain."
            }
            (Self::Lower, false) => "The jump is lower than trial noise and film error explain.",
            (Self::Lower, true) => {
                "The jump is lower than the usual ups and downs, trial noise and film error \
                 explain."
            }
            (Self::NotToldApart, false) => {
                "The difference is no larger than trial noise and film error can make. That does \
                 not prove that nothing changed."
            }
            (Self::NotToldApart, true) => {
                "The difference is no larger than the usual ups and downs, trial noise and film \
                 error can make. That does not prove that nothing changed."
            }
            (Self::TooFewTrials, _) => {
                "With so few trials nobody can say how far this athlete's jumps scatter. Film at \
                 least two, better three or more, on each day."
            }
        }
    }
}

/// A chance in words: "97 in 100", never 0 or 100.
pub fn chance_in_words(p: f64) -> String {
    if p.is_nan() {
        "unknown".to_owned()
    } else if p < 0.01 {
        "less than 1 in 100".to_owned()
    } else if p > 0.99 {
        "more than 99 in 100".to_owned()
    } else {
        format!("{:.0} in 100", 100.0 * p)
    }
}

/// Something to beware of when reading a change.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum ChangeWarning {
    /// A session has fewer than three trials that count.
    FewTrials {
        /// Trials in the smallest session.
        fewest: usize,
    },
    /// How the athlete varies from day to day is not in the interval.
    DayToDayLeftOut,
    /// A day-to-day variation was taken from very few baseline sessions.
    FewBaselineSessions {
        /// How many there were.
        sessions: usize,
    },
    /// A single trial's scatter was borrowed from the other session.
    ScatterBorrowed,
    /// The baseline lay far from the usual, and a part of the change is a
    /// return to it.
    RegressionToTheMean {
        /// The return to be expected without any true change.
        expected: Metres,
    },
    /// Trials were left out because of their flags.
    TrialsLeftOut {
        /// How many.
        count: usize,
    },
    /// A trial of improbable height counts.
    ImprobableHeight,
    /// The smallest worthwhile change is a default, not this squad's.
    DefaultSmallest,
}

impl ChangeWarning {
    /// The warning's stable name.
    pub fn code(&self) -> &'static str {
        match self {
            Self::FewTrials { .. } => "few_trials",
            Self::DayToDayLeftOut => "day_to_day_left_out",
            Self::FewBaselineSessions { .. } => "few_baseline_sessions",
            Self::ScatterBorrowed => "scatter_borrowed",
            Self::RegressionToTheMean { .. } => "regression_to_the_mean",
            Self::TrialsLeftOut { .. } => "trials_left_out",
            Self::ImprobableHeight => "improbable_height",
            Self::DefaultSmallest => "default_smallest",
        }
    }

    /// What it means and what to do; `length` writes a length for people.
    pub fn text(&self, length: &dyn Fn(Metres) -> String) -> String {
        match self {
            Self::FewTrials { fewest } => format!(
                "Small numbers: one session has {fewest} trial(s). Three or more a day narrow \
                 the interval a good deal."
            ),
            Self::DayToDayLeftOut => "The interval holds trial noise and film error of these \
                days, not the athlete's ups and downs from day to day. A baseline of three or \
                more sessions adds them. If the baseline day was picked because it was unusually \
                good or bad, part of the change is only a return to the usual."
                .to_owned(),
            Self::FewBaselineSessions { sessions } => format!(
                "The ups and downs from day to day come from {sessions} sessions only, which \
                 makes the interval wide. More baseline sessions narrow it."
            ),
            Self::ScatterBorrowed => "A session has a single trial; its scatter was taken from \
                the other sessions."
                .to_owned(),
            Self::RegressionToTheMean { expected } => format!(
                "The baseline was far from the usual. A return of about {} is to be expected \
                 without any true change (regression to the mean).",
                length(expected.abs())
            ),
            Self::TrialsLeftOut { count } => {
                format!("{count} trial(s) were left out because of their flags.")
            }
            Self::ImprobableHeight => {
                "A trial of improbable height counts. Look at its clip.".to_owned()
            }
            Self::DefaultSmallest => "The smallest worthwhile change is a common default. With \
                ten or more athletes in the log it comes from your own squad."
                .to_owned(),
        }
    }
}

/// Written as `{code, text}`, lengths in centimetres.
impl Serialize for ChangeWarning {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let text = self.text(&|m| format!("{:.1} cm", m.centimetres()));
        let mut fields = serializer.serialize_struct("ChangeWarning", 2)?;
        fields.serialize_field("code", self.code())?;
        fields.serialize_field("text", &text)?;
        fields.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_squad_must_be_large_enough_for_its_spread() {
        let means: Vec<Metres> = (0..10)
            .map(|i| Metres::from_metres(0.30 + 0.01 * f64::from(i)))
            .collect();
        assert_eq!(SmallestWorthwhile::from_squad(&means[..9]), None);
        let smallest = SmallestWorthwhile::from_squad(&means).unwrap();
        // SD of 0 to 9 is √(55/6).
        let expected = 0.2 * 0.01 * (55f64 / 6.0).sqrt();
        assert!((smallest.size(Metres::from_metres(0.5)).metres() - expected).abs() < 1e-12);
        assert_eq!(SmallestWorthwhile::from_squad(&[means[0]; 12]), None);
    }

    #[test]
    fn chances_are_never_certain() {
        assert_eq!(chance_in_words(0.9999), "more than 99 in 100");
        assert_eq!(chance_in_words(0.0), "less than 1 in 100");
        assert_eq!(chance_in_words(0.972), "97 in 100");
        assert_eq!(chance_in_words(f64::NAN), "unknown");
    }

    #[test]
    fn a_worthwhile_change_is_above_nothing() {
        let stated = |m: f64| SmallestWorthwhile::Stated(Metres::from_metres(m)).checked();
        assert!(stated(0.01).is_ok() && SmallestWorthwhile::Default.checked().is_ok());
        assert!(stated(0.0).is_err() && stated(f64::NAN).is_err());
    }
}
