//! From the log to the coach's views: which sessions a question is about.
//!
//! The commands and the local page both ask here, so they show the same numbers.

mod change;
mod companion;
mod plan;
mod sheet;
mod squad;

use jiff::ToSpan;
use jiff::civil::Date;

use super::failure;
use crate::log::{Athlete, AthleteId, DaySession, JumpKind, LoadFilter, Log, LogError, TrialQuery};
use crate::report::model::Failure;
use crate::report::views::trend::TrendView;
use crate::report::views::trials::{DayTrial, TrialsView};
use crate::report::views::{Day, Subject, list};
use crate::trials::TrialsError;
use crate::units::Metres;

pub use change::{ChangeQuestion, change};
pub use companion::companion;
pub use plan::{PlanQuestion, plan};
pub use sheet::sheet;
pub use squad::squad;

/// How far back a baseline reaches where none is stated, in days; four months hold a
/// training block. Our own choice.
pub const RECENT_DAYS: i64 = 120;
/// Fewest and most sessions of such a baseline, where there are so many: three tell
/// of day-to-day variation at all, six well enough that no warning is needed.
pub const RECENT_SESSIONS: (usize, usize) = (3, 6);

/// What sort of jumps; heights of different sorts are not compared.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sort {
    /// Kind of jump.
    pub kind: JumpKind,
    /// Load beyond the body in kg; 0 without.
    pub load_kg: f64,
}

impl Sort {
    /// Its subject, for one athlete or all.
    pub fn subject(&self, athlete: Option<&str>) -> Subject {
        Subject {
            athlete: athlete.map(str::to_owned),
            kind: self.kind.code().to_owned(),
            kind_words: self.kind.label().to_owned(),
            load_kg: self.load_kg,
        }
    }

    fn query(&self, athlete: Option<AthleteId>) -> TrialQuery {
        let load = if self.load_kg > 0.0 {
            LoadFilter::Exactly(self.load_kg)
        } else {
            LoadFilter::None
        };
        TrialQuery {
            athlete,
            ..TrialQuery::default()
        }
        .kind(self.kind)
        .load(load)
    }

    fn words(&self) -> String {
        let load = if self.load_kg > 0.0 {
            format!("with {} kg", self.load_kg)
        } else {
            "without load".to_owned()
        };
        format!("{} {load}", self.kind.label())
    }
}

/// Days from one to another, both included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DayRange {
    /// First day.
    pub from: Date,
    /// Last day.
    pub to: Date,
}

impl DayRange {
    fn holds(&self, date: Date) -> bool {
        (self.from..=self.to).contains(&date)
    }
}

/// The trials of one day; the last one if no date is given.
///
/// # Errors
/// An unknown athlete, a day without trials, a log that cannot be read.
pub fn trials(
    log: &Log,
    name: &str,
    sort: Sort,
    date: Option<Date>,
) -> Result<TrialsView, Failure> {
    let athlete = log.athlete(name).map_err(log_failure)?;
    let query = sort.query(Some(athlete.id));
    let date = match date {
        Some(date) => date,
        None => log
            .latest_day(&query)
            .map_err(log_failure)?
            .ok_or_else(|| no_sessions(log, &athlete, sort))?,
    };
    let found = log
        .trials(&query.between(Some(date), Some(date)))
        .map_err(log_failure)?;
    if found.is_empty() {
        let days = days(log, &athlete, sort)?;
        return Err(no_session_on(log, &athlete, sort, date, &days));
    }
    let trials: Vec<DayTrial> = found
        .iter()
        .map(|trial| DayTrial {
            id: trial.id.0,
            height: trial.height(),
            interval95: trial.record.height.interval95.map(list),
            advice: trial
                .record
                .flags
                .iter()
                .map(|flag| (flag.code.clone(), flag.advice.clone()))
                .collect(),
        })
        .collect();
    TrialsView::of(sort.subject(Some(&athlete.name)), date, &trials).map_err(trials_failure)
}

/// Where an athlete's sessions are going, within `range` or over all days.
///
/// # Errors
/// An unknown athlete, fewer than two days with a usable trial.
pub fn trend(
    log: &Log,
    name: &str,
    sort: Sort,
    range: Option<DayRange>,
) -> Result<TrendView, Failure> {
    let athlete = log.athlete(name).map_err(log_failure)?;
    let mut days = days(log, &athlete, sort)?;
    if days.is_empty() {
        return Err(no_sessions(log, &athlete, sort));
    }
    if let Some(range) = range {
        days.retain(|day| range.holds(day.date));
    }
    let usable = days.iter().filter(|day| day.mean().is_some()).count();
    if usable < 2 {
        return Err(Failure {
            message: format!(
                "{} has {usable} day(s) with a usable {}; a trend takes two at least",
                athlete.name,
                sort.words()
            ),
            hint: "film another day, or name a longer time with --from and --to".to_owned(),
        });
    }
    TrendView::of(sort.subject(Some(&athlete.name)), &days).map_err(trials_failure)
}

/// All sessions of one athlete by date.
fn days(log: &Log, athlete: &Athlete, sort: Sort) -> Result<Vec<Day>, Failure> {
    let sessions = log
        .sessions(&sort.query(Some(athlete.id)))
        .map_err(log_failure)?;
    Ok(sessions.into_iter().map(day).collect())
}

