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

use std::ops::ControlFlow;

use super::body::BodyView;
use super::clip::Clip;
use super::clock::CaptureClock;
use super::coarse::{Coarse, coarse_look, feet};
use super::contact::{ContactTrace, Leap, Watch};
use super::decode::{DecodeOptions, DecodeSummary, frames};
use super::fault::ClipError;
use super::likeness::difference;
use super::patch::FloorPatch;
use super::plane::Strip;
use super::repeats::{RepeatFinder, RepeatReport};
use super::spacing::median_spacing;
use super::watch::{Watched, show};
use super::zone::Zone;
use crate::units::FrameIndex;

/// A piece begins with feet that stand for this long, in seconds: longer than the
/// parts of the shoe are followed before take-off, ...
const STANDING_BEFORE_S: f64 = 0.15;
/// A piece ends once the feet have stood as in the next key picture for this long.
const STANDING_AFTER_S: f64 = 0.2;
/// ... and both for so many frames at least, as repeated pictures are told from
/// their neighbours.
const STANDING_FRAMES: f64 = 8.0;
/// A larger share of repeated pictures, of those that could be judged, means that
/// the clip was converted: then all of it is looked at.
const REPEATS: f64 = 0.02;
/// The feet are compared this often, in seconds.
const COMPARED_S: f64 = 0.02;
/// Beyond this share of all frames nothing is saved by leaving some out.
const MOST: f64 = 0.8;
/// A jump this certain, 0 to 1, shows that jumps can be seen in the clip.
const CONVINCING: f64 = 0.35;

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
    let Some(coarse) = coarse_look(clip, clock, &zone, threads)? else {
        return Ok(None);
    };
    let runs = runs(&coarse);
    let planned: usize = runs.iter().map(|run| span(&coarse, *run)).sum();
    let times_s = times_s(clip, clock)?;
    let held = times_s.len();
    if planned as f64 > MOST * held as f64 {
        return Ok(None);
    }
    let mut gathered = Gathered::new(coarse.groups.len());
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

/// First and last group of each row of groups that are not quiet.
fn runs(coarse: &Coarse) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (at, group) in coarse.groups.iter().enumerate() {
        match runs.last_mut() {
            _ if group.quiet => {}
            Some(last) if last.1 + 1 == at => last.1 = at,
            _ => runs.push((at, at)),
        }
    }
    runs
}

/// Frames of a row of groups.
fn span(coarse: &Coarse, (first, last): (usize, usize)) -> usize {
    let groups = coarse.groups.get(first..=last).unwrap_or_default();
    groups
        .iter()
        .map(|group| group.frames.1 - group.frames.0)
        .sum()
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
    trace: ContactTrace,
    repeats: RepeatReport,
    decoded: usize,
    /// Largest change of the feet against the piece's first picture.
    change: f32,
    /// Whether the feet stood at first.
    stood: bool,
}

