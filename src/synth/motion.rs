//! How the athlete moves: the truth is stated here and the drawing follows it.
//!
//! The body is a plane linkage: a rigid shoe that turns about its toe, shank
//! and thigh, trunk. Three curves of time drive it, the height of the hips, the
//! pitch of the foot and the clearance of the sole; the knee follows from the
//! other joints. The hips stand for the centre of mass: in flight they move on
//! an exact parabola. A real centre of mass wanders within the trunk as the
//! limbs move; the drawing neglects that.

use super::G;
use super::body::{ANKLE_BEHIND_TOE, Body, Flight};
use super::curve::{Curve, ease};
use super::scene::{HeelRise, Jump, Scene};

/// Shorter contacts than this are a rebound without standing up between.
const REBOUND_S: f64 = 1.2;

/// Where the body is at one moment: (forward, up) in metres, forward from the
/// middle of the standing foot.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pose {
    pub(super) toe: [f64; 2],
    pub(super) pitch: f64,
    pub(super) ankle: [f64; 2],
    pub(super) knee: [f64; 2],
    pub(super) hip: [f64; 2],
    pub(super) shoulder: [f64; 2],
    pub(super) head: [f64; 2],
    /// How much higher the left foot is than the right one.
    pub(super) left_lift_m: f64,
    /// Shift to the right of the picture since the first stance.
    pub(super) shift_m: f64,
}

impl Pose {
    /// The pose with toe, ankle and knee those of the leg on one side, 1 for the left.
    pub(super) fn of_side(mut self, side: f64, body: &Body) -> Self {
        if side > 0.0 {
            self.toe[1] += self.left_lift_m;
            self.ankle[1] += self.left_lift_m;
            self.knee = knee(self.ankle, self.hip, body.shank, body.thigh);
        }
        self
    }
}

/// The whole clip's motion.
pub(super) struct Motion {
    pub(super) body: Body,
    pub(super) flights: Vec<Flight>,
    pub(super) phases: Vec<(&'static str, f64)>,
    hip: Curve,
    pitch: Curve,
    metres_per_pixel: f64,
}

const STILL: [f64; 2] = [0.0, 0.0];

impl Motion {
    pub(super) fn new(scene: &Scene) -> Self {
        let mut motion = Self {
            body: Body::of_stature(scene.stature_m),
            flights: scene.jumps.iter().map(|&jump| Flight { jump }).collect(),
            phases: Vec::new(),
            hip: Curve::default(),
            pitch: Curve::default(),
            metres_per_pixel: 1.0 / scene.pixels_per_metre,
        };
        motion.hip.smooth(-1e3, motion.body.standing_hip(), STILL);
        motion.pitch.smooth(-1e3, 0.0, STILL);
        motion.phases.push(("stand", 0.0));
        let mut rises = scene.heel_rises.clone();
        rises.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        let mut rises = rises.into_iter().peekable();
        let mut previous = None;
        for index in 0..motion.flights.len() {
            let flight = motion.flights[index];
            let from = flight.jump.takeoff_s;
            let rebound = previous.filter(|last: &Flight| from - last.jump.landing_s() < REBOUND_S);
            if let (None, Some(last)) = (rebound, previous) {
                motion.stand_up(&last);
            }
            while let Some(rise) = rises.next_if(|rise| rise.start_s < from) {
                motion.rise_on_toes(&rise);
            }
            motion.push_off(&flight, rebound.as_ref());
            motion.fly(&flight);
            previous = Some(flight);
        }
        if let Some(last) = previous {
            motion.stand_up(&last);
        }
        for rise in rises {
            motion.rise_on_toes(&rise);
        }
        motion
    }

