//! Which sessions are compared, and with what knowledge from the log.

use jiff::civil::Date;

use super::{
    DayRange, Sort, days, log_failure, mean, no_session_on, no_sessions, recent, squad_means,
    trials_failure,
};
use crate::log::{Athlete, Log};
use crate::report::model::Failure;
use crate::report::views::Day;
use crate::report::views::change::ChangeView;
use crate::trials::{
    ChangeOptions, DayToDay, Reference, Session, SharedErrors, SmallestWorthwhile, TypicalError,
    Verdict, typical_error,
};
use crate::units::Metres;

/// Fewest sessions that tell an athlete's usual height. Our own choice.
const SESSIONS_FOR_USUAL: usize = 6;
/// Fewest athletes that tell a squad's.
const ATHLETES_FOR_USUAL: usize = 10;
/// Fewest degrees of freedom from which the log lends a typical error.
const DOF_TO_LEND: f64 = 5.0;

/// What is to be compared.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ChangeQuestion {
    /// Baseline days; empty for the sessions before the later one.
    pub from: Vec<DayRange>,
    /// The later day; `None` for the last session.
    pub to: Option<Date>,
    /// Smallest worthwhile change, if stated.
    pub smallest: Option<Metres>,
    /// Day-to-day standard deviation, if known.
    pub day_sd: Option<Metres>,
    /// Whether the later session was filmed with another phone or at another place.
    pub another_phone: bool,
}

impl ChangeQuestion {
    /// What can be said without looking into the log.
    pub(super) fn options(&self) -> Result<ChangeOptions, Failure> {
        let day_to_day = match self.day_sd {
            Some(sd) => {
                let known = TypicalError::new(sd, f64::INFINITY).map_err(trials_failure)?;
                DayToDay::Known(known)
            }
            None => DayToDay::FromBaseline,
        };
        Ok(ChangeOptions {
            smallest: self
                .smallest
                .map_or(SmallestWorthwhile::Default, SmallestWorthwhile::Stated),
            day_to_day,
            shared: if self.another_phone {
                SharedErrors::Differ
            } else {
                SharedErrors::Cancel
            },
            ..ChangeOptions::default()
        })
    }

    /// The baseline of a later day.
    pub(super) fn baseline(&self, days: &[Day], later: Date) -> Vec<Day> {
        if self.from.is_empty() {
            return recent(days, later);
        }
        let stated =
            |day: &&Day| day.date != later && self.from.iter().any(|range| range.holds(day.date));
        days.iter().filter(stated).cloned().collect()
    }
}

/// Compares a later session with a baseline.
///
/// # Errors
/// An unknown athlete, days without usable trials, a log that cannot be read.
pub fn change(
    log: &Log,
    name: &str,
    sort: Sort,
    question: &ChangeQuestion,
) -> Result<ChangeView, Failure> {
    let athlete = log.athlete(name).map_err(log_failure)?;
    let days = days(log, &athlete, sort)?;
    let later = later(log, &athlete, sort, &days, question.to)?;
    let baseline = question.baseline(&days, later.date);
    if !baseline.iter().any(|day| day.mean().is_some()) {
        return Err(no_baseline(&athlete, later.date, question, &days));
    }
    let mut options = question.options()?;
    let squad = squad_means(log, sort, later.date)?;
    if options.smallest == SmallestWorthwhile::Default {
        let known = SmallestWorthwhile::from_squad(&squad);
        options.smallest = known.unwrap_or(SmallestWorthwhile::Default);
    }
    options.reference = usual(&days, &baseline, later.date, &squad);
    let view = |options: &ChangeOptions| {
        ChangeView::of(
            sort.subject(Some(&athlete.name)),
            &baseline,
            later,
            !question.from.is_empty(),
            options,
        )
        .map_err(trials_failure)
    };
    let first = view(&options)?;
    if first.figures.verdict != Verdict::TooFewTrials {
        return Ok(first);
    }
    // Single trials say nothing of scatter; the athlete's other days may.
    let sessions: Vec<Session> = days.iter().map(Day::session).collect();
    match typical_error(&sessions) {
        Ok(known) if known.dof >= DOF_TO_LEND => {
            options.typical_error = Some(known);
            Ok(view(&options)?.with_scatter_from_log())
        }
        _ => Ok(first),
    }
}

/// The session to compare.
fn later<'a>(
    log: &Log,
    athlete: &Athlete,
    sort: Sort,
    days: &'a [Day],
    to: Option<Date>,
) -> Result<&'a Day, Failure> {
    let found = match to {
        Some(date) => days
            .iter()
            .find(|day| day.date == date)
            .ok_or_else(|| no_session_on(log, athlete, sort, date, days))?,
        None => days.last().ok_or_else(|| no_sessions(log, athlete, sort))?,
    };
    if found.mean().is_none() {
        let date = found.date;
        return Err(Failure {
            message: format!("no trial of {} on {date} counts", athlete.name),
            hint: format!(
                "see why with `underfoot trials \"{}\" --date {date}`, or name another day with --to",
                athlete.name
            ),
        });
    }
    Ok(found)
}

fn no_baseline(athlete: &Athlete, later: Date, question: &ChangeQuestion, days: &[Day]) -> Failure {
    let known: Vec<String> = days
        .iter()
        .filter(|day| day.date != later && day.mean().is_some())
        .rev()
        .take(5)
        .map(|day| day.date.to_string())
        .collect();
    let message = if question.from.is_empty() {
        format!(
            "{} has no usable session in the {} days before {later} to compare with",
            athlete.name,
            super::RECENT_DAYS
        )
    } else {
        format!(
            "{} has no usable session on the days named with --from",
            athlete.name
        )
    };
    Failure {
        message,
        hint: if known.is_empty() {
            "film another day first".to_owned()
        } else {
            format!(
                "sessions are there on {}; name some with --from",
                known.join(", ")
            )
        },
    }
}

/// The usual height about which a baseline scatters: of the athlete over the long run
/// where the log knows enough other days, else of the squad.
fn usual(days: &[Day], baseline: &[Day], later: Date, squad: &[Metres]) -> Option<Reference> {
    let others: Vec<Metres> = days
        .iter()
        .filter(|day| day.date < later && baseline.iter().all(|b| b.date != day.date))
        .filter_map(Day::mean)
        .collect();
    if others.len() >= SESSIONS_FOR_USUAL {
        return reference(&others);
    }
    (squad.len() >= ATHLETES_FOR_USUAL)
        .then(|| reference(squad))
        .flatten()
}

fn reference(values: &[Metres]) -> Option<Reference> {
    let centre = mean(values)?;
    let squares: f64 = values
        .iter()
        .map(|value| (*value - centre).metres().powi(2))
        .sum();
    let sd = (squares / (values.len() as f64 - 1.0)).sqrt();
    (sd > 0.0 && sd.is_finite()).then_some(Reference {
        mean: centre,
        sd: Metres::from_metres(sd),
    })
}
