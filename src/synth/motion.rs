//! How the athlete moves: the truth is stated here and the drawing follows it.
//!
//! The body is a plane linkage: a rigid shoe that turns about its toe, shank
//! and thigh, trunk. Three curves of time drive it, the height of the hips, the
//! pitch of the foot and the clearance of the sole; the knee follows from the
//! other joints. The hips stand for the centre of mass: in flight they move on
//! an exact parabola. A real centre of mass wanders within the trunk as the
//! limbs move; the drawing neglects that.

use super::G;
use super::scene::{HeelRise, Jump, Scene};

/// Lengths of the body in metres. Segment lengths as fractions of body height
/// are those of Drillis & Contini 1966, "Body segment parameters" (from memory).
#[derive(Clone, Copy, Debug)]
pub(super) struct Body {
    pub(super) stature: f64,
    pub(super) shoe: f64,
    pub(super) ankle_height: f64,
    pub(super) shank: f64,
    pub(super) thigh: f64,
    pub(super) trunk: f64,
}

/// Distance of the ankle behind the toe, as a fraction of the shoe.
const ANKLE_BEHIND_TOE: f64 = 0.75;
/// Length of the leg at take-off against the straight leg: what is left lets
/// the toes lag behind the body.
const TAKEOFF_EXTENSION: f64 = 0.975;
/// Longest leg at landing against the straight leg.
const LANDING_EXTENSION: f64 = 0.995;
/// Shorter contacts than this are a rebound without standing up between.
const REBOUND_S: f64 = 1.2;

impl Body {
    pub(super) fn of_stature(stature: f64) -> Self {
        Self {
            stature,
            shoe: 0.158 * stature,
            ankle_height: 0.05 * stature,
            shank: 0.246 * stature,
            thigh: 0.245 * stature,
            trunk: 0.288 * stature,
        }
    }

    fn leg(&self) -> f64 {
        self.shank + self.thigh
    }

    /// Height of the ankle above the lowest point of a pitched shoe.
    fn ankle_above_floor(&self, pitch: f64) -> f64 {
        ANKLE_BEHIND_TOE * self.shoe * pitch.sin()
            + self.ankle_height * pitch.cos()
            + self.toe_above_floor(pitch)
    }

    /// A shoe pitched backwards stands on its heel, with the toe in the air.
    fn toe_above_floor(&self, pitch: f64) -> f64 {
        self.shoe * (-pitch.sin()).max(0.0)
    }

    fn standing_hip(&self) -> f64 {
        self.ankle_above_floor(0.0) + 0.985 * self.leg()
    }

    fn takeoff_hip(&self, jump: &Jump) -> f64 {
        self.ankle_above_floor(jump.takeoff_pitch_rad) + TAKEOFF_EXTENSION * self.leg()
    }

    /// Least drop of the body at landing that the leg's length allows.
    pub(super) fn least_drop_m(&self, jump: &Jump) -> f64 {
        self.takeoff_hip(jump)
            - self.ankle_above_floor(jump.landing.foot_pitch_rad)
            - LANDING_EXTENSION * self.leg()
    }
}

/// Speeds and heights of one flight.
#[derive(Clone, Copy, Debug)]
pub(super) struct Flight {
    pub(super) jump: Jump,
}

impl Flight {
    /// Upward speed of the body at take-off: it lands `com_drop_m` lower, so
    /// `-drop = v T - g T²/2`.
    pub(super) fn takeoff_speed(&self) -> f64 {
        0.5 * G * self.jump.flight_s - self.jump.landing.com_drop_m / self.jump.flight_s
    }

    /// Upward speed of the body at landing (negative).
    pub(super) fn landing_speed(&self) -> f64 {
        self.takeoff_speed() - G * self.jump.flight_s
    }

    /// How long after take-off the body is highest.
    pub(super) fn time_to_apex(&self) -> f64 {
        (self.takeoff_speed() / G).max(0.0)
    }

    /// Rise of the body since take-off.
    fn body_rise(&self, since: f64) -> f64 {
        since * (self.takeoff_speed() - 0.5 * G * since)
    }