    fn rise_on_toes(&mut self, rise: &HeelRise) {
        let body = self.body;
        let lift = body.ankle_above_floor(rise.pitch_rad) - body.ankle_above_floor(0.0);
        let high = body.standing_hip() + lift;
        let moment = |part: f64| rise.start_s + part * rise.duration_s;
        self.phases.push(("heelrise", moment(0.0)));
        self.phases.push(("stand", moment(1.0)));
        for (part, hip, pitch) in [
            (0.0, body.standing_hip(), 0.0),
            (0.35, high, rise.pitch_rad),
            (0.65, high, rise.pitch_rad),
            (1.0, body.standing_hip(), 0.0),
        ] {
            self.hip.smooth(moment(part), hip, STILL);
            self.pitch.smooth(moment(part), pitch, STILL);
        }
    }

    /// Dip and push, or the turn of a rebound, up to take-off.
    fn push_off(&mut self, flight: &Flight, rebound: Option<&Flight>) {
        let takeoff = flight.jump.takeoff_s;
        let speed = flight.takeoff_speed();
        let high = self.body.takeoff_hip(&flight.jump);
        let standing = self.body.standing_hip();
        let (bottom, low, upward) = if let Some(last) = rebound {
            let contact = takeoff - last.jump.landing_s();
            let depth = (0.22 * contact * -last.landing_speed()).clamp(0.02, 0.3);
            let low = standing.min(self.landing_hip(last)) - depth;
            (last.jump.landing_s() + 0.48 * contact, low, 20.0)
        } else {
            let low = standing - (0.08 + 0.1 * speed).clamp(0.1, 0.36);
            let push = ((high - low) / (0.52 * speed.max(0.5))).clamp(0.2, 0.6);
            (takeoff - push, low, 8.0)
        };
        if rebound.is_none() {
            let stood = self.hip.last_at();
            let dip = (bottom - 0.5).max(stood + 0.02).min(bottom - 0.1);
            self.phases.push(("dip", dip));
            self.hip.smooth(dip, standing, STILL);
        }
        self.phases.push(("push", bottom));
        self.hip.smooth(bottom, low, [0.0, upward]);
        self.hip.smooth(takeoff, high, [speed, -G]);
        let pitch = flight.jump.takeoff_pitch_rad;
        let roll = rebound.map_or(0.14, |last| {
            (0.45 * (takeoff - last.jump.landing_s())).min(0.14)
        });
        self.pitch.smooth(takeoff - roll, 0.0, STILL);
        self.pitch.smooth(takeoff, pitch, [1.7 * pitch / roll, 0.0]);
        self.phases.push(("flight", takeoff));
    }

    fn landing_hip(&self, flight: &Flight) -> f64 {
        self.body.takeoff_hip(&flight.jump) - flight.jump.landing.com_drop_m
    }

    /// The foot points in flight, meets the floor and rolls down; the hips fall.
    fn fly(&mut self, flight: &Flight) {
        let Jump {
            takeoff_s,
            flight_s,
            takeoff_pitch_rad,
            landing,
            ..
        } = flight.jump;
        let down = flight.jump.landing_s();
        let pointed = 1.4 * takeoff_pitch_rad;
        let turn = (0.3 * flight_s).min(0.08);
        self.pitch.smooth(takeoff_s + turn, pointed, STILL);
        self.pitch.smooth(down - 1.2 * turn, 0.9 * pointed, STILL);
        // The slower the body falls, the slower the heel comes down.
        let fall = -flight.landing_speed();
        let settle = (0.2 / fall.max(0.5)).clamp(0.05, 0.2);
        let slap = landing.foot_pitch_rad / settle;
        self.pitch
            .kink(down, landing.foot_pitch_rad, [0.0, 0.0], [-1.1 * slap, 0.0]);
        self.pitch
            .kink(down + settle, 0.0, [-0.4 * slap, 0.0], STILL);
        let speed = flight.landing_speed();
        self.hip
            .kink(down, self.landing_hip(flight), [speed, -G], [speed, 3.0]);
        self.phases.push(("absorb", down));
    }

