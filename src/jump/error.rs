//! What can be wrong with the numbers handed to this stage.

use thiserror::Error;

use crate::units::CaptureTime;

/// A quantity that cannot describe a jump: what, where in the clip, remedy.
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum JumpError {
    /// An event's moments are not numbers or do not follow one another.
    #[error(
        "an event's moments are out of order: earliest {earliest}, best {best}, latest {latest}"
    )]
    EventOutOfOrder {
        /// Last frame before the event.
        earliest: CaptureTime,
        /// Best estimate.
        best: CaptureTime,
        /// First frame after the event.
        latest: CaptureTime,
    },
    /// A fit came with an uncertainty that is negative or not a number.
    #[error("the fit of the event at {at} has the uncertainty {u_s} s")]
    BadFit {
        /// The event's best estimate.
        at: CaptureTime,
        /// The offending uncertainty in seconds.
        u_s: f64,
    },
    /// The landing does not follow the take-off.
    #[error("the landing (at {landing}) does not follow the take-off (at {takeoff})")]
    LandingNotAfterTakeoff {
        /// Best estimate of the take-off.
        takeoff: CaptureTime,
        /// Best estimate of the landing.
        landing: CaptureTime,
    },
    /// A stated gravity is not found on the ground anywhere on Earth.
    #[error("gravity of {value_m_s2} m/s² is outside 9.7 to 9.9")]
    GravityOutOfRange {
        /// The offending value.
        value_m_s2: f64,
    },
    /// A latitude or an altitude does not exist or is out of reach.
    #[error("latitude {latitude_deg}° at {altitude_m} m is outside ±90° and −500 to 9000 m")]
    PlaceOutOfRange {
        /// Latitude in degrees.
        latitude_deg: f64,
        /// Altitude above sea level in metres.
        altitude_m: f64,
    },
    /// A clock's uncertainty is negative, not a number, or beyond use.
    #[error("a clock with relative uncertainty {relative} and tick {tick_s} s cannot be used")]
    BadClock {
        /// Relative standard uncertainty of the rate.
        relative: f64,
        /// Tick in seconds.
        tick_s: f64,
    },
    /// A correlation lies outside −1 to 1.
    #[error("a correlation of {value} is outside −1 to 1")]
    BadCorrelation {
        /// The offending value.
        value: f64,
    },
    /// A further source of timing error has no usable size.
    #[error("a source of timing error has the uncertainty {u_s} s, or cannot be 0")]
    BadTimeSource {
        /// Its standard uncertainty in seconds.
        u_s: f64,
    },
    /// A place between no two frames of the clip.
    #[error(
        "an event cannot be set at frame {place}, which lies between no two of {frames} frames"
    )]
    NoSuchPlace {
        /// The place, counted in frames.
        place: f64,
        /// Frames of the clip.
        frames: usize,
    },
    /// The lowering at landing does not fit the flight.
    #[error("a landing posture lower by {lowering_m} m cannot belong to a flight of {height_m} m")]
    PostureOutOfRange {
        /// Lowering in metres.
        lowering_m: f64,
        /// Height from flight time in metres.
        height_m: f64,
    },
}

impl JumpError {
    /// What the user can do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::EventOutOfOrder { .. } | Self::BadFit { .. } => {
                "look at the frames round this event and set it by hand"
            }
            Self::LandingNotAfterTakeoff { .. } => {
                "choose a take-off and the landing that follows it"
            }
            Self::NoSuchPlace { .. } => "choose a frame with another on either side",
            Self::GravityOutOfRange { .. } => {
                "state gravity in m/s² (9.78 at the equator, 9.83 at the poles), \
                 or leave it out for 9.80665"
            }
            Self::PlaceOutOfRange { .. } => {
                "state the latitude in degrees, south negative, and the altitude in metres"
            }
            Self::BadClock { .. } => {
                "state the clock's relative uncertainty, such as 0.0001, \
                 and its tick in seconds, such as 0.001"
            }
            Self::BadCorrelation { .. } => "state a correlation from −1 to 1; 0 if unknown",
            Self::BadTimeSource { .. } => "state the size of the timing error in seconds, above 0",
            Self::PostureOutOfRange { .. } => {
                "state the lowering at landing in metres, less than four times the height"
            }
        }
    }
}
