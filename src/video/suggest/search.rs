//! Trying every flight of a person in every band of columns.

use rayon::prelude::*;

use super::curve::{Evidence, Flight, SHOE_M, Timeline, View};
use super::slices::{GROUP, Motion};

/// Scales searched, as parts of the picture's longer side in a metre: a person
/// of 1.7 m who fills a third of the height of a wide picture, to a pair of
/// legs that fills it all.
const SCALES: (f32, f32) = (0.1, 0.75);
const SCALE_STEP: f32 = 1.4;
/// Flight times searched, in seconds: 2.5 cm to 1.1 m.
const FLIGHTS_S: (f32, f32) = (0.15, 0.95);
const FLIGHT_STEP: f32 = 1.12;
/// Width of a band and the step from one to the next, in metres.
const BAND_M: f32 = 0.25;
const BAND_STEP_M: f32 = 0.15;
/// Step of the floor row, in metres, and of the start, in seconds.
const FLOOR_STEP_M: f32 = 0.04;
const START_STEP_S: f64 = 1.0 / 60.0;
/// Weakest score that is kept while searching.
const LEAST_SCORE: f32 = 0.3;
/// Motion that a foot shows at its take-off at least, in grey levels.
const LEAST_GREY: f32 = 0.8;

/// A flight of this length can be told from a stride by its curve alone.
pub(super) const LONG_S: f32 = 0.38;

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
    let mut bands = Vec::new();
    let mut scale = SCALES.0;
    while scale <= SCALES.1 {
        let rows_per_m = scale * side;
        let groups = |metres: f32| ((metres * rows_per_m / GROUP as f32).round() as usize).max(1);
        let (width, step) = (groups(BAND_M), groups(BAND_STEP_M));
        let last = motion.groups().saturating_sub(width);
        bands.extend((0..=last).step_by(step).map(|from| {
            let band = (from, (from + width).min(motion.groups()));
            (band, rows_per_m)
        }));
        scale *= SCALE_STEP;
    }
    let all = bands
        .into_par_iter()
        .flat_map_iter(|(band, rows_per_m)| scan_band(motion, &line, band, rows_per_m))
        .collect();
    best(motion, &line, all)
}

/// All flights of one scale in one band.
fn scan_band(
    motion: &Motion,
    line: &Timeline,
    band: (usize, usize),
    rows_per_m: f32,
) -> Vec<Found> {
    let slice = motion.band(band.0, band.1);
    let view = View {
        slice: &slice,
        line,
    };
    let step = (FLOOR_STEP_M * rows_per_m).max(1.0);
    let mut kept: Vec<Found> = Vec::new();
    let mut floor_row = 0.2 * rows_per_m;
    while floor_row <= motion.grid().rows as f32 {
        let zone = shoe_motion(&view, motion.times().len(), floor_row, rows_per_m);
        if zone.iter().any(|&z| z > LEAST_GREY) {
            scan_floor(&view, band, floor_row, rows_per_m, &zone, &mut kept);
        }
        floor_row += step;
    }
    kept
}

/// Motion in the rows of a shoe that stands on the floor row, at each time.
fn shoe_motion(view: &View, count: usize, floor_row: f32, rows_per_m: f32) -> Vec<f32> {
    let top = floor_row - SHOE_M * rows_per_m;
    (0..count)
        .map(|k| view.slice.mean(k, top, floor_row))
        .collect()
}

