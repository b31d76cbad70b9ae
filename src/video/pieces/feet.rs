//! The feet through a piece: when they first move, and when they stand again.

use std::ops::ControlFlow;

use super::{STANDING_FRAMES, Viewer};
use crate::video::coarse::{Group, Soles, feet};
use crate::video::contact::Watch;
use crate::video::grey::Grey;
use crate::video::likeness::{Likeness, difference};

/// A piece ends once the feet have stood as in the next key picture for this long, in
/// seconds, and for [`STANDING_FRAMES`].
const STANDING_AFTER_S: f64 = 0.2;
/// The feet are compared this often, in seconds.
const COMPARED_S: f64 = 0.02;
/// From leaving the floor to standing at rest again, a hop takes this long at least, in
/// seconds: 0.2 s in the air for 5 cm, and half a second to give way and straighten up.
const HOP_S: f64 = 0.7;

/// What the feet told.
#[derive(Clone, Debug)]
pub(super) struct FeetTold {
    /// Time of the first frame, in seconds.
    pub(super) began_s: f64,
    /// Largest change of the soles against the first picture.
    pub(super) change: f32,
    changes: Vec<Change>,
}

/// How much has changed against the first picture.
#[derive(Clone, Copy, Debug)]
struct Change {
    time_s: f64,
    soles: f32,
    /// Feet and shins.
    feet: f32,
}

impl FeetTold {
    /// When the soles first had changed by more than `limit`.
    pub(super) fn soles_moved_s(&self, limit: f32) -> Option<f64> {
        let moved = self.changes.iter().find(|change| change.soles > limit);
        moved.map(|change| change.time_s)
    }

    /// The same of feet and shins.
    pub(super) fn moved_s(&self, limit: f32) -> Option<f64> {
        let moved = self.changes.iter().find(|change| change.feet > limit);
        moved.map(|change| change.time_s)
    }

    /// This and what was seen before it as one.
    pub(super) fn after(self, earlier: Self) -> Self {
        Self {
            began_s: earlier.began_s,
            change: earlier.change.max(self.change),
            changes: [earlier.changes, self.changes].concat(),
        }
    }
}

/// Compares the feet with those of the first and of the closing key picture.
pub(super) struct FeetWatch<'a> {
    first: &'a Group,
    likeness: Likeness,
    standing_s: f64,
    closing: Option<Closing<'a>>,
    /// Row of the watched picture at which feet and shins begin.
    first_row: usize,
    soles: Soles,
    began_s: Option<f64>,
    change: f32,
    changes: Vec<Change>,
}

/// The key picture that closes a piece.
struct Closing<'a> {
    group: &'a Group,
    /// The piece may end after this time, feet and shins being as in the picture...
    from_s: f64,
    standing_since_s: Option<f64>,
    /// ... and after this one, soles being where they are in it.
    soles_from_s: f64,
    soles_since_s: Option<f64>,
}

impl<'a> FeetWatch<'a> {
    /// For a piece that begins with a group and has to hold group `last`, if any.
    pub(super) fn new(viewer: &'a Viewer<'a>, first: usize, last: Option<usize>) -> Self {
        let groups = &viewer.coarse.groups;
        let (rect, bin) = feet(&viewer.zone);
        let time_s = |group: &Group| viewer.clock.time_of(group.ticks).seconds();
        let closing = last.and_then(|last| {
            let group = groups.get(last + 1)?;
            Some(Closing {
                group,
                from_s: time_s(groups.get(last)?),
                standing_since_s: None,
                // Who is at rest in the picture cannot have hopped since.
                soles_from_s: match viewer.coarse.rests_from(last + 1) {
                    true => time_s(group) - HOP_S,
                    false => f64::INFINITY,
                },
                soles_since_s: None,
            })
        });
        Self {
            first: &groups[first],
            likeness: viewer.coarse.likeness,
            standing_s: STANDING_AFTER_S.max(STANDING_FRAMES * viewer.spacing_s),
            closing,
            first_row: ((rect.y - viewer.zone.y) / bin) as usize,
            soles: Soles::new(&viewer.zone),
            began_s: None,
            change: 0.0,
            changes: Vec::new(),
        }
    }

    /// Looks at the newest frame; breaks when the piece is complete.
    pub(super) fn look(&mut self, watch: &Watch, time_s: f64) -> ControlFlow<()> {
        self.began_s.get_or_insert(time_s);
        let newest = self.changes.last();
        if newest.is_some_and(|newest| time_s - newest.time_s < COMPARED_S) {
            return ControlFlow::Continue(());
        }
        let feet = watch.newest_rows(self.first_row);
        let soles = feet.as_ref().and_then(|feet| self.soles.of(feet));
        let Some((feet, soles)) = feet.zip(soles) else {
            return ControlFlow::Continue(());
        };
        let change = Change {
            time_s,
            soles: difference(&self.first.soles, &soles),
            feet: difference(&self.first.feet, &feet),
        };
        self.change = self.change.max(change.soles);
        self.changes.push(change);
        let seen = Seen {
            feet: &feet,
            soles: &soles,
            time_s,
        };
        let limits = (self.likeness.limit(), self.likeness.of_soles(self.change));
        let closing = self.closing.as_mut();
        match closing.is_some_and(|closing| closing.is_reached(&seen, limits, self.standing_s)) {
            true => ControlFlow::Break(()),
            false => ControlFlow::Continue(()),
        }
    }

    pub(super) fn told(self) -> FeetTold {
        FeetTold {
            began_s: self.began_s.unwrap_or_default(),
            change: self.change,
            changes: self.changes,
        }
    }
}

/// The feet in one frame.
struct Seen<'a> {
    feet: &'a Grey,
    soles: &'a Grey,
    time_s: f64,
}

impl Closing<'_> {
    /// Whether the feet have stood for long enough as in the closing picture; limits for
    /// feet and shins, and for soles.
    fn is_reached(&mut self, seen: &Seen, limits: (f32, f32), standing_s: f64) -> bool {
        let time_s = seen.time_s;
        let stands = |since: &mut Option<f64>, alike: bool| {
            *since = alike.then(|| since.unwrap_or(time_s));
            since.is_some_and(|since_s| time_s - since_s >= standing_s)
        };
        let soles_alike = difference(&self.group.soles, seen.soles) <= limits.1;
        let soles_stand = stands(&mut self.soles_since_s, soles_alike);
        let feet_alike =
            time_s > self.from_s && difference(&self.group.feet, seen.feet) <= limits.0;
        let feet_stand = stands(&mut self.standing_since_s, feet_alike);
        feet_stand || (soles_stand && time_s >= self.soles_from_s)
    }
}
