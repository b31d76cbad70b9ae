//! Repeatable chance: a small generator of our own, so that a seed gives the
//! same pictures in every version of every crate, and scenes drawn by lot.

use std::f64::consts::TAU;

use super::scene::{
    Ball, Flicker, Floor, HeelRise, Jump, Landing, Noise, PasserBy, Rate, Scene, Shake, Shoe, View,
    Wall,
};

/// SplitMix64 (Steele, Lea & Flood 2014, "Fast splittable pseudorandom number
/// generators").
#[derive(Clone)]
pub(super) struct Rng(u64);

impl Rng {
    /// A stream of its own for each pair of seed and purpose.
    pub(super) fn new(seed: u64, stream: u64) -> Self {
        let mut rng = Self(seed ^ stream.wrapping_mul(0xD1B5_4A32_D192_ED03));
        rng.bits();
        rng
    }

    pub(super) fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        mix(self.0)
    }

    /// Uniform in 0..1.
    pub(super) fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform between two values.
    pub(super) fn between(&mut self, lo: f64, hi: f64) -> f64 {
        lo + (hi - lo) * self.unit()
    }

    /// Uniform between two values, in millionths: JSON keeps so short a number
    /// to the last bit.
    fn near(&mut self, lo: f64, hi: f64) -> f64 {
        millionths(self.between(lo, hi))
    }

    /// True with probability `p`.
    fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    fn pick<T: Copy, const N: usize>(&mut self, from: [T; N]) -> T {
        from[(self.bits() % N as u64) as usize]
    }

    /// Standard normal (Box & Muller 1958).
    pub(super) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (TAU * self.unit()).cos()
    }
}

fn millionths(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// The finaliser of SplitMix64, also used to hash texture cells.
pub(super) fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

impl Scene {
    /// A scene drawn by lot: one jump, with view, floor, shoe, phase, height,
    /// rate, light and disturbances varied widely. The same seed gives the same
    /// scene.
    pub fn random(seed: u64) -> Self {
        let mut rng = Rng::new(seed, 0x5CE2E);
        let rng = &mut rng;
        let capture_rate = rng.pick([
            Rate::per_second(30),
            Rate::per_second(60),
            Rate {
                num: 60_000,
                den: 1001,
            },
            Rate::per_second(120),
            Rate::per_second(240),
        ]);
        let fps = capture_rate.fps();
        let mut jump = Self::random_jump(rng, fps);
        let heel_rises = Self::random_rise(rng, &mut jump);
        let look = Self {
            floor: rng.pick([Floor::Plain, Floor::Boards, Floor::Grass, Floor::Tiles]),
            floor_luminance: rng.near(0.12, 0.5),
            wall: rng.pick([Wall::Plain, Wall::Plaster, Wall::Bricks, Wall::Bars]),
            shoe: Self::random_shoe(rng),
            shadow: rng.near(0.0, 0.6),
            passers_by: Self::random_passer(rng, &jump),
            ball: Self::random_ball(rng, &jump),
            ..Self::random_camera(rng, fps)
        };
        Self {
            name: format!("random_{seed}"),
            seed,
            capture_rate,
            duration_s: millionths(jump.landing_s() + 0.8),
            view: rng.pick([View::Side, View::Side, View::Front]),
            stature_m: rng.near(1.55, 1.95),
            heel_rises,
            jumps: vec![jump],
            ..look
        }
    }

    /// Framing, exposure and the camera's failings.
    fn random_camera(rng: &mut Rng, fps: f64) -> Self {
        let readout = millionths(rng.near(0.005, 0.02).min(0.8 / fps));
        Self {
            pixels_per_metre: rng.near(100.0, 230.0),
            stance: [rng.near(0.4, 0.6), rng.near(0.8, 0.88)],
            shutter_s: millionths(rng.near(0.001, 0.006).min(0.6 / fps)),
            rolling_readout_s: if rng.chance(0.4) { readout } else { 0.0 },
            noise: Noise {
                read: rng.near(0.0003, 0.0012),
                shot: rng.near(0.003, 0.012),
            },
            flicker: rng.chance(0.3).then(|| Flicker {
                hz: rng.pick([100.0, 120.0]),
                amplitude: rng.near(0.03, 0.2),
                phase_rad: millionths(rng.between(0.0, TAU)),
            }),
            shake: rng.chance(0.25).then(|| Shake {
                amplitude_px: rng.near(0.3, 1.5),
                hz: rng.near(1.0, 4.0),
            }),
            ..Self::default()
        }
    }

    /// Now and then a rise on the toes comes first, and the jump after a pause.
    fn random_rise(rng: &mut Rng, jump: &mut Jump) -> Vec<HeelRise> {
        if !rng.chance(0.15) {
            return Vec::new();
        }
        jump.takeoff_s = millionths(jump.takeoff_s + 1.1);
        vec![HeelRise {
            start_s: 0.1,
            duration_s: 0.8,
            pitch_rad: rng.near(0.3, 0.6),
        }]
    }

    fn random_ball(rng: &mut Rng, jump: &Jump) -> Option<Ball> {
        rng.chance(0.1).then(|| Ball {
            passes_s: millionths(jump.takeoff_s + rng.near(-0.5, 0.8)),
            speed_m_s: rng.pick([-1.5, 1.5]),
            depth_m: rng.near(0.4, 1.0),
        })
    }

    fn random_jump(rng: &mut Rng, fps: f64) -> Jump {
        // The frame phase must be uniform, so the moment is not rounded.
        let takeoff_s = millionths(rng.near(1.1, 1.3) + rng.unit() / fps);
        let landing = match rng.unit() {
            x if x < 0.7 => Landing::default(),
            x if x < 0.85 => Landing::knees_bent(),
            _ => Landing::flat(),
        };
        Jump {
            landing_shift_px: rng.near(-12.0, 12.0),
            toe_lag_s: rng.near(0.002, 0.006),
            takeoff_pitch_rad: rng.near(0.55, 0.65),
            landing,
            ..Jump::new(takeoff_s, rng.near(0.3, 0.65))
        }
    }

    fn random_shoe(rng: &mut Rng) -> Shoe {
        // Now and then a shoe close to the floor, which is hard to see.
        let faint = rng.chance(0.1);
        let dark = rng.chance(0.6);
        let upper = match (faint, dark) {
            (true, _) => rng.near(0.8, 1.2),
            (_, true) => rng.near(0.08, 0.4),
            _ => rng.near(1.6, 2.4),
        };
        Shoe {
            upper,
            sole: if faint {
                rng.near(0.8, 1.2)
            } else {
                rng.pick([0.3, 1.8, 2.2])
            },
        }
    }

    fn random_passer(rng: &mut Rng, jump: &Jump) -> Vec<PasserBy> {
        if !rng.chance(0.15) {
            return Vec::new();
        }
        vec![PasserBy {
            passes_s: millionths(jump.takeoff_s + rng.near(-0.6, 1.0)),
            speed_m_s: rng.pick([-1.3, 1.3]),
            depth_m: rng.near(0.7, 1.4),
        }]
    }
}
