//! Jump height beside another measure of the same athlete.

use super::{Sort, days, log_failure, no_sessions, trials_failure};
use crate::log::{Companion, Log};
use crate::report::model::Failure;
use crate::report::views::companion::CompanionView;
use crate::report::views::dates;
use crate::trials::companion::Series;
use crate::trials::trend::DatedValue;

/// Puts jump height and a measure side by side; `typical_error` is the measure's, if
/// it is known from elsewhere.
///
/// # Errors
/// An unknown athlete or measure, a log that cannot be read.
pub fn companion(
    log: &Log,
    name: &str,
    measure: &str,
    sort: Sort,
    typical_error: Option<f64>,
) -> Result<CompanionView, Failure> {
    let athlete = log.athlete(name).map_err(log_failure)?;
    let days = days(log, &athlete, sort)?;
    let heights: Vec<DatedValue> = days
        .iter()
        .flat_map(|day| {
            let number = dates::number(day.date);
            day.heights().into_iter().map(move |height| DatedValue {
                day: number,
                value: height.metres(),
            })
        })
        .collect();
    if heights.is_empty() {
        return Err(no_sessions(log, &athlete, sort));
    }
    let all = log
        .companions(Some(athlete.id), None)
        .map_err(log_failure)?;
    let wanted: Vec<&Companion> = all
        .iter()
        .filter(|value| value.measure.to_lowercase() == measure.trim().to_lowercase())
        .collect();
    let Some(first) = wanted.first() else {
        return Err(unknown_measure(&athlete.name, measure, &all));
    };
    let values: Vec<DatedValue> = wanted.iter().map(|value| value.dated()).collect();
    CompanionView::of(
        sort.subject(Some(&athlete.name)),
        Series {
            values: &heights,
            typical_error: None,
        },
        (&first.measure, &first.unit),
        Series {
            values: &values,
            typical_error,
        },
    )
    .map_err(trials_failure)
}

fn unknown_measure(name: &str, measure: &str, all: &[Companion]) -> Failure {
    let mut known: Vec<&str> = all.iter().map(|value| value.measure.as_str()).collect();
    known.sort_unstable();
    known.dedup();
    Failure {
        message: format!("{name} has no values of \"{measure}\" in the log"),
        hint: if known.is_empty() {
            "enter some first; `underfoot log --help` says how".to_owned()
        } else {
            format!("there are: {}", known.join(", "))
        },
    }
}
