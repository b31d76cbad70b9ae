//! Results of the stages as the parts of a document.

use crate::jump::budget::BudgetSource;
use crate::jump::gravity::GravitySource;
use crate::jump::{
    BodyLength, ClockCheck, ClockUncertainty, Conditions, Event, Flag, Flight, FoundJump, Gravity,
    GroundContact, HeightResult,
};
use crate::log::{BudgetShare, EventTime, JumpKind, TrialRecord};
use crate::report::model::{self, Failure};
use crate::trials::load::reactive::{DropJump, Rebound};
use crate::units::{Bounds, Metres, Span, StandardUncertainty};
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

impl Situation<'_> {
    /// Whether free fall agrees with the clock, where a stature is stated.
    pub(super) fn clock_check(&self, length: &BodyLength) -> Option<ClockCheck> {
        let stature = self.options.stature?;
        Some(length.clock_check(stature, self.clock.report().capture_fps))
    }
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
    let (result, jump) = of_events(found, &conditions);
    let flags = flags::of(found, &result, situation);
    let record = TrialRecord {
        kind: found.kind.unwrap_or_default(),
        contact_time: jump.contact_time_s,
        ..record(&found.flight, &result, &flags)
    };
    let jump = model::Jump {
        number,
        body: found.body_length.map(|length| body(&length, situation)),
        flags: flags.iter().map(flag).collect(),
        ..jump
    };
    Ok((jump, record))
}

/// What follows from a jump's events: all of it but number, scale and flags.
pub(super) fn of_events(found: &FoundJump, conditions: &Conditions) -> (HeightResult, model::Jump) {
    let mut result = HeightResult::of(&found.flight, conditions);
    let lowering = found.lowering;
    if let Some(posture) = lowering.and_then(|lowering| lowering.overstatement(result.height)) {
        result = result.with_posture(posture);
    }
    let contact = found
        .contact
        .map(|contact| self::contact(&contact, found, conditions));
    let contact = contact.unwrap_or_default();
    let (takeoff, landing) = (found.flight.takeoff(), found.flight.landing());
    let frames = found.frames;
    let jump = model::Jump {
        number: 0,
        kind: found.kind.map(|kind| kind.word().to_owned()),
        feet: found.feet.map(|_| "both".to_owned()),
        each_foot: found.feet.map(|feet| feet.map(|flight| foot(&flight))),
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
        contact_time_s: contact.time,
        contact_time_bounds_s: contact.bounds,
        contact_time_u_s: contact.u,
        rsi_m_s: contact.rebound.map(|r| r.index_m_s),
        rsi_u_m_s: contact.rebound.map(|r| r.u_index_m_s),
        flight_over_contact: contact.rebound.map(|r| r.ratio),
        flight_over_contact_u: contact.rebound.map(|r| r.u_ratio),
        fall_m: contact.fall,
        posture: result
            .posture
            .zip(lowering)
            .map(|(posture, lowering)| model::Posture {
                overstatement_m: posture.likely_overstatement,
                u_m: posture.u,
                lowering_m: lowering.by,
                likely_rise_m: result.height - posture.likely_overstatement,
            }),
        body: None,
        budget: budget(&result),
        flags: Vec::new(),
    };
    (result, jump)
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

fn foot(flight: &Flight) -> model::FootFlight {
    let (takeoff, landing) = (flight.takeoff(), flight.landing());
    model::FootFlight {
        takeoff_s: takeoff.best(),
        takeoff_u_s: takeoff.u(),
        landing_s: landing.best(),
        landing_u_s: landing.u(),
        flight_time_s: flight.flight_time(),
    }
}

/// A contact in the document's terms; all empty where there is none.
#[derive(Default)]
struct Contact {
    time: Option<Span>,
    bounds: Option<Bounds<Span>>,
    u: Option<StandardUncertainty<Span>>,
    rebound: Option<Rebound>,
    fall: Option<Metres>,
}

/// Contact time, index and ratio. The flight shares its take-off with the contact.
fn contact(contact: &GroundContact, found: &FoundJump, conditions: &Conditions) -> Contact {
    let rebound = DropJump {
        contact_time: contact.time(),
        flight_time: found.flight.flight_time(),
        u_contact: contact.touch.u(),
        u_takeoff: contact.takeoff.u(),
        u_landing: found.flight.landing().u(),
    };
    Contact {
        time: Some(contact.time()),
        bounds: Some(contact.time_bounds()),
        u: Some(contact.time_u()),
        rebound: rebound.rebound(conditions.gravity().value()).ok(),
        fall: contact.fall,
    }
}

/// What free fall says, checked against the stature where that is stated.
fn body(length: &BodyLength, situation: &Situation) -> model::Body {
    let check = situation.clock_check(length);
    model::Body {
        length_m: length.length,
        u_m: length.u,
        px_per_m: length.px_per_m,
        implied_fps: check.map(|check| check.implied_fps),
        implied_fps_u: check.map(|check| check.u_fps),
        clock_agrees: check.map(|check| check.agrees),
    }
}

pub(super) fn flag(flag: &Flag) -> model::Flag {
    model::Flag {
        code: flag.code().to_owned(),
        advice: flag.advice(),
        doubtful: flag.makes_doubtful(),
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
