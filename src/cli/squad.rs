//! `squad`: who rose, who fell, who has too few trials.

use super::args::Squad;
use super::{Outcome, log_file, show};
use crate::report::model::Failure;
use crate::workflow::views;

/// Judges everybody in the log.
///
/// # Errors
/// When the log is not there or empty, or something cannot be written.
pub(super) fn run(call: &Squad) -> Result<Outcome, Failure> {
    let (log, common) = (log_file::read(&call.common.log)?, &call.common);
    let view = views::squad(&log, common.sort, &call.question)?;
    let plot = || Ok(view.plot(common.units));
    show::view(common, &view, |options| view.text(options), plot)?;
    Ok(Outcome::usable(view.is_usable()))
}
