//! One jump as it is kept.

use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::clip::ClipRef;
use super::error::LogError;
use super::{AthleteId, JumpKind};
use crate::jump::{Flag, HeightResult};
use crate::trials::TrialHeight;
use crate::units::{Bounds, CaptureTime, Interval95, Metres, Span, StandardUncertainty};

/// A trial's number in one log; the one that people see and type.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(transparent)]
pub struct TrialId(pub i64);

/// A take-off or landing on the clip's capture clock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct EventTime {
    /// Best estimate.
    pub best: CaptureTime,
    /// It cannot lie outside.
    pub bounds: Bounds<CaptureTime>,
}

/// A measured value with all that is claimed about it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Measured<T> {
    /// Best estimate.
    pub best: T,
    /// It cannot lie outside, if that is known.
    pub bounds: Option<Bounds<T>>,
    /// Standard uncertainty.
    pub u: StandardUncertainty<T>,
    /// 95 % interval, if it is known.
    pub interval95: Option<Interval95<T>>,
}

/// One source of uncertainty and its share in the height.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BudgetShare {
    /// Name of the source.
    pub source: String,
    /// Standard uncertainty of the height from it alone.
    #[serde(rename = "u_m")]
    pub u: StandardUncertainty<Metres>,
}

/// A flag as it was raised.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RaisedFlag {
    /// Short name.
    pub code: String,
    /// What to do about it.
    pub advice: String,
    /// Whether it makes the trial doubtful.
    pub doubtful: bool,
}

/// What the posture at landing likely adds to a height; never taken off it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Overstatement {
    /// Expected overstatement.
    #[serde(rename = "overstatement_m")]
    pub likely: Metres,
    /// Its standard uncertainty.
    #[serde(rename = "u_m")]
    pub u: StandardUncertainty<Metres>,
}

/// All that is kept of one jump, but for whose it is and when.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrialRecord {
    /// Kind of jump.
    pub kind: JumpKind,
    /// Load beyond the body in kg; 0 without.
    pub load_kg: f64,
    /// Height of the box of a drop jump.
    pub drop_height: Option<Metres>,
    /// Last instant of contact.
    pub takeoff: Option<EventTime>,
    /// First instant of contact after the flight.
    pub landing: Option<EventTime>,
    /// Time in the air.
    pub flight_time: Option<Measured<Span>>,
    /// Jump height.
    pub height: Measured<Metres>,
    /// Part of the height's uncertainty that each clip draws anew.
    pub film_u: StandardUncertainty<Metres>,
    /// Part that all clips of one phone and place share.
    pub shared_u: StandardUncertainty<Metres>,
    /// Gravity used, in metres per second squared.
    pub gravity_m_s2: Option<f64>,
    /// Contact before the flight, for drop and rebound jumps.
    pub contact_time: Option<Span>,
    /// What the posture at landing may add.
    pub overstatement: Option<Overstatement>,
    /// Where the uncertainty comes from.
    pub budget: Vec<BudgetShare>,
    /// Flags raised when it was measured.
    pub flags: Vec<RaisedFlag>,
    /// Remark.
    pub note: String,
    /// Why a person set it aside; `None` if it counts.
    pub set_aside: Option<String>,
}

impl TrialRecord {
    /// A jump of which nothing but the height is known.
    pub fn of_height(kind: JumpKind, height: Metres, u: StandardUncertainty<Metres>) -> Self {
        Self {
            kind,
            load_kg: 0.0,
            drop_height: None,
            takeoff: None,
            landing: None,
            flight_time: None,
            height: Measured {
                best: height,
                bounds: None,
                u,
                interval95: None,
            },
            film_u: u,
            shared_u: StandardUncertainty::default(),
            gravity_m_s2: None,
            contact_time: None,
            overstatement: None,
            budget: Vec::new(),
            flags: Vec::new(),
            note: String::new(),
            set_aside: None,
        }
    }

    /// A jump as the film measured it; events and names of the budget's lines are
    /// the caller's to add.
    pub fn of_result(kind: JumpKind, result: &HeightResult, flags: &[Flag]) -> Self {
        let trial = TrialHeight::of(0, result, flags);
        Self {
            flight_time: Some(Measured {
                best: result.flight_time,
                bounds: Some(result.flight_time_bounds),
                u: result.flight_time_u,
                interval95: Some(result.flight_time_interval95),
            }),
            height: Measured {
                best: result.height,
                bounds: Some(result.bounds),
                u: result.u,
                interval95: Some(result.interval95),
            },
            film_u: trial.film_u,
            shared_u: trial.shared_u,
            gravity_m_s2: Some(result.gravity.value().metres_per_second_squared()),
            overstatement: result.posture.map(|posture| Overstatement {
                likely: posture.likely_overstatement,
                u: posture.u,
            }),
            flags: flags.iter().map(raised).collect(),
            ..Self::of_height(kind, result.height, result.u)
        }
    }

