//! Trying every flight of a person in every band of columns.

use super::curve::{Evidence, Flight, SHOE_M, Timeline, View};
use super::slices::{GROUP, Motion};

/// Scales searched, as parts of the picture's longer side in a metre: a person
/// of 1.7 m who fills a quarter of the height of a wide picture, to a pair of
/// legs that fills it all.
const SCALES: (f32, f32) = (0.08, 0.75);
const SCALE_STEP: f32 = 1.4;
/// Flight times searched, in seconds: 2.5 cm to 1.1 m.
const FLIGHTS_S: (f32, f32) = (0.15, 0.95);
const FLIGHT_STEP: f32 = 1.12;
/// Width of a band and the step from one to the next, in metres.
const BAND_M: f32 = 0.25;
const BAND_STEP_M: f32 = 0.12;
/// Step of the floor row, in metres, and of the start, in seconds.
const FLOOR_STEP_M: f32 = 0.03;
const START_STEP_S: f64 = 1.0 / 60.0;
/// Motion that a foot shows at its take-off at least, in grey levels.
const LEAST_GREY: f32 = 0.8;

/// A flight found in a band of column groups.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    pub(super) flight: Flight,
    /// Groups of the band, first and one past the last.
    pub(super) band: (usize, usize),
    pub(super) evidence: Evidence,
    pub(super) score: f32,
}

/// The flights that explain most, strongest first, each in its own place.
pub(super) fn search(motion: &Motion) -> Vec<Found> {
    let Some(line) = Timeline::new(motion.times()) else {
        return Vec::new();
    };
    let grid = motion.grid();
    let side = grid.columns.max(grid.rows) as f32;
    let mut all = Vec::new();
    let mut scale = SCALES.0;
    while scale <= SCALES.1 {
        let rows_per_m = scale * side;
        let groups = |metres: f32| ((metres * rows_per_m / GROUP as f32).round() as usize).max(1);
        let (width, step) = (groups(BAND_M), groups(BAND_STEP_M));
        let last = motion.groups().saturating_sub(width);
        for from in (0..=last).step_by(step) {
            let band = (from, (from + width).min(motion.groups()));
            scan_band(motion, &line, band, rows_per_m, &mut all);
        }
        scale *= SCALE_STEP;
    }
    best(motion, &line, all)
}

/// All flights of one scale in one band.
fn scan_band(
    motion: &Motion,
    line: &Timeline,
    band: (usize, usize),
    rows_per_m: f32,
    out: &mut Vec<Found>,
) {
    const KEPT: usize = 4;
    let slice = motion.band(band.0, band.1);
    let view = View {
        slice: &slice,
        line,
    };
    let step = (FLOOR_STEP_M * rows_per_m).max(1.0);
    let mut kept: Vec<Found> = Vec::new();
    let mut floor_row = 0.2 * rows_per_m;
    while floor_row <= motion.grid().rows as f32 {
        let active = active_times(&view, motion.times().len(), floor_row, rows_per_m);
        if active.iter().any(|&a| a) {
            scan_floor(&view, band, floor_row, rows_per_m, &active, &mut kept);
            kept.sort_by(|a, b| b.score.total_cmp(&a.score));
            kept.truncate(KEPT);
        }
        floor_row += step;
    }
    out.append(&mut kept);
}

/// When something moves in the rows of a shoe that stands on the floor row.
fn active_times(view: &View, count: usize, floor_row: f32, rows_per_m: f32) -> Vec<bool> {
    let top = floor_row - 1.5 * SHOE_M * rows_per_m;
    (0..count)
        .map(|k| view.slice.mean(k, top, floor_row) > LEAST_GREY)
        .collect()
}

fn scan_floor(
    view: &View,
    band: (usize, usize),
    floor_row: f32,
    rows_per_m: f32,
    active: &[bool],
    kept: &mut Vec<Found>,
) {
    const RIM_S: f64 = 0.02;
    let moves = |t: f64| active[view.line.at(t)];
    let mut takeoff_s = view.line.first_s();
    while takeoff_s < view.line.last_s() {
        if moves(takeoff_s + RIM_S) {
            let mut flight_s = FLIGHTS_S.0;
            while flight_s <= FLIGHTS_S.1 {
                let landing_s = takeoff_s + f64::from(flight_s);
                if landing_s > view.line.last_s() {
                    break;
                }
                let flight = Flight {
                    takeoff_s,
                    flight_s,
                    rows_per_m,
                    floor_row,
                };
                if moves(landing_s - RIM_S) && view.worth_a_look(&flight) {
                    kept.push(judged(view, flight, band));
                }
                flight_s *= FLIGHT_STEP;
            }
        }
        takeoff_s += START_STEP_S;
    }
}

fn judged(view: &View, flight: Flight, band: (usize, usize)) -> Found {
    let evidence = view.evidence(&flight);
    Found {
        flight,
        band,
        evidence,
        score: evidence.score(flight.flight_s),
    }
}

/// Sharpens the strongest flights and keeps those that tell different stories.
fn best(motion: &Motion, line: &Timeline, mut all: Vec<Found>) -> Vec<Found> {
    const LOOKED_AT: usize = 24;
    all.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut sharp: Vec<Found> = all
        .into_iter()
        .take(LOOKED_AT)
        .map(|found| {
            let slice = motion.band(found.band.0, found.band.1);
            let view = View {
                slice: &slice,
                line,
            };
            sharpen(&view, found)
        })
        .collect();
    sharp.sort_by(|a, b| b.score.total_cmp(&a.score));
    sharp
}

/// Moves take-off, landing, scale and floor row, one after the other, while the
/// evidence grows.
fn sharpen(view: &View, mut found: Found) -> Found {
    const ROUNDS: usize = 3;
    let mut size = 1.0f32;
    for _ in 0..ROUNDS {
        for way in 0..4 {
            for sign in [-1.0f32, 1.0] {
                loop {
                    let moved = judged(view, nudge(found.flight, way, sign * size), found.band);
                    let inside = moved.flight.takeoff_s >= view.line.first_s()
                        && moved.flight.landing_s() <= view.line.last_s()
                        && moved.flight.flight_s >= 0.8 * FLIGHTS_S.0;
                    if !inside || moved.score <= found.score {
                        break;
                    }
                    found = moved;
                }
            }
        }
        size *= 0.5;
    }
    found
}

fn nudge(mut flight: Flight, way: usize, by: f32) -> Flight {
    match way {
        0 => {
            flight.takeoff_s += f64::from(by) * START_STEP_S;
            flight.flight_s -= by * START_STEP_S as f32;
        }
        1 => flight.flight_s += by * START_STEP_S as f32,
        2 => flight.rows_per_m *= 1.0 + 0.15 * by,
        _ => flight.floor_row += by * FLOOR_STEP_M * flight.rows_per_m,
    }
    flight
}
