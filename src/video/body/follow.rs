//! Following head and trunk from the top of the flight to both its ends, and back
//! through the push.
//!
//! Parts are picked halfway through the flight and found again from picture to
//! picture. Those that fall about as free fall demands are the body; their median
//! is its path.

use super::view::BodyLeap;
use super::{BodyPath, reach};
use crate::video::FREE_FALL;
use crate::video::film::Film;
use crate::video::linear::solve;
use crate::video::pick::{EVERYWHERE, Pick};
use crate::video::spacing::median;
use crate::video::template::{Half, Tile};
use crate::video::tiles::{Path, PathPoint};
use crate::video::trail::trail;

/// Heights above the toes between which head and trunk are looked for, in metres.
const TRUNK_M: (f64, f64) = (0.75, 1.85);
/// Parts to follow, and how many of them must fall freely.
const PARTS: usize = 14;
const FEWEST: usize = 3;

/// The trunk's path round a flight, followed for so many seconds before take-off and
/// after landing.
pub(super) fn trunk(film: &Film, flight: &BodyLeap, around_s: (f64, f64)) -> Option<BodyPath> {
    let middle_s = 0.5 * (flight.takeoff_s + flight.landing_s);
    let (first, top, last) = (
        film.nearest(flight.takeoff_s)?,
        film.nearest(middle_s)?,
        film.nearest(flight.landing_s)?,
    );
    if !(first < top && top < last) {
        return None;
    }
    let others = [&film.frames[first], &film.frames[last]];
    let toes = flight.floor_row - flight.rise_at(middle_s);
    let at = |metres: f64| toes - metres * flight.px_per_m;
    let part = |metres: f64| ((metres * flight.px_per_m).round() as usize).max(3);
    let half = Half {
        h: part(0.06),
        w: part(0.07),
    };
    let picked = Pick {
        picture: &film.frames[top],
        others,
        rows: (at(TRUNK_M.1), at(TRUNK_M.0)),
        columns: EVERYWHERE,
        half,
        wanted: PARTS,
    };
    let parts: Vec<Part> = picked
        .tiles()
        .into_iter()
        .filter_map(|(x, y)| Tile::cut(film, top, x, y, half))
        .filter_map(|tile| Part::of(flight.follow(film, &tile, top, around_s), flight))
        .collect();
    let mut path = joined(film, &parts, flight)?;
    path.reach_px = reach::reach(film, &parts, &path, flight);
    Some(path)
}

impl BodyLeap {
    fn time_s(&self) -> f64 {
        self.landing_s - self.takeoff_s
    }

    /// How high the toes are at a time of the flight, in pixels.
    fn rise_at(&self, t: f64) -> f64 {
        0.5 * FREE_FALL * self.px_per_m * (t - self.takeoff_s) * (self.landing_s - t)
    }

    /// Where a part goes, from some time before take-off to landing.
    fn follow(&self, film: &Film, tile: &Tile, top: usize, around_s: (f64, f64)) -> Path {
        let first = tile.place(film, top);
        let fastest = 0.5 * FREE_FALL * self.time_s() + 0.4;
        let search = |last: &PathPoint, t: f64| {
            let step = fastest * self.px_per_m * (t - last.t).abs();
            let (side, way) = (0.3 * step + 2.0, 1.2 * step + 2.0);
            ((last.x - side, last.x + side), (last.y - way, last.y + way))
        };
        let mut path = vec![first];
        let earlier = (0..top)
            .rev()
            .take_while(|&k| film.times[k] >= self.takeoff_s - around_s.0);
        trail(film, tile, first, earlier, search, &mut path);
        path.reverse();
        let later = (top + 1..film.frames.len())
            .take_while(|&k| film.times[k] <= self.landing_s + around_s.1);
        trail(film, tile, first, later, search, &mut path);
        path
    }
}

/// A part that was followed through the whole flight and falls freely.
pub(super) struct Part {
    path: Path,
    fall: Fall,
}

impl Part {
    /// Where the part was in a frame; a path leaves out no frame between its ends.
    pub(super) fn at(&self, frame: usize) -> Option<&PathPoint> {
        let first = self.path.first()?.frame;
        self.path.get(frame.checked_sub(first)?)
    }

