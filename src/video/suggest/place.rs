//! From a flight to the patch: the feet's columns and the floor's rows.

use super::cells::Grid;
use super::curve::{Flight, SHOE_M, Timeline};
use super::search::Found;
use super::slices::{GROUP, Motion};
use crate::video::patch::{FloorPatch, LEAST_HEIGHT_PX, LEAST_WIDTH_PX};

/// Height of a patch in metres: a shoe with its ankle, and the floor just below.
const PATCH_HEIGHT_M: f32 = 0.165;
/// Where in it the sole line lies, from the top.
const SOLE_PLACE: f32 = 0.7;
/// Margin beside the feet, in metres.
const BESIDE_M: f32 = 0.03;
/// Narrowest and widest pair of feet believed, in metres.
const FEET_M: (f32, f32) = (0.2, 0.8);

/// A flight and the columns of its feet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    grid: Grid,
    flight: Flight,
    /// First and last column of cells, as fractions.
    columns: (f32, f32),
    pub(super) score: f32,
}

/// Places the strongest flight.
pub(super) fn place(motion: &Motion, found: &[Found]) -> Option<Placed> {
    let best = found.first()?;
    if std::env::var("SUGGEST_DEBUG").is_ok() {
        for f in found.iter().take(8) {
            eprintln!(
                "   {:.3}s T {:.3} s {:.1} f {:.1} band {:?} curve {:.2} floor {:?} body {:?} foot {:.1} score {:.2}",
                f.flight.takeoff_s,
                f.flight.flight_s,
                f.flight.rows_per_m,
                f.flight.floor_row,
                f.band,
                f.evidence.curve,
                f.evidence.floor,
                f.evidence.body,
                f.evidence.foot,
                f.score
            );
        }
    }
    let line = Timeline::new(motion.times())?;
    let columns = feet_columns(motion, &line, best);
    Some(Placed {
        grid: motion.grid(),
        flight: best.flight,
        columns,
        score: best.score,
    })
}

/// Columns in which something moves just above the curve, near the floor.
fn feet_columns(motion: &Motion, line: &Timeline, found: &Found) -> (f32, f32) {
    const NEAR_FLOOR: [f32; 8] = [0.04, 0.08, 0.12, 0.16, 0.84, 0.88, 0.92, 0.96];
    const REACH_M: f32 = 0.6;
    const OF_PEAK: f32 = 0.3;
    const GAP_M: f32 = 0.3;
    let flight = &found.flight;
    let per_m = flight.rows_per_m / GROUP as f32;
    let reach = (REACH_M * per_m) as usize;
    let from = found.band.0.saturating_sub(reach);
    let to = (found.band.1 + reach).min(motion.groups());
    let profile: Vec<f32> = (from..to)
        .map(|group| {
            let slice = motion.band(group, group + 1);
            NEAR_FLOOR
                .iter()
                .map(|part| part * flight.flight_s)
                .map(|after_s| {
                    let k = line.at(flight.takeoff_s + f64::from(after_s));
                    let sole = flight.sole(after_s);
                    slice.mean(k, sole - SHOE_M * flight.rows_per_m, sole)
                })
                .sum()
        })
        .collect();
    let inside = found.band.0 - from..(found.band.1 - from).min(profile.len());
    let peak = inside
        .clone()
        .max_by(|&a, &b| profile[a].total_cmp(&profile[b]));
    let Some(peak) = peak else {
        return (found.band.0 as f32, found.band.1 as f32);
    };
    let limit = OF_PEAK * profile[peak];
    let gap = (GAP_M * per_m) as usize + 1;
    let mut ends = (peak, peak);
    while let Some(next) =
        (ends.1 + 1..profile.len().min(ends.1 + 1 + gap)).find(|&i| profile[i] >= limit)
    {
        ends.1 = next;
    }
    while let Some(next) = (ends.0.saturating_sub(gap)..ends.0)
        .rev()
        .find(|&i| profile[i] >= limit)
    {
        ends.0 = next;
    }
    (
        ((from + ends.0) * GROUP) as f32,
        ((from + ends.1 + 1) * GROUP) as f32,
    )
}

impl Placed {
    /// The patch in pixels, inside a picture of `size`.
    pub(super) fn patch(&self, size: (u32, u32)) -> FloorPatch {
        let cell = self.grid.cell as f32;
        let px_per_m = self.flight.rows_per_m * cell;
        let middle = 0.5 * (self.columns.0 + self.columns.1) * cell;
        let feet = (self.columns.1 - self.columns.0) * cell;
        let feet = feet.clamp(FEET_M.0 * px_per_m, FEET_M.1 * px_per_m);
        let width = (feet + 2.0 * BESIDE_M * px_per_m).max(LEAST_WIDTH_PX as f32);
        let height = (PATCH_HEIGHT_M * px_per_m).max(LEAST_HEIGHT_PX as f32);
        let left = middle - 0.5 * width;
        let top = self.flight.floor_row * cell - SOLE_PLACE * height;
        let (x, w) = fit(left, width, size.0);
        let (y, h) = fit(top, height, size.1);
        FloorPatch { x, y, w, h }
    }

    /// Score brought to 0..1.
    pub(super) fn certainty(&self) -> f64 {
        f64::from(1.0 - (-self.score.max(0.0)).exp())
    }
}

/// Whole pixels inside a side of the picture.
fn fit(start: f32, length: f32, side: u32) -> (u32, u32) {
    let from = start.round().clamp(0.0, side as f32) as u32;
    let to = (start + length).round().clamp(0.0, side as f32) as u32;
    (from, to.saturating_sub(from))
}