    /// Bends the knees after a landing and stands up again.
    fn stand_up(&mut self, last: &Flight) {
        let down = last.jump.landing_s();
        let fall = -last.landing_speed();
        let standing = self.body.standing_hip();
        let low = standing.min(self.landing_hip(last) - 0.05) - (0.12 * fall).clamp(0.05, 0.35);
        let absorb = (1.9 * (self.landing_hip(last) - low) / fall.max(0.3)).clamp(0.12, 0.45);
        self.hip.smooth(down + absorb, low, [0.0, 6.0]);
        self.hip.smooth(down + absorb + 0.4, standing, STILL);
        self.phases.push(("recover", down + absorb));
        self.phases.push(("stand", down + absorb + 0.4));
    }

    /// Height of the lowest point of the shoes above the floor.
    pub(super) fn clearance(&self, time: f64) -> f64 {
        self.flights
            .iter()
            .map(|flight| flight.clearance(time - flight.jump.takeoff_s))
            .fold(0.0, |sum, height| sum + height)
    }

    /// How much higher the left foot is than the right one, where it leaves the floor
    /// earlier or comes down later: its own flight is the longer one.
    fn left_lift_m(&self, time: f64) -> f64 {
        let lift = |flight: &Flight| {
            let own = flight.of_left_foot();
            own.clearance(time - own.jump.takeoff_s)
                - flight.clearance(time - flight.jump.takeoff_s)
        };
        self.flights.iter().map(lift).sum::<f64>().max(0.0)
    }

    /// Shift of the feet to the right of the picture since the first stance.
    pub(super) fn shift_m(&self, time: f64) -> f64 {
        let moved = |flight: &Flight| {
            let part = (time - flight.jump.takeoff_s) / flight.jump.flight_s;
            flight.jump.landing_shift_px * self.metres_per_pixel * ease(part)
        };
        self.flights.iter().map(moved).sum()
    }

