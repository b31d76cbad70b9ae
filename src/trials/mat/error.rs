//! What can be wrong with a set of mat readings.

use thiserror::Error;

/// Readings that cannot be compared: what, which jump, remedy.
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum MatError {
    /// Too few jumps for the statistic asked for.
    #[error("{got} paired jumps, {needed} needed")]
    TooFew {
        /// Least number of jumps.
        needed: usize,
        /// Jumps at hand.
        got: usize,
    },
    /// A film time, bound or uncertainty that cannot belong to a jump.
    #[error(
        "the film's flight time of jump {order} is {time_s} s with bounds {lo_s} to {hi_s} s \
         and standard uncertainty {u_s} s"
    )]
    BadFilm {
        /// The jump's place in the set.
        order: u32,
        /// Flight time in seconds.
        time_s: f64,
        /// Lower bound in seconds.
        lo_s: f64,
        /// Upper bound in seconds.
        hi_s: f64,
        /// Standard uncertainty in seconds.
        u_s: f64,
    },
    /// A mat reading that cannot belong to a jump.
    #[error("the mat's reading of jump {order} implies a flight of {time_s} s")]
    BadReading {
        /// The jump's place in the set.
        order: u32,
        /// Flight time it implies, in seconds.
        time_s: f64,
    },
    /// A mat's resolution, gravity or added height that is no usable number.
    #[error("the mat's {what} of jump {order} is {value}")]
    BadScale {
        /// The jump's place in the set.
        order: u32,
        /// Which number.
        what: &'static str,
        /// Its value in seconds, metres or m/s².
        value: f64,
    },
    /// All jumps equally high: no slope can be fitted.
    #[error("the jumps do not differ enough in height to fit a line")]
    NoSpread,
    /// A setting of the analysis that makes no sense.
    #[error("the {what} is {value}")]
    BadSetting {
        /// Which setting.
        what: &'static str,
        /// Its value.
        value: f64,
    },
    /// A reading outside the range in which the correction was found.
    #[error("a mat time of {time_s} s is outside {lo_s} to {hi_s} s")]
    OutsideCorrection {
        /// The reading, in seconds.
        time_s: f64,
        /// Shortest mat time of the set, in seconds.
        lo_s: f64,
        /// Longest mat time of the set, in seconds.
        hi_s: f64,
    },
}

impl MatError {
    /// What the user can do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::TooFew { .. } => "film more jumps on the mat",
            Self::BadFilm { .. } => "measure this clip again, or leave the jump out",
            Self::BadReading { .. } => {
                "check the typed reading and its unit: milliseconds for times, \
                 and the formula for heights"
            }
            Self::BadScale { .. } => {
                "state the smallest step the mat shows (1 ms, or 0.1 cm), above 0, \
                 and gravity in m/s², such as 9.81"
            }
            Self::NoSpread => "film low and high jumps on the mat, not only best ones",
            Self::BadSetting { .. } => "state a positive number",
            Self::OutsideCorrection { .. } => {
                "keep the reading as it is, or film jumps of that height on the mat too"
            }
        }
    }
}
