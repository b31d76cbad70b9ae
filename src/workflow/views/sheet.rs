//! What stands on an athlete's page.

use jiff::civil::Date;

use super::{ChangeQuestion, Sort, change, trend, trials};
use crate::log::Log;
use crate::report::model::Failure;
use crate::report::sheet::Sheet;

/// Gathers an athlete's page: the day's trials, the change, the trend. Where there is
/// no baseline or no second day yet, the page says so.
///
/// # Errors
/// An unknown athlete, a day without trials, a log that cannot be read.
pub fn sheet(
    log: &Log,
    name: &str,
    sort: Sort,
    question: &ChangeQuestion,
    made: Date,
) -> Result<Sheet, Failure> {
    let trials = trials(log, name, sort, question.to)?;
    let question = ChangeQuestion {
        to: Some(trials.date),
        ..question.clone()
    };
    let change = change(log, name, sort, &question);
    Ok(Sheet {
        made,
        no_change: change.as_ref().err().map(|failure| failure.message.clone()),
        change: change.ok(),
        trend: trend(log, name, sort, None).ok(),
        trials,
    })
}
