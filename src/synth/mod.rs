//! Renders sample clips of known truth; off the flow, uses the encoder only.
//!
//! A [`Scene`] describes an athlete, a place and a camera. [`render`] films the
//! scene and writes an MP4 with its [`Truth`] beside it as JSON. Nothing here
//! uses `video` or `jump`: the truth must not come from the code it will judge.
//!
//! ```no_run
//! use underfoot::synth::{self, Jump, Scene};
//! let scene = Scene { jumps: vec![Jump::new(1.2, 0.52)], ..Scene::default() };
//! let truth = synth::render(&scene, "jump.mp4".as_ref(), &mut |done, of| {
//!     eprintln!("{done}/{of}");
//! })?;
//! assert_eq!(truth.truth.jumps[0].flight_time, 0.52);
//! # Ok::<(), synth::SynthError>(())
//! ```
//!
//! What is drawn and what is not: the picture is an oblique parallel
//! projection (heights are to scale everywhere, the floor rises gently to the
//! back), every exposure is averaged in linear light over at least eight
//! moments, and rolling shutter gives each few rows their own moments. Hand
//! shake holds still within one frame. There is no lens distortion and no
//! perspective.

mod backdrop;
mod body;
mod bystanders;
mod camera;
mod check;
mod curve;
mod encode;
mod figure;
mod motion;
mod mp4;
mod outline;
mod picture;
mod random;
mod raster;
mod samples;
mod scene;
pub mod squad;
mod stage;
mod truth;

use std::path::{Path, PathBuf};

pub use picture::Picture;
pub use samples::{render_samples, samples};
pub use scene::{
    Ball, Codec, Encoding, Flicker, Floor, HeelRise, Jump, Landing, Noise, PasserBy, Rate, Scene,
    Shake, Shoe, Timing, View, Wall,
};
pub use truth::{
    Athlete, FeetStanding, FootTruth, ImageTruth, JumpTruth, MotionTruth, PhaseStart, Sides, Truth,
};

/// Standard acceleration of free fall, m/s² (3rd CGPM, 1901).
pub const G: f64 = 9.80665;

/// What can go wrong while a scene is filmed.
#[derive(Debug, thiserror::Error)]
pub enum SynthError {
    /// The scene contradicts itself or asks for what cannot be drawn.
    #[error("scene: {what}\nhint: {remedy}")]
    Scene {
        /// The contradiction.
        what: String,
        /// How to mend it.
        remedy: &'static str,
    },
    /// Neither encoder is in this build of FFmpeg.
    #[error(
        "this FFmpeg has no {wanted} encoder\nhint: set `encoding.codec` to \"auto\" or \"mpeg4\""
    )]
    NoEncoder {
        /// The encoder that was asked for.
        wanted: &'static str,
    },
    /// FFmpeg refused a step.
    #[error("encoding failed at {step}: {source}\nhint: try `encoding.codec` = \"mpeg4\"")]
    Encode {
        /// The step that failed.
        step: &'static str,
        /// FFmpeg's own reason.
        source: ffmpeg_next::Error,
    },
    /// The finished MP4 has no track header to turn the picture in.
    #[error(
        "the encoded clip has no track header, so it cannot be marked as turned\nhint: use rotate_deg = 0"
    )]
    NoTrackHeader,
    /// The clip or its truth could not be written.
    #[error("cannot write: {source}\nhint: check the folder and the free space: {}", path.display())]
    Write {
        /// The operating system's reason.
        source: std::io::Error,
        /// The file.
        path: PathBuf,
    },
}

/// Films `scene` into an MP4 at `path` and writes its truth beside it, under
/// the same name with the ending `.json`.
///
/// `progress` is called with (frames done, frames in all).
///
/// # Errors
/// [`SynthError`]: a scene that contradicts itself, an encoder that is missing
/// or refuses, a file that cannot be written.
pub fn render(
    scene: &Scene,
    path: &Path,
    progress: &mut dyn FnMut(usize, usize),
) -> Result<Truth, SynthError> {
    let camera = camera::Camera::new(scene)?;
    let codec = encode::Chosen::for_scene(scene)?;
    let truth = truth::state(&camera, codec.name(), path);
    let clip = encode::film(&camera, codec, progress)?;
    let clip = mp4::turn(clip, scene)?;
    write(path, &clip)?;
    let mut json = serde_json::to_vec(&truth).map_err(|error| SynthError::Write {
        source: error.into(),
        path: path.with_extension("json"),
    })?;
    json.push(b'\n');
    write(&path.with_extension("json"), &json)?;
    Ok(truth)
}

/// The frames of the file with the given numbers as the sensor delivers them,
/// before any encoder, filmed one by one as they are asked for; numbers past
/// the end are left out.
///
/// # Errors
/// [`SynthError::Scene`] if the scene contradicts itself.
pub fn pictures(
    scene: &Scene,
    numbers: impl IntoIterator<Item = usize>,
) -> Result<impl Iterator<Item = Picture>, SynthError> {
    let camera = camera::Camera::new(scene)?;
    let filmed = move |number| (number < camera.frames().len()).then(|| camera.expose(number));
    Ok(numbers.into_iter().filter_map(filmed))
}

/// The truth of a scene without filming it; `codec` and `file` stay empty.
///
/// # Errors
/// [`SynthError::Scene`] if the scene contradicts itself.
pub fn truth(scene: &Scene) -> Result<Truth, SynthError> {
    let camera = camera::Camera::new(scene)?;
    Ok(truth::state(&camera, "", Path::new("")))
}

fn write(path: &Path, bytes: &[u8]) -> Result<(), SynthError> {
    std::fs::write(path, bytes).map_err(|source| SynthError::Write {
        source,
        path: path.to_owned(),
    })
}
