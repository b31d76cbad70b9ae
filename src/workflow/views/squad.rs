//! Everybody of a squad, each with a baseline and a later session.

use jiff::civil::Date;

use super::{ChangeQuestion, RECENT_DAYS, Sort, back, day, log_failure, trials_failure};
use crate::log::Log;
use crate::report::model::Failure;
use crate::report::views::Day;
use crate::report::views::squad::{SquadMember, SquadView};

/// A squad is seldom tested in one evening: sessions up to so many days before the
/// later day belong to it. Our own choice.
pub const TEST_DAYS: i64 = 14;

/// Judges every athlete in the log.
///
/// # Errors
/// A log that cannot be read, or in which nobody jumped so.
pub fn squad(log: &Log, sort: Sort, question: &ChangeQuestion) -> Result<SquadView, Failure> {
    let to = match question.to {
        Some(date) => date,
        None => log
            .latest_day(&sort.query(None))
            .map_err(log_failure)?
            .ok_or_else(|| nobody(sort, None))?,
    };
    let first = question.from.iter().map(|range| range.from).min();
    let from = first
        .unwrap_or_else(|| back(to, TEST_DAYS + RECENT_DAYS))
        .min(back(to, TEST_DAYS));
    let query = sort.query(None).between(Some(from), Some(to));
    let squad = log.squad(&query).map_err(log_failure)?;
    let members: Vec<SquadMember> = squad
        .into_iter()
        .filter(|of| !of.sessions.is_empty())
        .map(|of| {
            let days: Vec<Day> = of.sessions.into_iter().map(day).collect();
            member(of.athlete.name, &days, to, question)
        })
        .collect();
    if members.is_empty() {
        return Err(nobody(sort, Some(to)));
    }
    SquadView::of(sort.subject(None), &members, &question.options()?).map_err(trials_failure)
}

fn member(name: String, days: &[Day], to: Date, question: &ChangeQuestion) -> SquadMember {
    let tested = |day: &&Day| day.date <= to && day.date >= back(to, TEST_DAYS);
    let later = days.iter().rev().find(tested).cloned();
    let before = later.as_ref().map_or(to, |day| day.date);
    SquadMember {
        name,
        baseline: question.baseline(days, before),
        later,
    }
}

fn nobody(sort: Sort, to: Option<Date>) -> Failure {
    let when = to.map_or(String::new(), |to| format!(" in the time up to {to}"));
    Failure {
        message: format!("nobody has a {} in the log{when}", sort.words()),
        hint: "choose another --kind or --load-kg, or another time with --to and --from".to_owned(),
    }
}