    pub(super) fn pose(&self, time: f64) -> Pose {
        let body = &self.body;
        let pitch = self.pitch.at(time);
        let toe = [
            // On its heel the shoe turns about the heel, which stays in place.
            0.5 * body.shoe
                - if pitch < 0.0 {
                    body.shoe * (1.0 - pitch.cos())
                } else {
                    0.0
                },
            self.clearance(time) + body.toe_above_floor(pitch),
        ];
        let ankle = on_shoe(
            toe,
            pitch,
            [-ANKLE_BEHIND_TOE * body.shoe, body.ankle_height],
        );
        let height = self.hip.at(time);
        let bend = (1.0 - (height - ankle[1]) / body.leg()).clamp(0.0, 0.6);
        let sway = 0.003 * (1.9 * time).sin();
        let hip = [-0.10 * body.shoe - 0.33 * bend + sway, height];
        let lean = 0.04 + 1.5 * bend;
        let along = |from: [f64; 2], length: f64, lean: f64| {
            [from[0] + length * lean.sin(), from[1] + length * lean.cos()]
        };
        let shoulder = along(hip, body.trunk, lean);
        Pose {
            toe,
            pitch,
            ankle,
            knee: knee(ankle, hip, body.shank, body.thigh),
            hip,
            shoulder,
            head: along(shoulder, 0.115 * body.stature, 0.5 * lean + 0.05),
            left_lift_m: self.left_lift_m(time),
            shift_m: self.shift_m(time),
        }
    }
}

/// A point of the shoe, given from the toe of the flat shoe.
pub(super) fn on_shoe(toe: [f64; 2], pitch: f64, [x, z]: [f64; 2]) -> [f64; 2] {
    let (sin, cos) = pitch.sin_cos();
    [toe[0] + x * cos + z * sin, toe[1] - x * sin + z * cos]
}

/// The knee in front of the line from ankle to hip; a leg too long for its
/// bones is drawn straight.
pub(super) fn knee(ankle: [f64; 2], hip: [f64; 2], shank: f64, thigh: f64) -> [f64; 2] {
    let [dx, dz] = [hip[0] - ankle[0], hip[1] - ankle[1]];
    let span = dx.hypot(dz).max(1e-9);
    let along = (shank * shank - thigh * thigh + span * span) / (2.0 * span);
    let aside = (shank * shank - along * along).max(0.0).sqrt();
    let along = if aside > 0.0 {
        along
    } else {
        span * shank / (shank + thigh)
    };
    let [ux, uz] = [dx / span, dz / span];
    [
        ankle[0] + along * ux + aside * uz,
        ankle[1] + along * uz - aside * ux,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::scene::Landing;

    fn motion(jump: Jump) -> Motion {
        Motion::new(&Scene {
            jumps: vec![jump],
            ..Scene::default()
        })
    }

    #[test]
    fn the_toe_leaves_and_meets_the_floor_at_the_stated_times() {
        let m = motion(Jump::new(1.0, 0.5));
        for time in [0.2, 0.9, 0.999_999, 1.500_001, 2.0] {
            assert_eq!(m.clearance(time), 0.0, "{time}");
        }
        for time in [1.000_01, 1.004, 1.25, 1.49, 1.499_99] {
            assert!(m.clearance(time) > 0.0, "{time}");
        }
    }

    #[test]
    fn the_toe_takes_up_the_speed_of_the_body_within_the_lag() {
        let m = motion(Jump::new(1.0, 0.5));
        let speed = |time: f64| (m.clearance(time + 1e-6) - m.clearance(time - 1e-6)) / 2e-6;
        let v = 0.25 * G;
        assert!((speed(1.002) - (0.5 * v - 0.002 * G)).abs() < 1e-4);
        assert!((speed(1.004_01) - (v - 0.004_01 * G)).abs() < 1e-4);
        assert!((speed(1.499_99) + v).abs() < 1e-3);
    }

    #[test]
    fn the_hips_fall_freely_from_take_off_to_landing() {
        let drop = 0.1;
        let m = motion(Jump {
            landing: Landing::knees_bent(),
            ..Jump::new(1.0, 0.5)
        });
        let v = 0.25 * G - drop / 0.5;
        let start = m.hip.at(1.0);
        for step in 0..=50 {
            let since = f64::from(step) * 0.01 - 1e-9;
            let fall = start + v * since - 0.5 * G * since * since;
            assert!((m.hip.at(1.0 + since) - fall).abs() < 1e-7, "{since}");
        }
    }

    #[test]
    fn in_the_push_the_heel_rises_while_the_toe_stays() {
        let m = motion(Jump::new(1.0, 0.5));
        let heel = |time: f64| {
            let pose = m.pose(time);
            on_shoe(pose.toe, pose.pitch, [-m.body.shoe, 0.0])[1]
        };
        assert_eq!(heel(0.5), 0.0);
        assert!(heel(0.95) > 0.02 && heel(0.999) > 0.1);
        assert_eq!(m.pose(0.999).toe[1], 0.0);
        // After landing the toe stays and the heel comes down.
        assert!(heel(1.501) > 0.1 && heel(1.75).abs() < 1e-9);
    }

    #[test]
    fn the_bones_keep_their_length() {
        for jump in [
            Jump::new(1.0, 0.5),
            Jump::new(1.0, 0.2),
            Jump {
                landing: Landing::flat(),
                ..Jump::new(1.0, 0.65)
            },
        ] {
            let m = motion(jump);
            for step in 0..300 {
                let pose = m.pose(f64::from(step) * 0.01);
                let length = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
                // A leg drawn straight may be stretched by a few millimetres.
                assert!(
                    (length(pose.ankle, pose.knee) - m.body.shank).abs() < 0.004,
                    "{step}"
                );
                assert!(
                    (length(pose.knee, pose.hip) - m.body.thigh).abs() < 0.004,
                    "{step}"
                );
            }
        }
    }
}
