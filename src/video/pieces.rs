//! Watching only what has to be watched.
//!
//! The coarse look says between which key pictures the feet may have left the
//! floor. Those groups are decoded, from feet that stand to feet that stand, and
//! each such piece is looked at by itself. What a piece tells depends on its own
//! frames alone, so it is the same whether or not the rest is decoded as well.
//!
//! Whenever something does not fit (no convincing jump, a picture that repeats, a
//! damaged frame, a foot that hardly shows against the floor) there is no answer,
//! and the caller decodes the whole clip.

mod feet;
mod gathered;

use super::body::BodyView;
use super::clip::Clip;
use super::clock::CaptureClock;
use super::coarse::{Coarse, Group, Looker, coarse_look};
use super::contact::{Leap, Watch};
use super::decode::{DecodeOptions, DecodeSummary};
use super::fault::ClipError;
use super::patch::FloorPatch;
use super::repeats::{RepeatFinder, RepeatReport};
use super::spacing::median_spacing;
use super::watch::{Watched, feed};
use super::zone::Zone;
use crate::units::FrameIndex;
use feet::{FeetTold, FeetWatch};
use gathered::Gathered;
pub(in crate::video) use gathered::{add_leaps, is_converted};

/// A piece begins with soles that stand for this long, in seconds: longer than the
/// parts of the shoe are followed before take-off, ...
const STANDING_BEFORE_S: f64 = 0.15;
/// ... and for so many frames at least, as repeated pictures are told from their
/// neighbours.
const STANDING_FRAMES: f64 = 8.0;
/// Beyond this share of all frames nothing is saved by leaving some out.
const MOST: f64 = 0.8;
/// A jump this certain, 0 to 1, shows that jumps can be seen in the clip.
const CONVINCING: f64 = 0.35;

/// Whether a jump is certain enough to show that.
pub(in crate::video) fn convinces(leap: &Leap) -> bool {
    leap.certainty() >= CONVINCING
}

/// Watches the pieces of a clip in which something may have happened; `None` where
/// the whole clip has to be decoded.
///
/// # Errors
/// When the patch does not lie in the picture, or the clip cannot be decoded.
pub(in crate::video) fn watch_pieces(
    clip: &Clip,
    clock: &CaptureClock,
    patch: FloorPatch,
    threads: usize,
    progress: &mut dyn FnMut(usize),
) -> Result<Option<Watched>, ClipError> {
    let zone = Zone::new(patch, clip.facts().size);
    let looker = Looker {
        clip,
        clock,
        zone: &zone,
        threads,
    };
    let Some(mut coarse) = coarse_look(&looker)? else {
        return Ok(None);
    };
    looker.doubt_between(&mut coarse)?;
    let mut runs = runs(&coarse);
    for run in &mut runs {
        run.leave_out_dip(&looker, &mut coarse)?;
    }
    let planned: usize = runs.iter().map(|run| run.span(&coarse)).sum();
    let times_s = times_s(clip, clock)?;
    if planned as f64 > MOST * times_s.len() as f64 {
        return Ok(None);
    }
    let mut gathered = Gathered::new(coarse.looked_at);
    let viewer = Viewer {
        clip,
        clock,
        zone,
        body: BodyView::new(patch, clip.facts().size),
        threads,
        coarse: &coarse,
        spacing_s: median_spacing(&times_s),
    };
    for run in runs {
        let Some(piece) = viewer.complete(run, progress)? else {
            return Ok(None);
        };
        gathered.add(piece);
    }
    gathered.into_watched(&viewer)
}

/// A row of groups in which something may have happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Run {
    /// Group at which decoding begins.
    first: usize,
    last: usize,
    /// Whether the group before `first` shows somebody at rest who moves at its end and
    /// stays on the same prints: the way down before a jump, if a jump follows.
    after_dip: bool,
}

/// Rows of groups that are not quiet.
fn runs(coarse: &Coarse) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (at, group) in coarse.groups.iter().enumerate() {
        match runs.last_mut() {
            _ if group.quiet => {}
            Some(run) if run.last + 1 == at => run.last = at,
            _ => runs.push(Run {
                first: at,
                last: at,
                after_dip: false,
            }),
        }
    }
    runs
}

impl Run {
    /// Leaves out the first group where it shows no more than the way down.
    fn leave_out_dip(&mut self, looker: &Looker, coarse: &mut Coarse) -> Result<(), ClipError> {
        let stays = coarse.groups[self.first].shift <= coarse.likeness.clear();
        let after_rest = self.first > 0 && self.first < self.last;
        if after_rest && stays && looker.rests_at(coarse, self.first)? {
            self.first += 1;
            self.after_dip = true;
        }
        Ok(())
    }

