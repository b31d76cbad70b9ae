//! Dresses the linkage: from a pose to flat coloured outlines in space.

use std::f64::consts::{PI, TAU};

use super::motion::{Body, Motion, Pose, knee, on_shoe};
use super::random::Rng;
use super::scene::{Ball, PasserBy, Scene, View};

/// A colour in linear light.
pub(super) type Colour = [f32; 3];

/// A point of the world: to the right of the stance, behind it, above the
/// floor; metres.
pub(super) type Point = [f64; 3];

/// An outline of one colour.
pub(super) struct Part {
    pub(super) outline: Vec<Point>,
    pub(super) colour: Colour,
    /// Whether it is large enough to draw in the shadow.
    pub(super) casts: bool,
}

/// Colours of one person.
#[derive(Clone, Copy)]
pub(super) struct Outfit {
    skin: Colour,
    hair: Colour,
    shirt: Colour,
    shorts: Colour,
    upper: Colour,
    sole: Colour,
    accent: Colour,
}

const SHIRTS: [Colour; 5] = [
    [0.42, 0.04, 0.03],
    [0.03, 0.12, 0.40],
    [0.50, 0.36, 0.03],
    [0.04, 0.24, 0.08],
    [0.60, 0.60, 0.57],
];

impl Outfit {
    /// The athlete's: shoes against the floor as the scene says, the rest by lot.
    pub(super) fn athlete(scene: &Scene) -> Self {
        let grey = |ratio: f64| {
            let light = (ratio * scene.floor_luminance).clamp(0.0, 0.95) as f32;
            [light, light, light * 0.96]
        };
        let accent = if scene.shoe.upper < 0.7 { 3.0 } else { 0.45 };
        let mut rng = Rng::new(scene.seed, 0x0F17);
        Self {
            upper: grey(scene.shoe.upper),
            sole: grey(scene.shoe.sole),
            accent: grey(scene.shoe.upper * accent),
            ..Self::stranger(rng.bits())
        }
    }

    pub(super) fn stranger(lot: u64) -> Self {
        let tone = 0.35 + 0.65 * ((lot >> 8) % 100) as f32 / 100.0;
        Self {
            skin: [0.55 * tone, 0.31 * tone, 0.21 * tone],
            hair: [0.035, 0.02, 0.012],
            shirt: SHIRTS[(lot % SHIRTS.len() as u64) as usize],
            shorts: [0.02, 0.025, 0.05],
            upper: [0.03, 0.03, 0.035],
            sole: [0.5, 0.5, 0.48],
            accent: [0.3, 0.3, 0.3],
        }
    }
}

/// Points of the shoe's side, from the toe of the flat shoe: fraction of the
/// shoe's length, height in metres for a body of 1.75 m.
const SOLE: [[f64; 2]; 7] = [
    [0.0, 0.0],
    [0.035, 0.008],
    [0.03, 0.022],
    [-0.05, 0.028],
    [-1.01, 0.032],
    [-1.025, 0.012],
    [-1.0, 0.0],
];
const UPPER: [[f64; 2]; 9] = [
    [0.02, 0.024],
    [0.0, 0.042],
    [-0.16, 0.064],
    [-0.42, 0.086],
    [-0.58, 0.106],
    [-0.90, 0.108],
    [-0.98, 0.08],
    [-1.0, 0.03],
    [-0.05, 0.026],
];
const STRIPE: [[f64; 2]; 4] = [
    [-0.66, 0.034],
    [-0.52, 0.034],
    [-0.40, 0.083],
    [-0.49, 0.09],
];
const HEEL_TAB: [[f64; 2]; 4] = [[-0.99, 0.05], [-0.88, 0.05], [-0.88, 0.09], [-0.98, 0.08]];
/// The shoe from the front: fraction behind the toe, height, half width (m).
const FRONT_UPPER: [[f64; 3]; 6] = [
    [0.02, 0.02, 0.046],
    [0.0, 0.042, 0.049],
    [-0.16, 0.064, 0.050],
    [-0.40, 0.086, 0.045],
    [-0.58, 0.106, 0.038],
    [-0.90, 0.108, 0.036],
];
const FRONT_SOLE: [[f64; 3]; 3] = [
    [0.0, 0.0, 0.047],
    [0.03, 0.012, 0.053],
    [0.02, 0.027, 0.051],
];
const FRONT_TONGUE: [[f64; 3]; 2] = [[-0.28, 0.075, 0.014], [-0.56, 0.106, 0.018]];

