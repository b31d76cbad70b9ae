//! The picture's own movement, from what stands still beside the feet.

use rayon::prelude::*;

use super::Patch;
use crate::video::film::Film;
use crate::video::spacing::median;
use crate::video::template::{Half, Tile};
use crate::video::tiles::Path;

/// How far the picture was shifted downwards in each of some frames.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::video) struct Steady {
    first: usize,
    /// Empty where the picture stands still.
    shifts_px: Vec<f64>,
    swing_px: f64,
}

/// Why the picture's own movement is not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::video) enum Unsteady {
    /// Nothing with edges stands beside the patch.
    NothingToFollow,
    /// What is there could not be followed: it moved too far, or something hid it.
    Lost,
}

/// Movement that is worth taking out, in the film's pixels: below it following the floor
/// adds as much as it takes away.
const WORTH_PX: f64 = 0.3;
/// Further than this from frame to frame no hand shakes, in the film's pixels, ...
const FARTHEST_PX: f64 = 4.0;
/// ... or, where frames are far apart, in the film's pixels per second, ...
const FASTEST_PX_S: f64 = 400.0;
/// ... and further than this no picture swings within a jump.
const WIDEST_PX: f64 = 20.0;
/// Frames by which to see whether the picture moves at all.
const SAMPLES: usize = 6;
/// Bands of rows on either side of the patch, and parts followed in each: spread, so that
/// a shadow that goes with the jumper cannot outvote what stands still.
const BANDS: usize = 4;
const PARTS: usize = 2;
/// How many parts must be found in a frame.
const FEWEST: usize = 5;
/// How far half of the parts may lie from the median, half of the time, in the film's
/// pixels.
const AGREE_PX: f64 = 0.35;

impl Steady {
    /// Follows what stands still beside the patch from shortly before take-off to
    /// shortly after landing.
    ///
    /// # Errors
    /// [`Unsteady`] where too little can be followed or the parts disagree.
    pub(in crate::video) fn of(
        film: &Film,
        (takeoff_s, landing_s): (f64, f64),
        patch: &Patch,
    ) -> Result<Self, Unsteady> {
        const AROUND_S: f64 = 0.15;
        let first = film.times.partition_point(|&t| t < takeoff_s - AROUND_S);
        let end = film.times.partition_point(|&t| t <= landing_s + AROUND_S);
        let last = end.checked_sub(1).filter(|&last| last > first);
        let middle = film.nearest(0.5 * (takeoff_s + landing_s));
        let (last, middle) = last.zip(middle).ok_or(Unsteady::NothingToFollow)?;
        let tiles = beside(film, middle, patch);
        if tiles.len() < FEWEST {
            return Err(Unsteady::NothingToFollow);
        }
        let sample = |k: usize| first + k * (last - first) / (SAMPLES - 1);
        let samples: Vec<usize> = (0..SAMPLES).map(sample).collect();
        let seen = shifts(film, &tiles, middle, &samples, WIDEST_PX).ok_or(Unsteady::Lost)?;
        let swing_px = deviation(&seen);
        if swing_px < WORTH_PX {
            let shifts_px = Vec::new();
            return Ok(Self {
                first,
                shifts_px,
                swing_px,
            });
        }
        let frames: Vec<usize> = (first..end).collect();
        let spacing_s = (film.times[last] - film.times[first]) / (last - first) as f64;
        let reach_px = (FASTEST_PX_S * spacing_s).clamp(FARTHEST_PX, WIDEST_PX);
        let shifts_px = shifts(film, &tiles, middle, &frames, reach_px).ok_or(Unsteady::Lost)?;
        let swing_px = deviation(&shifts_px);
        Ok(Self {
            first,
            shifts_px,
            swing_px,
        })
    }

    /// Takes the picture's movement out of paths.
    pub(in crate::video) fn take_out(&self, paths: &mut [Path]) {
        for point in paths.iter_mut().flatten() {
            let k = point.frame.checked_sub(self.first);
            let shift = k.and_then(|k| self.shifts_px.get(k));
            point.y -= shift.copied().unwrap_or(0.0);
        }
    }

