//! Results of the stages as the parts of a document.

use crate::jump::budget::BudgetSource;
use crate::jump::gravity::GravitySource;
use crate::jump::{
    ClockUncertainty, Conditions, Event, Flag, Flight, FoundJump, Gravity, HeightResult,
};
use crate::log::{BudgetShare, EventTime, JumpKind, TrialRecord};
use crate::report::model::{self, Failure};
use crate::units::{Bounds, Span};
use crate::video::{CaptureClock, ClockReport, ClockSource, Watched};

use super::{MeasureOptions, flags, wording};

/// All that bears on a jump besides its two events.
#[derive(Clone, Copy, Debug)]
pub(super) struct Situation<'a> {
    /// The clip's clock.
    pub clock: &'a CaptureClock,
    /// What was watched.
    pub watched: &'a Watched,
    /// What the person stated.
    pub options: &'a MeasureOptions,
    /// Whether nobody marked the patch.
    pub suggested: bool,
}

/// The clock as people and programs see it; repeats are not known yet.
pub(super) fn clock(report: &ClockReport) -> model::Clock {
    model::Clock {
        nominal_fps: report.nominal_fps,
        capture_fps: report.capture_fps,
        source: match &report.source {
            ClockSource::FileTimes => "time stamps".to_owned(),
            ClockSource::CaptureTag(tag) => format!("tag {tag}"),
            ClockSource::Stated => "stated by hand".to_owned(),
        },
        dropped: usize::try_from(report.dropped_count()).unwrap_or(usize::MAX),
        repeated: 0,
    }
}

/// What of clock and gravity bears on a height.
pub(super) fn conditions(report: &ClockReport, gravity: Gravity) -> Result<Conditions, Failure> {
    let tick_s = 2.0 * report.rounding_s.unwrap_or(0.0);
    let clock = ClockUncertainty::new(report.u_rel, Span::from_seconds(tick_s))
        .map_err(wording::jump_failure)?;
    Ok(Conditions::new(clock, gravity))
}

/// One jump with height, bounds, budget and flags, and what the log keeps of it.
pub(super) fn jump(
    number: usize,
    found: &FoundJump,
    situation: &Situation,
) -> Result<(model::Jump, TrialRecord), Failure> {
    let conditions = conditions(situation.clock.report(), situation.options.gravity)?;
    let result = HeightResult::of(&found.flight, &conditions);
    let (takeoff, landing) = (found.flight.takeoff(), found.flight.landing());
    let frames = found.frames;
    let flags = flags::of(found, &result, situation);
    let record = record(&found.flight, &result, &flags);
    let jump = model::Jump {
        number,
        kind: None,
        feet: None,
        takeoff_s: takeoff.best(),
        landing_s: landing.best(),
        takeoff_bounds_s: Bounds::between(takeoff.earliest(), takeoff.latest()),
        landing_bounds_s: Bounds::between(landing.earliest(), landing.latest()),
        frames: model::EventFrames {
            takeoff: [frames.takeoff.0.0, frames.takeoff.1.0],
            landing: [frames.landing.0.0, frames.landing.1.0],
        },
        flight_time_s: result.flight_time,
        flight_time_bounds_s: result.flight_time_bounds,
        flight_time_u_s: result.flight_time_u,
        flight_time_interval95_s: result.flight_time_interval95,
        height_m: result.height,
        height_bounds_m: result.bounds,
        height_u_m: result.u,
        height_interval95_m: result.interval95,
        definition: result.definition.to_owned(),
        gravity_m_s2: result.gravity.value().metres_per_second_squared(),
        gravity_source: gravity_source(&result.gravity),
        takeoff_velocity_m_s: result.takeoff_speed.metres_per_second(),
        contact_time_s: None,
        rsi_m_s: None,
        posture: result.posture.map(|posture| model::Posture {
            overstatement_m: posture.likely_overstatement,
            u_m: posture.u,
        }),
        budget: budget(&result),
        flags: flags.iter().map(flag).collect(),
    };
    Ok((jump, record))
}

/// What the log keeps of a jump; kind and load are for whoever logs it to say.
pub fn record(flight: &Flight, result: &HeightResult, flags: &[Flag]) -> TrialRecord {
    let event = |event: &Event| EventTime {
        best: event.best(),
        bounds: Bounds::between(event.earliest(), event.latest()),
    };
    let share = |line: model::BudgetLine| BudgetShare {
        source: line.source,
        u: line.u_m,
    };
    TrialRecord {
        takeoff: Some(event(flight.takeoff())),
        landing: Some(event(flight.landing())),
        budget: budget(result).into_iter().map(share).collect(),
        ..TrialRecord::of_result(JumpKind::default(), result, flags)
    }
}

fn flag(flag: &Flag) -> model::Flag {
    model::Flag {
        code: flag.code().to_owned(),
        advice: flag.advice(),
    }
}

fn budget(result: &HeightResult) -> Vec<model::BudgetLine> {
    let line = |line: &crate::jump::BudgetLine| model::BudgetLine {
        source: source_name(line.source).to_owned(),
        u_m: line.u_height,
    };
    result.budget.iter().map(line).collect()
}

fn source_name(source: BudgetSource) -> &'static str {
    match source {
        BudgetSource::FrameSpacing => "frame spacing",
        BudgetSource::DetectorFit => "detector fit",
        BudgetSource::Clock => "clock rate",
        BudgetSource::ClockTick => "rounding of time stamps",
        BudgetSource::Shutter => "shutter",
        BudgetSource::Gravity => "gravity",
    }
}

fn gravity_source(gravity: &Gravity) -> String {
    match gravity.source() {
        GravitySource::Standard => "standard value, CGPM 1901".to_owned(),
        GravitySource::Stated => "stated by hand".to_owned(),
        GravitySource::AtLatitude {
            latitude_deg,
            altitude_m,
        } => format!("WGS84 at latitude {latitude_deg}°, {altitude_m} m above sea level"),
    }
}