    /// Its frames.
    fn span(&self, coarse: &Coarse) -> usize {
        let groups = coarse.groups.get(self.first..=self.last);
        let frames = groups.unwrap_or_default().iter();
        frames.map(|group| group.frames.1 - group.frames.0).sum()
    }
}

/// What is needed to watch any piece.
struct Viewer<'a> {
    clip: &'a Clip,
    clock: &'a CaptureClock,
    zone: Zone,
    body: BodyView,
    threads: usize,
    coarse: &'a Coarse,
    spacing_s: f64,
}

/// One piece that was watched.
struct Piece {
    watch: Watch,
    repeats: RepeatReport,
    decoded: usize,
    feet: FeetTold,
}

impl Viewer<'_> {
    /// Watches a row of groups and as much before it as is needed; `None` where frames
    /// are missing or damaged.
    fn complete(
        &self,
        run: Run,
        progress: &mut dyn FnMut(usize),
    ) -> Result<Option<Piece>, ClipError> {
        let Some(mut piece) = self.piece(run.first, Some(run.last), progress)? else {
            return Ok(None);
        };
        for first in (0..run.first).rev() {
            let dip = self.coarse.groups.get(first);
            let dip = dip.filter(|_| run.after_dip && first + 1 == run.first);
            if self.is_enough(&mut piece, dip) {
                break;
            }
            let Some(earlier) = self.piece(first, None, progress)? else {
                return Ok(None);
            };
            let joined = match piece.after(earlier) {
                Joined::Whole(piece) => Some(*piece),
                // So long that it was looked at in parts.
                Joined::Apart { decoded } => {
                    let again = self.piece(first, Some(run.last), progress)?;
                    again.map(|again| again.with_decoded(decoded))
                }
            };
            let Some(joined) = joined else {
                return Ok(None);
            };
            piece = joined;
        }
        Ok(Some(piece))
    }

    /// Whether a piece shows all that belongs to its jumps: somebody at rest at first,
    /// and the body's way down. Where a dip was left out, soles have to stand where they
    /// stood before it, and the first leap's way down has to go on from it.
    fn is_enough(&self, piece: &mut Piece, dip: Option<&Group>) -> bool {
        /// Weaker leaps are none.
        const FAINT: f64 = 0.12;
        let began_s = piece.feet.began_s;
        let limit = self.coarse.likeness.of_soles(piece.feet.change);
        let moved_s = match dip {
            Some(_) => piece.feet.soles_moved_s(limit),
            None => piece.feet.moved_s(self.coarse.likeness.limit()),
        };
        let stood_s = moved_s.unwrap_or(f64::INFINITY) - began_s;
        if stood_s < STANDING_BEFORE_S.max(STANDING_FRAMES * self.spacing_s) {
            // Leaps are looked for once the piece is longer.
            return false;
        }
        let leaps = piece.watch.leaps().iter();
        let leaps: Vec<&Leap> = leaps.filter(|l| l.certainty() >= FAINT).collect();
        let lead_s = |leap: &Leap| leap.takeoff.t_s - began_s;
        let dip_goes_on = |dip: &Group| {
            let first = leaps
                .iter()
                .min_by(|a, b| a.takeoff.t_s.total_cmp(&b.takeoff.t_s));
            let sure = first.filter(|leap| convinces(leap));
            dip.shift <= limit
                && sure.is_some_and(|leap| goes_down(leap.trunk_before(), lead_s(leap)))
        };
        let shows = |leap: &&Leap| shows_dip(leap.trunk_before(), lead_s(leap));
        dip.is_none_or(dip_goes_on) && leaps.iter().all(shows)
    }

    /// Watches from a group's key picture on: to its end, or until the feet have come to
    /// stand after group `last`.
    fn piece(
        &self,
        first: usize,
        last: Option<usize>,
        progress: &mut dyn FnMut(usize),
    ) -> Result<Option<Piece>, ClipError> {
        let groups = &self.coarse.groups;
        let Some(start) = groups.get(first) else {
            return Ok(None);
        };
        let next = groups.get(first + 1).filter(|_| last.is_none());
        let options = DecodeOptions {
            threads: self.threads,
            range: Some((start.ticks, next.map_or(i64::MAX, |next| next.ticks - 1))),
        };
        let mut feet = FeetWatch::new(self, first, last);
        let watch = Watch::new(self.zone, Some(self.body));
        let mut repeats = RepeatFinder::new();
        let (watch, summary) = feed(
            self.clip,
            self.clock,
            watch,
            &options,
            |frame, watch, seen| {
                repeats.push(frame.stamp.index, frame.sparse_luma()?, seen.depth_bits);
                progress(frame.stamp.index.0 + 1);
                Ok(feet.look(watch, seen.time_s))
            },
        )?;
        Ok(
            is_whole(watch.indices(), &summary, start.frames.0).then(|| Piece {
                decoded: summary.frames,
                repeats: repeats.finish(),
                feet: feet.told(),
                watch,
            }),
        )
    }
}