    /// Whether the picture moves.
    pub(in crate::video) fn moves(&self) -> bool {
        !self.shifts_px.is_empty()
    }

    /// Standard deviation of the shift in the film's pixels.
    pub(in crate::video) fn swing_px(&self) -> f64 {
        self.swing_px
    }
}

fn deviation(values: &[f64]) -> f64 {
    let count = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / count;
    let square: f64 = values.iter().map(|s| (s - mean).powi(2)).sum();
    (square / count).sqrt()
}

/// Downward shift of the picture in some frames, in order, against the frame in which the
/// tiles were cut; `None` where too few tiles are found in one of them or they disagree.
fn shifts(
    film: &Film,
    tiles: &[Tile],
    home: usize,
    frames: &[usize],
    reach_px: f64,
) -> Option<Vec<f64>> {
    let paths: Vec<Vec<Option<f64>>> = tiles
        .par_iter()
        .map(|tile| rows(film, tile, home, frames, reach_px))
        .collect();
    let (mut shifts, mut apart) = (Vec::new(), Vec::new());
    for k in 0..frames.len() {
        let mut seen: Vec<f64> = paths.iter().filter_map(|path| path[k]).collect();
        if seen.len() < FEWEST {
            return None;
        }
        let shift = median(&mut seen)?;
        seen.iter_mut().for_each(|row| *row = (*row - shift).abs());
        apart.push(median(&mut seen)?);
        shifts.push(shift);
    }
    (median(&mut apart)? <= AGREE_PX).then_some(shifts)
}

/// Rows of a tile in some frames against where it was cut, in `home`; from there it is
/// looked for frame by frame in both directions.
fn rows(
    film: &Film,
    tile: &Tile,
    home: usize,
    frames: &[usize],
    reach_px: f64,
) -> Vec<Option<f64>> {
    const ALIKE: f64 = 0.85;
    let start = tile.place(film, home);
    let mut rows = vec![None; frames.len()];
    let after = frames.partition_point(|&frame| frame < home);
    let mut walk = |order: &mut dyn Iterator<Item = usize>| {
        let mut last = start;
        for k in order {
            let near = |at: f64| (at - reach_px, at + reach_px);
            let found = tile.find(film, frames[k], near(last.x), near(last.y));
            if let Some(found) = found.filter(|found| found.likeness >= ALIKE) {
                rows[k] = Some(found.y - start.y);
                last = found;
            }
        }
    };
    walk(&mut (0..after).rev());
    walk(&mut (after..frames.len()));
    rows
}

/// The parts with the clearest edges to the left and right of the patch, in each band of
/// rows.
fn beside(film: &Film, frame: usize, patch: &Patch) -> Vec<Tile> {
    let half = Half::of(patch.height);
    let picture = &film.frames[frame];
    let room = (half.w + 2, half.h + 2);
    let width = picture.width().saturating_sub(room.0);
    let height = picture.height().saturating_sub(room.1);
    let sides = [
        room.0..patch.columns.0.saturating_sub(half.w),
        patch.columns.1 + half.w + 1..width,
    ];
    let mut tiles = Vec::new();
    for band in 0..BANDS {
        let rows = room.1.max(height * band / BANDS)..height * (band + 1) / BANDS;
        for columns in &sides {
            let mut ranked = Vec::new();
            for y in rows.clone().step_by(half.h + 1) {
                for x in columns.clone().step_by(half.w + 1) {
                    let edges = super::edges(picture, x as f64, y as f64, half);
                    ranked.extend(edges.map(|edges| (edges, x, y)));
                }
            }
            ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
            let best = ranked.iter().take(PARTS);
            tiles.extend(best.filter_map(|&(_, x, y)| Tile::cut(film, frame, x, y, half)));
        }
    }
    tiles
}
