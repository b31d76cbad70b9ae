//! From a flight to the patch: the feet's columns and the floor's rows.

use super::cells::Grid;
use super::curve::{Flight, SHOE_M, Timeline, View};
use super::search::{Found, LONG_S};
use super::slices::{GROUP, Motion};
use crate::video::FREE_FALL;
use crate::video::patch::{FloorPatch, LEAST_HEIGHT_PX, LEAST_WIDTH_PX};

/// Height of a patch in metres: a shoe with its ankle, and the floor just below.
const PATCH_HEIGHT_M: f32 = 0.165;
/// Where in it the sole line lies, from the top.
const SOLE_PLACE: f32 = 0.7;
/// Margin beside the feet, in metres.
const BESIDE_M: f32 = 0.05;
/// Width of one foot from the side, or of both from the front, in metres, at most
/// as a rule.
const WIDEST_STANCE_M: f32 = 0.36;
/// Narrowest and widest pair of feet believed, in metres.
const FEET_M: (f32, f32) = (0.24, 1.0);

/// A flight and the columns of its feet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    grid: Grid,
    flight: Flight,
    /// First and last column of cells, as fractions.
    columns: (f32, f32),
    pub(super) score: f32,
    /// Whether it needs no closer look.
    pub(super) clear: bool,
}

/// Most spots that are looked at more closely.
pub(super) const SPOTS: usize = 3;

/// Places the strongest flights of different spots, those that speak for
/// themselves first: a stride must not push a jump aside.
pub(super) fn spots(motion: &Motion, found: &[Found]) -> Vec<Placed> {
    let mut spots: Vec<&Found> = Vec::new();
    let (long, short): (Vec<&Found>, Vec<&Found>) = found.iter().partition(|f| is_clear(f));
    for flight in long.into_iter().chain(short) {
        if spots.len() < SPOTS && !spots.iter().any(|other| same_spot(other, flight)) {
            spots.push(flight);
        }
    }
    let placed = spots.iter().filter_map(|best| place(motion, best, found));
    placed.collect()
}

/// Whether a flight is long enough to be told from other motions by its curve.
fn is_clear(found: &Found) -> bool {
    const STRONG: f32 = 1.1;
    found.flight.flight_s >= LONG_S && found.score >= STRONG
}

fn same_spot(a: &Found, b: &Found) -> bool {
    let s = a.flight.rows_per_m;
    let middle = |f: &Found| 0.5 * (f.band.0 + f.band.1) as f32 * GROUP as f32;
    (a.flight.floor_row - b.flight.floor_row).abs() < 0.12 * s
        && (middle(a) - middle(b)).abs() < 0.4 * s
        && (a.flight.rows_per_m / b.flight.rows_per_m).ln().abs() < 0.6
}

/// Places a flight; other jumps of the stretch on the same spot widen it.
fn place(motion: &Motion, best: &Found, found: &[Found]) -> Option<Placed> {
    let line = Timeline::new(motion.times())?;
    let columns = feet_columns(motion, &line, best);
    let floor_row = sole_row(motion, &line, &best.flight, columns);
    let slice = motion.band(columns.0, columns.1);
    let view = View {
        slice: &slice,
        line: &line,
    };
    let mut flight = settle(
        &view,
        Flight {
            floor_row,
            ..best.flight
        },
    );
    // The curve tells the scale to a third only; the feet are no wider than this.
    let feet = ((columns.1 - columns.0) * GROUP) as f32;
    flight.rows_per_m = flight.rows_per_m.max(feet / WIDEST_STANCE_M);
    let columns = found
        .iter()
        .filter(|other| another_jump(best, other))
        .map(|other| feet_columns(motion, &line, other))
        .fold(columns, |kept, other| {
            let both = (kept.0.min(other.0), kept.1.max(other.1));
            let width_m = ((both.1 - both.0) * GROUP) as f32 / flight.rows_per_m;
            if width_m <= FEET_M.1 { both } else { kept }
        });
    Some(Placed {
        grid: motion.grid(),
        flight,
        columns: ((columns.0 * GROUP) as f32, (columns.1 * GROUP) as f32),
        score: best.score,
        clear: is_clear(best),
    })
}

/// Whether `other` is a jump at another time from the same floor.
fn another_jump(best: &Found, other: &Found) -> bool {
    const OF_BEST: f32 = 0.75;
    let (a, b) = (&best.flight, &other.flight);
    let apart = a.landing_s() < b.takeoff_s || b.landing_s() < a.takeoff_s;
    let level = (a.floor_row - b.floor_row).abs() < 0.1 * a.rows_per_m;
    apart && level && other.score >= OF_BEST * best.score
}