/// Keeps the strongest flights from one floor row, strongest first.
fn scan_floor(
    view: &View,
    band: (usize, usize),
    floor_row: f32,
    rows_per_m: f32,
    zone: &[f32],
    kept: &mut Vec<Found>,
) {
    /// Shorter flights do not lift the sole over the zone.
    const CLEARS_S: f32 = 0.3;
    const OF_RIM: f32 = 0.7;
    const RIM_S: f64 = 0.025;
    const KEPT: usize = 4;
    /// The foot has to be seen standing before and after.
    const STANDS_S: f64 = 0.08;
    let motion = |t: f64| zone[view.line.at(t)];
    let mut takeoff_s = view.line.first_s() + STANDS_S;
    while takeoff_s < view.line.last_s() {
        let rise = motion(takeoff_s + RIM_S);
        let mut flight_s = FLIGHTS_S.0;
        while rise > LEAST_GREY && flight_s <= FLIGHTS_S.1 {
            let landing_s = takeoff_s + f64::from(flight_s);
            if landing_s + STANDS_S > view.line.last_s() {
                break;
            }
            let fall = motion(landing_s - RIM_S);
            let middle = motion(0.5 * (takeoff_s + landing_s));
            let cleared = flight_s < CLEARS_S || middle < OF_RIM * rise.min(fall);
            let flight = Flight {
                takeoff_s,
                flight_s,
                rows_per_m,
                floor_row,
            };
            if fall > LEAST_GREY && cleared && view.worth_a_look(&flight) {
                let limit = kept
                    .get(KEPT - 1)
                    .map_or(LEAST_SCORE, |weakest| weakest.score);
                if let Some(found) = judged(view, flight, band, limit) {
                    kept.truncate(KEPT - 1);
                    let place = kept.partition_point(|other| other.score > found.score);
                    kept.insert(place, found);
                }
            }
            flight_s *= FLIGHT_STEP;
        }
        takeoff_s += view.line.step_s().max(START_STEP_S);
    }
}

/// A flight with its evidence, if its score exceeds `limit`.
fn judged(view: &View, flight: Flight, band: (usize, usize), limit: f32) -> Option<Found> {
    let evidence = view.evidence_above(&flight, limit)?;
    let score = evidence.score(flight.flight_s);
    (score > limit).then_some(Found {
        flight,
        band,
        evidence,
        score,
    })
}

/// Sharpens the strongest flight of each place and moment, strongest first.
fn best(motion: &Motion, line: &Timeline, mut all: Vec<Found>) -> Vec<Found> {
    all.sort_by(|a, b| b.score.total_cmp(&a.score));
    // Strides are many and short: they must not crowd out the long flights.
    let (long, short): (Vec<Found>, Vec<Found>) =
        all.into_iter().partition(|f| f.flight.flight_s >= LONG_S);
    let mut apart = steady(motion, line, &long);
    apart.extend(steady(motion, line, &short));
    let mut sharp: Vec<Found> = apart
        .into_par_iter()
        .map(|found| {
            let slice = motion.band(found.band.0, found.band.1);
            let view = View {
                slice: &slice,
                line,
            };
            with_surroundings(motion, line, sharpen(&view, found))
        })
        .collect();
    sharp.retain(|found| found.evidence.stands_lowest());
    sharp.sort_by(|a, b| b.score.total_cmp(&a.score));
    sharp
}

/// The strongest flights that tell different stories and do not travel.
fn steady(motion: &Motion, line: &Timeline, sorted: &[Found]) -> Vec<Found> {
    const LOOKED_AT: usize = 12;
    const TRIED: usize = 100;
    /// A jumper drifts; a walker or a rolling ball goes on. In a long flight a
    /// walker crosses the band anyway, and may pass behind a jumper.
    const WALKS_M_S: f32 = 0.45;
    const PASSES_M_S: f32 = 0.8;
    let mut tried: Vec<&Found> = Vec::new();
    let mut kept = Vec::new();
    for found in sorted {
        if kept.len() == LOOKED_AT || tried.len() == TRIED {
            break;
        }
        if !tried.iter().any(|other| same_story(other, found)) {
            tried.push(found);
            let limit = match found.flight.flight_s < LONG_S {
                true => WALKS_M_S,
                false => PASSES_M_S,
            };
            if travel_m_s(motion, line, found) < limit {
                kept.push(*found);
            }
        }
    }
    kept
}