impl Viewer<'_> {
    /// Watches a row of groups, from feet that stand; `None` where frames are
    /// missing or damaged.
    fn complete(
        &self,
        (first, last): (usize, usize),
        progress: &mut dyn FnMut(usize),
    ) -> Result<Option<Piece>, ClipError> {
        let mut decoded = 0;
        for first in (0..=first).rev() {
            let Some(mut piece) = self.piece((first, last), progress)? else {
                return Ok(None);
            };
            decoded += piece.decoded;
            if piece.stood || first == 0 {
                piece.decoded = decoded;
                return Ok(Some(piece));
            }
        }
        Ok(None)
    }

    fn piece(
        &self,
        (first, last): (usize, usize),
        progress: &mut dyn FnMut(usize),
    ) -> Result<Option<Piece>, ClipError> {
        let Some(start) = self.coarse.groups.get(first) else {
            return Ok(None);
        };
        let options = DecodeOptions {
            threads: self.threads,
            range: Some((start.ticks, i64::MAX)),
        };
        let mut feet = FeetWatch::new(self, first, last);
        let mut watch = Watch::new(self.zone, Some(self.body));
        let mut strip = Strip::default();
        let mut repeats = RepeatFinder::new();
        let mut failure = None;
        let summary = frames(self.clip, &options, |frame| {
            let shown = show(frame, self.clock, &mut watch, &mut strip)
                .and_then(|time_s| Ok((time_s, frame.sparse_luma()?)));
            let time_s = match shown {
                Ok((time_s, sparse)) => {
                    repeats.push(frame.stamp.index, sparse, strip.depth_bits);
                    time_s
                }
                Err(error) => {
                    failure = Some(error);
                    return ControlFlow::Break(());
                }
            };
            progress(frame.stamp.index.0 + 1);
            feet.look(&watch, time_s)
        })?;
        if let Some(error) = failure {
            return Err(error);
        }
        let trace = watch.finish();
        Ok(is_whole(&trace, &summary, start.frames.0).then(|| Piece {
            decoded: summary.frames,
            repeats: repeats.finish(),
            change: feet.change,
            stood: feet.stood,
            trace,
        }))
    }
}

/// Whether every frame from `first` on came, none of them damaged.
fn is_whole(trace: &ContactTrace, summary: &DecodeSummary, first: usize) -> bool {
    let in_turn = |(at, index): (usize, &FrameIndex)| index.0 == first + at;
    summary.errors == 0
        && summary.corrupt.is_empty()
        && summary.missing == 0
        && trace.indices.len() == summary.frames
        && trace.indices.iter().enumerate().all(in_turn)
}

/// Compares the feet with those of the first and of the closing key picture.
struct FeetWatch<'a> {
    viewer: &'a Viewer<'a>,
    first: usize,
    /// How long feet stand at both ends.
    standing_s: (f64, f64),
    /// Group whose key picture closes the piece, if there is one.
    closing: Option<usize>,
    /// From this time on the piece may end.
    may_end_s: f64,
    first_row: usize,
    began_s: Option<f64>,
    compared_s: f64,
    standing_since_s: Option<f64>,
    change: f32,
    stood: bool,
}

impl<'a> FeetWatch<'a> {
    fn new(viewer: &'a Viewer<'a>, first: usize, last: usize) -> Self {
        let groups = &viewer.coarse.groups;
        let (rect, bin) = feet(&viewer.zone);
        let key_s = groups.get(last).map_or(f64::INFINITY, |group| {
            viewer.clock.time_of(group.ticks).seconds()
        });
        Self {
            viewer,
            first,
            standing_s: (
                STANDING_BEFORE_S.max(STANDING_FRAMES * viewer.spacing_s),
                STANDING_AFTER_S.max(STANDING_FRAMES * viewer.spacing_s),
            ),
            closing: (last + 1 < groups.len()).then_some(last + 1),
            may_end_s: key_s,
            first_row: ((rect.y - viewer.zone.y) / bin) as usize,
            began_s: None,
            compared_s: f64::NEG_INFINITY,
            standing_since_s: None,
            change: 0.0,
            stood: true,
        }
    }

    /// Looks at the newest frame; breaks when the piece is complete.
    fn look(&mut self, watch: &Watch, time_s: f64) -> ControlFlow<()> {
        let began_s = *self.began_s.get_or_insert(time_s);
        if time_s - self.compared_s < COMPARED_S {
            return ControlFlow::Continue(());
        }
        self.compared_s = time_s;
        let Some(feet) = watch.newest_rows(self.first_row) else {
            return ControlFlow::Continue(());
        };
        let limit = self.viewer.coarse.likeness.limit();
        let change = self.unlike(self.first, &feet);
        self.change = self.change.max(change);
        self.stood &= change <= limit || time_s - began_s > self.standing_s.0;
        let Some(closing) = self.closing.filter(|_| time_s > self.may_end_s) else {
            return ControlFlow::Continue(());
        };
        if self.unlike(closing, &feet) > limit {
            self.standing_since_s = None;
            return ControlFlow::Continue(());
        }
        let since_s = *self.standing_since_s.get_or_insert(time_s);
        if time_s - since_s >= self.standing_s.1 {
            return ControlFlow::Break(());
        }
        ControlFlow::Continue(())
    }