fn day(session: DaySession) -> Day {
    Day {
        date: session.date,
        trials: session.trials,
    }
}

/// The sessions that make a day's baseline where none is stated: the first half of
/// those in the time before, so that a steady rise is not taken for scatter.
fn recent(days: &[Day], before: Date) -> Vec<Day> {
    let first = back(before, RECENT_DAYS);
    let mut found: Vec<Day> = days
        .iter()
        .filter(|day| day.date < before && day.date >= first && day.mean().is_some())
        .cloned()
        .collect();
    let (fewest, most) = RECENT_SESSIONS;
    found.truncate((found.len() / 2).clamp(fewest, most));
    found
}

/// So many days before a date; the date itself at the calendar's beginning.
fn back(date: Date, count: i64) -> Date {
    date.checked_sub(count.days()).unwrap_or(date)
}

/// Mean height of every athlete over the time that a baseline may reach back from a
/// day: what the squad is now, and no more of a large log than that.
fn squad_means(log: &Log, sort: Sort, to: Date) -> Result<Vec<Metres>, Failure> {
    let query = sort
        .query(None)
        .between(Some(back(to, RECENT_DAYS)), Some(to));
    let sessions = log.sessions(&query).map_err(log_failure)?;
    let means = sessions
        .chunk_by(|a, b| a.athlete == b.athlete)
        .map(|group| {
            let means: Vec<Metres> = group
                .iter()
                .cloned()
                .map(day)
                .filter_map(|day| day.mean())
                .collect();
            mean(&means)
        });
    Ok(means.flatten().collect())
}

/// The mean; none of nothing.
fn mean(values: &[Metres]) -> Option<Metres> {
    let sum: f64 = values.iter().map(|value| value.metres()).sum();
    (!values.is_empty()).then(|| Metres::from_metres(sum / values.len() as f64))
}

/// A log's error in words.
pub fn log_failure(error: LogError) -> Failure {
    failure(error)
}

/// An error of the statistics in words.
pub fn trials_failure(error: TrialsError) -> Failure {
    Failure {
        message: error.to_string(),
        hint: error.remedy().to_owned(),
    }
}

/// What it means that an athlete has no session of a sort.
fn no_sessions(log: &Log, athlete: &Athlete, sort: Sort) -> Failure {
    let others = log.trials(&TrialQuery::of(athlete.id)).unwrap_or_default();
    let mut sorts: Vec<String> = Vec::new();
    for trial in &others {
        let load = match trial.record.load_kg {
            load if load > 0.0 => format!(" --load-kg {load}"),
            _ => String::new(),
        };
        let option = format!("--kind {}{load}", trial.record.kind.code());
        if !sorts.contains(&option) && sorts.len() < 4 {
            sorts.push(option);
        }
    }
    Failure {
        message: format!("{} has no {} in the log", athlete.name, sort.words()),
        hint: if sorts.is_empty() {
            format!("measure clips and add them for {}", athlete.name)
        } else {
            format!("there are others: {}", sorts.join("; "))
        },
    }
}

/// What it means that nothing was jumped on a day.
fn no_session_on(log: &Log, athlete: &Athlete, sort: Sort, date: Date, days: &[Day]) -> Failure {
    if days.is_empty() {
        return no_sessions(log, athlete, sort);
    }
    let mut near: Vec<Date> = days.iter().map(|day| day.date).collect();
    near.sort_by_key(|other| (*other - date).get_days().abs());
    near.truncate(3);
    near.sort();
    let near: Vec<String> = near.iter().map(Date::to_string).collect();
    Failure {
        message: format!("{} has no {} on {date}", athlete.name, sort.words()),
        hint: format!("the nearest days are {}", near.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::trials::TrialHeight;
    use crate::units::StandardUncertainty;

    /// Weekly days with one trial each, the last one week before 2 March.
    fn weeks(count: i64) -> Vec<Day> {
        let day = |week: i64| Day {
            date: back(date(2026, 3, 2), 7 * week),
            trials: vec![TrialHeight::new(
                1,
                Metres::from_metres(0.3),
                StandardUncertainty::default(),
            )],
        };
        (1..=count).rev().map(day).collect()
    }

    #[test]
    fn a_baseline_is_the_first_half_of_the_time_before() {
        let taken = |count: i64| recent(&weeks(count), date(2026, 3, 2));
        let counts: Vec<usize> = (0..=14).map(|n| taken(n).len()).collect();
        assert_eq!(counts, [0, 1, 2, 3, 3, 3, 3, 3, 4, 4, 5, 5, 6, 6, 6]);
        assert_eq!(taken(8)[0].date, date(2026, 1, 5));
        // Seventeen weeks are 119 days; what is older does not count.
        assert_eq!(taken(40)[0].date, back(date(2026, 3, 2), 7 * 17));
    }

    #[test]
    fn days_without_a_usable_trial_make_no_baseline() {
        let mut days = weeks(3);
        days[0].trials[0].doubts = vec!["landing_beside".to_owned()];
        assert_eq!(recent(&days, date(2026, 3, 2)).len(), 2);
        // The day itself and later ones neither.
        assert!(recent(&days, days[0].date).is_empty());
    }
}
