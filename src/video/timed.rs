//! Doors for the bench, which stands outside and sees no picture type: numbers in,
//! numbers out. Not meant for anything else.

use super::hinge::{HingePrior, Sighting, fit_hinge};
use super::motion::MotionBuilder;
use super::zone::shrink;

/// Shrinks 8-bit pictures of `w` x `h` pixels by `bin` and differences each with the one
/// before, as watching does; gives the motion of the last one in grey levels.
pub fn motion(pictures: &[Vec<u16>], (w, h): (usize, usize), bin: u32) -> f32 {
    let mut builder = MotionBuilder::default();
    for (at, luma) in pictures.iter().enumerate() {
        if let Some(picture) = shrink(luma, w, h, 8, bin) {
            builder.push(at as f64 / 240.0, picture);
        }
    }
    builder.slice().newest(0, h)
}

/// Fits stand and flight to heights in pixels against seconds; gives the moment at which
/// they meet.
pub fn hinge(heights: &[(f64, f64)], speed_px_s: f64, range_s: (f64, f64)) -> Option<f64> {
    let sightings: Vec<Sighting> = heights
        .iter()
        .map(|&(t, y)| Sighting { t, y, weight: 1.0 })
        .collect();
    let prior = HingePrior {
        flight_s: 0.5,
        speed_px_s,
        speed_u_rel: 0.5,
        scatter_px: 0.2,
        run_up_s: None,
    };
    fit_hinge(&sightings, &prior, range_s).map(|hinge| hinge.t)
}
