//! The document of one clip: what programs read and what the terminal text is made of.
//!
//! Every key is described in `docs/json.md`. Bounds and intervals stay different types
//! up to here and are written as two-element lists, lower end first.

use serde::{Deserialize, Serialize};

use crate::units::{Bounds, CaptureTime, Interval95, Metres, Span, StandardUncertainty};

/// Version of the document's layout; it rises when a key changes meaning or goes.
pub const SCHEMA: u32 = 1;

/// Everything that was found out about one clip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Document {
    /// [`SCHEMA`] of the program that wrote it.
    pub schema: u32,
    /// The clip's path as it was given.
    pub clip: String,
    /// How the clip keeps time; `None` if it could not be read.
    pub clock: Option<Clock>,
    /// The floor patch in pixels of the upright picture: x, y, width, height.
    pub patch: Option<[u32; 4]>,
    /// The jumps in order of time.
    pub jumps: Vec<Jump>,
    /// Sentences on the clip as a whole.
    pub warnings: Vec<String>,
    /// Why there is no measurement; `None` on success.
    pub error: Option<Failure>,
}

impl Document {
    /// The document of a clip that could not be measured.
    pub fn failed(clip: impl Into<String>, error: Failure) -> Self {
        Self {
            schema: SCHEMA,
            clip: clip.into(),
            clock: None,
            patch: None,
            jumps: Vec::new(),
            warnings: Vec::new(),
            error: Some(error),
        }
    }
}

/// Why a clip could not be measured, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Failure {
    /// What went wrong.
    pub message: String,
    /// What the reader can do.
    pub hint: String,
}

/// How a clip keeps time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clock {
    /// Frame rate that the file declares, in frames per second.
    pub nominal_fps: Option<f64>,
    /// Frame rate at which the world was filmed, from the time stamps.
    pub capture_fps: f64,
    /// Where the capture rate was taken from.
    pub source: String,
    /// Frames that the phone left out.
    pub dropped: usize,
    /// Frames that show the same picture as the one before.
    pub repeated: usize,
}

/// One jump: take-off, landing, height and how far each can be trusted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Jump {
    /// Position among the clip's jumps, from 1.
    pub number: usize,
    /// Kind of jump as stated or found, such as `countermovement`.
    pub kind: Option<String>,
    /// Feet the jump was made from: `both`, `left` or `right`.
    pub feet: Option<String>,
    /// Each foot's own flight, left to right in the picture, where two are seen side by
    /// side.
    pub each_foot: Option<[FootFlight; 2]>,
    /// Last instant of contact, best estimate.
    pub takeoff_s: CaptureTime,
    /// First instant of contact again, best estimate.
    pub landing_s: CaptureTime,
    /// Where take-off must lie.
    #[serde(with = "bounds_as_list")]
    pub takeoff_bounds_s: Bounds<CaptureTime>,
    /// Where landing must lie.
    #[serde(with = "bounds_as_list")]
    pub landing_bounds_s: Bounds<CaptureTime>,
    /// The frames that enclose both events.
    pub frames: EventFrames,
    /// Time in the air.
    pub flight_time_s: Span,
    /// What the time in the air must be, given the frames.
    #[serde(with = "bounds_as_list")]
    pub flight_time_bounds_s: Bounds<Span>,
    /// Standard uncertainty of the time in the air.
    pub flight_time_u_s: StandardUncertainty<Span>,
    /// 95 % interval of the time in the air.
    #[serde(with = "interval_as_list")]
    pub flight_time_interval95_s: Interval95<Span>,
    /// Jump height from the time in the air.
    pub height_m: Metres,
    /// What the height must be, given the frames.
    #[serde(with = "bounds_as_list")]
    pub height_bounds_m: Bounds<Metres>,
    /// Standard uncertainty of the height.
    pub height_u_m: StandardUncertainty<Metres>,
    /// 95 % interval of the height.
    #[serde(with = "interval_as_list")]
    pub height_interval95_m: Interval95<Metres>,
    /// What `height_m` is the height of.
    pub definition: String,
    /// Gravity used, in metres per second squared.
    pub gravity_m_s2: f64,
    /// Where that gravity comes from.
    pub gravity_source: String,
    /// Speed of the centre of mass at take-off, in metres per second.
    pub takeoff_velocity_m_s: f64,
    /// Contact time before the jump, where a rebound or drop jump has one.
    pub contact_time_s: Option<Span>,
    /// What the contact time must be, given the frames.
    #[serde(with = "maybe_bounds_as_list")]
    pub contact_time_bounds_s: Option<Bounds<Span>>,
    /// Standard uncertainty of the contact time.
    pub contact_time_u_s: Option<StandardUncertainty<Span>>,
    /// Reactive strength index, height over contact time, in metres per second.
    pub rsi_m_s: Option<f64>,
    /// Its standard uncertainty.
    pub rsi_u_m_s: Option<f64>,
    /// Time in the air over contact time; not the same as the index.
    pub flight_over_contact: Option<f64>,
    /// Its standard uncertainty.
    pub flight_over_contact_u: Option<f64>,
    /// How far the trunk came down before the contact.
    pub fall_m: Option<Metres>,
    /// What posture at landing may add to the height; not taken off it.
    pub posture: Option<Posture>,
    /// The body's length as free fall measures it through the clip's clock.
    pub body: Option<Body>,
    /// Where the uncertainty comes from.
    pub budget: Vec<BudgetLine>,
    /// Doubts about this jump.
    pub flags: Vec<Flag>,
}

