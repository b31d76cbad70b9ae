//! `trend`: where an athlete's sessions are going.

use super::args::Trend;
use super::{Outcome, log_file, show};
use crate::report::model::Failure;
use crate::trials::trend::Direction;
use crate::workflow::views;

/// Shows a trend over sessions.
///
/// # Errors
/// When the log or the athlete is not there, or something cannot be written.
pub(super) fn run(call: &Trend) -> Result<Outcome, Failure> {
    let (log, common) = (log_file::read(&call.common.log)?, &call.common);
    let view = views::trend(&log, &call.athlete, common.sort, call.range)?;
    let plot = || Ok(view.plot(common.units));
    show::view(common, &view, |options| view.text(options), plot)?;
    Ok(Outcome::usable(view.direction != Direction::TooFewDays))
}
