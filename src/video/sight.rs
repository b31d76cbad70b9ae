//! How well a leap could be seen: contrast, blur, shake, flicker, strangers.
//!
//! Numbers, no verdicts: `jump` decides what of it is worth a flag.

mod lamp;
mod steady;

use super::agree::FootEvent;
use super::contact::Leap;
use super::film::Film;
use super::grey::Grey;
use super::spacing::median;
use super::stance::{self, Few, Seen};
use super::template::Half;
use super::tiles::{Contact, Path, PathPoint};
use super::zone::Zone;
pub use crate::trace::Sight;

pub(in crate::video) use steady::{Steady, Unsteady};

impl Sight {
    /// Looks at the pictures round a leap.
    pub(in crate::video) fn of(film: &Film, leap: &Leap, zone: &Zone, spacing_s: f64) -> Self {
        let patch = Patch::of(zone);
        let events_s = (leap.takeoff.t_s, leap.landing.t_s);
        let columns = column_at(&leap.takeoff_paths, events_s.0)
            .zip(column_at(&leap.landing_paths, events_s.1));
        Self {
            contrast: contrast(film, leap, &patch),
            sharpness: sharpness(film, leap, Half::of(patch.height), spacing_s),
            shake_px: leap.sight.shake_px.map(|px| px * f64::from(zone.fine)),
            flicker: lamp::flicker(film, events_s, &patch),
            stranger: stranger(film, leap, &patch),
            places: columns.map(|(from, to)| (patch.share(from), patch.share(to))),
            moved_m: columns.map(|(from, to)| (to - from) / leap.px_per_m),
            ..leap.sight
        }
    }
}

/// The patch in the film's pixels.
#[derive(Clone, Copy, Debug)]
pub(in crate::video) struct Patch {
    /// First column, and the first one after it.
    columns: (usize, usize),
    pub(in crate::video) top: f64,
    pub(in crate::video) height: f64,
}

impl Patch {
    pub(in crate::video) fn of(zone: &Zone) -> Self {
        let (top, height) = zone.patch_rows(zone.fine);
        Self {
            columns: zone.patch_columns(zone.fine),
            top,
            height,
        }
    }

    /// A column as a share of the width.
    fn share(&self, column: f64) -> f64 {
        let (left, right) = self.columns;
        (column - left as f64) / right.saturating_sub(left).max(1) as f64
    }
}

/// Change where the shoes stood between stand and flight, at the weaker end.
fn contrast(film: &Film, leap: &Leap, patch: &Patch) -> Option<f64> {
    const STANDS_S: f64 = 0.06;
    let end = |event: &FootEvent, contact: Contact| {
        let seen = Seen::round(event, contact, STANDS_S, leap.flight_s(), leap.px_per_m);
        let gone = stance::gone(film, &seen)?;
        let columns = patch.columns.0..patch.columns.1.min(gone.len());
        gone.get(columns)?.iter().copied().reduce(f64::max)
    };
    let takeoff = end(&leap.takeoff, Contact::Before);
    let landing = end(&leap.landing, Contact::After);
    takeoff.zip(landing).map(|(a, b)| a.min(b))
}

/// How much of the edges' strength blur leaves at the speed of landing: the median of
/// the parts that were followed from the air onto the floor.
fn sharpness(film: &Film, leap: &Leap, half: Half, spacing_s: f64) -> Option<f64> {
    let near = 1.6 * spacing_s;
    let mut shares: Vec<f64> = leap
        .landing_paths
        .iter()
        .filter_map(|path| {
            let event = leap.landing.t_s;
            let flying = path.iter().rev().find(|p| p.t < event - 0.2 * spacing_s)?;
            let standing = path
                .iter()
                .find(|p| p.t > event + 0.6 * spacing_s.max(0.01))?;
            let edge = |p: &PathPoint| edges(film.frames.get(p.frame)?, p.x, p.y, half);
            let share = edge(flying)? / edge(standing)?;
            (event - flying.t <= near && share.is_finite()).then_some(share)
        })
        .collect();
    median(&mut shares)
}

/// Sum of the squared steps from row to row in a tile, the noise of a plain tile and all.
fn edges(picture: &Grey, x: f64, y: f64, half: Half) -> Option<f64> {
    let (x, y) = (x.round() as usize, y.round() as usize);
    let (left, top) = (x.checked_sub(half.w)?, y.checked_sub(half.h)?);
    let (right, bottom) = (x + half.w, y + half.h);
    (right < picture.width() && bottom < picture.height()).then(|| {
        (top..bottom)
            .flat_map(|y| {
                picture.row(y)[left..right]
                    .iter()
                    .zip(&picture.row(y + 1)[left..right])
            })
            .map(|(a, b)| f64::from(a.abs_diff(*b)).powi(2))
            .sum()
    })
}

/// What changed on the floor between two moments at which the feet were equally high.
fn stranger(film: &Film, leap: &Leap, patch: &Patch) -> f64 {
    const MOMENTS: (f64, f64) = (0.3, 0.7);
    const ABOVE_FLOOR_M: f64 = 0.03;
    let at = |share: f64| Few::near(film, leap.takeoff.t_s + share * leap.flight_s());
    let floor_px = leap.takeoff.floor_px.min(leap.landing.floor_px);
    let top = (floor_px - ABOVE_FLOOR_M * leap.px_per_m).max(0.0) as usize;
    let Some((rising, falling)) = at(MOMENTS.0).zip(at(MOMENTS.1)) else {
        return 0.0;
    };
    let changed = stance::changed(
        &rising,
        &falling,
        (top, (patch.top + patch.height) as usize),
    );
    let columns = patch.columns.0..patch.columns.1.min(changed.len());
    let within = changed.get(columns).unwrap_or_default();
    stance::smoothed(within, 0.02 * leap.px_per_m)
        .into_iter()
        .fold(0.0, f64::max)
}

/// Median column of the parts followed, at the moment nearest to an event.
fn column_at(paths: &[Path], event_s: f64) -> Option<f64> {
    let nearest = |path: &Path| {
        let off = |p: &&PathPoint| (p.t - event_s).abs();
        path.iter()
            .min_by(|a, b| off(a).total_cmp(&off(b)))
            .map(|p| p.x)
    };
    let mut columns: Vec<f64> = paths.iter().filter_map(nearest).collect();
    median(&mut columns)
}
