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
    let forward = if passer.speed_m_s < 0.0 { -1.0 } else { 1.0 };
    let middle = passer.speed_m_s * (time - passer.passes_s);
    let outfit = Outfit::stranger(lot);
    let place = |p: [f64; 2]| [middle + forward * p[0], passer.depth_m, p[1]];
    let mut parts = Vec::new();
    let mut limb = |a: [f64; 2], b: [f64; 2], radii: [f64; 2], colour: Colour| {
        parts.push(Part {
            outline: capsule(place(a), place(b), radii[0], radii[1]),
            colour,
            casts: true,
        });
    };
    // 1.4 m to a pair of steps.
    let phase = TAU * passer.speed_m_s.abs() * (time - passer.passes_s) / 1.4;
    let hip = [0.0, body.ankle_height + 0.94 * (body.shank + body.thigh)];
    let shoulder = [0.03, hip[1] + body.trunk];
    for (turn, shade) in [(PI, 0.6f32), (0.0, 0.8)] {
        let step = phase + turn;
        let lift = (0.09 * step.cos()).max(0.0);
        let ankle = [0.33 * step.sin() - 0.05, body.ankle_height + lift];
        let bent = knee(ankle, hip, body.shank, body.thigh);
        limb(hip, bent, [0.085, 0.06], dim(outfit.shorts, shade));
        limb(bent, ankle, [0.058, 0.042], dim(outfit.shorts, shade));
        let toe = [ankle[0] + 0.15, lift + 0.035];
        limb(
            [ankle[0] - 0.04, lift + 0.04],
            toe,
            [0.04, 0.032],
            dim(outfit.upper, shade),
        );
        let hand = [0.25 * (step + PI).sin(), hip[1] - 0.02];
        let elbow = [0.55 * hand[0] - 0.05, hip[1] + 0.25];
        limb(
            shoulder,
            elbow,
            [0.05, 0.04],
            dim(outfit.shirt, 0.6 * shade),
        );
        limb(elbow, hand, [0.04, 0.03], dim(outfit.skin, shade));
    }
    limb(hip, shoulder, [0.1, 0.11], outfit.shirt);
    limb(
        [0.04, shoulder[1] + 0.12],
        [0.06, shoulder[1] + 0.22],
        [0.07, 0.085],
        outfit.skin,
    );
    limb(
        [0.03, shoulder[1] + 0.25],
        [0.03, shoulder[1] + 0.26],
        [0.085, 0.08],
        outfit.hair,
    );
    parts
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
