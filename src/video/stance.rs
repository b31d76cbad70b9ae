//! Two shoes side by side.
//!
//! Seen from the front or from behind, the shoes stand beside each other with floor
//! between them. What stood there shows in the difference between pictures of the stand
//! and of the flight: two humps along the rows of the shoes, each no wider than a shoe is
//! across. Seen from the side there is one hump, as long as a shoe.

use super::agree::FootEvent;
use super::film::Film;
use super::grey::Grey;
use super::tiles::Contact;

/// Where and when to look, in the film's pixels and seconds.
#[derive(Clone, Copy, Debug)]
pub(in crate::video) struct Seen {
    /// When both shoes stood.
    pub(in crate::video) stand_s: f64,
    /// When both were gone from there.
    pub(in crate::video) flight_s: f64,
    /// Row of the soles.
    pub(in crate::video) floor_px: f64,
    pub(in crate::video) px_per_m: f64,
}

/// The shoes have left the floor's rows by this share of the flight.
pub(in crate::video) const GONE: f64 = 0.4;

impl Seen {
    /// Round one end of a flight: the stand so many seconds into the contact.
    pub(in crate::video) fn round(
        event: &FootEvent,
        contact: Contact,
        stands_s: f64,
        flight_s: f64,
        px_per_m: f64,
    ) -> Self {
        let into_flight = contact.sign();
        Self {
            stand_s: event.t_s - into_flight * stands_s,
            flight_s: event.t_s + into_flight * GONE * flight_s,
            floor_px: event.floor_px,
            px_per_m,
        }
    }
}

/// Narrowest and widest shoe seen from the front or behind, toes out, in metres.
const SHOE_M: (f64, f64) = (0.05, 0.2);
/// One shoe is at most this many times as wide as the other.
const UNLIKE: f64 = 2.0;
/// Least floor between two shoes that are told apart, in metres.
const LEAST_GAP_M: f64 = 0.03;
/// How far apart the middles of two shoes stand, in metres: hips' width and more.
const STANCE_M: (f64, f64) = (0.14, 0.7);
/// Rows that are compared: this much above the sole, in metres.
const SHOE_HEIGHT_M: f64 = 0.06;

/// Column of the floor between two shoes; `None` unless there are clearly two.
pub(in crate::video) fn between_shoes(film: &Film, seen: &Seen) -> Option<f64> {
    let gone = gone(film, seen)?;
    two_humps(&smoothed(&gone, 0.01 * seen.px_per_m), seen.px_per_m)
}

/// Change of each column, in the rows of the shoes, from stand to flight in grey levels.
pub(in crate::video) fn gone(film: &Film, seen: &Seen) -> Option<Vec<f64>> {
    let stand = Few::near(film, seen.stand_s)?;
    let flight = Few::near(film, seen.flight_s)?;
    let top = (seen.floor_px - SHOE_HEIGHT_M * seen.px_per_m).max(0.0) as usize;
    let bottom = seen.floor_px.max(0.0).round() as usize + 1;
    let changed = changed(&stand, &flight, (top, bottom));
    (!changed.is_empty()).then_some(changed)
}

/// Change of each column over some rows in grey levels; empty where there are too few.
pub(in crate::video) fn changed(a: &Few, b: &Few, (top, bottom): (usize, usize)) -> Vec<f64> {
    let bottom = bottom.min(a.0[0].height());
    if top + 2 > bottom {
        return Vec::new();
    }
    let change = |x: usize| {
        let changes = (top..bottom).map(|y| (a.at(x, y) - b.at(x, y)).abs());
        changes.sum::<f64>() / (bottom - top) as f64
    };
    (0..a.0[0].width()).map(change).collect()
}

/// A part of what stood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::video) struct Standing {
    /// First column, and the first one after it.
    pub(in crate::video) columns: (f64, f64),
    pub(in crate::video) length_m: f64,
}

/// The longest part of the sole that looks at `probe_s` as it does in the stand, and not
/// as the floor does in flight.
pub(in crate::video) fn standing(film: &Film, probe_s: f64, seen: &Seen) -> Option<Standing> {
    /// Rows that are compared: the sole.
    const SOLE_M: f64 = 0.025;
    const SMOOTHED_M: f64 = 0.008;
    let stand = Few::near(film, seen.stand_s)?;
    let flight = Few::near(film, seen.flight_s)?;
    let probe = Few::one(film, probe_s)?;
    let top = (seen.floor_px - SOLE_M * seen.px_per_m).max(0.0) as usize;
    let rows = (top, seen.floor_px.max(0.0).round() as usize + 1);
    let smooth = |change: &[f64]| smoothed(change, SMOOTHED_M * seen.px_per_m);
    let gone = smooth(&changed(&stand, &flight, rows));
    let off = smooth(&changed(&stand, &probe, rows));
    let (from, to) = longest_like_the_stand(&gone, &off)?;
    Some(Standing {
        columns: (from as f64, to as f64),
        length_m: (to - from) as f64 / seen.px_per_m,
    })
}

/// The longest run of columns that changed from stand to flight by a good share of the
/// largest change, and are `off` the stand by little of it.
fn longest_like_the_stand(gone: &[f64], off: &[f64]) -> Option<(usize, usize)> {
    const OF_MOST: f64 = 0.35;
    /// Least change in grey levels: more than noise leaves of the sole's rows.
    const LEAST: f64 = 6.0;
    const LIKE: f64 = 0.4;
    let most = gone.iter().copied().fold(0.0, f64::max);
    let counts = (OF_MOST * most).max(LEAST);
    let like = |x: usize| gone[x] > counts && off[x] < LIKE * gone[x];
    let columns: Vec<usize> = (0..gone.len()).filter(|&x| like(x)).collect();
    let runs = columns.chunk_by(|a, b| a + 1 == *b);
    let longest = runs.max_by_key(|run| run.len())?;
    Some((*longest.first()?, longest.last()? + 1))
}

