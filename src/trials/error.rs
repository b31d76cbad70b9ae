//! What can be wrong with the numbers handed to this stage.

use thiserror::Error;

use crate::units::Metres;

/// Trials that cannot be evaluated: what, where, remedy.
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum TrialsError {
    /// Every trial was left out, or there was none.
    #[error("no usable trial{}", day.map(|d| format!(" on day {d}")).unwrap_or_default())]
    NoUsableTrials {
        /// The session's day, if known.
        day: Option<f64>,
    },
    /// A height or its uncertainty is not a number, or negative.
    #[error("trial {order} has the height {} m and the film uncertainty {} m",
        height.metres(), film_u.metres())]
    BadTrial {
        /// Position of the trial in its session.
        order: usize,
        /// The height.
        height: Metres,
        /// Its uncertainty.
        film_u: Metres,
    },
    /// A value of a table or a series is not a number.
    #[error("{what} number {position} is {value}")]
    BadValue {
        /// What the value is.
        what: &'static str,
        /// Where it stands, from 0.
        position: usize,
        /// The value.
        value: f64,
    },
    /// Rows of a table differ in length.
    #[error("row {row} has {found} values, the first row has {expected}")]
    Ragged {
        /// The offending row, from 0.
        row: usize,
        /// Its length.
        found: usize,
        /// Length of the first row.
        expected: usize,
    },
    /// Too few values for the question.
    #[error("{what}: {found} given, at least {needed} needed")]
    TooFew {
        /// What is counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many it takes.
        needed: usize,
    },
    /// All values are the same, so nothing can be told apart.
    #[error("all values are equal")]
    NoVariation,
    /// A setting is out of range.
    #[error("{what} of {value} cannot be used")]
    BadSetting {
        /// Which setting.
        what: &'static str,
        /// Its value.
        value: f64,
    },
}

impl TrialsError {
    /// What the user can do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::NoUsableTrials { .. } => {
                "look at the flags of the trials left out, or film the session again"
            }
            Self::BadTrial { .. } => "measure the clip again or delete the trial",
            Self::BadValue { .. } => "correct or remove the value",
            Self::Ragged { .. } => "give every athlete the same number of trials",
            Self::TooFew { .. } => "add more trials or sessions",
            Self::NoVariation => "check that the values were not copied from one another",
            Self::BadSetting { .. } => "state a positive number, a power between 0 and 1",
        }
    }
}
