//! Jumps under load: height against load on a day, as `load series` has it.

use std::sync::Arc;

use axum::extract::{Json, Query, State};
use axum::response::IntoResponse;
use jiff::civil::Date;
use serde::Deserialize;

use super::reply::{Reply, aside};
use super::{App, views};
use crate::jump::gravity::STANDARD_GRAVITY;
use crate::log::{JumpKind, Log};
use crate::report::model::Failure;
use crate::trials::load::LoadedSet;
use crate::trials::load::next::{LEAST_LOADS_TO_COMPARE, ToJump, to_jump};
use crate::workflow::load_session::{Frame, LoadSession, days_of_log};
use crate::workflow::loads::choose;
use crate::workflow::views::log_failure;
use crate::workflow::{failure, keeping};

/// Whose loads are shown, and how wide.
#[derive(Deserialize)]
pub(super) struct Asked {
    athlete: String,
    kind: String,
    date: Option<Date>,
    /// Width of the plot in pixels.
    w: Option<u32>,
}

/// A day across loads as it is shown.
pub(super) struct LoadsShown {
    pub(super) athlete: String,
    pub(super) kind: JumpKind,
    pub(super) date: Option<Date>,
    pub(super) sets: Vec<LoadedSet>,
    pub(super) left_out: Vec<String>,
    pub(super) to_jump: Vec<ToJump>,
    pub(super) result: Compared,
}

/// What could be made of the day.
pub(super) enum Compared {
    /// Jumps of a kind whose heights do not depend on the load alone.
    NotOfThisKind,
    /// Fewer loads than can be compared.
    TooFewLoads,
    /// The body mass is not in the log.
    NoBodyMass,
    /// Height against load.
    Session(Box<LoadSession>),
}

/// Height against load on the day that is shown.
pub(super) async fn loads(State(app): State<Arc<App>>, Query(asked): Query<Asked>) -> Reply {
    let path = app.settings.log.clone();
    let width_px = asked.w.unwrap_or(640).clamp(260, 1600);
    let shown = aside(move || look_up(&path, &asked)).await?;
    let page = views::loads(&shown, app.settings.units, width_px).map_err(failure)?;
    Ok(page.into_response())
}

fn look_up(path: &std::path::Path, asked: &Asked) -> Result<LoadsShown, Failure> {
    let log = Log::open_read_only(path).map_err(log_failure)?;
    let athlete = log.athlete(&asked.athlete).map_err(log_failure)?;
    let kind: JumpKind = asked.kind.parse().map_err(log_failure)?;
    let mut shown = LoadsShown {
        athlete: athlete.name.clone(),
        kind,
        date: asked.date,
        sets: Vec::new(),
        left_out: Vec::new(),
        to_jump: to_jump(&[]),
        result: Compared::TooFewLoads,
    };
    if !matches!(kind, JumpKind::Countermovement | JumpKind::Squat) {
        shown.result = Compared::NotOfThisKind;
        return Ok(shown);
    }
    let days = days_of_log(&log, &athlete, kind, &[asked.date]).map_err(log_failure)?;
    let is_there = |day: &crate::workflow::loads::LoadDay| day.date == asked.date;
    if days.is_empty() || asked.date.is_some() && !days.iter().any(is_there) {
        return Ok(shown);
    }
    let (now, then) = choose(days, |day| day.date, asked.date, None)?;
    shown.date = now.date;
    shown.to_jump = to_jump(&now.sets);
    shown.result = if now.sets.len() < LEAST_LOADS_TO_COMPARE {
        Compared::TooFewLoads
    } else if now.body_mass_kg.is_none() {
        Compared::NoBodyMass
    } else {
        let frame = Frame {
            body_mass_kg: None,
            squat_max_kg: None,
            push_off: athlete.push_off,
            gravity: STANDARD_GRAVITY,
        };
        let session = LoadSession::of(&athlete.name, &now, then.as_ref(), frame)?;
        Compared::Session(Box::new(session))
    };
    shown.sets = now.sets;
    shown.left_out = now.left_out;
    Ok(shown)
}

/// A body mass that was put on the scales.
#[derive(Deserialize)]
pub(super) struct Weighed {
    athlete: String,
    date: Date,
    mass_kg: f64,
}

/// Notes an athlete's body mass of a day.
pub(super) async fn body_mass(State(app): State<Arc<App>>, Json(weighed): Json<Weighed>) -> Reply {
    let path = app.settings.log.clone();
    aside(move || {
        let mut log = Log::open(&path).map_err(log_failure)?;
        let athlete = log.athlete(&weighed.athlete).map_err(log_failure)?.id;
        log.set_body_mass(athlete, weighed.date, weighed.mass_kg, keeping::now())
            .map_err(log_failure)
    })
    .await?;
    Ok(axum::http::StatusCode::NO_CONTENT.into_response())
}