    /// Difference between the feet and those of a key picture.
    fn unlike(&self, group: usize, feet: &super::grey::Grey) -> f32 {
        let groups = &self.viewer.coarse.groups;
        groups
            .get(group)
            .map_or(f32::INFINITY, |group| difference(&group.feet, feet))
    }
}

/// All that the pieces told.
struct Gathered {
    pieces: Vec<Piece>,
    decoded: usize,
}

impl Gathered {
    /// Begins with the key pictures, which have been decoded already.
    fn new(keys: usize) -> Self {
        Self {
            pieces: Vec::new(),
            decoded: keys,
        }
    }

    fn add(&mut self, piece: Piece) {
        self.decoded += piece.decoded;
        self.pieces.push(piece);
    }

    /// Whether some jump showed clearly, and nothing speaks of a clip that was
    /// converted or cut.
    fn convinces(&self, clear: f32) -> bool {
        let clearly = |piece: &Piece| {
            let sure = |leap: &Leap| leap.certainty() >= CONVINCING;
            piece.change >= clear && piece.trace.leaps.iter().any(sure)
        };
        self.pieces.iter().any(clearly) && self.pieces.iter().all(|p| p.repeats.share() <= REPEATS)
    }

    /// One trace over the whole clip; motion is no number where nothing was decoded.
    fn into_watched(self, viewer: &Viewer) -> Result<Option<Watched>, ClipError> {
        if !self.convinces(viewer.coarse.likeness.clear()) {
            return Ok(None);
        }
        let times_s = times_s(viewer.clip, viewer.clock)?;
        let mut trace = ContactTrace {
            motion: vec![f32::NAN; times_s.len()],
            indices: (0..times_s.len()).map(FrameIndex).collect(),
            spacing_s: viewer.spacing_s,
            patch_height_px: viewer.zone.patch_rows(viewer.zone.fine).1,
            px: f64::from(viewer.zone.fine),
            leaps: Vec::new(),
            body_flights: Vec::new(),
            times_s,
        };
        let mut repeats = RepeatReport::default();
        for piece in self.pieces {
            repeats.judged += piece.repeats.judged;
            repeats.repeated.extend(piece.repeats.repeated);
            for (index, motion) in piece.trace.indices.iter().zip(&piece.trace.motion) {
                if let Some(place) = trace.motion.get_mut(index.0) {
                    *place = *motion;
                }
            }
            trace.body_flights.extend(piece.trace.body_flights);
            add_leaps(&mut trace.leaps, piece.trace.leaps);
        }
        let summary = DecodeSummary {
            frames: self.decoded,
            ..DecodeSummary::default()
        };
        Ok(Some(Watched {
            trace,
            summary,
            repeats,
        }))
    }
}

/// Times of all frames that the container lists, in seconds.
fn times_s(clip: &Clip, clock: &CaptureClock) -> Result<Vec<f64>, ClipError> {
    let ticks = clip.packets()?.presented().iter();
    Ok(ticks.map(|&ticks| clock.time_of(ticks).seconds()).collect())
}

/// Adds the leaps that overlap none of those already there, in order of time.
pub(in crate::video) fn add_leaps(leaps: &mut Vec<Leap>, more: Vec<Leap>) {
    for leap in more {
        if !leaps.iter().any(|other| other.overlaps(&leap)) {
            leaps.push(leap);
        }
    }
    leaps.sort_by(|a, b| a.takeoff.t_s.total_cmp(&b.takeoff.t_s));
}
