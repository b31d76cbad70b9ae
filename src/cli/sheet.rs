//! `sheet`: one page to hand out.

use jiff::ZonedDateTime;

use super::args::Sheet;
use super::write::{self, Existing};
use super::{Outcome, log_file, output};
use crate::report::model::Failure;
use crate::workflow::{failure, views};

/// Writes an athlete's page.
///
/// # Errors
/// When the log or the athlete is not there, or the page cannot be written.
pub(super) fn run(call: &Sheet) -> Result<Outcome, Failure> {
    let existing = if call.force {
        Existing::Replace
    } else {
        Existing::OursOnly
    };
    write::check(&call.out, existing)?;
    let log = log_file::read(&call.log)?;
    let made = ZonedDateTime::now().date();
    let sheet = views::sheet(&log, &call.athlete, call.sort, &call.question, made)?;
    let page = sheet.html(call.units).map_err(failure)?;
    write::text(&call.out, &page, existing)?;
    output::say(&format!("Sheet: {}\n", call.out.display()))?;
    Ok(Outcome::Done)
}
