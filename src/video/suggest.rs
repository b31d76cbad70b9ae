//! Where the feet are, found without a mark.
//!
//! The clip is decoded once, at most some sixty frames of each second are made
//! small, and what moved is searched for the flight of a pair of feet: [`curve`]
//! says what that looks like, [`search`] tries it everywhere. Memory holds a few
//! seconds of small pictures, however long the clip is.

mod cells;
mod curve;
mod place;
mod search;
mod slices;

use std::ops::ControlFlow;

use super::clip::Clip;
use super::clock::CaptureClock;
use super::decode::{DecodeOptions, frames};
use super::patch::{FloorPatch, PatchError};
use super::plane::Strip;
use cells::Grid;
use place::Placed;
use slices::Motion;

/// Frames nearer to the one before than this, in seconds, are passed over: a
/// foot has to move by more than the noise between two frames.
const CLOSEST_S: f64 = 0.0125;
/// The search looks at stretches of this length, in seconds…
const STRETCH_S: f64 = 8.0;
/// …each beginning with so much of the one before, longer than any flight.
const SHARED_S: f64 = 2.0;
/// Weakest score that is called a jump.
const LEAST_SCORE: f32 = 0.35;

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
    let size = clip.facts().size;
    let grid = Grid::of(size).ok_or(PatchError::NothingJumps)?;
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
        None => search.finish(size),
    }
}

/// The motion of the present stretch and the best found so far.
struct Search {
    motion: Motion,
    spare: Vec<u16>,
    last_s: Option<f64>,
    best: Option<Placed>,
}

impl Search {
    fn new(grid: Grid) -> Self {
        Self {
            motion: Motion::new(grid),
            spare: Vec::new(),
            last_s: None,
            best: None,
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
        if let Some(placed) = place::place(&self.motion, &search::search(&self.motion)) {
            let better = |best: &Placed| placed.score > best.score;
            if self.best.as_ref().is_none_or(better) {
                self.best = Some(placed);
            }
        }
    }

    fn finish(mut self, size: (u32, u32)) -> Result<Suggestion, PatchError> {
        self.look();
        let placed = self.best.filter(|best| best.score >= LEAST_SCORE);
        let placed = placed.ok_or(PatchError::NothingJumps)?;
        Ok(Suggestion {
            patch: placed.patch(size),
            certainty: placed.certainty(),
        })
    }
}
