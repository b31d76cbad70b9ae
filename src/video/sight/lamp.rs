//! Lamps that pulse.

use super::Patch;
use crate::video::film::Film;

/// Lamps pulse alike everywhere, or in bands where the rows are read one after the
/// other: bands of rows are looked at one by one.
const BANDS: usize = 6;
/// Every so many pixels of a band are enough.
const STEP: usize = 3;
/// Share of the pixels left out at either end: what moves.
const TRIMMED: usize = 4;

/// Swing of the brightness beside the patch from frame to frame, root mean square, as a
/// share of it.
pub(super) fn flicker(film: &Film, (takeoff_s, landing_s): (f64, f64), patch: &Patch) -> f64 {
    let from = film.times.partition_point(|&t| t < takeoff_s - 0.1);
    let to = film.times.partition_point(|&t| t <= landing_s + 0.1);
    let (mut square, mut count) = (0.0, 0.0);
    for band in 0..BANDS {
        let places = beside(film, band, patch);
        for frames in film
            .frames
            .get(from..to)
            .unwrap_or_default()
            .array_windows()
        {
            // Second differences leave out whatever grows evenly, as exposure does; of
            // values without any order they have six times the variance.
            let mut bends: Vec<f64> = places
                .iter()
                .map(|&(x, y)| {
                    let [a, b, c] = frames.each_ref().map(|frame| f64::from(frame.row(y)[x]));
                    (a - 2.0 * b + c) / b.max(1.0)
                })
                .collect();
            bends.sort_by(f64::total_cmp);
            let cut = bends.len() / TRIMMED;
            let kept = &bends[cut..bends.len() - cut];
            if !kept.is_empty() {
                let mean = kept.iter().sum::<f64>() / kept.len() as f64;
                square += mean * mean / 6.0;
                count += 1.0;
            }
        }
    }
    f64::sqrt(square / f64::max(count, 1.0))
}

/// Some pixels of a band of rows to the left and right of the patch.
fn beside(film: &Film, band: usize, patch: &Patch) -> Vec<(usize, usize)> {
    let Some(frame) = film.frames.first() else {
        return Vec::new();
    };
    let (w, h) = (frame.width(), frame.height());
    let rows = (h * band / BANDS..h * (band + 1) / BANDS).step_by(STEP);
    rows.flat_map(|y| {
        let left = 0..patch.columns.0.min(w);
        let right = patch.columns.1.min(w)..w;
        left.chain(right).step_by(STEP).map(move |x| (x, y))
    })
    .collect()
}
