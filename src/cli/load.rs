//! `load`: what to load, jumps across loads, drop jumps.

mod drops;
mod series;

use std::path::Path;

use super::args::{Load, LoadPlan, Source, today};
use super::{Outcome, log_file, output};
use crate::log::{Athlete, JumpKind, LoadFilter, Log, LogError, Trial, TrialQuery};
use crate::report::load::{PlanView, cautions, plan_json, plan_text};
use crate::report::model::Failure;
use crate::report::terminal::{TextOptions, Units};
use crate::trials::load::gym::Plate;
use crate::trials::load::{Gym, PlanInput, load_plan};
use crate::workflow;
use crate::workflow::load_session::load_failure;

/// Plans, or reads jumps.
///
/// # Errors
/// When numbers cannot be, or a file cannot be used.
pub(super) fn run(call: &Load) -> Result<Outcome, Failure> {
    match call {
        Load::Plan(call) => plan(call),
        Load::Series(call) => series::run(call),
        Load::Drops(call) => drops::run(call),
    }
}

fn plan(call: &LoadPlan) -> Result<Outcome, Failure> {
    let (body_mass_kg, age_years) = body_and_age(call)?;
    let input = PlanInput {
        body_mass_kg,
        age_years,
        squat: call.squat,
        gym: call.gym.clone().unwrap_or_else(usual_gym),
        readiness: call.readiness,
        wished_kg: call.wished_kg,
    };
    let plan = load_plan(&input).map_err(load_failure)?;
    let view = PlanView {
        input: &input,
        plan: &plan,
        gym_is_assumed: call.gym.is_none(),
    };
    if call.json {
        output::say(&(plan_json(&view).map_err(workflow::failure)? + "\n"))?;
    } else {
        output::say(&plan_text(&view, text_options(call.units)))?;
    }
    Ok(Outcome::Done)
}

/// As stated, else as the log has them.
fn body_and_age(call: &LoadPlan) -> Result<(f64, Option<u32>), Failure> {
    let Some(name) = &call.athlete else {
        return Ok((call.body_mass_kg.unwrap_or_default(), call.age_years));
    };
    let log = log_file::read(&call.log)?;
    let wrong = |error| log_file::failure(&call.log, &error);
    let athlete = log.athlete(name).map_err(wrong)?;
    let today = today();
    let logged = log.body_mass_on(athlete.id, today).map_err(wrong)?;
    let body = call.body_mass_kg.or(logged.map(|mass| mass.mass_kg));
    let body = body.ok_or_else(|| Failure {
        message: format!("the log has no body mass of {}", athlete.name),
        hint: "add --body 62 (kilograms), or enter it: underfoot log athlete set NAME --mass-kg 62"
            .to_owned(),
    })?;
    // The birthday may still come this year: the younger age errs on the safe side.
    let youngest = |born: i16| u32::try_from(today.year() - born - 1).ok();
    Ok((
        body,
        call.age_years.or(athlete.birth_year.and_then(youngest)),
    ))
}

/// The cautions, when an athlete's first jumps with a load are about to be kept.
pub(super) fn before_the_first(log: &Log, athlete: &Athlete) -> Result<(), LogError> {
    let query = TrialQuery::of(athlete.id).load(LoadFilter::Some);
    if log.sessions(&query)?.is_empty() {
        output::murmur(&cautions(TextOptions::default()));
    }
    Ok(())
}

/// What most gyms have; common practice, and said to be assumed where it is used.
fn usual_gym() -> Gym {
    let pair = |each_kg| Plate { each_kg, pairs: 1 };
    Gym {
        bars_kg: vec![20.0],
        plates: [20.0, 15.0, 10.0, 5.0, 2.5, 1.25].map(pair).to_vec(),
        dumbbells_kg: vec![2.5, 5.0, 7.5, 10.0, 12.5, 15.0],
    }
}

fn text_options(units: Units) -> TextOptions {
    TextOptions {
        units,
        details: false,
        colour: output::wants_colour(),
    }
}

/// The athlete whose jumps of the log are meant.
fn whose(source: &Source) -> Result<(Log, Athlete), Failure> {
    let Some(name) = &source.athlete else {
        return Err(Failure {
            message: "whose jumps is not said".to_owned(),
            hint: "add --athlete NAME for jumps of the log, or give a table of jumps".to_owned(),
        });
    };
    let log = log_file::read(&source.log)?;
    let athlete = log.athlete(name);
    let athlete = athlete.map_err(|error| log_file::failure(&source.log, &error))?;
    Ok((log, athlete))
}

/// The athlete's trials of one kind.
fn of_log(source: &Source, kind: JumpKind) -> Result<(Athlete, Vec<Trial>), Failure> {
    let (log, athlete) = whose(source)?;
    let trials = log.trials(&TrialQuery::of(athlete.id).kind(kind));
    let trials = trials.map_err(|error| log_file::failure(&source.log, &error))?;
    Ok((athlete, trials))
}

/// The log has nothing of the kind.
fn none_logged(athlete: &str, what: &str, how: &str) -> Failure {
    Failure {
        message: format!("the log holds no {what} of {athlete}"),
        hint: format!(
            "keep some: underfoot measure CLIP --athlete NAME {how}; or give a table of jumps"
        ),
    }
}

/// Says where a plot went.
fn drawn(path: &Path, json: bool) {
    if !json {
        output::murmur(&format!("Plot: {}\n", path.display()));
    }
}

fn dated(date: Option<jiff::civil::Date>) -> String {
    date.map(|date| date.to_string()).unwrap_or_default()
}