/// Half the distance between the feet, knees, hips; shoulders; elbows; hands.
const FEET: f64 = 0.115;
const HIPS: f64 = 0.095;
const SHOULDERS: f64 = 0.185;
const ELBOWS: f64 = 0.36;
const HANDS: f64 = 0.17;

/// Builds the outlines of one athlete at one moment.
pub(super) struct Figure<'a> {
    view: View,
    body: &'a Body,
    outfit: Outfit,
    /// Height of this body against the one the tables are drawn for.
    scale: f64,
    shift: f64,
    parts: Vec<Part>,
}

impl<'a> Figure<'a> {
    /// The athlete at `time`, back to front.
    pub(super) fn athlete(
        scene: &Scene,
        motion: &'a Motion,
        outfit: Outfit,
        time: f64,
    ) -> Vec<Part> {
        let pose = motion.pose(time);
        let mut figure = Figure {
            view: scene.view,
            body: &motion.body,
            outfit,
            scale: motion.body.stature / 1.75,
            shift: pose.shift_m,
            parts: Vec::with_capacity(32),
        };
        let far_arm_first = scene.view == View::Side;
        if far_arm_first {
            figure.arm(&pose, 1.0);
        }
        figure.leg(&pose, 1.0);
        figure.leg(&pose, -1.0);
        figure.trunk(&pose);
        figure.head(&pose);
        if !far_arm_first {
            figure.arm(&pose, 1.0);
        }
        figure.arm(&pose, -1.0);
        figure.parts
    }

    /// World point of a body point (forward, up) and a distance to the left.
    fn place(&self, [forward, up]: [f64; 2], left: f64) -> Point {
        match self.view {
            View::Side => [forward + self.shift, left, up],
            View::Front => [left + self.shift, -forward, up],
        }
    }

    fn push(&mut self, outline: Vec<Point>, colour: Colour, casts: bool) {
        self.parts.push(Part {
            outline,
            colour,
            casts,
        });
    }

    fn limb(&mut self, a: Point, b: Point, radii: [f64; 2], colour: Colour) {
        let outline = capsule(a, b, radii[0] * self.scale, radii[1] * self.scale);
        self.push(outline, colour, true);
    }

    fn leg(&mut self, pose: &Pose, side: f64) {
        let at =
            |figure: &Self, p: [f64; 2], half: f64| figure.place(p, side * half * figure.scale);
        let ankle = at(self, pose.ankle, FEET);
        let knee = at(self, pose.knee, FEET + 0.01);
        let hip = at(self, pose.hip, HIPS);
        // The far leg is a little in the shade.
        let shade = if self.view == View::Side && side > 0.0 {
            0.7
        } else {
            1.0
        };
        let Outfit { skin, shorts, .. } = self.outfit;
        self.limb(hip, knee, [0.082, 0.056], dim(skin, 0.92 * shade));
        self.limb(knee, ankle, [0.056, 0.036], dim(skin, shade));
        let calf = mix(knee, ankle, 0.3);
        self.limb(
            calf,
            mix(knee, ankle, 0.6),
            [0.058, 0.045],
            dim(skin, shade),
        );
        self.limb(
            hip,
            mix(hip, knee, 0.72),
            [0.092, 0.075],
            dim(shorts, shade),
        );
        self.limb(
            mix(knee, ankle, 0.82),
            ankle,
            [0.04, 0.04],
            dim([0.55, 0.55, 0.53], shade),
        );
        self.shoe(pose, side, shade);
    }

