//! Measures one clip through the library and holds the result against its truth.

use std::num::NonZero;
use std::thread;
use std::time::Instant;

use anyhow::Result;
use serde::Serialize;
use underfoot::jump::{
    ClockUncertainty, Conditions, FoundJump, Gravity, HeightResult, find_jumps, height,
};
use underfoot::units::{Acceleration, CaptureTime, Span};
use underfoot::video::{CaptureClock, Clip, FloorPatch, watch};

use crate::truth::{TrueClip, TrueJump};

/// How badly the floor patch is marked.
#[derive(Clone, Copy)]
pub struct Marking {
    /// Factors on width and height, about the centre.
    pub scale: (f64, f64),
    /// Shares of width and height by which it is moved.
    pub shift: (f64, f64),
}

impl Marking {
    /// The patch that is used instead of `floor_box`, inside a picture of `size`.
    fn applied(self, floor_box: [u32; 4], size: (u32, u32)) -> FloorPatch {
        let [x, y, w, h] = floor_box;
        let (x, w) = side(x, w, self.scale.0, self.shift.0, size.0);
        let (y, h) = side(y, h, self.scale.1, self.shift.1, size.1);
        FloorPatch { x, y, w, h }
    }
}

/// Start and length of one side, scaled, shifted and cut off at the picture's edge.
fn side(start: u32, length: u32, scale: f64, shift: f64, of: u32) -> (u32, u32) {
    let length = f64::from(length);
    let centre = f64::from(start) + length * (0.5 + shift);
    let last = f64::from(of.saturating_sub(1));
    let from = (centre - 0.5 * length * scale).round().clamp(0.0, last);
    let to = (centre + 0.5 * length * scale).round();
    let to = to.clamp(from + 1.0, f64::from(of).max(from + 1.0));
    (from as u32, (to - from) as u32)
}

/// What came of one clip.
#[derive(Serialize)]
pub struct Outcome {
    pub clip: String,
    pub capture_fps: f64,
    pub true_jumps: usize,
    /// Take-off and landing of each reported jump that is none, on the capture clock.
    pub invented_s: Vec<[f64; 2]>,
    pub jumps: Vec<Comparison>,
    /// Why nothing could be measured.
    pub error: Option<String>,
    pub wall_s: f64,
}

impl Outcome {
    pub fn missed(&self) -> usize {
        self.true_jumps - self.jumps.len()
    }

    pub fn invented(&self) -> usize {
        self.invented_s.len()
    }
}

/// A found jump beside its truth.
#[derive(Serialize)]
pub struct Comparison {
    pub true_flight_time_s: f64,
    pub flight_time_s: f64,
    pub flight_time_error_s: f64,
    /// The same in frames of the capture rate.
    pub error_frames: f64,
    pub takeoff_error_s: f64,
    pub landing_error_s: f64,
    pub u_s: f64,
    /// Width of the 95 % interval of the flight time.
    pub interval95_width_s: f64,
    pub bounds_hold: bool,
    pub interval95_holds: bool,
    /// Against the height from the true flight time.
    pub height_error_m: f64,
    /// Against the true rise of the centre of mass: posture at landing included.
    pub rise_error_m: f64,
    pub flags: Vec<&'static str>,
}

/// Measures a clip; a failure is an outcome in which every jump is missed.
pub fn outcome(clip: &TrueClip, marking: Marking) -> Outcome {
    let started = Instant::now();
    let (found, error) = match measured(clip, marking) {
        Ok(found) => (found, None),
        Err(error) => (Vec::new(), Some(format!("{error:#}"))),
    };
    let wall_s = started.elapsed().as_secs_f64();
    let (pairs, invented) = pairs(&clip.jumps, &found);
    Outcome {
        clip: clip.name.clone(),
        capture_fps: clip.capture_fps,
        true_jumps: clip.jumps.len(),
        invented_s: invented.into_iter().map(Found::flight_s).collect(),
        jumps: pairs
            .into_iter()
            .map(|(truth, found)| compare(clip, truth, found))
            .collect(),
        error,
        wall_s,
    }
}

/// A jump as the library reports it.
struct Found {
    jump: FoundJump,
    result: HeightResult,
}

