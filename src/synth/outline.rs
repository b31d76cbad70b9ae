//! Outlines in space: discs, limbs, bands, each of one colour.

use std::f64::consts::TAU;

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

pub(super) fn dim(colour: Colour, by: f32) -> Colour {
    colour.map(|c| (c * by).min(1.0))
}

pub(super) fn mix(a: Point, b: Point, part: f64) -> Point {
    [0, 1, 2].map(|axis| a[axis] + part * (b[axis] - a[axis]))
}

pub(super) fn mix2(a: [f64; 2], b: [f64; 2], part: f64) -> [f64; 2] {
    [0, 1].map(|axis| a[axis] + part * (b[axis] - a[axis]))
}

pub(super) fn ellipse(centre: Point, half_width: f64, half_height: f64) -> Vec<Point> {
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
pub(super) fn capsule(a: Point, b: Point, ra: f64, rb: f64) -> Vec<Point> {
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
pub(super) fn strip([a, b]: [Point; 2], half: f64) -> Vec<Point> {
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
