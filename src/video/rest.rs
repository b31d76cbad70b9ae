//! Leaving out the end of a clip in which nothing more can happen.
//!
//! Where a clip has few key pictures, or so much happens in it that all groups are needed,
//! it is decoded from its beginning. Its end is left out where somebody stands at rest
//! when too little is left for a jump, as that of a last group is.

use std::collections::VecDeque;

use super::coarse::{AT_REST_S, Soles, TOO_SHORT_S, feet};
use super::contact::Watch;
use super::grey::Grey;
use super::likeness::{Likeness, difference};
use super::pieces::{convinces, is_converted};
use super::repeats::RepeatFinder;
use super::zone::Zone;

/// The feet are compared this often, in seconds.
const COMPARED_S: f64 = 0.02;
/// Leaving out less than this share of a clip is not worth a look at the jumps that may be
/// for nothing.
const LEAST_SHARE: f64 = 0.05;

/// Looks for somebody at rest near the end of a clip.
pub(super) struct RestWatch {
    /// Row of the watched picture at which feet and shins begin.
    first_row: usize,
    soles: Soles,
    /// From when on too little is left for a jump, in seconds; infinite once nothing is
    /// to be left out any more.
    from_s: f64,
    first: Option<Grey>,
    /// Largest change of the soles against the first picture.
    change: f32,
    compared_s: f64,
    /// Feet and shins in the newest pictures.
    newest: VecDeque<(f64, Grey)>,
}

impl RestWatch {
    /// For a clip with frames at these times; `None` where it is not worth it.
    pub(super) fn new(zone: &Zone, times_s: &[f64]) -> Option<Self> {
        let (first_s, last_s) = times_s.first().zip(times_s.last())?;
        let (rect, bin) = feet(zone);
        let worth_it = TOO_SHORT_S >= LEAST_SHARE * (last_s - first_s);
        (worth_it && last_s - first_s > 2.0 * TOO_SHORT_S).then(|| Self {
            first_row: ((rect.y - zone.y) / bin) as usize,
            soles: Soles::new(zone),
            from_s: last_s - TOO_SHORT_S,
            first: None,
            change: 0.0,
            compared_s: f64::NEG_INFINITY,
            newest: VecDeque::new(),
        })
    }

    /// Looks at the newest frame: whether the rest can be left out.
    pub(super) fn is_enough(
        &mut self,
        watch: &mut Watch,
        time_s: f64,
        repeats: &RepeatFinder,
    ) -> bool {
        if time_s - self.compared_s < COMPARED_S || self.from_s.is_infinite() {
            return false;
        }
        self.compared_s = time_s;
        let feet = watch.newest_rows(self.first_row);
        let soles = feet.as_ref().and_then(|feet| self.soles.of(feet));
        let Some((feet, soles)) = feet.zip(soles) else {
            return false;
        };
        let first = self.first.get_or_insert_with(|| soles.clone());
        self.change = self.change.max(difference(first, &soles));
        if time_s < self.from_s - 2.0 * AT_REST_S {
            return false;
        }
        self.newest.push_back((time_s, feet));
        let limit = match self.likeness().filter(|_| time_s >= self.from_s) {
            Some(likeness) if self.is_at_rest(likeness, time_s) => likeness,
            _ => return false,
        };
        // One look at the jumps: a clip in which none is clear is decoded whole.
        self.from_s = f64::INFINITY;
        self.change >= limit.clear()
            && !is_converted(&repeats.clone().finish())
            && watch.leaps().iter().any(convinces)
    }

    /// The limit between noise and change, measured on the newest pictures.
    fn likeness(&self) -> Option<Likeness> {
        let pictures: Vec<&Grey> = self.newest.iter().map(|(_, feet)| feet).collect();
        Likeness::of(&pictures)
    }

    /// Whether feet and shins have been the same for long enough; lets go of pictures that
    /// are not needed for it.
    fn is_at_rest(&mut self, likeness: Likeness, time_s: f64) -> bool {
        let Some((_, newest)) = self.newest.back() else {
            return false;
        };
        let long_ago = |(t, _): &(f64, Grey)| time_s - t >= AT_REST_S;
        let since = self.newest.iter().rposition(long_ago);
        let alike = |(_, feet): &(f64, Grey)| difference(newest, feet) <= likeness.limit();
        let rests = since.is_some_and(|since| self.newest.range(since..).all(alike));
        self.newest.drain(..since.unwrap_or(0));
        rests
    }
}