impl Found {
    fn flight_s(&self) -> [f64; 2] {
        let flight = &self.jump.flight;
        [flight.takeoff().best(), flight.landing().best()].map(CaptureTime::seconds)
    }
}

fn measured(clip: &TrueClip, marking: Marking) -> Result<Vec<Found>> {
    let file = Clip::open(&clip.path)?;
    let clock = CaptureClock::new(file.facts(), file.packets()?.presented(), None)?;
    let patch = marking.applied(clip.floor_box, file.facts().size);
    let threads = thread::available_parallelism().map_or(1, NonZero::get);
    let watched = watch(&file, &clock, patch, threads, &mut |_| {})?;
    let report = clock.report();
    let tick = Span::from_seconds(2.0 * report.rounding_s.unwrap_or(0.0));
    let conditions = Conditions::new(
        ClockUncertainty::new(report.u_rel, tick)?,
        Gravity::stated(clip.g_m_s2)?,
    );
    let with_height = |jump: FoundJump| Found {
        result: HeightResult::of(&jump.flight, &conditions),
        jump,
    };
    let jumps = find_jumps(&watched.trace)?;
    Ok(jumps.into_iter().map(with_height).collect())
}

type Pair<'a> = (&'a TrueJump, &'a Found);

/// Each true jump with the found one that shares most time with it. Less than
/// half the true flight in common is another event. Then what was found beside them.
fn pairs<'a>(truths: &'a [TrueJump], found: &'a [Found]) -> (Vec<Pair<'a>>, Vec<&'a Found>) {
    let mut free: Vec<&Found> = found.iter().collect();
    let mut pairs = Vec::new();
    for truth in truths {
        let shared = |found: &Found| {
            let [from_s, to_s] = found.flight_s();
            to_s.min(truth.landing_s) - from_s.max(truth.takeoff_s)
        };
        let best = (0..free.len()).max_by(|&a, &b| shared(free[a]).total_cmp(&shared(free[b])));
        if let Some(best) = best.filter(|&i| shared(free[i]) > 0.5 * truth.flight_time_s()) {
            pairs.push((truth, free.remove(best)));
        }
    }
    (pairs, free)
}

fn compare(clip: &TrueClip, truth: &TrueJump, found: &Found) -> Comparison {
    let result = &found.result;
    let [takeoff_s, landing_s] = found.flight_s();
    let true_time = Span::from_seconds(truth.flight_time_s());
    let error_s = (result.flight_time - true_time).seconds();
    let g = Acceleration::from_metres_per_second_squared(clip.g_m_s2);
    let interval = result.flight_time_interval95;
    Comparison {
        true_flight_time_s: true_time.seconds(),
        flight_time_s: result.flight_time.seconds(),
        flight_time_error_s: error_s,
        error_frames: error_s * clip.capture_fps,
        takeoff_error_s: takeoff_s - truth.takeoff_s,
        landing_error_s: landing_s - truth.landing_s,
        u_s: result.flight_time_u.0.seconds(),
        interval95_width_s: (interval.hi - interval.lo).seconds(),
        bounds_hold: result.flight_time_bounds.contains(true_time),
        interval95_holds: interval.contains(true_time),
        height_error_m: (result.height - height::height(true_time, g)).metres(),
        rise_error_m: result.height.metres() - truth.rise_m,
        flags: found.jump.flags.iter().map(|flag| flag.code()).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_badly_marked_patch_keeps_its_centre_and_stays_in_the_picture() {
        let marking = |scale, shift| Marking { scale, shift };
        let patch = |m: Marking| {
            let p = m.applied([100, 200, 40, 20], (640, 230));
            [p.x, p.y, p.w, p.h]
        };
        assert_eq!(patch(marking((1.0, 1.0), (0.0, 0.0))), [100, 200, 40, 20]);
        assert_eq!(patch(marking((1.2, 1.2), (0.0, 0.0))), [96, 198, 48, 24]);
        assert_eq!(patch(marking((1.0, 0.5), (0.0, 0.0))), [100, 205, 40, 10]);
        assert_eq!(patch(marking((1.0, 1.0), (-0.25, 1.0))), [90, 220, 40, 10]);
        assert_eq!(patch(marking((1.0, 1.0), (-9.0, 0.0))), [0, 200, 1, 20]);
    }
}
