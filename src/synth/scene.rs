//! What is to be filmed: plain data with sensible defaults.

use std::f64::consts::FRAC_1_SQRT_2;

use serde::{Deserialize, Serialize};

/// An athlete, a place and a camera. Every field has a default, so a scene in
/// JSON states only what differs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Scene {
    /// Short name, used in the truth.
    pub name: String,
    /// Seed of noise, jitter, shake and textures.
    pub seed: u64,
    /// Frames captured per second of the world.
    pub capture_rate: Rate,
    /// How many times slower the file plays than the world moved. Above 1 the
    /// file carries a `com.android.capture.fps` tag, as phones write it.
    pub playback_slowdown: u32,
    /// Length of the clip on the capture clock, in seconds.
    pub duration_s: f64,
    /// Width of the upright picture.
    pub width_px: u32,
    /// Height of the upright picture.
    pub height_px: u32,
    /// Clockwise turn a player must apply: 0, 90, 180 or 270.
    pub rotate_deg: u32,
    /// From where the camera looks.
    pub view: View,
    /// Scale of heights and widths in the picture.
    pub pixels_per_metre: f64,
    /// Where the athlete stands, as fractions of width and height.
    pub stance: [f64; 2],
    /// Body height; the limbs follow.
    pub stature_m: f64,
    /// Floor surface.
    pub floor: Floor,
    /// Mean luminance of the floor in linear light, 0 to 1.
    pub floor_luminance: f64,
    /// What is behind the athlete.
    pub wall: Wall,
    /// Shoe against floor.
    pub shoe: Shoe,
    /// Darkness of the cast shadow, 0 (none) to 1 (black).
    pub shadow: f64,
    /// Exposure of each row, in seconds.
    pub shutter_s: f64,
    /// Time from the first row's exposure to the last row's, in seconds.
    pub rolling_readout_s: f64,
    /// Sensor noise.
    pub noise: Noise,
    /// Pulsing lamps.
    pub flicker: Option<Flicker>,
    /// Unsteady hand.
    pub shake: Option<Shake>,
    /// Uneven and missing frames.
    pub timing: Timing,
    /// Jumps in order of time.
    pub jumps: Vec<Jump>,
    /// Rises on the toes which are not jumps.
    pub heel_rises: Vec<HeelRise>,
    /// People who walk through the picture.
    pub passers_by: Vec<PasserBy>,
    /// A ball rolling through the picture.
    pub ball: Option<Ball>,
    /// How the pictures become a file.
    pub encoding: Encoding,
}

impl Default for Scene {
    fn default() -> Self {
        Self {
            name: "jump".into(),
            seed: 1,
            capture_rate: Rate::per_second(60),
            playback_slowdown: 1,
            duration_s: 2.5,
            width_px: 640,
            height_px: 360,
            rotate_deg: 0,
            view: View::Side,
            pixels_per_metre: 135.0,
            stance: [0.5, 0.87],
            stature_m: 1.75,
            floor: Floor::Boards,
            floor_luminance: 0.32,
            wall: Wall::Plaster,
            shoe: Shoe::default(),
            shadow: 0.5,
            shutter_s: 0.002,
            rolling_readout_s: 0.0,
            noise: Noise::default(),
            flicker: None,
            shake: None,
            timing: Timing::default(),
            jumps: vec![Jump::new(1.15, 0.5)],
            heel_rises: Vec::new(),
            passers_by: Vec::new(),
            ball: None,
            encoding: Encoding::default(),
        }
    }
}

/// A rate as a fraction, so that 60000/1001 stays exact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rate {
    /// Frames.
    pub num: u32,
    /// In so many seconds.
    pub den: u32,
}

impl Rate {
    /// A whole number of frames in a second.
    pub const fn per_second(frames: u32) -> Self {
        Self {
            num: frames,
            den: 1,
        }
    }

    /// Frames per second.
    pub fn fps(self) -> f64 {
        f64::from(self.num) / f64::from(self.den)
    }
}

/// From where the camera looks at the athlete.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum View {
    /// The athlete faces right.
    Side,
    /// The athlete faces the camera.
    Front,
    /// The athlete faces away from the camera: heels hide toes.
    Back,
    /// The athlete faces right and halfway towards the camera.
    Diagonal,
}

impl View {
    /// Cosine and sine of the turn from facing right towards facing the camera.
    pub(super) fn turn(self) -> [f64; 2] {
        match self {
            Self::Side => [1.0, 0.0],
            Self::Front => [0.0, 1.0],
            Self::Back => [0.0, -1.0],
            Self::Diagonal => [FRAC_1_SQRT_2, FRAC_1_SQRT_2],
        }
    }

    /// Whether one leg stands behind the other.
    pub(super) fn has_far_side(self) -> bool {
        matches!(self, Self::Side | Self::Diagonal)
    }
}

/// Floor surface.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Floor {
    /// One even colour.
    Plain,
    /// Gymnasium boards with a court line.
    Boards,
    /// Short grass.
    Grass,
    /// Square tiles with pale joints.
    Tiles,
}

/// What is behind the athlete.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Wall {
    /// One even colour.
    Plain,
    /// Rough plaster.
    Plaster,
    /// Brickwork.
    Bricks,
    /// Gymnasium wall bars.
    Bars,
}

/// Brightness of the shoe as a multiple of the floor's mean luminance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Shoe {
    /// The upper.
    pub upper: f64,
    /// The sole.
    pub sole: f64,
}

impl Default for Shoe {
    fn default() -> Self {
        Self {
            upper: 0.15,
            sole: 2.2,
        }
    }
}