/// Three neighbouring frames and their mean, in which noise and flicker weigh less; or
/// one alone, three times, where motion must not be smeared.
pub(in crate::video) struct Few<'a>([&'a Grey; 3]);

impl<'a> Few<'a> {
    /// The frame nearest to a time and its neighbours.
    pub(in crate::video) fn near(film: &'a Film, time_s: f64) -> Option<Self> {
        let k = film.nearest(time_s)?;
        match film.frames.get(k.checked_sub(1)?..=k + 1)? {
            [a, b, c] => Some(Self([a, b, c])),
            _ => None,
        }
    }

    /// The frame nearest to a time alone.
    fn one(film: &'a Film, time_s: f64) -> Option<Self> {
        let frame = film.frames.get(film.nearest(time_s)?)?;
        Some(Self([frame; 3]))
    }

    fn at(&self, x: usize, y: usize) -> f64 {
        let sum: u32 = self.0.iter().map(|f| u32::from(f.row(y)[x])).sum();
        f64::from(sum) / self.0.len() as f64
    }
}

/// Running mean over so many values to either side.
pub(in crate::video) fn smoothed(values: &[f64], reach: f64) -> Vec<f64> {
    let reach = reach.round() as usize;
    (0..values.len())
        .map(|k| {
            let part = &values[k.saturating_sub(reach)..(k + reach + 1).min(values.len())];
            part.iter().sum::<f64>() / part.len() as f64
        })
        .collect()
}

/// The middle between two runs of columns that changed, each like a shoe across.
///
/// Runs at the edge of what is watched are shadows and passers-by; slivers are noise.
fn two_humps(gone: &[f64], px_per_m: f64) -> Option<f64> {
    /// Change that counts, as a share of the largest.
    const OF_MOST: f64 = 0.35;
    /// Least change in grey levels: more than noise leaves of three frames.
    const LEAST: f64 = 4.0;
    const SLIVER_M: f64 = 0.015;
    let most = gone.iter().copied().fold(0.0, f64::max);
    let changed = |value: f64| value >= OF_MOST * most.max(LEAST / OF_MOST);
    let mut from = 0;
    let mut humps = Vec::new();
    for run in gone.chunk_by(|a, b| changed(*a) == changed(*b)) {
        let to = from + run.len();
        let inside = from > 0 && to < gone.len();
        if inside && changed(run[0]) && run.len() as f64 > SLIVER_M * px_per_m {
            humps.push((from as f64 / px_per_m, to as f64 / px_per_m));
        }
        from = to;
    }
    let &[left, right] = &humps[..] else {
        return None;
    };
    let (a, b) = (left.1 - left.0, right.1 - right.0);
    let shoes = [a, b].iter().all(|w| (SHOE_M.0..=SHOE_M.1).contains(w));
    let stance_m = 0.5 * (right.0 + right.1 - left.0 - left.1);
    let apart = right.0 - left.1 >= LEAST_GAP_M && (STANCE_M.0..=STANCE_M.1).contains(&stance_m);
    (shoes && apart && a.max(b) <= UNLIKE * a.min(b)).then_some(0.5 * (left.1 + right.0) * px_per_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A row of columns at 100 px/m: changes of 40 grey levels in the given columns.
    fn row(shoes: &[(usize, usize)]) -> Vec<f64> {
        let in_shoe = |x: usize| shoes.iter().any(|s| (s.0..s.1).contains(&x));
        (0..90)
            .map(|x| if in_shoe(x) { 40.0 } else { 2.0 })
            .collect()
    }

    #[test]
    fn two_shoes_across_have_floor_between_them() {
        assert_eq!(two_humps(&row(&[(20, 31), (43, 54)]), 100.0), Some(37.0));
    }

    #[test]
    fn a_shoe_from_the_side_is_one() {
        assert_eq!(two_humps(&row(&[(30, 58)]), 100.0), None);
    }

    #[test]
    fn toe_and_heel_of_one_shoe_are_too_close_for_two_feet() {
        // 28 cm in all, the middle of the floor's brightness.
        assert_eq!(two_humps(&row(&[(30, 44), (46, 58)]), 100.0), None);
    }

    #[test]
    fn a_shadow_at_the_edge_is_no_third_shoe() {
        let seen = row(&[(0, 9), (20, 31), (43, 54)]);
        assert_eq!(two_humps(&seen, 100.0), Some(37.0));
    }

    #[test]
    fn a_toe_that_still_stands_is_found_and_a_heel_that_left_is_not() {
        let gone = row(&[(30, 58)]);
        // The heel's columns look like the floor in flight, the toe's as in the stand.
        let off = row(&[(30, 46)]);
        assert_eq!(longest_like_the_stand(&gone, &off), Some((46, 58)));
        assert_eq!(longest_like_the_stand(&gone, &gone), None);
    }

    #[test]
    fn noise_is_no_shoe() {
        let faint: Vec<f64> = row(&[(20, 31), (43, 54)])
            .iter()
            .map(|v| v / 20.0)
            .collect();
        assert_eq!(two_humps(&faint, 100.0), None);
    }
}
