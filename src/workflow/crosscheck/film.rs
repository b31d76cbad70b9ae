//! What the film says of the jumps on a mat.

use jiff::civil::Date;

use crate::jump::Flag;
use crate::jump::gravity::STANDARD_GRAVITY;
use crate::jump::height::height_per_time;
use crate::log::{AthleteId, Trial, TrialRecord};
use crate::report::json::{self, JsonError};
use crate::report::model::{Failure, Jump};
use crate::trials::mat::FilmFlight;
use crate::units::{Acceleration, Span, StandardUncertainty};
use crate::workflow::failure;

/// The line of the budget that all clips of one phone share.
const CLOCK_RATE: &str = "clock rate";
/// The line that is an error of heights and none of times.
const GRAVITY: &str = "gravity";

/// A jump on film, or the place of one that the film missed.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmJump {
    /// Who jumped, where that is known.
    pub athlete: Option<String>,
    /// The day, where that is known.
    pub date: Option<Date>,
    /// Place in the athlete's day, from 1, where that is known.
    pub order: Option<u32>,
    /// The clip's name.
    pub clip: Option<String>,
    /// Number among the clip's jumps, from 1.
    pub jump: u32,
    /// Its time in the air, or why there is none.
    pub flight: Result<FilmFlight, String>,
    /// The part of its error that all clips share, as a time.
    pub shared_u: Span,
    /// Codes of the flags for which its time should not be used.
    pub doubts: Vec<String>,
}

impl FilmJump {
    /// What people call it.
    pub fn name(&self) -> String {
        match (&self.athlete, self.date, self.order) {
            (Some(athlete), Some(date), Some(order)) => format!("{athlete}, {date}, jump {order}"),
            _ => format!(
                "{}, jump {}",
                self.clip.as_deref().unwrap_or("clip without a name"),
                self.jump
            ),
        }
    }
}

/// The jumps in results of `measure --json`, in their order. A clip without a jump
/// keeps one place, so that the readings that follow it still find theirs.
///
/// # Errors
/// [`Failure`] naming the line that is no result, or if there is none at all.
pub fn from_results(name: &str, text: &str) -> Result<Vec<FilmJump>, Failure> {
    let mut all = Vec::new();
    for (position, line) in text.lines().enumerate() {
        if line.trim().is_empty() {
            continue;
        }
        let document = json::from_line(line).map_err(|error: JsonError| {
            let told = failure(error);
            Failure {
                message: format!("{name}, line {}: {}", position + 1, told.message),
                hint: told.hint,
            }
        })?;
        if document.jumps.is_empty() {
            let reason = match &document.error {
                Some(error) => format!("not measured ({})", error.message),
                None => "no jump on film".to_owned(),
            };
            all.push(FilmJump {
                flight: Err(reason),
                ..blank(&document.clip, 1)
            });
        }
        for jump in &document.jumps {
            all.push(of_jump(&document.clip, jump));
        }
    }
    if all.is_empty() {
        return Err(Failure {
            message: format!("{name} holds no results"),
            hint: "make it with `underfoot measure --json CLIP... > results.jsonl`".to_owned(),
        });
    }
    Ok(all)
}

/// The jumps of a log, in its order; `name` knows the athletes.
pub fn from_log(trials: &[Trial], name: impl Fn(AthleteId) -> Option<String>) -> Vec<FilmJump> {
    trials
        .iter()
        .map(|trial| {
            let record = &trial.record;
            let set_aside = record
                .set_aside
                .iter()
                .map(|why| format!("set aside: {why}"));
            let codes = record.flags.iter().map(|flag| flag.code.clone());
            let (clip, jump) = match &trial.clip {
                Some((clip, jump)) => (Some(clip.name.clone()), *jump),
                None => (None, 1),
            };
            FilmJump {
                athlete: name(trial.athlete),
                date: Some(trial.date),
                order: Some(trial.order),
                clip,
                jump,
                flight: kept_flight(record),
                shared_u: kept_shared(record),
                doubts: codes
                    .filter(|code| spoils_time(code))
                    .chain(set_aside)
                    .collect(),
            }
        })
        .collect()
}

fn kept_flight(record: &TrialRecord) -> Result<FilmFlight, String> {
    let flight = record.flight_time.as_ref();
    let flight = flight.ok_or("the log has no flight time of it")?;
    let bounds = flight
        .bounds
        .ok_or("the log has no bounds of its flight time")?;
    let own = record.film_u.0.metres() / per_time(record, flight.best);
    Ok(FilmFlight {
        flight_time: flight.best,
        bounds,
        // The height's share holds nothing that the time's does not, gravity aside.
        u: StandardUncertainty(Span::from_seconds(own)),
    })
}

fn kept_shared(record: &TrialRecord) -> Span {
    let Some(flight) = &record.flight_time else {
        return Span::default();
    };
    let lines = record
        .budget
        .iter()
        .filter(|line| line.source == CLOCK_RATE);
    let squares: f64 = lines.map(|line| line.u.0.metres().powi(2)).sum();
    Span::from_seconds(squares.sqrt() / per_time(record, flight.best))
}

fn per_time(record: &TrialRecord, time: Span) -> f64 {
    let stated = record
        .gravity_m_s2
        .map(Acceleration::from_metres_per_second_squared);
    height_per_time(time, stated.unwrap_or(STANDARD_GRAVITY)).metres_per_second()
}

fn blank(clip: &str, jump: u32) -> FilmJump {
    FilmJump {
        athlete: None,
        date: None,
        order: None,
        clip: Some(clip.to_owned()),
        jump,
        flight: Err("no jump on film".to_owned()),
        shared_u: Span::default(),
        doubts: Vec::new(),
    }
}

fn of_jump(clip: &str, jump: &Jump) -> FilmJump {
    let gravity = Acceleration::from_metres_per_second_squared(jump.gravity_m_s2);
    let per_time = height_per_time(jump.flight_time_s, gravity).metres_per_second();
    let together = |counts: fn(&str) -> bool| {
        let lines = jump.budget.iter().filter(|line| counts(&line.source));
        let squares: f64 = lines.map(|line| line.u_m.0.metres().powi(2)).sum();
        Span::from_seconds(squares.sqrt() / per_time)
    };
    let own = if jump.budget.is_empty() {
        jump.flight_time_u_s.0
    } else {
        together(|source| source != CLOCK_RATE && source != GRAVITY)
    };
    FilmJump {
        flight: Ok(FilmFlight {
            flight_time: jump.flight_time_s,
            bounds: jump.flight_time_bounds_s,
            u: StandardUncertainty(own),
        }),
        shared_u: together(|source| source == CLOCK_RATE),
        doubts: jump
            .flags
            .iter()
            .map(|flag| flag.code.clone())
            .filter(|code| spoils_time(code))
            .collect(),
        ..blank(clip, u32::try_from(jump.number).unwrap_or(u32::MAX))
    }
}

/// Whether a flag speaks against the time in the air. A height that is improbable
/// does not on its own: leaving out the highest would bend the comparison.
pub fn spoils_time(code: &str) -> bool {
    [Flag::ClockInDoubt, Flag::LandingBeside, Flag::DropLanding]
        .iter()
        .any(|flag| flag.code() == code)
}
