//! Who and what else passes through the picture.

use std::f64::consts::{PI, TAU};

use super::body::Body;
use super::figure::Outfit;
use super::motion::knee;
use super::outline::{Colour, Part, Point, capsule, dim, ellipse};
use super::scene::{Ball, PasserBy};

/// Somebody walking past; drawn from the side.
pub(super) fn passer_by(passer: &PasserBy, time: f64, lot: u64) -> Vec<Part> {
    let body = Body::of_stature(1.72);
    let mut walker = Walker {
        passer,
        middle: passer.speed_m_s * (time - passer.passes_s),
        outfit: Outfit::stranger(lot),
        hip: [0.0, body.ankle_height + 0.94 * (body.shank + body.thigh)],
        parts: Vec::new(),
    };
    // 1.4 m to a pair of steps.
    let phase = TAU * passer.speed_m_s.abs() * (time - passer.passes_s) / 1.4;
    let shoulder = [0.03, walker.hip[1] + body.trunk];
    for (turn, shade) in [(PI, 0.6), (0.0, 0.8)] {
        walker.leg(&body, phase + turn, shade);
        walker.arm(shoulder, phase + turn + PI, shade);
    }
    let Outfit {
        shirt, skin, hair, ..
    } = walker.outfit;
    let above = |forward: f64, up: f64| [forward, shoulder[1] + up];
    walker.limb(walker.hip, shoulder, [0.1, 0.11], shirt);
    walker.limb(above(0.04, 0.12), above(0.06, 0.22), [0.07, 0.085], skin);
    walker.limb(above(0.03, 0.25), above(0.03, 0.26), [0.085, 0.08], hair);
    walker.parts
}

struct Walker<'a> {
    passer: &'a PasserBy,
    middle: f64,
    outfit: Outfit,
    hip: [f64; 2],
    parts: Vec<Part>,
}

impl Walker<'_> {
    fn limb(&mut self, a: [f64; 2], b: [f64; 2], radii: [f64; 2], colour: Colour) {
        let forward = if self.passer.speed_m_s < 0.0 {
            -1.0
        } else {
            1.0
        };
        let place = |p: [f64; 2]| [self.middle + forward * p[0], self.passer.depth_m, p[1]];
        self.parts.push(Part {
            outline: capsule(place(a), place(b), radii[0], radii[1]),
            colour,
            casts: true,
        });
    }

    fn leg(&mut self, body: &Body, step: f64, shade: f32) {
        let lift = (0.09 * step.cos()).max(0.0);
        let ankle = [0.33 * step.sin() - 0.05, body.ankle_height + lift];
        let bent = knee(ankle, self.hip, body.shank, body.thigh);
        let trousers = dim(self.outfit.shorts, shade);
        let shoe = dim(self.outfit.upper, shade);
        self.limb(self.hip, bent, [0.085, 0.06], trousers);
        self.limb(bent, ankle, [0.058, 0.042], trousers);
        let (heel, toe) = (
            [ankle[0] - 0.04, lift + 0.04],
            [ankle[0] + 0.15, lift + 0.035],
        );
        self.limb(heel, toe, [0.04, 0.032], shoe);
    }

    fn arm(&mut self, shoulder: [f64; 2], swing: f64, shade: f32) {
        let hand = [0.25 * swing.sin(), self.hip[1] - 0.02];
        let elbow = [0.55 * hand[0] - 0.05, self.hip[1] + 0.25];
        let (sleeve, skin) = (
            dim(self.outfit.shirt, 0.6 * shade),
            dim(self.outfit.skin, shade),
        );
        self.limb(shoulder, elbow, [0.05, 0.04], sleeve);
        self.limb(elbow, hand, [0.04, 0.03], skin);
    }
}

/// A handball of size 3 (59 cm round, IHF Rules of the Game), from memory.
const BALL_RADIUS_M: f64 = 0.094;

/// A rolling ball with a patch that turns with it.
pub(super) fn ball(ball: &Ball, time: f64) -> Vec<Part> {
    let middle = ball.speed_m_s * (time - ball.passes_s);
    let centre = [middle, ball.depth_m, BALL_RADIUS_M];
    let turn = middle / BALL_RADIUS_M;
    let patch = [
        middle + 0.5 * BALL_RADIUS_M * turn.sin(),
        ball.depth_m,
        BALL_RADIUS_M * (1.0 + 0.5 * turn.cos()),
    ];
    let disc = |at: Point, radius: f64, colour: Colour, casts: bool| Part {
        outline: ellipse(at, radius, radius),
        colour,
        casts,
    };
    vec![
        disc(centre, BALL_RADIUS_M, [0.55, 0.3, 0.04], true),
        disc(patch, 0.4 * BALL_RADIUS_M, [0.05, 0.08, 0.2], false),
    ]
}
