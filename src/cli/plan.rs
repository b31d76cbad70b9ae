//! `plan`: what to film in order to see a change.

use super::args::Plan;
use super::{Outcome, log_file, output, show};
use crate::report::model::Failure;
use crate::workflow::views;

/// Plans; without a log it goes by defaults.
///
/// # Errors
/// When a setting is out of range, a name is unknown, or something cannot be written.
pub(super) fn run(call: &Plan) -> Result<Outcome, Failure> {
    let common = &call.common;
    let log = match common.log.exists() {
        true => Some(log_file::read(&common.log)?),
        false => {
            let path = common.log.display();
            output::murmur(&format!(
                "note: there is no log at {path}; common defaults are used\n"
            ));
            None
        }
    };
    let view = views::plan(log.as_ref(), common.sort, &call.question)?;
    let plot = || view.plot(common.units).map_err(views::trials_failure);
    show::view(common, &view, |options| view.text(options), plot)?;
    Ok(Outcome::Done)
}