    /// Codes of the flags that make the trial doubtful.
    pub fn doubts(&self) -> impl Iterator<Item = &str> {
        let doubtful = self.flags.iter().filter(|flag| flag.doubtful);
        doubtful.map(|flag| flag.code.as_str())
    }

    /// Sees whether the values can be kept.
    ///
    /// # Errors
    /// [`LogError::BadValue`] naming the first that cannot.
    pub fn check(&self) -> Result<(), LogError> {
        use super::athlete::within;
        let opt = |what, value: Option<f64>, lo, hi| {
            value.map_or(Ok(()), |value| within(what, value, lo, hi))
        };
        within("a load in kg", self.load_kg, 0.0, 500.0)?;
        opt(
            "a drop height in metres",
            self.drop_height.map(Metres::metres),
            0.01,
            3.0,
        )?;
        measured("a height in metres", &self.height, Metres::metres, 5.0)?;
        if let Some(flight) = &self.flight_time {
            measured("a flight time in seconds", flight, Span::seconds, 5.0)?;
        }
        let film = "the film's own uncertainty of a height in metres";
        within(film, self.film_u.0.metres(), 0.0, 5.0)?;
        let shared = "the shared uncertainty of a height in metres";
        within(shared, self.shared_u.0.metres(), 0.0, 5.0)?;
        opt("gravity in m/s²", self.gravity_m_s2, 9.0, 11.0)?;
        opt(
            "a contact time in seconds",
            self.contact_time.map(Span::seconds),
            0.001,
            60.0,
        )?;
        for event in [self.takeoff, self.landing].into_iter().flatten() {
            check_event(&event)?;
        }
        if let Some(over) = self.overstatement {
            within(
                "an overstatement in metres",
                over.likely.metres(),
                -1.0,
                1.0,
            )?;
            let u = "the uncertainty of an overstatement in metres";
            within(u, over.u.0.metres(), 0.0, 1.0)?;
        }
        match &self.set_aside {
            Some(reason) if reason.trim().is_empty() => {
                let remedy = "say in a few words why the trial does not count";
                Err(LogError::bad("a reason", "empty", remedy))
            }
            _ => Ok(()),
        }
    }
}

fn check_event(event: &EventTime) -> Result<(), LogError> {
    for moment in [event.bounds.lo(), event.best, event.bounds.hi()] {
        super::athlete::within("a moment in seconds", moment.seconds(), -1e6, 1e6)?;
    }
    Ok(())
}

fn measured<T: Copy + PartialOrd>(
    what: &'static str,
    value: &Measured<T>,
    number: fn(T) -> f64,
    most: f64,
) -> Result<(), LogError> {
    use super::athlete::within;
    within(what, number(value.best), 0.0, most)?;
    within(what, number(value.u.0), 0.0, most)?;
    let ends = [
        value.bounds.map(|b| (b.lo(), b.hi())),
        value.interval95.map(|i| (i.lo, i.hi)),
    ];
    for (lo, hi) in ends.into_iter().flatten() {
        within(what, number(lo), 0.0, most)?;
        within(what, number(hi), number(lo), most)?;
    }
    Ok(())
}

fn raised(flag: &Flag) -> RaisedFlag {
    RaisedFlag {
        code: flag.code().to_owned(),
        advice: flag.advice(),
        doubtful: flag.makes_doubtful(),
    }
}

/// A jump in the log.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    /// Its number.
    pub id: TrialId,
    /// Whose it is.
    pub athlete: AthleteId,
    /// The day.
    pub date: Date,
    /// Place in the athlete's day, from 1.
    pub order: u32,
    /// The clip it was measured in, and its number there, from 1.
    pub clip: Option<(ClipRef, u32)>,
    /// What was measured.
    pub record: TrialRecord,
    /// When it was entered, or last measured.
    pub recorded: Timestamp,
}

impl Trial {
    /// The trial as the statistics take it.
    pub fn height(&self) -> TrialHeight {
        let record = &self.record;
        TrialHeight {
            order: self.order as usize,
            height: record.height.best,
            film_u: record.film_u,
            shared_u: record.shared_u,
            doubts: doubts(record.doubts(), record.set_aside.as_deref()),
        }
    }
}

/// Codes and reason together; the reason is told from any code by how it begins.
pub(super) fn doubts<'a>(
    codes: impl Iterator<Item = &'a str>,
    set_aside: Option<&str>,
) -> Vec<String> {
    let reason = set_aside.map(|reason| format!("set aside: {reason}"));
    codes.map(str::to_owned).chain(reason).collect()
}
