//! What is true of a clip, for the file beside it. Physics-rendered clips use
//! the same field names, so that one accuracy report reads both.

use std::collections::BTreeMap;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::G;
use super::body::Flight;
use super::camera::{Camera, TICKS_PER_SECOND};
use super::figure::FEET;
use super::mp4::stored_size;
use super::scene::{Flicker, Noise, Scene, View};

/// The truth of one clip. Times in seconds, places in pixels of the upright
/// picture with the corner of the first pixel at (0, 0).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// Name of the scene.
    pub name: String,
    /// File name of the clip.
    pub file: String,
    /// What made it.
    pub generator: String,
    /// Seed of the scene.
    pub seed: u64,
    /// What is special about it, in words.
    pub tags: Vec<String>,
    /// Remark for people.
    pub note: String,
    /// What the times mean.
    pub clock: String,
    /// Frames captured per second of the world.
    pub capture_fps: f64,
    /// How many times slower the file plays than the world moved.
    pub playback_slowdown: f64,
    /// Frames in the file.
    pub frames: usize,
    /// Upright width and height.
    pub size_displayed: [u32; 2],
    /// Stored width and height.
    pub size_stored: [u32; 2],
    /// Clockwise turn a player must apply, in degrees.
    pub rotate: u32,
    /// Coding of the clip.
    pub codec: String,
    /// Bits of a sample.
    pub bits: u32,
    /// Transfer curve.
    pub transfer: String,
    /// Container.
    pub container: String,
    /// Tags of the container.
    pub container_tags: BTreeMap<String, String>,
    /// Exposure of each row.
    pub shutter_s: f64,
    /// Time from the first row to the last.
    pub rolling_readout_s: f64,
    /// Pulsing lamps.
    pub flicker: Option<Flicker>,
    /// Start of exposure of the first row of each frame.
    pub frame_capture_s: Vec<f64>,
    /// Middle of exposure of the centre row of each frame.
    pub frame_mid_exposure_centre_row_s: Vec<f64>,
    /// What the file states for each frame.
    pub file_pts_s: Vec<f64>,
    /// Capture times of frames that are not in the file.
    pub dropped_capture_s: Vec<f64>,
    /// What the athlete did.
    pub truth: MotionTruth,
    /// Where it is in the picture.
    pub image: ImageTruth,
    /// The athlete.
    pub athlete: Athlete,
    /// Sensor noise.
    pub noise: Noise,
    /// The whole scene, from which the clip can be filmed again.
    pub scene: Scene,
}

/// What the athlete did.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MotionTruth {
    /// Acceleration of free fall used, m/s².
    pub g: f64,
    /// The jumps in order of time.
    pub jumps: Vec<JumpTruth>,
    /// Their number.
    pub n_jumps: usize,
    /// What the times and heights mean.
    pub definition: String,
    /// Phases of the movement and when each begins.
    pub phases: Vec<PhaseStart>,
}

/// Name of a phase and the moment it begins, in seconds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PhaseStart(pub String, pub f64);

/// One jump. Heights and speeds in m and m/s.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct JumpTruth {
    /// Moment at which the toes leave the floor.
    pub takeoff: f64,
    /// Moment at which the feet touch the floor.
    pub landing: f64,
    /// The difference.
    pub flight_time: f64,
    /// g T² / 8.
    pub h_flight: f64,
    /// Rise of the body after take-off.
    pub h_com: f64,
    /// Upward speed of the body at take-off.
    pub v_takeoff: f64,
    /// Upward speed of the body at landing (negative).
    pub v_landing: f64,
    /// Moment at which the body is highest.
    pub apex: f64,
    /// Largest height of the shoe's lowest point above the floor.
    pub max_sole_clearance_m: f64,
    /// How much lower the body is at landing than at take-off.
    pub com_drop_m: f64,
    /// Each foot.
    pub feet: Sides<FootTruth>,
}

/// A value for each foot of the athlete.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sides<T> {
    /// Left foot.
    pub left: T,
    /// Right foot.
    pub right: T,
}

/// One foot's flight.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FootTruth {
    /// Moment it leaves the floor.
    pub takeoff: f64,
    /// Moment it touches the floor.
    pub landing: f64,
    /// The difference.
    pub air_time: f64,
}

/// Where things are in the picture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ImageTruth {
    /// The shoes in the first stance.
    pub feet_standing: FeetStanding,
    /// Floor patch a user would mark: x, y, width, height.
    pub floor_box: [i32; 4],
    /// What the patch is.
    pub floor_box_meaning: String,
    /// Scale at the feet.
    pub pixels_per_metre_at_feet: f64,
}