/// Sensor noise in linear light, as fractions of full scale; the standard
/// deviation at luminance L is `sqrt(read² + shot² L)`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Noise {
    /// Noise of the dark sensor.
    pub read: f64,
    /// Photon noise at full scale.
    pub shot: f64,
}

impl Default for Noise {
    fn default() -> Self {
        Self {
            read: 0.0006,
            shot: 0.006,
        }
    }
}

/// Lamps that pulse at twice the mains frequency.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Flicker {
    /// Pulses per second: 100 or 120.
    pub hz: f64,
    /// Swing of the light about its mean, 0 to 1.
    pub amplitude: f64,
    /// Phase at time 0.
    #[serde(default)]
    pub phase_rad: f64,
}

/// An unsteady hand: a slow drift of the whole picture.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shake {
    /// Root-mean-square shift in each direction.
    pub amplitude_px: f64,
    /// Middle frequency of the sway.
    pub hz: f64,
}

/// Uneven and missing frames.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Timing {
    /// Uneven capture which the file states truly: largest shift of a frame.
    pub capture_jitter_s: f64,
    /// Error of the file's stamps about the true capture: largest shift.
    pub stamp_jitter_s: f64,
    /// Numbers of captured frames that never reach the file.
    pub dropped: Vec<usize>,
}

/// A jump with both feet, hands on the hips.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Jump {
    /// Moment at which the toes leave the floor.
    pub takeoff_s: f64,
    /// Time until the feet touch the floor again.
    pub flight_s: f64,
    /// How far to the right of the take-off place the feet land.
    #[serde(default)]
    pub landing_shift_px: f64,
    /// Time in which the toes' speed rises from 0 to the body's.
    #[serde(default = "Jump::toe_lag")]
    pub toe_lag_s: f64,
    /// Pitch of the foot about the toes at take-off; 0 is a flat-footed hop.
    #[serde(default = "Jump::pitch")]
    pub takeoff_pitch_rad: f64,
    /// How far the feet are drawn up in mid-flight.
    #[serde(default)]
    pub tuck_m: f64,
    /// How much earlier the left foot leaves the floor than the right one, and how
    /// much later it comes down.
    #[serde(default)]
    pub left_apart_s: [f64; 2],
    /// Posture at landing.
    #[serde(default)]
    pub landing: Landing,
}

impl Jump {
    /// A plain countermovement jump.
    pub fn new(takeoff_s: f64, flight_s: f64) -> Self {
        Self {
            takeoff_s,
            flight_s,
            landing_shift_px: 0.0,
            toe_lag_s: Self::toe_lag(),
            takeoff_pitch_rad: Self::pitch(),
            tuck_m: 0.0,
            left_apart_s: [0.0; 2],
            landing: Landing::default(),
        }
    }

    /// Moment at which the feet touch the floor again.
    pub fn landing_s(&self) -> f64 {
        self.takeoff_s + self.flight_s
    }

    fn toe_lag() -> f64 {
        0.004
    }

    fn pitch() -> f64 {
        0.6
    }
}

/// Posture at the moment of landing, against that at take-off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Landing {
    /// Pitch of the foot: positive lands on the toes, 0 flat, negative on the
    /// heels.
    pub foot_pitch_rad: f64,
    /// How much lower the body is than at take-off (bent knees, drawn-up
    /// feet). The flight then lasts longer than the rise accounts for.
    pub com_drop_m: f64,
}

impl Default for Landing {
    fn default() -> Self {
        Self {
            foot_pitch_rad: 0.52,
            com_drop_m: 0.0,
        }
    }
}

impl Landing {
    /// Lands on the whole sole.
    pub fn flat() -> Self {
        Self {
            foot_pitch_rad: 0.0,
            com_drop_m: 0.11,
        }
    }

    /// Lands on the toes with the knees already bent.
    pub fn knees_bent() -> Self {
        Self {
            foot_pitch_rad: 0.4,
            com_drop_m: 0.1,
        }
    }
}

/// A rise on the toes and back.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct HeelRise {
    /// When the heels begin to rise.
    pub start_s: f64,
    /// Until they are down again.
    pub duration_s: f64,
    /// Largest pitch of the foot.
    pub pitch_rad: f64,
}

/// Somebody who walks through the picture.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PasserBy {
    /// When this person is level with the athlete.
    pub passes_s: f64,
    /// Walking speed to the right; negative walks to the left.
    pub speed_m_s: f64,
    /// Distance behind the athlete; negative is in front.
    pub depth_m: f64,
}

/// A ball rolling over the floor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ball {
    /// When it is level with the athlete.
    pub passes_s: f64,
    /// Speed to the right; negative rolls to the left.
    pub speed_m_s: f64,
    /// Distance behind the athlete; negative is in front.
    pub depth_m: f64,
}

/// How the pictures become a file.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Encoding {
    /// Which encoder.
    pub codec: Codec,
    /// x264's constant rate factor; for mpeg4 a sixth of it is the quantiser.
    pub crf: u32,
    /// Most B frames in a row.
    pub b_frames: u32,
    /// Seconds of capture between key frames.
    pub key_interval_s: f64,
}

impl Default for Encoding {
    fn default() -> Self {
        Self {
            codec: Codec::Auto,
            crf: 23,
            b_frames: 0,
            key_interval_s: 1.0,
        }
    }
}

/// Which encoder to use.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Codec {
    /// H.264 through libx264 where this FFmpeg has it, else MPEG-4.
    Auto,
    /// H.264 through libx264, or an error.
    H264,
    /// MPEG-4 part 2, which every FFmpeg has.
    Mpeg4,
}
