//! What can be wrong with loads and loaded jumps.

use thiserror::Error;

/// Input that cannot be: what, where in the set, remedy.
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum LoadError {
    /// A number outside what people, bars and jumps allow.
    #[error("{what} of {value} {unit} is outside {lo} to {hi}")]
    Impossible {
        /// Which number.
        what: &'static str,
        /// Its value.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// Least possible.
        lo: f64,
        /// Greatest possible.
        hi: f64,
    },
    /// Repetitions for which the formulas were not made.
    #[error("a maximum cannot be estimated from {repetitions} repetitions")]
    Repetitions {
        /// Repetitions done.
        repetitions: u32,
    },
    /// The same load, or drop height, twice in a series.
    #[error("{value} {unit} appears twice")]
    Twice {
        /// The value.
        value: f64,
        /// Its unit.
        unit: &'static str,
    },
    /// A load or drop height without a jump.
    #[error("no jump at {value} {unit}")]
    NoJump {
        /// The value.
        value: f64,
        /// Its unit.
        unit: &'static str,
    },
    /// Nothing to look at.
    #[error("the series holds no load")]
    Empty,
}

impl LoadError {
    /// What the user can do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Impossible { .. } => {
                "check the number and its unit: kilograms, metres and seconds"
            }
            Self::Repetitions { .. } => {
                "test with a load that allows 1 to 10 repetitions, \
                 five or fewer being more trustworthy"
            }
            Self::Twice { .. } => "put the jumps at one load, or drop height, into one set",
            Self::NoJump { .. } => "leave that load, or drop height, out, or add its jumps",
            Self::Empty => "add the jumps without load, then the loaded ones",
        }
    }
}

/// `value` if it lies within `lo` to `hi`; no number does not.
pub(super) fn within(
    what: &'static str,
    value: f64,
    unit: &'static str,
    lo: f64,
    hi: f64,
) -> Result<f64, LoadError> {
    if (lo..=hi).contains(&value) {
        Ok(value)
    } else {
        Err(LoadError::Impossible {
            what,
            value,
            unit,
            lo,
            hi,
        })
    }
}