    /// How far the toes lag behind the body: their speed rises linearly from 0
    /// to the body's, so the lag grows to v·lag/2; it is made up in mid-flight.
    fn toe_deficit(&self, since: f64) -> f64 {
        let lag = self.jump.toe_lag_s;
        let behind = if since < lag {
            since * (1.0 - 0.5 * since / lag)
        } else {
            0.5 * lag
        };
        let flight = self.jump.flight_s;
        let made_up = ease((since - 0.25 * flight) / (0.5 * flight));
        self.takeoff_speed() * behind * (1.0 - made_up)
    }

    /// Height of the lowest point of the shoe above the floor, `since` seconds
    /// after take-off.
    pub(super) fn clearance(&self, since: f64) -> f64 {
        let flight = self.jump.flight_s;
        if !(0.0..=flight).contains(&since) {
            return 0.0;
        }
        let part = since / flight;
        let drawn_up = self.jump.landing.com_drop_m * ease((part - 0.3) / 0.6);
        let tucked = self.jump.tuck_m * ease((part - 0.1) / 0.4) * ease((0.9 - part) / 0.4);
        self.body_rise(since) - self.toe_deficit(since) + drawn_up + tucked
    }

    /// Largest clearance of the sole, to a ten-thousandth of the flight.
    pub(super) fn max_clearance(&self) -> f64 {
        (0..=10_000)
            .map(|step| self.clearance(self.jump.flight_s * f64::from(step) / 10_000.0))
            .fold(0.0, f64::max)
    }
}

/// Rises from 0 at 0 to 1 at 1 with speed and acceleration 0 at both ends.
fn ease(part: f64) -> f64 {
    let x = part.clamp(0.0, 1.0);
    x * x * x * (10.0 + x * (6.0 * x - 15.0))
}

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
    /// Shift to the right of the picture since the first stance.
    pub(super) shift_m: f64,
}

/// A curve through knots, each piece a polynomial of the fifth degree that
/// meets value, speed and acceleration at both ends. A free fall between two
/// consistent knots is met exactly.
#[derive(Clone, Debug, Default)]
struct Curve(Vec<Knot>);

#[derive(Clone, Copy, Debug)]
struct Knot {
    at: f64,
    value: f64,
    /// Speed and acceleration on arrival.
    before: [f64; 2],
    /// Speed and acceleration on departure.
    after: [f64; 2],
}

impl Curve {
    fn smooth(&mut self, at: f64, value: f64, motion: [f64; 2]) {
        self.kink(at, value, motion, motion);
    }

    fn kink(&mut self, at: f64, value: f64, before: [f64; 2], after: [f64; 2]) {
        self.0.push(Knot {
            at,
            value,
            before,
            after,
        });
    }

    fn at(&self, time: f64) -> f64 {
        let next = self.0.partition_point(|knot| knot.at <= time);
        let before = next.checked_sub(1).and_then(|index| self.0.get(index));
        match (before, self.0.get(next)) {
            (Some(from), Some(to)) => from.towards(to, time),
            (Some(only), None) | (None, Some(only)) => only.value,
            (None, None) => 0.0,
        }
    }
}

impl Knot {
    fn towards(&self, to: &Self, time: f64) -> f64 {
        let h = to.at - self.at;
        if h <= 0.0 {
            return to.value;
        }
        let x = (time - self.at) / h;
        let [v0, a0] = [self.after[0] * h, self.after[1] * h * h];
        let [v1, a1] = [to.before[0] * h, to.before[1] * h * h];
        // What is left at x = 1 of value, speed and acceleration fixes the
        // cubic and higher terms.
        let value = to.value - self.value - v0 - 0.5 * a0;
        let speed = v1 - v0 - a0;
        let accel = a1 - a0;
        let c3 = 10.0 * value - 4.0 * speed + 0.5 * accel;
        let c4 = -15.0 * value + 7.0 * speed - accel;
        let c5 = 6.0 * value - 3.0 * speed + 0.5 * accel;
        self.value + x * (v0 + x * (0.5 * a0 + x * (c3 + x * (c4 + x * c5))))
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
            let stood = self.hip.0.last().map_or(f64::NEG_INFINITY, |knot| knot.at);
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
