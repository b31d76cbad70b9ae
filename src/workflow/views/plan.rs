//! A plan, with what the log knows of the athlete and the phone.

use super::{RECENT_DAYS, Sort, back, day, log_failure, mean, trials_failure};
use crate::jump::ClockUncertainty;
use crate::log::Log;
use crate::report::model::Failure;
use crate::report::views::Day;
use crate::report::views::plan::{LoggedFilm, PlanView};
use crate::trials::Session;
use crate::trials::components::separate;
use crate::trials::plan::{OwnVariation, Question, Reading, VariationSource};
use crate::units::{Metres, Span, StandardUncertainty};
use crate::workflow::wording::jump_failure;

/// Height planned for where nothing is known, in metres: a usual countermovement jump
/// of team players (common practice, from memory).
const DEFAULT_HEIGHT: Metres = Metres::from_metres(0.35);
/// Fewest degrees of freedom from which a variation is taken. Our own choice, as for
/// companion measures.
const DOF_FOR_VARIATION: f64 = 5.0;
/// How far back one athlete's trials tell how they scatter, in days.
const YEAR: i64 = 365;
/// Sessions that tell the usual height.
const SESSIONS_FOR_HEIGHT: usize = 3;

/// What is to be planned.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanQuestion {
    /// For whom; `None` for anybody.
    pub athlete: Option<String>,
    /// Change to see.
    pub change: Metres,
    /// With what chance.
    pub power: f64,
    /// Frame rates.
    pub rates: Vec<f64>,
    /// Usual height, if stated.
    pub height: Option<Metres>,
    /// The athlete's own variation, if stated.
    pub own_sd: Option<Metres>,
    /// Day-to-day variation, if stated.
    pub day_sd: Option<Metres>,
    /// How events are read.
    pub reading: Reading,
}

/// Plans; a log is asked where there is one.
///
/// # Errors
/// An athlete without a log or unknown to it, a setting out of range.
pub fn plan(log: Option<&Log>, sort: Sort, question: &PlanQuestion) -> Result<PlanView, Failure> {
    let (days, name) = match (log, &question.athlete) {
        (Some(log), name) => known_days(log, sort, name.as_deref())?,
        (None, Some(name)) => {
            return Err(Failure {
                message: format!("there is no log to look {name} up in"),
                hint: "leave the name out, or name the log with --log".to_owned(),
            });
        }
        (None, None) => (Vec::new(), None),
    };
    let logged_height = usual_height(&days, name.is_some());
    let height = question.height.or(logged_height).unwrap_or(DEFAULT_HEIGHT);
    let height_from = match (question.height, logged_height) {
        (Some(_), _) => "stated",
        (None, Some(_)) => "log",
        (None, None) => "default",
    };
    // The clock's error is the same on both days and cancels in a change.
    let clock = ClockUncertainty::new(0.0, Span::default()).map_err(jump_failure)?;
    let asked = Question {
        height,
        own: own(question, &days, height),
        change: question.change,
        power: question.power,
        reading: question.reading,
        clock,
    };
    PlanView::of(
        sort.subject(name.as_deref()),
        &asked,
        height_from,
        &question.rates,
        film(&days),
    )
    .map_err(trials_failure)
}

/// The last sessions of one athlete, or of all.
fn known_days(
    log: &Log,
    sort: Sort,
    name: Option<&str>,
) -> Result<(Vec<Day>, Option<String>), Failure> {
    let athlete = name
        .map(|name| log.athlete(name))
        .transpose()
        .map_err(log_failure)?;
    let query = sort.query(athlete.as_ref().map(|athlete| athlete.id));
    let Some(last) = log.latest_day(&query).map_err(log_failure)? else {
        return Ok((Vec::new(), athlete.map(|athlete| athlete.name)));
    };
    let days = if athlete.is_some() { YEAR } else { RECENT_DAYS };
    let recent = query.between(Some(back(last, days)), Some(last));
    let sessions = log.sessions(&recent).map_err(log_failure)?;
    let days = sessions.into_iter().map(day).collect();
    Ok((days, athlete.map(|athlete| athlete.name)))
}

/// Mean of the last sessions of one athlete, of all sessions of a squad.
fn usual_height(days: &[Day], is_one: bool) -> Option<Metres> {
    let means: Vec<Metres> = days.iter().filter_map(Day::mean).collect();
    let first = if is_one {
        means.len().saturating_sub(SESSIONS_FOR_HEIGHT)
    } else {
        0
    };
    mean(means.get(first..).unwrap_or_default())
}

/// The athlete's own variation: stated, or the log's with film error taken out, or a
/// default where the log has too little or film explains it all.
fn own(question: &PlanQuestion, days: &[Day], height: Metres) -> OwnVariation {
    let sessions: Vec<Session> = days.iter().map(Day::session).collect();
    let logged = separate(&sessions)
        .ok()
        .filter(|parts| parts.dof >= DOF_FOR_VARIATION && parts.athlete_sd > Metres::default());
    let mut own = match (question.own_sd, logged) {
        (Some(sd), _) => OwnVariation {
            trial_sd: sd,
            day_sd: Metres::default(),
            source: VariationSource::Stated,
        },
        (None, Some(parts)) => OwnVariation::logged(&parts),
        (None, None) => OwnVariation::default_for(height),
    };
    own.day_sd = question.day_sd.unwrap_or_default();
    own
}

/// The middle trial's film error.
fn film(days: &[Day]) -> Option<LoggedFilm> {
    let counting = days
        .iter()
        .flat_map(|day| &day.trials)
        .filter(|t| t.is_usable());
    let mut errors: Vec<f64> = counting.map(|trial| trial.film_u.0.metres()).collect();
    errors.sort_by(f64::total_cmp);
    let middle = errors.get(errors.len() / 2).copied().filter(|u| *u > 0.0)?;
    Some(LoggedFilm {
        u: StandardUncertainty(Metres::from_metres(middle)),
        trials: errors.len(),
    })
}