/// The shoes in the first stance, without hand shake.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FeetStanding {
    /// Box of the left shoe: x0, y0, x1, y1.
    pub left: [f64; 4],
    /// Lower edge of the left sole: two points.
    pub left_sole_line: [[f64; 2]; 2],
    /// Box of the right shoe: x0, y0, x1, y1.
    pub right: [f64; 4],
    /// Lower edge of the right sole: two points.
    pub right_sole_line: [[f64; 2]; 2],
}

/// The athlete.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Athlete {
    /// Body height.
    pub stature_m: f64,
}

/// Tags the container carries for this scene.
pub(super) fn container_tags(scene: &Scene) -> BTreeMap<String, String> {
    let mut tags = BTreeMap::new();
    if scene.playback_slowdown > 1 {
        let fps = scene.capture_rate.fps();
        tags.insert("com.android.capture.fps".into(), format!("{fps:.6}"));
    }
    tags
}

/// Nanoseconds: finer than any clock here, and short to read.
fn tidy(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}

/// States the truth of a camera's clip.
pub(super) fn state(camera: &Camera, codec: &str, path: &Path) -> Truth {
    let scene = &camera.scene;
    let mid = 0.5 * (scene.shutter_s + scene.rolling_readout_s);
    let times = |value: &dyn Fn(f64, i64) -> f64| {
        let frames = camera.frames().iter();
        frames
            .map(|frame| tidy(value(frame.capture_s, frame.ticks)))
            .collect()
    };
    let (stored_w, stored_h) = stored_size(scene);
    let file_name = path.file_name().unwrap_or_default();
    Truth {
        name: scene.name.clone(),
        file: file_name.to_string_lossy().into_owned(),
        generator: "underfoot synth".into(),
        seed: scene.seed,
        tags: tags(scene),
        note: String::new(),
        clock: "seconds; 0 = start of exposure of the first row of the first frame; all events and capture times on this clock".into(),
        capture_fps: tidy(scene.capture_rate.fps()),
        playback_slowdown: f64::from(scene.playback_slowdown),
        frames: camera.frames().len(),
        size_displayed: [scene.width_px, scene.height_px],
        size_stored: [stored_w, stored_h],
        rotate: scene.rotate_deg,
        codec: codec.into(),
        bits: 8,
        transfer: "bt709".into(),
        container: "mp4".into(),
        container_tags: container_tags(scene),
        shutter_s: scene.shutter_s,
        rolling_readout_s: scene.rolling_readout_s,
        flicker: scene.flicker,
        frame_capture_s: times(&|capture, _| capture),
        frame_mid_exposure_centre_row_s: times(&|capture, _| capture + mid),
        file_pts_s: times(&|_, ticks| ticks as f64 / f64::from(TICKS_PER_SECOND)),
        dropped_capture_s: camera.dropped_s().iter().map(|&time| tidy(time)).collect(),
        truth: motion(camera),
        image: image(camera),
        athlete: Athlete { stature_m: scene.stature_m },
        noise: scene.noise,
        scene: scene.clone(),
    }
}

fn motion(camera: &Camera) -> MotionTruth {
    let jumps: Vec<JumpTruth> = camera.motion.flights.iter().map(jump).collect();
    let phases = camera.motion.phases.iter();
    MotionTruth {
        g: G,
        n_jumps: jumps.len(),
        jumps,
        definition: "takeoff: the toes leave the floor; landing: the feet touch it; flight_time their difference; h_flight g T^2/8; h_com v_takeoff^2/(2g)".into(),
        phases: phases.map(|&(name, at)| PhaseStart(name.into(), tidy(at))).collect(),
    }
}

fn jump(flight: &Flight) -> JumpTruth {
    let jump = &flight.jump;
    let time = jump.flight_s;
    let speed = flight.takeoff_speed().max(0.0);
    let foot = |flight: &Flight| FootTruth {
        takeoff: tidy(flight.jump.takeoff_s),
        landing: tidy(flight.jump.landing_s()),
        air_time: tidy(flight.jump.flight_s),
    };
    JumpTruth {
        takeoff: jump.takeoff_s,
        landing: tidy(jump.landing_s()),
        flight_time: time,
        h_flight: tidy(G * time * time / 8.0),
        h_com: tidy(speed * speed / (2.0 * G)),
        v_takeoff: tidy(flight.takeoff_speed()),
        v_landing: tidy(flight.landing_speed()),
        apex: tidy(jump.takeoff_s + flight.time_to_apex()),
        max_sole_clearance_m: tidy(flight.max_clearance()),
        com_drop_m: jump.landing.com_drop_m,
        feet: Sides {
            left: foot(&flight.of_left_foot()),
            right: foot(flight),
        },
    }
}