/// Two pieces that follow each other.
enum Joined {
    Whole(Box<Piece>),
    /// They cannot be joined.
    Apart {
        decoded: usize,
    },
}

impl Piece {
    /// This and what comes before it as one.
    fn after(self, earlier: Self) -> Joined {
        let decoded = earlier.decoded + self.decoded;
        let Some(watch) = self.watch.after(earlier.watch) else {
            return Joined::Apart { decoded };
        };
        let mut repeats = earlier.repeats;
        repeats.judged += self.repeats.judged;
        repeats.repeated.extend(self.repeats.repeated);
        Joined::Whole(Box::new(Self {
            watch,
            repeats,
            decoded,
            feet: self.feet.after(earlier.feet),
        }))
    }

    fn with_decoded(mut self, before: usize) -> Self {
        self.decoded += before;
        self
    }
}

/// A rise by so much over the lowest position before take-off is a way down, in metres.
const WAY_DOWN_M: f64 = 0.02;

/// Where the trunk was before take-off: seconds from take-off, below 0, and metres above
/// its height there.
type Trunk = Vec<(f64, f64)>;

/// Whether the body's way down before a leap is seen, in a piece that begins `lead_s`
/// before take-off: what kind of jump it was hangs on that.
fn shows_dip(trunk: Trunk, lead_s: f64) -> bool {
    /// Nothing earlier than this matters, in seconds before take-off.
    const LONGEST_S: f64 = 1.0;
    /// A position held for so long is held, in seconds.
    const HELD_S: f64 = 0.35;
    // A trunk that cannot be followed in flight cannot be followed before it.
    lead_s >= LONGEST_S
        || lowest(trunk).is_none_or(|((lowest_s, lowest_m), before)| {
            let from_s = before.first().map_or(lowest_s, |first| first.0);
            let went_down = |p: &(f64, f64)| p.1 - lowest_m > WAY_DOWN_M;
            before.iter().any(went_down) || lowest_s - from_s >= HELD_S
        })
}

/// Whether a piece begins on the body's way down before a leap: with the trunk below
/// its height at take-off, not yet at its lowest, and clearly before it leaves.
fn goes_down(trunk: Trunk, lead_s: f64) -> bool {
    const CLOSEST_S: f64 = 0.35;
    const FARTHEST_S: f64 = 1.0;
    (CLOSEST_S..=FARTHEST_S).contains(&lead_s)
        && lowest(trunk).is_some_and(|(lowest, before)| {
            let first = before.first();
            first.is_some_and(|first| first.1 < 0.0 && first.1 - lowest.1 > WAY_DOWN_M)
        })
}

/// The trunk's lowest place, and the places before it.
fn lowest(mut trunk: Trunk) -> Option<((f64, f64), Trunk)> {
    let at = (0..trunk.len()).min_by(|&a, &b| trunk[a].1.total_cmp(&trunk[b].1))?;
    let lowest = trunk[at];
    trunk.truncate(at);
    Some((lowest, trunk))
}

/// Whether every frame from `first` on came, none of them damaged.
pub(in crate::video) fn is_whole(
    came: &[FrameIndex],
    summary: &DecodeSummary,
    first: usize,
) -> bool {
    let in_turn = |(at, index): (usize, &FrameIndex)| index.0 == first + at;
    summary.errors == 0
        && summary.corrupt.is_empty()
        && summary.missing == 0
        && came.len() == summary.frames
        && came.iter().enumerate().all(in_turn)
}

/// Times of all frames that the container lists, in seconds.
pub(in crate::video) fn times_s(clip: &Clip, clock: &CaptureClock) -> Result<Vec<f64>, ClipError> {
    let ticks = clip.packets()?.presented().iter();
    Ok(ticks.map(|&ticks| clock.time_of(ticks).seconds()).collect())
}

#[cfg(test)]
mod tests;
