//! How far the body reaches in the picture: from the toes to the top of the head.

use super::BodyPath;
use super::follow::Part;
use super::view::BodyLeap;
use crate::video::film::Film;

/// A dip of this depth in metres uncovers the wall behind the head.
const DEEP_M: f64 = 0.15;
/// Change of a pixel that shows the head against the wall, in grey levels.
const MOVED: u8 = 12;
/// The head is at least this wide, in metres.
const HEAD_M: f64 = 0.06;

/// Toes to head at take-off in fine pixels, by what differs from the picture at the
/// bottom of the push; `None` where there is no deep push or the head is out of view.
pub(super) fn reach(
    film: &Film,
    parts: &[Part],
    path: &BodyPath,
    flight: &BodyLeap,
) -> Option<f64> {
    let before = path
        .times_s
        .iter()
        .zip(&path.rise_px)
        .filter(|(t, _)| **t < flight.takeoff_s);
    let (bottom_s, depth_px) = before.min_by(|a, b| a.1.total_cmp(b.1))?;
    if -depth_px < DEEP_M * flight.px_per_m * flight.fine_per_px {
        return None;
    }
    let (k, bottom) = (film.nearest(flight.takeoff_s)?, film.nearest(*bottom_s)?);
    let (here, other) = (film.frames.get(k)?, film.frames.get(bottom)?);
    let columns = parts.iter().filter_map(|part| part.at(k)).map(|p| p.x);
    let (lo, hi) = columns.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), x| {
        (lo.min(x), hi.max(x))
    });
    let side = 0.15 * flight.px_per_m;
    let x0 = (lo - side).max(0.0) as usize;
    let x1 = ((hi + side).max(0.0) as usize).min(here.width());
    let wide = (HEAD_M * flight.px_per_m).max(2.0) as usize;
    let moved = |y: usize| {
        let differs = |x: &usize| here.row(y)[*x].abs_diff(other.row(y)[*x]) > MOVED;
        (x0..x1).filter(differs).count() >= wide
    };
    let top = (0..here.height().saturating_sub(2)).find(|&y| (y..y + 3).all(moved))?;
    // At the picture's very edge the head may go on outside it.
    (top > 1).then_some((flight.floor_row - top as f64) * flight.fine_per_px)
}
