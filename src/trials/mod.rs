//! Several jumps: repeatability, change, agreement, load.
//!
//! One height is not the coach's answer. These modules say how far trials of
//! one day scatter and how much of that is the film's doing, whether a change
//! is more than scatter, and what to film in order to see one.

pub mod error;
pub mod student;
pub mod trial;

pub mod components;
pub mod repeat;

pub mod change;
mod noise;
pub mod verdict;

pub mod reliability;
pub mod squad;
pub mod trend;

pub mod companion;
pub mod plan;

pub use change::{Change, ChangeOptions, DayToDay, Reference, SharedErrors, compare};
pub use error::TrialsError;
pub use repeat::{DaySummary, TypicalError, summarise, typical_error};
pub use trial::{Session, TrialHeight};
pub use verdict::{ChangeWarning, SmallestWorthwhile, Verdict};

pub mod load;
pub mod mat;
