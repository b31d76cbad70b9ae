//! `change`: is it really higher?

use super::args::Change;
use super::{Outcome, log_file, show};
use crate::report::model::Failure;
use crate::trials::Verdict;
use crate::workflow::views;

/// Compares a session with a baseline.
///
/// # Errors
/// When the log, the athlete or the days are not there, or something cannot be written.
pub(super) fn run(call: &Change) -> Result<Outcome, Failure> {
    let (log, common) = (log_file::read(&call.common.log)?, &call.common);
    let view = views::change(&log, &call.athlete, common.sort, &call.question)?;
    let plot = || Ok(view.plot(common.units));
    show::view(common, &view, |options| view.text(options), plot)?;
    let is_usable = view.figures.verdict != Verdict::TooFewTrials;
    Ok(Outcome::usable(is_usable))
}
