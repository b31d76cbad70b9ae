//! One athlete's session across loads, beside an earlier one: what the command prints and
//! the page shows.

use jiff::civil::Date;

use super::loads::{LoadDay, load_days_of_log};
use crate::log::{Athlete, JumpKind, Log, LogError, TrialQuery};
use crate::report::load::{SeriesView, Since};
use crate::report::model::Failure;
use crate::report::plot::loads::heights_chart;
use crate::report::plot::scatter::Scatter;
use crate::report::terminal::Units;
use crate::trials::load::regressions::PeakPower;
use crate::trials::load::series::{PushOff, SeriesInput};
use crate::trials::load::{LoadError, LoadSeries, change_since, load_series};
use crate::units::Acceleration;

/// Standard uncertainty of a body mass in kg: clothes and breakfast.
const BODY_MASS_U_KG: f64 = 0.5;

/// What is known of the athlete beside the jumps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Body mass in kg, where it is stated rather than taken from the day.
    pub body_mass_kg: Option<f64>,
    /// Squat maximum in kg, for the warnings.
    pub squat_max_kg: Option<f64>,
    /// Push-off distance, if known.
    pub push_off: Option<PushOff>,
    /// Gravity.
    pub gravity: Acceleration,
}

/// A session worked out.
#[derive(Clone, Debug)]
pub struct LoadSession {
    /// Whose jumps; empty where nobody said.
    pub athlete: String,
    /// The day; empty where it is not known.
    pub date: String,
    /// What went in.
    pub input: SeriesInput,
    /// What came out.
    pub series: LoadSeries,
    /// The session before, with what stands for its day.
    pub earlier: Option<(String, LoadSeries)>,
    /// What changed since then.
    pub since: Option<Since>,
    /// Jumps that do not count, and why.
    pub left_out: Vec<String>,
}

/// The days on which the log has jumps of a kind with a load, and those `asked` for, the
/// oldest first, each with the body mass that held then.
///
/// # Errors
/// [`LogError`] if the log cannot be read.
pub fn days_of_log(
    log: &Log,
    athlete: &Athlete,
    kind: JumpKind,
    asked: &[Option<Date>],
) -> Result<Vec<LoadDay>, LogError> {
    let trials = log.trials(&TrialQuery::of(athlete.id).kind(kind))?;
    let mut days = load_days_of_log(&trials);
    // A day without any load is no session across loads, unless it is asked for.
    let is_loaded = |day: &LoadDay| day.sets.iter().any(|set| set.load_kg > 0.0);
    days.retain(|day| is_loaded(day) || day.date.is_some() && asked.contains(&day.date));
    for day in &mut days {
        if let Some(date) = day.date {
            let mass = log.body_mass_on(athlete.id, date)?;
            day.body_mass_kg = mass.map(|mass| mass.mass_kg);
        }
    }
    Ok(days)
}

impl LoadSession {
    /// Works out the session `now`, and what changed since `then`.
    ///
    /// # Errors
    /// Without a body mass, and for numbers that cannot be.
    pub fn of(
        athlete: &str,
        now: &LoadDay,
        then: Option<&LoadDay>,
        frame: Frame,
    ) -> Result<Self, Failure> {
        let input = input(now, frame)?;
        let series = load_series(&input).map_err(load_failure)?;
        let earlier = match then {
            Some(day) => {
                let series = load_series(&self::input(day, frame)?).map_err(load_failure)?;
                Some((named(day.date), series))
            }
            None => None,
        };
        let since = earlier.as_ref().map(|(date, then)| Since {
            date: date.clone(),
            changes: change_since(&series, then),
        });
        Ok(Self {
            athlete: athlete.to_owned(),
            date: now.date.map(|date| date.to_string()).unwrap_or_default(),
            input,
            series,
            earlier,
            since,
            left_out: now.left_out.clone(),
        })
    }

    /// What text and JSON are written from.
    pub fn view<'a>(&'a self, peak_power: &'a [PeakPower]) -> SeriesView<'a> {
        SeriesView {
            athlete: &self.athlete,
            date: &self.date,
            input: &self.input,
            series: &self.series,
            since: self.since.as_ref(),
            peak_power,
            left_out: &self.left_out,
        }
    }

    /// Height against load, the earlier session beside it.
    pub fn heights_chart(&self, title: &str, units: Units) -> Scatter {
        let earlier = self.earlier.as_ref();
        let earlier = earlier.map(|(date, series)| (series, date.as_str()));
        heights_chart(&self.series, earlier, title, units)
    }
}

fn input(day: &LoadDay, frame: Frame) -> Result<SeriesInput, Failure> {
    let body_mass_kg = frame.body_mass_kg.or(day.body_mass_kg);
    let body_mass_kg = body_mass_kg.ok_or_else(|| Failure {
        message: "the body mass is not known".to_owned(),
        hint: "add --body 62 (kilograms), or a column body_kg".to_owned(),
    })?;
    Ok(SeriesInput {
        body_mass_kg,
        u_body_mass_kg: BODY_MASS_U_KG,
        squat_max_kg: frame.squat_max_kg,
        push_off: frame.push_off,
        gravity: frame.gravity,
        sets: day.sets.clone(),
    })
}

/// What stands for the day of an earlier session.
fn named(date: Option<Date>) -> String {
    date.map_or_else(
        || "the jumps without a date".to_owned(),
        |date| date.to_string(),
    )
}

/// An error of the loads in words.
pub fn load_failure(error: LoadError) -> Failure {
    Failure {
        message: error.to_string(),
        hint: error.remedy().to_owned(),
    }
}