/// Times the flight by the gap in the motion at the floor, then finds the scale
/// that the curve needs in that time.
fn settle(view: &View, flight: Flight) -> Flight {
    const ZONE_M: f32 = 0.06;
    const STILL: f32 = 0.3;
    const STEP_S: f64 = 1.0 / 240.0;
    const G: f32 = FREE_FALL as f32;
    let top = flight.floor_row - ZONE_M * flight.rows_per_m;
    let zone = |t: f64| view.slice.mean(view.line.at(t), top, flight.floor_row);
    let middle = 0.5 * (flight.takeoff_s + flight.landing_s());
    let most = (0..(240.0 * flight.flight_s) as usize + 48)
        .map(|i| zone(flight.takeoff_s - 0.1 + i as f64 * STEP_S))
        .fold(0.0, f32::max);
    let reach = |sign: f64| {
        (1..200)
            .map(|i| i as f64 * STEP_S)
            .find(|dt| zone(middle + sign * dt) > STILL * most)
    };
    let (Some(before), Some(after)) = (reach(-1.0), reach(1.0)) else {
        return flight;
    };
    let gap = (before + after) as f32;
    // The sole needs a moment to leave the zone, and as long to come back.
    let clearing = ZONE_M / (0.5 * G * flight.flight_s);
    let flight_s = gap + 2.0 * clearing;
    if !(0.6..1.3).contains(&(flight_s / flight.flight_s)) {
        return flight;
    }
    let takeoff_s = middle - before - f64::from(clearing);
    let scale = |i: i32| flight.rows_per_m * 1.06f32.powi(i);
    let tried = (-6..=6).map(|i| Flight {
        takeoff_s,
        flight_s,
        rows_per_m: scale(i),
        floor_row: flight.floor_row,
    });
    let worth = |f: &Flight| view.curve_evidence(f).curve;
    let best = tried.max_by(|a, b| worth(a).total_cmp(&worth(b)));
    best.unwrap_or(flight)
}

/// Groups in which something moves just above the curve, near the floor; first
/// and one past the last.
fn feet_columns(motion: &Motion, line: &Timeline, found: &Found) -> (usize, usize) {
    const NEAR_FLOOR: [f32; 8] = [0.04, 0.08, 0.12, 0.16, 0.84, 0.88, 0.92, 0.96];
    const REACH_M: f32 = 0.6;
    const ASIDE_M: f32 = 0.2;
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
                    slice.mean(k, sole - 1.5 * SHOE_M * flight.rows_per_m, sole)
                })
                .sum()
        })
        .collect();
    let aside = (ASIDE_M * per_m) as usize;
    let near = found.band.0.saturating_sub(aside).max(from) - from
        ..(found.band.1 + aside - from).min(profile.len());
    let peak = near.max_by(|&a, &b| profile[a].total_cmp(&profile[b]));
    let Some(peak) = peak else {
        return found.band;
    };
    let limit = OF_PEAK * profile[peak];
    let gap = (GAP_M * per_m) as usize + 1;
    let moves = |i: &usize| profile[*i] >= limit;
    let (mut first, mut last) = (peak, peak);
    while let Some(next) = (last + 1..profile.len().min(last + 1 + gap))
        .rev()
        .find(moves)
    {
        last = next;
    }
    while let Some(next) = (first.saturating_sub(gap)..first).find(moves) {
        first = next;
    }
    (from + first, from + last + 1)
}

/// Lowest row in which the feet move at take-off or landing.
fn sole_row(motion: &Motion, line: &Timeline, flight: &Flight, columns: (usize, usize)) -> f32 {
    const ROUND_S: f64 = 0.12;
    const OF_PEAK: f32 = 0.25;
    const SEARCHED_M: f32 = 0.2;
    let slice = motion.band(columns.0, columns.1);
    let reach = SEARCHED_M * flight.rows_per_m;
    let first = (flight.floor_row - reach).max(0.0) as usize;
    let last = ((flight.floor_row + reach) as usize).min(slice.rows());
    let mut moments: Vec<usize> = [flight.takeoff_s, flight.landing_s()]
        .iter()
        .flat_map(|event| line.at(event - ROUND_S)..=line.at(event + ROUND_S))
        .collect();
    moments.dedup();
    // The fourth strongest moment of a row, so that one flash does not count.
    let profile: Vec<f32> = (first..last)
        .map(|row| {
            let mut values: Vec<f32> = moments
                .iter()
                .map(|&k| slice.mean(k, row as f32, row as f32 + 1.0))
                .collect();
            values.sort_by(|a, b| b.total_cmp(a));
            values.get(3.min(values.len() / 4)).copied().unwrap_or(0.0)
        })
        .collect();
    let peak = profile.iter().copied().fold(0.0, f32::max);
    let lowest = profile.iter().rposition(|&v| v > OF_PEAK * peak);
    lowest.map_or(flight.floor_row, |i| (first + i + 1) as f32)
}

impl Placed {
    /// Score brought to 0..1.
    pub(super) fn certainty(&self) -> f64 {
        f64::from(1.0 - (-self.score.max(0.0)).exp())
    }

    /// The stretch of time that shows the whole flight, in seconds.
    pub(super) fn window_s(&self) -> (f64, f64) {
        const ROUND_S: f64 = 0.35;
        let flight = &self.flight;
        (flight.takeoff_s - ROUND_S, flight.landing_s() + ROUND_S)
    }

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
}

/// Whole pixels inside a side of the picture.
fn fit(start: f32, length: f32, side: u32) -> (u32, u32) {
    let from = start.round().clamp(0.0, side as f32) as u32;
    let to = (start + length).round().clamp(0.0, side as f32) as u32;
    (from, to.saturating_sub(from))
}