    fn of(path: Path, flight: &BodyLeap) -> Option<Self> {
        const ROUGH_M: f64 = 0.02;
        const FREE: (f64, f64) = (0.55, 1.6);
        let fall = Fall::of(&path, flight)?;
        let free = fall.accel / (FREE_FALL * flight.px_per_m);
        (fall.rms <= ROUGH_M * flight.px_per_m && FREE.0 <= free && free <= FREE.1)
            .then_some(Self { path, fall })
    }
}

fn median_of(values: impl Iterator<Item = f64>) -> Option<f64> {
    median(&mut values.collect::<Vec<f64>>())
}

/// A parabola through a part's rows in flight; times from the middle.
struct Fall {
    middle: f64,
    slope: f64,
    accel: f64,
    rms: f64,
}

impl Fall {
    fn of(path: &Path, flight: &BodyLeap) -> Option<Self> {
        const FEWEST: usize = 4;
        let middle_s = 0.5 * (flight.takeoff_s + flight.landing_s);
        let half_s = 0.5 * flight.time_s();
        let (from, to) = (flight.takeoff_s, flight.landing_s);
        let points: Vec<(f64, f64)> = path
            .iter()
            .filter(|p| from <= p.t && p.t <= to)
            .map(|p| ((p.t - middle_s) / half_s, p.y))
            .collect();
        let ends = points.first().zip(points.last());
        // Most of both ways must be seen, or the ends are guessed.
        let whole = ends.is_some_and(|(a, b)| a.0 < -0.7 && b.0 > 0.7);
        if points.len() < FEWEST || !whole {
            return None;
        }
        let [c0, c1, c2] = parabola(&points)?;
        let square: f64 = points
            .iter()
            .map(|(u, y)| (y - c0 - c1 * u - c2 * u * u).powi(2))
            .sum();
        Some(Self {
            middle: c0,
            slope: c1,
            accel: 2.0 * c2 / (half_s * half_s),
            rms: (square / points.len() as f64).sqrt(),
        })
    }

    /// How much higher the part is at landing than at take-off, in pixels.
    fn landing_rise(&self) -> f64 {
        -2.0 * self.slope
    }
}

/// Least squares of y = c0 + c1 u + c2 u².
fn parabola(points: &[(f64, f64)]) -> Option<[f64; 3]> {
    let mut s = [0.0; 5];
    let mut b = [0.0; 3];
    for &(u, y) in points {
        let mut power = 1.0;
        for (k, sum) in s.iter_mut().enumerate() {
            *sum += power;
            if k < 3 {
                b[k] += power * y;
            }
            power *= u;
        }
    }
    let a = [[s[0], s[1], s[2]], [s[1], s[2], s[3]], [s[2], s[3], s[4]]];
    solve(&a, &b, 1e-9)
}

/// The median of the parts at each time, counted from take-off.
fn joined(film: &Film, parts: &[Part], flight: &BodyLeap) -> Option<BodyPath> {
    if parts.len() < FEWEST {
        return None;
    }
    let landing = median_of(parts.iter().map(|p| p.fall.landing_rise()))?;
    let off = median_of(
        parts
            .iter()
            .map(|p| (p.fall.landing_rise() - landing).abs()),
    )?;
    let fall = median_of(parts.iter().map(|p| p.fall.accel))?;
    // A part's row at take-off, from its parabola.
    let start =
        |p: &Part| p.fall.middle - p.fall.slope + p.fall.accel * flight.time_s().powi(2) / 8.0;
    let mut times_s = Vec::new();
    let mut rise_px = Vec::new();
    for (k, &t) in film.times.iter().enumerate() {
        let seen = parts
            .iter()
            .filter_map(|part| Some(start(part) - part.at(k)?.y));
        let mut seen: Vec<f64> = seen.collect();
        if seen.len() >= FEWEST
            && let Some(rise) = median(&mut seen)
        {
            times_s.push(t);
            rise_px.push(rise * flight.fine_per_px);
        }
    }
    Some(BodyPath {
        times_s,
        rise_px,
        landing_px: landing * flight.fine_per_px,
        // Of a normal scatter the median deviation is 0.6745 standard deviations.
        landing_spread_px: off / 0.6745 * flight.fine_per_px,
        fall_px_s2: fall * flight.fine_per_px,
        reach_px: None,
    })
}
