//! `companion`: jump height beside another measure.

use super::args::Companion;
use super::{Outcome, log_file, show};
use crate::report::model::Failure;
use crate::workflow::views;

/// Shows two measures side by side.
///
/// # Errors
/// When the log, the athlete or the measure is not there, or something cannot be written.
pub(super) fn run(call: &Companion) -> Result<Outcome, Failure> {
    let (log, common) = (log_file::read(&call.common.log)?, &call.common);
    let view = views::companion(
        &log,
        &call.athlete,
        &call.measure,
        common.sort,
        call.typical_error,
    )?;
    let plot = || Ok(view.plot(common.units));
    show::view(common, &view, |options| view.text(options), plot)?;
    Ok(Outcome::Done)
}
