//! Figures over many jumps: how many, how far off, how honest.

use serde::Serialize;

use crate::measure::{Comparison, Outcome};

/// Half the 95 % interval of a flight time known to whole frames, in frames: two
/// equal rectangles make a triangle with u = 1/√6, of which 95 % lie within
/// (1 − √0.05) = 0.7764 of its half-width (JCGM 100:2008, 4.3.9).
const WHOLE_FRAME_HALF_WIDTH: f64 = 0.776_4;

/// Frame-rate classes: name and the rate below which a clip belongs to it.
const CLASSES: [(&str, f64); 4] = [
    ("25-30", 40.0),
    ("50-60", 90.0),
    ("120", 180.0),
    ("240", f64::INFINITY),
];

/// The figures of one class of clips. Values over no jump at all are absent.
#[derive(Debug, Serialize)]
pub struct Figures {
    pub class: &'static str,
    pub jumps: usize,
    pub found: usize,
    pub missed: usize,
    pub invented: usize,
    pub flight_time_rms_s: Option<f64>,
    pub flight_time_bias_s: Option<f64>,
    pub rms_frames: Option<f64>,
    pub bias_frames: Option<f64>,
    pub height_rms_m: Option<f64>,
    /// Against the true rise, so with the posture at landing in it.
    pub rise_rms_m: Option<f64>,
    pub in_bounds: usize,
    pub in_interval95: usize,
    /// Mean width of the interval, whole-frame reading being 1.
    pub interval_of_whole_frame: Option<f64>,
    /// 1 if the stated uncertainties are right, above 1 if they are too small.
    pub error_over_u_rms: Option<f64>,
    pub wall_s: f64,
}

impl Figures {
    /// One entry for each class that occurs, and one for all clips.
    pub fn by_rate(outcomes: &[Outcome]) -> Vec<Self> {
        let mut all = Vec::new();
        let mut from = 0.0;
        for (class, below) in CLASSES {
            let members: Vec<&Outcome> = outcomes
                .iter()
                .filter(|o| (from..below).contains(&o.capture_fps))
                .collect();
            if !members.is_empty() {
                all.push(Self::of(class, &members));
            }
            from = below;
        }
        all.push(Self::of("all", &outcomes.iter().collect::<Vec<_>>()));
        all
    }

    fn of(class: &'static str, outcomes: &[&Outcome]) -> Self {
        let jumps: Vec<(f64, &Comparison)> = outcomes
            .iter()
            .flat_map(|o| o.jumps.iter().map(|jump| (o.capture_fps, jump)))
            .collect();
        let values = |of: fn(&Comparison) -> f64| jumps.iter().map(move |(_, jump)| of(jump));
        let count = |of: fn(&Comparison) -> bool| jumps.iter().filter(|(_, jump)| of(jump)).count();
        let true_jumps = outcomes.iter().map(|o| o.true_jumps).sum();
        let widths = jumps
            .iter()
            .map(|(fps, jump)| jump.interval95_width_s * fps / (2.0 * WHOLE_FRAME_HALF_WIDTH));
        Self {
            class,
            jumps: true_jumps,
            found: jumps.len(),
            missed: true_jumps - jumps.len(),
            invented: outcomes.iter().map(|o| o.invented()).sum(),
            flight_time_rms_s: rms(values(|j| j.flight_time_error_s)),
            flight_time_bias_s: mean(values(|j| j.flight_time_error_s)),
            rms_frames: rms(values(|j| j.error_frames)),
            bias_frames: mean(values(|j| j.error_frames)),
            height_rms_m: rms(values(|j| j.height_error_m)),
            rise_rms_m: rms(values(|j| j.rise_error_m)),
            in_bounds: count(|j| j.bounds_hold),
            in_interval95: count(|j| j.interval95_holds),
            interval_of_whole_frame: mean(widths),
            error_over_u_rms: rms(values(|j| j.flight_time_error_s / j.u_s)),
            wall_s: outcomes.iter().map(|o| o.wall_s).sum(),
        }
    }

    /// Whether nothing was missed, invented or out of bounds.
    pub fn is_faultless(&self) -> bool {
        self.missed == 0 && self.invented == 0 && self.in_bounds == self.found
    }
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, count) = values.fold((0.0, 0), |(sum, count), v| (sum + v, count + 1));
    (count > 0).then(|| sum / f64::from(count))
}

/// Root mean square.
fn rms(values: impl Iterator<Item = f64>) -> Option<f64> {
    mean(values.map(|v| v * v)).map(f64::sqrt)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn jump(error_s: f64, bounds_hold: bool) -> Comparison {
        Comparison {
            true_flight_time_s: 0.5,
            flight_time_s: 0.5 + error_s,
            flight_time_error_s: error_s,
            error_frames: error_s * 100.0,
            takeoff_error_s: 0.0,
            landing_error_s: error_s,
            u_s: 0.002,
            interval95_width_s: 2.0 * WHOLE_FRAME_HALF_WIDTH / 100.0 / 4.0,
            bounds_hold,
            interval95_holds: true,
            height_error_m: 0.0,
            rise_error_m: 0.0,
            flags: Vec::new(),
        }
    }

    fn clip(capture_fps: f64, true_jumps: usize, jumps: Vec<Comparison>) -> Outcome {
        Outcome {
            clip: String::new(),
            capture_fps,
            true_jumps,
            invented_s: Vec::new(),
            jumps,
            error: None,
            wall_s: 1.0,
        }
    }

    #[test]
    fn rms_and_bias_are_those_of_a_hand_worked_pair() {
        let clips = [clip(100.0, 2, vec![jump(0.003, true), jump(-0.001, true)])];
        let all = Figures::by_rate(&clips).pop().unwrap();
        // √((9 + 1)/2) = 2.236 ms, (3 − 1)/2 = 1 ms; u is 2 ms throughout.
        assert!((all.flight_time_rms_s.unwrap() - 0.002_236_068).abs() < 1e-9);
        assert!((all.flight_time_bias_s.unwrap() - 0.001).abs() < 1e-12);
        assert!((all.rms_frames.unwrap() - 0.223_606_8).abs() < 1e-7);
        assert!((all.error_over_u_rms.unwrap() - 1.118_034).abs() < 1e-6);
        assert!((all.interval_of_whole_frame.unwrap() - 0.25).abs() < 1e-12);
        assert!(all.is_faultless());
    }

    #[test]
    fn half_width_of_the_triangle() {
        assert!((1.0 - 0.05_f64.sqrt() - WHOLE_FRAME_HALF_WIDTH).abs() < 5e-5);
    }

    #[test]
    fn a_missed_jump_an_invented_one_and_a_broken_bound_are_faults() {
        let missed = clip(60.0, 1, Vec::new());
        let broken = clip(240.0, 1, vec![jump(0.0, false)]);
        let invented = Outcome {
            invented_s: vec![[0.2, 0.5]],
            ..clip(30.0, 0, Vec::new())
        };
        for (faulty, class) in [(missed, "50-60"), (broken, "240"), (invented, "25-30")] {
            let figures = Figures::by_rate(&[faulty]);
            assert_eq!(figures[0].class, class);
            assert!(figures.iter().all(|f| !f.is_faultless()), "{class}");
        }
    }
}