    fn shoe(&mut self, pose: &Pose, side: f64, shade: f32) {
        let Outfit {
            upper,
            sole,
            accent,
            ..
        } = self.outfit;
        match self.view {
            View::Side => {
                self.shoe_side(pose, side, &UPPER, dim(upper, shade));
                self.shoe_side(pose, side, &STRIPE, dim(accent, shade));
                self.shoe_side(pose, side, &HEEL_TAB, dim(accent, shade));
                self.shoe_side(pose, side, &SOLE, dim(sole, shade));
            }
            View::Front => {
                self.shoe_front(pose, side, &FRONT_UPPER, upper);
                self.shoe_front(pose, side, &FRONT_TONGUE, accent);
                self.shoe_front(pose, side, &FRONT_SOLE, sole);
            }
        }
    }

    fn shoe_side(&mut self, pose: &Pose, side: f64, shape: &[[f64; 2]], colour: Colour) {
        let outline = shape
            .iter()
            .map(|&[x, z]| {
                let p = on_shoe(pose.toe, pose.pitch, [x * self.body.shoe, z * self.scale]);
                self.place(p, side * FEET * self.scale)
            })
            .collect();
        self.push(outline, colour, true);
    }

    fn shoe_front(&mut self, pose: &Pose, side: f64, shape: &[[f64; 3]], colour: Colour) {
        let point = |&[x, z, half]: &[f64; 3], sign: f64| {
            let p = on_shoe(pose.toe, pose.pitch, [x * self.body.shoe, z * self.scale]);
            self.place(p, (side * FEET + sign * half) * self.scale)
        };
        let left = shape.iter().map(|row| point(row, -1.0));
        let right = shape.iter().rev().map(|row| point(row, 1.0));
        let outline = left.chain(right).collect();
        self.push(outline, colour, true);
    }

    fn trunk(&mut self, pose: &Pose) {
        let Outfit { shirt, shorts, .. } = self.outfit;
        let hip = self.place(pose.hip, 0.0);
        let shoulder = self.place(pose.shoulder, 0.0);
        let (waist, chest) = (mix(hip, shoulder, 0.18), mix(hip, shoulder, 0.86));
        let (low, high) = match self.view {
            View::Side => ([0.10, 0.098], [0.098, 0.112]),
            View::Front => ([0.155, 0.135], [0.135, 0.165]),
        };
        self.limb(hip, waist, low, shorts);
        self.limb(waist, chest, high, shirt);
        // A pale band round the chest gives the shirt something to track.
        let band = [mix(hip, shoulder, 0.62), mix(hip, shoulder, 0.7)];
        let half = 0.9 * high[1] * self.scale;
        self.push(strip(band, half), dim(shirt, 1.8), false);
    }

    fn head(&mut self, pose: &Pose) {
        let Outfit {
            skin, hair, shirt, ..
        } = self.outfit;
        let shoulder = self.place(pose.shoulder, 0.0);
        let head = self.place(pose.head, 0.0);
        self.limb(
            mix(shoulder, head, 0.15),
            mix(shoulder, head, 0.8),
            [0.055, 0.05],
            dim(skin, 0.85),
        );
        self.limb(mix(shoulder, head, 0.1), shoulder, [0.06, 0.08], shirt);
        self.push(
            ellipse(head, 0.082 * self.scale, 0.112 * self.scale),
            skin,
            true,
        );
        let back = if self.view == View::Side { -0.02 } else { 0.0 };
        let crown = [
            head[0] + back * self.scale,
            head[1],
            head[2] + 0.045 * self.scale,
        ];
        self.push(
            ellipse(crown, 0.083 * self.scale, 0.078 * self.scale),
            hair,
            true,
        );
    }

