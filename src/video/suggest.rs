//! Where the feet are, found without a mark.
//!
//! The clip is decoded once, at most some sixty frames of each second are made
//! small, and what moved is searched for the flight of a pair of feet: `curve`
//! says what that looks like, `search` tries it everywhere. Memory holds a few
//! seconds of small pictures, however long the clip is.

mod cells;
mod curve;
mod place;
mod search;
mod slices;

use std::cmp::Ordering;
use std::ops::ControlFlow;

use super::clip::Clip;
use super::clock::CaptureClock;
use super::contact::Watch;
use super::decode::{DecodeOptions, frames};
use super::patch::{FloorPatch, PatchError};
use super::plane::Strip;
use super::watch::feed;
use super::zone::Zone;
use cells::Grid;
use place::{Placed, SPOTS};
use slices::Motion;

/// Frames nearer to the one before than this, in seconds, are passed over: a
/// foot has to move by more than the noise between two frames.
const CLOSEST_S: f64 = 0.0125;
/// The search looks at stretches of this length, in seconds…
const STRETCH_S: f64 = 8.0;
/// …each beginning with so much of the one before, longer than any flight.
const SHARED_S: f64 = 2.0;
/// Weakest score that is looked at more closely.
const LEAST_SCORE: f32 = 0.5;
/// Agreement of the parts of the shoe below which nothing is suggested, and from
/// which no other spot is looked at.
const LEAST_CERTAINTY: f64 = 0.08;
const CLEAR: f64 = 0.3;
/// Largest ratio of the speeds at take-off and landing.
const UNLIKE: f64 = 1.6;

/// A patch that was not marked by anybody.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Suggestion {
    /// Feet when standing and the floor just below.
    pub patch: FloorPatch,
    /// How sure it is, 0 to 1.
    pub certainty: f64,
}

/// Decodes the clip once and finds the floor patch of the clearest jump.
///
/// `progress` is told how many frames are done.
///
/// # Errors
/// [`PatchError::NothingJumps`] when nothing in the clip leaves the floor and
/// comes back as feet do, [`PatchError::Clip`] when it cannot be decoded.
pub fn suggest(
    clip: &Clip,
    clock: &CaptureClock,
    threads: usize,
    progress: &mut dyn FnMut(usize),
) -> Result<Suggestion, PatchError> {
    let grid = Grid::of(clip.facts().size).ok_or(PatchError::NothingJumps)?;
    let options = DecodeOptions {
        threads,
        range: None,
    };
    let mut search = Search::new(grid);
    let mut strip = Strip::default();
    let mut done = 0;
    let mut failure = None;
    frames(clip, &options, |frame| {
        let time_s = clock.time_of(frame.stamp.ticks).seconds();
        if search.wants(time_s) {
            let mut cells = std::mem::take(&mut search.spare);
            if let Err(error) = grid.read(frame, &mut strip, &mut cells) {
                failure = Some(error);
                return ControlFlow::Break(());
            }
            search.push(time_s, cells);
        }
        done += 1;
        progress(done);
        ControlFlow::Continue(())
    })?;
    match failure {
        Some(error) => Err(error.into()),
        None => confirm(clip, clock, threads, &search.finish()),
    }
}

/// Takes the strongest spot with a long flight. A short curve fits into many
/// motions (a stride, a heel rise): there a closer look is taken, and the parts of
/// the shoe have to agree on take-off and landing.
fn confirm(
    clip: &Clip,
    clock: &CaptureClock,
    threads: usize,
    spots: &[Placed],
) -> Result<Suggestion, PatchError> {
    let size = clip.facts().size;
    let mut best: Option<Suggestion> = None;
    for spot in spots {
        let Ok(patch) = spot.patch(size).check(size) else {
            continue;
        };
        if spot.clear {
            let certainty = spot.certainty();
            return Ok(Suggestion { patch, certainty });
        }
        let certainty = close_look(clip, clock, threads, patch, spot.window_s())?;
        if best.is_none_or(|best| certainty > best.certainty) {
            best = Some(Suggestion { patch, certainty });
        }
        if certainty >= CLEAR {
            break;
        }
    }
    best.filter(|best| best.certainty >= LEAST_CERTAINTY)
        .ok_or(PatchError::NothingJumps)
}

/// Agreement of the parts of the shoe on a flight within the window, 0 to 1.
fn close_look(
    clip: &Clip,
    clock: &CaptureClock,
    threads: usize,
    patch: FloorPatch,
    window_s: (f64, f64),
) -> Result<f64, PatchError> {
    let ticks = clip.packets()?.presented();
    let at = |t: f64| ticks.partition_point(|&tick| clock.time_of(tick).seconds() < t);
    let (from, to) = (at(window_s.0), at(window_s.1));
    let (Some(&from), Some(&to)) = (ticks.get(from), ticks.get(to.min(ticks.len() - 1))) else {
        return Ok(0.0);
    };
    let options = DecodeOptions {
        threads,
        range: Some((from, to)),
    };
    let zone = Zone::new(patch, clip.facts().size);
    let watch = Watch::new(zone, None);
    let (watch, _) = feed(clip, clock, watch, &options, |_, _, _| {
        Ok(ControlFlow::Continue(()))
    })?;
    Ok(watch
        .finish()
        .leaps
        .iter()
        .filter(|leap| leap.takeoff.speed_px_s < UNLIKE * leap.landing.speed_px_s)
        .filter(|leap| leap.landing.speed_px_s < UNLIKE * leap.takeoff.speed_px_s)
        .map(|leap| leap.certainty())
        .fold(0.0, f64::max))
}

/// The motion of the present stretch and the best found so far.
struct Search {
    motion: Motion,
    spare: Vec<u16>,
    last_s: Option<f64>,
    /// Strongest spots, strongest first.
    best: Vec<Placed>,
}

impl Search {
    fn new(grid: Grid) -> Self {
        Self {
            motion: Motion::new(grid),
            spare: Vec::new(),
            last_s: None,
            best: Vec::new(),
        }
    }

    fn wants(&self, time_s: f64) -> bool {
        self.last_s.is_none_or(|last| time_s - last >= CLOSEST_S)
    }

    fn push(&mut self, time_s: f64, cells: Vec<u16>) {
        self.last_s = Some(time_s);
        self.spare = self.motion.push(time_s, cells);
        if self.motion.length_s() >= STRETCH_S {
            self.look();
            self.motion.forget(SHARED_S);
        }
    }

    fn look(&mut self) {
        let found = search::search(&self.motion);
        self.best.extend(place::spots(&self.motion, &found));
        self.best.retain(|spot| spot.score >= LEAST_SCORE);
        let rank = |spot: &Placed| (spot.clear, spot.score);
        self.best
            .sort_by(|a, b| rank(b).partial_cmp(&rank(a)).unwrap_or(Ordering::Equal));
        self.best.truncate(SPOTS);
    }

    fn finish(mut self) -> Vec<Placed> {
        self.look();
        self.best
    }
}