/// Indices of the frames next to both events.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EventFrames {
    /// Last frame with contact, first frame in the air.
    pub takeoff: [usize; 2],
    /// Last frame in the air, first frame with contact.
    pub landing: [usize; 2],
}

/// One foot's own time in the air.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FootFlight {
    /// When it left the floor, best estimate.
    pub takeoff_s: CaptureTime,
    /// Standard uncertainty of that.
    pub takeoff_u_s: StandardUncertainty<Span>,
    /// When it came back, best estimate.
    pub landing_s: CaptureTime,
    /// Standard uncertainty of that.
    pub landing_u_s: StandardUncertainty<Span>,
    /// The difference.
    pub flight_time_s: Span,
}

/// How far a bent landing may overstate the height.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Posture {
    /// Expected overstatement.
    pub overstatement_m: Metres,
    /// Its standard uncertainty.
    pub u_m: StandardUncertainty<Metres>,
    /// How much lower the centre of mass was at landing than at take-off.
    pub lowering_m: Metres,
    /// The height less the overstatement: the likely rise.
    pub likely_rise_m: Metres,
}

/// What free fall says of scale and clock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Body {
    /// From toes to head at take-off, if the clip's clock is right.
    pub length_m: Metres,
    /// Its standard uncertainty.
    pub u_m: StandardUncertainty<Metres>,
    /// Scale at the body in pixels of the upright picture per metre.
    pub px_per_m: f64,
    /// Capture rate at which that length fits the stated stature.
    pub implied_fps: Option<f64>,
    /// Its standard uncertainty.
    pub implied_fps_u: Option<f64>,
    /// Whether the clip's capture rate agrees with that.
    pub clock_agrees: Option<bool>,
}

/// One source of uncertainty and its share, as a height.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BudgetLine {
    /// Name of the source.
    pub source: String,
    /// Standard uncertainty of the height from this source alone.
    pub u_m: StandardUncertainty<Metres>,
}

/// A doubt about a jump and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Flag {
    /// Short name for programs.
    pub code: String,
    /// A sentence for people.
    pub advice: String,
    /// Whether the height should not be used before somebody has looked.
    #[serde(default)]
    pub doubtful: bool,
}

