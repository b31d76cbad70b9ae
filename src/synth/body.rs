//! Lengths of the body, and the physics of one flight.

use super::G;
use super::curve::ease;
use super::scene::Jump;

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
pub(super) const ANKLE_BEHIND_TOE: f64 = 0.75;
/// Length of the leg at take-off against the straight leg: what is left lets
/// the toes lag behind the body.
const TAKEOFF_EXTENSION: f64 = 0.975;
/// Longest leg at landing against the straight leg.
const LANDING_EXTENSION: f64 = 0.995;
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

    pub(super) fn leg(&self) -> f64 {
        self.shank + self.thigh
    }

    /// Height of the ankle above the lowest point of a pitched shoe.
    pub(super) fn ankle_above_floor(&self, pitch: f64) -> f64 {
        ANKLE_BEHIND_TOE * self.shoe * pitch.sin()
            + self.ankle_height * pitch.cos()
            + self.toe_above_floor(pitch)
    }

    /// A shoe pitched backwards stands on its heel, with the toe in the air.
    pub(super) fn toe_above_floor(&self, pitch: f64) -> f64 {
        self.shoe * (-pitch.sin()).max(0.0)
    }

    pub(super) fn standing_hip(&self) -> f64 {
        self.ankle_above_floor(0.0) + 0.985 * self.leg()
    }

    pub(super) fn takeoff_hip(&self, jump: &Jump) -> f64 {
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
    pub(super) fn body_rise(&self, since: f64) -> f64 {
        since * (self.takeoff_speed() - 0.5 * G * since)
    }

    /// How far the toes lag behind the body: their speed rises linearly from 0
    /// to the body's, so the lag grows to v·lag/2; it is made up in mid-flight.
    pub(super) fn toe_deficit(&self, since: f64) -> f64 {
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

    /// The flight of the left foot.
    pub(super) fn of_left_foot(&self) -> Self {
        let [earlier, later] = self.jump.left_apart_s;
        let mut jump = self.jump;
        jump.takeoff_s -= earlier;
        jump.flight_s += earlier + later;
        Self { jump }
    }

    /// Largest clearance of the sole, to a ten-thousandth of the flight.
    pub(super) fn max_clearance(&self) -> f64 {
        (0..=10_000)
            .map(|step| self.clearance(self.jump.flight_s * f64::from(step) / 10_000.0))
            .fold(0.0, f64::max)
    }
}
