//! The feet through a piece: when they first move, and when they stand again.

use std::ops::ControlFlow;

use super::{STANDING_FRAMES, Viewer};
use crate::video::coarse::{Group, feet, soles};
use crate::video::contact::Watch;
use crate::video::grey::Grey;
use crate::video::likeness::difference;

/// A piece ends once the feet have stood as in the next key picture for this long, in
/// seconds, and for [`STANDING_FRAMES`].
const STANDING_AFTER_S: f64 = 0.2;
/// The feet are compared this often, in seconds.
const COMPARED_S: f64 = 0.02;
/// From leaving the floor to standing at rest again, a hop takes this long at least, in
/// seconds: 0.2 s in the air for 5 cm, and half a second to give way and straighten up.
const HOP_S: f64 = 0.7;

/// What the feet told.
#[derive(Clone, Copy, Debug)]
pub(super) struct FeetTold {
    /// Time of the first frame, in seconds.
    pub(super) began_s: f64,
    /// When the soles first were not where the first picture shows them.
    pub(super) moved_s: Option<f64>,
    /// Largest change of the soles against the first picture.
    pub(super) change: f32,
}

impl FeetTold {
    /// This and what was seen before it as one.
    pub(super) fn after(self, earlier: Self) -> Self {
        Self {
            began_s: earlier.began_s,
            moved_s: earlier.moved_s.or(self.moved_s),
            change: earlier.change.max(self.change),
        }
    }
}

/// Compares the feet with those of the first and of the closing key picture.
pub(super) struct FeetWatch<'a> {
    first: &'a Group,
    limit: f32,
    standing_s: f64,
    closing: Option<Closing<'a>>,
    /// Rows of the watched picture at which feet and shins, and of those at which the
    /// soles begin.
    rows: (usize, usize),
    began_s: Option<f64>,
    compared_s: f64,
    moved_s: Option<f64>,
    change: f32,
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
                soles_from_s: match group.quiet {
                    true => time_s(group) - HOP_S,
                    false => f64::INFINITY,
                },
                soles_since_s: None,
            })
        });
        Self {
            first: &groups[first],
            limit: viewer.coarse.likeness.limit(),
            standing_s: STANDING_AFTER_S.max(STANDING_FRAMES * viewer.spacing_s),
            closing,
            rows: (
                ((rect.y - viewer.zone.y) / bin) as usize,
                soles(&viewer.zone),
            ),
            began_s: None,
            compared_s: f64::NEG_INFINITY,
            moved_s: None,
            change: 0.0,
        }
    }

    /// Looks at the newest frame; breaks when the piece is complete.
    pub(super) fn look(&mut self, watch: &Watch, time_s: f64) -> ControlFlow<()> {
        self.began_s.get_or_insert(time_s);
        if time_s - self.compared_s < COMPARED_S {
            return ControlFlow::Continue(());
        }
        self.compared_s = time_s;
        let Some(feet) = watch.newest_rows(self.rows.0) else {
            return ControlFlow::Continue(());
        };
        let Some(soles) = feet.below(self.rows.1) else {
            return ControlFlow::Continue(());
        };
        let change = difference(&self.first.soles, &soles);
        self.change = self.change.max(change);
        if change > self.limit {
            self.moved_s.get_or_insert(time_s);
        }
        let (limit, standing_s) = (self.limit, self.standing_s);
        let closing = self.closing.as_mut();
        match closing.is_some_and(|c| c.is_reached(&feet, &soles, time_s, limit, standing_s)) {
            true => ControlFlow::Break(()),
            false => ControlFlow::Continue(()),
        }
    }

    pub(super) fn told(self) -> FeetTold {
        FeetTold {
            began_s: self.began_s.unwrap_or_default(),
            moved_s: self.moved_s,
            change: self.change,
        }
    }
}

impl Closing<'_> {
    /// Whether the feet have stood for long enough as in the closing picture.
    fn is_reached(
        &mut self,
        feet: &Grey,
        soles: &Grey,
        time_s: f64,
        limit: f32,
        standing_s: f64,
    ) -> bool {
        let stands = |since: &mut Option<f64>, alike: bool| {
            *since = alike.then(|| since.unwrap_or(time_s));
            since.is_some_and(|since_s| time_s - since_s >= standing_s)
        };
        let soles_stand = stands(
            &mut self.soles_since_s,
            difference(&self.group.soles, soles) <= limit,
        );
        let feet_stand = stands(
            &mut self.standing_since_s,
            time_s > self.from_s && difference(&self.group.feet, feet) <= limit,
        );
        feet_stand || (soles_stand && time_s >= self.soles_from_s)
    }
}