/// What a clip is, before any jump is looked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Inspection {
    /// The clip's path as it was given.
    pub clip: String,
    /// Name of the video codec.
    pub codec: String,
    /// Width of the upright picture.
    pub width_px: u32,
    /// Height of the upright picture.
    pub height_px: u32,
    /// Clockwise turn that makes the stored picture upright, in degrees.
    pub rotation_deg: i32,
    /// Mean frame rate of the file's own time stamps, in frames per second.
    pub measured_fps: f64,
    /// How the clip keeps time.
    pub clock: Clock,
    /// Standard deviation of the distance from frame to frame.
    pub jitter_s: Span,
    /// Tags of the container: name and value.
    pub tags: Vec<(String, String)>,
    /// The jump height for which the precision below is stated.
    pub reference_height_m: Metres,
    /// How far off that height can be at most.
    pub reference_bound_m: Metres,
    /// Standard uncertainty of that height.
    pub reference_u_m: StandardUncertainty<Metres>,
}

/// Writes [`Bounds`] as `[lo, hi]`; refuses a list in the wrong order.
mod bounds_as_list {
    use super::*;
    use serde::{Deserializer, Serializer, de::Error};

    pub(super) fn serialize<T, S>(bounds: &Bounds<T>, out: S) -> Result<S::Ok, S::Error>
    where
        T: Copy + PartialOrd + Serialize,
        S: Serializer,
    {
        [bounds.lo(), bounds.hi()].serialize(out)
    }

    pub(super) fn deserialize<'de, T, D>(from: D) -> Result<Bounds<T>, D::Error>
    where
        T: Copy + PartialOrd + Deserialize<'de>,
        D: Deserializer<'de>,
    {
        let [lo, hi] = <[T; 2]>::deserialize(from)?;
        if lo > hi {
            return Err(D::Error::custom("bounds stand in the wrong order"));
        }
        Ok(Bounds::between(lo, hi))
    }
}

/// Writes [`Bounds`] as `[lo, hi]`, or `null`.
mod maybe_bounds_as_list {
    use super::*;
    use serde::{Deserializer, Serializer, de::Error};

    pub(super) fn serialize<T, S>(bounds: &Option<Bounds<T>>, out: S) -> Result<S::Ok, S::Error>
    where
        T: Copy + PartialOrd + Serialize,
        S: Serializer,
    {
        let list = bounds.as_ref().map(|bounds| [bounds.lo(), bounds.hi()]);
        list.serialize(out)
    }

    pub(super) fn deserialize<'de, T, D>(from: D) -> Result<Option<Bounds<T>>, D::Error>
    where
        T: Copy + PartialOrd + Deserialize<'de>,
        D: Deserializer<'de>,
    {
        let Some([lo, hi]) = <Option<[T; 2]>>::deserialize(from)? else {
            return Ok(None);
        };
        if lo > hi {
            return Err(D::Error::custom("bounds stand in the wrong order"));
        }
        Ok(Some(Bounds::between(lo, hi)))
    }
}

/// Writes [`Interval95`] as `[lo, hi]`; refuses a list in the wrong order.
mod interval_as_list {
    use super::*;
    use serde::{Deserializer, Serializer, de::Error};

    pub(super) fn serialize<T, S>(interval: &Interval95<T>, out: S) -> Result<S::Ok, S::Error>
    where
        T: Copy + Serialize,
        S: Serializer,
    {
        [interval.lo, interval.hi].serialize(out)
    }

    pub(super) fn deserialize<'de, T, D>(from: D) -> Result<Interval95<T>, D::Error>
    where
        T: Copy + PartialOrd + Deserialize<'de>,
        D: Deserializer<'de>,
    {
        let [lo, hi] = <[T; 2]>::deserialize(from)?;
        if lo > hi {
            return Err(D::Error::custom("interval ends stand in the wrong order"));
        }
        Ok(Interval95 { lo, hi })
    }
}
