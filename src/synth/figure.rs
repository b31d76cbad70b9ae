//! Dresses the linkage: from a pose to flat coloured outlines in space.

use super::body::Body;
use super::motion::{Motion, Pose, on_shoe};
use super::outline::{Colour, Part, Point, capsule, dim, ellipse, mix, mix2, strip};
use super::random::Rng;
use super::scene::{Scene, View};

/// Colours of one person.
#[derive(Clone, Copy)]
pub(super) struct Outfit {
    pub(super) skin: Colour,
    pub(super) hair: Colour,
    pub(super) shirt: Colour,
    pub(super) shorts: Colour,
    pub(super) upper: Colour,
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
// The upper reaches well into the sole: two edges that meet in one pixel row
// would let the floor shine through.
const UPPER: [[f64; 2]; 9] = [
    [0.02, 0.012],
    [0.0, 0.042],
    [-0.16, 0.064],
    [-0.42, 0.086],
    [-0.58, 0.106],
    [-0.90, 0.108],
    [-0.98, 0.08],
    [-1.0, 0.012],
    [-0.05, 0.012],
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
    [0.02, 0.012, 0.046],
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

/// The same from behind, and the underside, which shows when the heel is up.
const BACK_UPPER: [[f64; 3]; 4] = [
    [-0.99, 0.012, 0.033],
    [-1.0, 0.045, 0.036],
    [-0.98, 0.08, 0.034],
    [-0.90, 0.108, 0.030],
];
const BACK_SOLE: [[f64; 3]; 3] = [
    [-1.0, 0.0, 0.033],
    [-1.025, 0.012, 0.037],
    [-1.01, 0.032, 0.036],
];
const BACK_TAB: [[f64; 3]; 2] = [[-0.99, 0.05, 0.012], [-0.97, 0.085, 0.012]];
const UNDERSIDE: [[f64; 3]; 3] = [[0.0, 0.0, 0.047], [-0.4, 0.0, 0.045], [-1.0, 0.0, 0.033]];

/// Half the distance between the feet, knees, hips; shoulders; elbows; hands.
pub(super) const FEET: f64 = 0.115;
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
        let far_arm_first = scene.view.has_far_side();
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
        let [cos, sin] = self.view.turn();
        let across = forward * cos + left * sin;
        [across + self.shift, left * cos - forward * sin, up]
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
        let pose = &pose.of_side(side, self.body);
        let ankle = at(self, pose.ankle, FEET);
        let knee = at(self, pose.knee, FEET + 0.01);
        let hip = at(self, pose.hip, HIPS);
        // The far leg is a little in the shade.
        let shade = if self.view.has_far_side() && side > 0.0 {
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
                let middle = side * FEET;
                self.shoe_side(pose, middle, &UPPER, dim(upper, shade));
                self.shoe_side(pose, middle, &STRIPE, dim(accent, shade));
                self.shoe_side(pose, middle, &HEEL_TAB, dim(accent, shade));
                self.shoe_side(pose, middle, &SOLE, dim(sole, shade));
            }
            View::Diagonal => {
                // Slices of its length, the far ones first.
                const SLICES: i32 = 4;
                for slice in (-SLICES..=SLICES).rev() {
                    let along = side * FEET + 0.046 * f64::from(slice) / f64::from(SLICES);
                    self.shoe_side(pose, along, &UPPER, dim(upper, shade));
                    self.shoe_side(pose, along, &SOLE, dim(sole, shade));
                }
                let near = side * FEET - 0.046;
                self.shoe_side(pose, near, &STRIPE, dim(accent, shade));
                self.shoe_side(pose, near, &HEEL_TAB, dim(accent, shade));
            }
            View::Front => {
                self.shoe_across(pose, side, &FRONT_UPPER, upper);
                self.shoe_across(pose, side, &FRONT_TONGUE, accent);
                self.shoe_across(pose, side, &FRONT_SOLE, sole);
            }
            View::Back => {
                self.shoe_across(pose, side, &FRONT_UPPER, dim(upper, 0.8));
                self.shoe_across(pose, side, &UNDERSIDE, dim(sole, 0.5));
                self.shoe_across(pose, side, &BACK_UPPER, upper);
                self.shoe_across(pose, side, &BACK_TAB, accent);
                self.shoe_across(pose, side, &BACK_SOLE, sole);
            }
        }
    }

    /// An outline along the shoe, so far to the left of the body's middle.
    fn shoe_side(&mut self, pose: &Pose, left: f64, shape: &[[f64; 2]], colour: Colour) {
        let outline = shape
            .iter()
            .map(|&[x, z]| {
                let p = on_shoe(pose.toe, pose.pitch, [x * self.body.shoe, z * self.scale]);
                self.place(p, left * self.scale)
            })
            .collect();
        // Patches within the shoe add nothing to its shadow.
        self.push(outline, colour, shape.len() > 4);
    }

    /// An outline across the shoe.
    fn shoe_across(&mut self, pose: &Pose, side: f64, shape: &[[f64; 3]], colour: Colour) {
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
            View::Diagonal => ([0.13, 0.12], [0.12, 0.14]),
            View::Front | View::Back => ([0.155, 0.135], [0.135, 0.165]),
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
        let back = -0.02 * self.view.turn()[0];
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
        let elbow = match self.view.has_far_side() {
            true => [middle[0] - 0.15 * self.scale, middle[1]],
            false => middle,
        };
        let hand = mix2(pose.hip, pose.shoulder, 0.1);
        let shoulder = self.place(top, reach * SHOULDERS);
        let elbow = self.place(elbow, reach * ELBOWS);
        let hand = self.place([hand[0] + 0.05, hand[1]], reach * HANDS);
        let shade = if self.view.has_far_side() && side > 0.0 {
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
