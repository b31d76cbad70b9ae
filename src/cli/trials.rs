//! `trials`: the trials of one day.

use super::args::Trials;
use super::{Outcome, log_file, show};
use crate::report::model::Failure;
use crate::workflow::views;

/// Shows a day's trials.
///
/// # Errors
/// When the log, the athlete or the day is not there, or something cannot be written.
pub(super) fn run(call: &Trials) -> Result<Outcome, Failure> {
    let (log, common) = (log_file::read(&call.common.log)?, &call.common);
    let view = views::trials(&log, &call.athlete, common.sort, call.date)?;
    let plot = || Ok(view.plot(common.units));
    show::view(common, &view, |options| view.text(options), plot)?;
    Ok(Outcome::usable(view.is_usable()))
}
