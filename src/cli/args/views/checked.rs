//! What the views need to know, checked.

use std::path::PathBuf;

use jiff::civil::Date;

use crate::report::terminal::Units;
use crate::workflow::views::{ChangeQuestion, DayRange, PlanQuestion, Sort};

/// What every view takes, once checked.
pub(in crate::cli) struct Common {
    pub(in crate::cli) sort: Sort,
    pub(in crate::cli) log: PathBuf,
    pub(in crate::cli) json: bool,
    pub(in crate::cli) plot: Option<(PathBuf, PlotFormat)>,
    pub(in crate::cli) units: Units,
}

/// How a plot is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::cli) enum PlotFormat {
    Svg,
    Png,
}

/// Everything `trials` needs to know.
pub(in crate::cli) struct Trials {
    pub(in crate::cli) athlete: String,
    pub(in crate::cli) date: Option<Date>,
    pub(in crate::cli) common: Common,
}

/// Everything `change` needs to know.
pub(in crate::cli) struct Change {
    pub(in crate::cli) athlete: String,
    pub(in crate::cli) question: ChangeQuestion,
    pub(in crate::cli) common: Common,
}

/// Everything `squad` needs to know.
pub(in crate::cli) struct Squad {
    pub(in crate::cli) question: ChangeQuestion,
    pub(in crate::cli) common: Common,
}

/// Everything `trend` needs to know.
pub(in crate::cli) struct Trend {
    pub(in crate::cli) athlete: String,
    pub(in crate::cli) range: Option<DayRange>,
    pub(in crate::cli) common: Common,
}

/// Everything `plan` needs to know.
pub(in crate::cli) struct Plan {
    pub(in crate::cli) question: PlanQuestion,
    pub(in crate::cli) common: Common,
}

/// Everything `companion` needs to know.
pub(in crate::cli) struct Companion {
    pub(in crate::cli) athlete: String,
    pub(in crate::cli) measure: String,
    pub(in crate::cli) typical_error: Option<f64>,
    pub(in crate::cli) common: Common,
}

/// Everything `sheet` needs to know.
pub(in crate::cli) struct Sheet {
    pub(in crate::cli) athlete: String,
    pub(in crate::cli) out: PathBuf,
    pub(in crate::cli) force: bool,
    pub(in crate::cli) question: ChangeQuestion,
    pub(in crate::cli) sort: Sort,
    pub(in crate::cli) log: PathBuf,
    pub(in crate::cli) units: Units,
}