/// How fast the middle of all motion round the flight goes sideways, in metres a
/// second of the flight's own scale.
fn travel_m_s(motion: &Motion, line: &Timeline, found: &Found) -> f32 {
    const REACH_M: f32 = 0.7;
    const BODY_M: f32 = 1.0;
    const ROUND_S: f64 = 0.1;
    let flight = &found.flight;
    let per_m = flight.rows_per_m / GROUP as f32;
    let reach = (REACH_M * per_m) as usize;
    let middle = (found.band.0 + found.band.1) / 2;
    let groups = middle.saturating_sub(reach)..(middle + reach).min(motion.groups());
    let top = (flight.floor_row - BODY_M * flight.rows_per_m).max(0.0) as usize;
    let rows = top..(flight.floor_row as usize).min(motion.grid().rows);
    let moments = line.at(flight.takeoff_s - ROUND_S)..=line.at(flight.landing_s() + ROUND_S);
    let points: Vec<(f32, f32, f32)> = moments
        .map(|k| {
            let time = (motion.times()[k] - flight.takeoff_s) as f32;
            let (at, weight) = motion.centre(k, groups.clone(), rows.clone());
            (time, at / per_m, weight)
        })
        .collect();
    slope(&points).abs()
}

/// Slope of the weighted straight line through (x, y, weight).
fn slope(points: &[(f32, f32, f32)]) -> f32 {
    let weight: f32 = points.iter().map(|p| p.2).sum();
    if weight <= 0.0 {
        return 0.0;
    }
    let mean = |value: fn(&(f32, f32, f32)) -> f32| {
        points.iter().map(|p| p.2 * value(p)).sum::<f32>() / weight
    };
    let (x, y) = (mean(|p| p.0), mean(|p| p.1));
    let along: f32 = points.iter().map(|p| p.2 * (p.0 - x).powi(2)).sum();
    let joint: f32 = points.iter().map(|p| p.2 * (p.0 - x) * (p.1 - y)).sum();
    if along > 0.0 { joint / along } else { 0.0 }
}

/// Whether two flights are readings of the same motion.
fn same_story(a: &Found, b: &Found) -> bool {
    let near = |x: f32, y: f32, limit: f32| (x - y).abs() < limit;
    let s = a.flight.rows_per_m.max(b.flight.rows_per_m);
    let middle = |f: &Found| 0.5 * (f.band.0 + f.band.1) as f32 * GROUP as f32;
    near(a.flight.floor_row, b.flight.floor_row, 0.1 * s)
        && near(middle(a), middle(b), 0.16 * s)
        && (a.flight.takeoff_s - b.flight.takeoff_s).abs() < 0.08
        && (a.flight.landing_s() - b.flight.landing_s()).abs() < 0.08
}

/// Judges a flight anew by what moves under its floor row half a metre to
/// either side: hands rise and fall beside the body, but feet are lower.
fn with_surroundings(motion: &Motion, line: &Timeline, mut found: Found) -> Found {
    const REACH: i32 = 2;
    let width = (found.band.1 - found.band.0) as i32;
    let most = (-REACH..=REACH)
        .filter(|&i| i != 0)
        .filter_map(|i| {
            let from = (found.band.0 as i32 + i * width).max(0) as usize;
            let to = (found.band.1 as i32 + i * width).max(0) as usize;
            let to = to.min(motion.groups());
            (to > from).then(|| motion.band(from, to))
        })
        .filter_map(|slice| {
            let view = View {
                slice: &slice,
                line,
            };
            view.floor_motion(&found.flight)
        })
        .reduce(f32::max);
    found.evidence = found.evidence.beside(most);
    found.score = found.evidence.score(found.flight.flight_s);
    found
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
                    let flight = nudge(found.flight, way, sign * size);
                    let inside = flight.takeoff_s >= view.line.first_s()
                        && flight.landing_s() <= view.line.last_s()
                        && flight.flight_s >= 0.8 * FLIGHTS_S.0;
                    let moved = inside
                        .then(|| judged(view, flight, found.band, found.score))
                        .flatten();
                    let Some(moved) = moved else {
                        break;
                    };
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