/// Height and half width of a shoe, for a body of 1.75 m.
const SHOE_HEIGHT_M: f64 = 0.108;
const SHOE_HALF_WIDTH_M: f64 = 0.053;

fn image(camera: &Camera) -> ImageTruth {
    let scene = &camera.scene;
    let [left, left_sole_line] = shoe(camera, 1.0);
    let [right, right_sole_line] = shoe(camera, -1.0);
    let lowest = left[3].max(right[3]);
    let x0 = left[0].min(right[0]) - 0.06 * scene.pixels_per_metre;
    let x1 = left[2].max(right[2]) + 0.06 * scene.pixels_per_metre;
    let y0 = left[1].min(right[1]);
    let y1 = (lowest + 0.08 * scene.pixels_per_metre).min(f64::from(scene.height_px));
    let (x0, y0) = (x0.max(0.0).floor(), y0.max(0.0).floor());
    let x1 = x1.min(f64::from(scene.width_px));
    ImageTruth {
        feet_standing: FeetStanding {
            left: [left[0], left[1], left[2], left[3]],
            left_sole_line: [[left_sole_line[0], left_sole_line[1]], [left_sole_line[2], left_sole_line[3]]],
            right: [right[0], right[1], right[2], right[3]],
            right_sole_line: [[right_sole_line[0], right_sole_line[1]], [right_sole_line[2], right_sole_line[3]]],
        },
        floor_box: [x0 as i32, y0 as i32, (x1 - x0).ceil() as i32, (y1 - y0).ceil() as i32],
        floor_box_meaning: "x, y, w, h in pixels of the displayed (upright) image: the feet when standing and the floor just below".into(),
        pixels_per_metre_at_feet: scene.pixels_per_metre,
    }
}

/// Box (x0, y0, x1, y1) and sole line (x, y, x, y) of one standing shoe;
/// `side` is 1 for the left one.
fn shoe(camera: &Camera, side: f64) -> [[f64; 4]; 2] {
    let scene = &camera.scene;
    let px = scene.pixels_per_metre;
    let body = scene.stature_m / 1.75;
    let centre = camera.projection.centre_x;
    let half_length = 0.5 * camera.motion.body.shoe;
    let spread = side * FEET * body;
    let (x0, x1, sole) = match scene.view {
        View::Side => {
            let sole = camera.projection.see([0.0, spread, 0.0])[1];
            (centre - px * half_length, centre + px * half_length, sole)
        }
        View::Front | View::Back | View::Diagonal => {
            let [cos, sin] = scene.view.turn();
            let half = SHOE_HALF_WIDTH_M * body;
            let nearest = spread * cos - half * cos - half_length * sin.abs();
            let sole = camera.projection.see([0.0, nearest, 0.0])[1];
            let reach = half_length * cos + half * sin.abs();
            (
                centre + px * (spread * sin - reach),
                centre + px * (spread * sin + reach),
                sole,
            )
        }
    };
    let top = sole - px * SHOE_HEIGHT_M * body;
    let [x0, x1, top, sole] = [x0, x1, top, sole].map(|v| (v * 1e4).round() / 1e4);
    [[x0, top, x1, sole], [x0, sole, x1, sole]]
}

fn tags(scene: &Scene) -> Vec<String> {
    let varied = scene.timing.capture_jitter_s > 0.0 || scene.timing.stamp_jitter_s > 0.0;
    let listed = [
        (scene.view == View::Front, "front view"),
        (scene.view == View::Back, "back view"),
        (scene.view == View::Diagonal, "45 degrees"),
        (scene.playback_slowdown > 1, "slow-motion file, text tag"),
        (scene.rotate_deg != 0, "turned by display matrix"),
        (scene.jumps.len() > 1, "several jumps"),
        (scene.jumps.is_empty(), "no jump"),
        (!scene.heel_rises.is_empty(), "heel rise"),
        (
            scene
                .jumps
                .iter()
                .any(|jump| jump.landing.com_drop_m > 0.02),
            "bent landing",
        ),
        (scene.flicker.is_some(), "flicker"),
        (scene.rolling_readout_s > 0.0, "rolling shutter"),
        (scene.shake.is_some(), "hand shake"),
        (!scene.passers_by.is_empty(), "person walks by"),
        (scene.ball.is_some(), "ball rolls by"),
        (varied, "variable frame timing"),
        (!scene.timing.dropped.is_empty(), "dropped frames"),
    ];
    let named = listed.iter().filter(|(holds, _)| *holds);
    named.map(|(_, tag)| (*tag).to_owned()).collect()
}