    fn arm(&mut self, pose: &Pose, side: f64) {
        let Outfit { skin, shirt, .. } = self.outfit;
        let reach = side * self.scale;
        let top = mix2(pose.hip, pose.shoulder, 0.95);
        // Hands stay on the hips, elbows out and a little back.
        let middle = mix2(pose.hip, pose.shoulder, 0.42);
        let (elbow, hand_half) = match self.view {
            View::Side => ([middle[0] - 0.15 * self.scale, middle[1]], HANDS),
            View::Front => (middle, HANDS),
        };
        let hand = mix2(pose.hip, pose.shoulder, 0.1);
        let shoulder = self.place(top, reach * SHOULDERS);
        let elbow = self.place(elbow, reach * ELBOWS);
        let hand = self.place([hand[0] + 0.05, hand[1]], reach * hand_half);
        let shade = if self.view == View::Side && side > 0.0 {
            0.7
        } else {
            1.0
        };
        self.limb(shoulder, elbow, [0.05, 0.04], dim(skin, 0.9 * shade));
        self.limb(elbow, hand, [0.04, 0.03], dim(skin, 0.95 * shade));
        let sleeve = mix(shoulder, elbow, 0.5);
        self.limb(shoulder, sleeve, [0.062, 0.058], dim(shirt, 0.8 * shade));
    }
}

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

pub(super) fn dim(colour: Colour, by: f32) -> Colour {
    colour.map(|c| (c * by).min(1.0))
}

fn mix(a: Point, b: Point, part: f64) -> Point {
    [0, 1, 2].map(|axis| a[axis] + part * (b[axis] - a[axis]))
}

fn mix2(a: [f64; 2], b: [f64; 2], part: f64) -> [f64; 2] {
    [0, 1].map(|axis| a[axis] + part * (b[axis] - a[axis]))
}

fn ellipse(centre: Point, half_width: f64, half_height: f64) -> Vec<Point> {
    (0..28)
        .map(|step| {
            let (sin, cos) = (TAU * f64::from(step) / 28.0).sin_cos();
            [
                centre[0] + half_width * cos,
                centre[1],
                centre[2] + half_height * sin,
            ]
        })
        .collect()
}

/// Outline of two discs that face the camera and the band between them.
fn capsule(a: Point, b: Point, ra: f64, rb: f64) -> Vec<Point> {
    let (dx, dz) = (b[0] - a[0], b[2] - a[2]);
    let span = dx.hypot(dz);
    if span <= (ra - rb).abs() + 1e-6 {
        let (centre, radius) = if ra > rb { (a, ra) } else { (b, rb) };
        return ellipse(centre, radius, radius);
    }
    let heading = dz.atan2(dx);
    // Where the common tangents touch, measured from the heading.
    let touch = ((ra - rb) / span).acos();
    let arc = |centre: Point, radius: f64, from: f64, to: f64| {
        (0..=10).map(move |step| {
            let angle = heading + from + (to - from) * f64::from(step) / 10.0;
            let (sin, cos) = angle.sin_cos();
            [
                centre[0] + radius * cos,
                centre[1],
                centre[2] + radius * sin,
            ]
        })
    };
    arc(b, rb, -touch, touch)
        .chain(arc(a, ra, touch, TAU - touch))
        .collect()
}

/// A band across the line between two points.
fn strip([a, b]: [Point; 2], half: f64) -> Vec<Point> {
    let (dx, dz) = (b[0] - a[0], b[2] - a[2]);
    let span = dx.hypot(dz).max(1e-9);
    let (nx, nz) = (-dz / span * half, dx / span * half);
    vec![
        [a[0] + nx, a[1], a[2] + nz],
        [b[0] + nx, b[1], b[2] + nz],
        [b[0] - nx, b[1], b[2] - nz],
        [a[0] - nx, a[1], a[2] - nz],
    ]
}
