//! From a clip to pictures for people: decodes the few frames that are shown.

use std::ops::ControlFlow;

use thiserror::Error;

use super::{EventKind, EventRow, StillError, UprightFrame, event_strip, ruler_still};
use crate::units::{CaptureTime, FrameIndex};
use crate::video::clip::Clip;
use crate::video::clock::CaptureClock;
use crate::video::decode::{DecodeOptions, frames};
use crate::video::fault::ClipError;
use crate::video::patch::FloorPatch;

/// Longest side of a frame that is only cropped from, in pixels: shoes in it are
/// larger than a tile of the strip, and a dozen of them fit into memory.
const CROPPED_SIDE_PX: u32 = 1920;

/// Frames shown on either side of those that enclose an event.
const ROUND_EVENT: usize = 3;

/// Most frames shown of one event: what fits on a screen side by side.
const MOST_SHOWN: usize = 12;

/// Why a picture could not be made.
#[derive(Debug, Error)]
pub enum PictureError {
    /// The frames could not be decoded.
    #[error(transparent)]
    Clip(#[from] ClipError),
    /// The frames could not be drawn on.
    #[error(transparent)]
    Still(#[from] StillError),
    /// None of the frames that were to be shown came.
    #[error("the frames round the {0} cannot be decoded — copy the clip from the phone again")]
    NoFrames(&'static str),
}

/// One event of a jump, for [`jump_picture`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EventView {
    /// Take-off or landing.
    pub kind: EventKind,
    /// Best estimate of the moment.
    pub moment: CaptureTime,
    /// Last frame surely before the event.
    pub before: FrameIndex,
    /// First frame surely after it.
    pub after: FrameIndex,
}

/// The frames round take-off and landing of one jump as PNG bytes, with their
/// times and the frames that enclose each event marked; `header` stands above.
///
/// # Errors
/// [`PictureError`]: frames that do not come or cannot be drawn on.
pub fn jump_picture(
    clip: &Clip,
    clock: &CaptureClock,
    patch: FloorPatch,
    header: &str,
    events: [EventView; 2],
    threads: usize,
) -> Result<Vec<u8>, PictureError> {
    let mut shown = Vec::with_capacity(events.len());
    for event in &events {
        let frames = round_event(clip, clock, event, threads)?;
        if frames.is_empty() {
            return Err(PictureError::NoFrames(event.kind.name()));
        }
        shown.push(frames);
    }
    let rows: Vec<EventRow> = events
        .iter()
        .zip(&shown)
        .map(|(event, frames)| EventRow {
            kind: event.kind,
            moment: event.moment,
            before: event.before,
            after: event.after,
            frames,
        })
        .collect();
    let cropped = shown.iter().flatten().next();
    let size = cropped.map_or(clip.facts().size, |frame| frame.picture.dimensions());
    Ok(event_strip(
        header,
        scaled(patch, clip.facts().size, size),
        &rows,
    )?)
}

/// The frame at `position` in full size as PNG bytes, with a pixel ruler on its
/// edges and `patch` drawn in; the nearest later frame where that one is lost.
///
/// # Errors
/// [`PictureError`]: no such frame, or one that cannot be drawn on.
pub fn ruler_picture(
    clip: &Clip,
    clock: &CaptureClock,
    patch: Option<FloorPatch>,
    position: FrameIndex,
    threads: usize,
) -> Result<Vec<u8>, PictureError> {
    let wanted = |index: FrameIndex| index >= position;
    let found = collect(
        clip,
        clock,
        (position.0, usize::MAX),
        u32::MAX,
        threads,
        1,
        wanted,
    )?;
    let frame = found.first().ok_or(PictureError::NoFrames("still"))?;
    Ok(ruler_still(frame, patch)?)
}

fn round_event(
    clip: &Clip,
    clock: &CaptureClock,
    event: &EventView,
    threads: usize,
) -> Result<Vec<UprightFrame>, PictureError> {
    let positions = positions(event.before.0, event.after.0);
    let ends = (
        event.before.0.saturating_sub(ROUND_EVENT),
        event.after.0 + ROUND_EVENT,
    );
    let wanted = |index: FrameIndex| positions.contains(&index.0);
    let most = positions.len();
    collect(clip, clock, ends, CROPPED_SIDE_PX, threads, most, wanted)
}

/// Which frames to show: all that enclose the event with some on either side, or
/// evenly chosen ones where the frames leave much open.
fn positions(before: usize, after: usize) -> Vec<usize> {
    let inside = after.saturating_sub(before);
    if inside >= MOST_SHOWN {
        let step = |i: usize| before + (i * inside).div_ceil(MOST_SHOWN - 1);
        return (0..MOST_SHOWN).map(step).collect();
    }
    let beside = ((MOST_SHOWN - inside - 1) / 2).min(ROUND_EVENT);
    (before.saturating_sub(beside)..=after + beside).collect()
}

/// Decodes from frame `from` to frame `to` and keeps up to `most` wanted ones.
fn collect(
    clip: &Clip,
    clock: &CaptureClock,
    (from, to): (usize, usize),
    max_side: u32,
    threads: usize,
    most: usize,
    wanted: impl Fn(FrameIndex) -> bool,
) -> Result<Vec<UprightFrame>, PictureError> {
    let listed = clip.packets()?.presented();
    let ticks = |at: usize| listed.get(at).or(listed.last()).copied();
    let range = ticks(from).zip(ticks(to));
    let mut kept: Vec<UprightFrame> = Vec::new();
    let mut fault = None;
    frames(clip, &DecodeOptions { threads, range }, |frame| {
        if wanted(frame.stamp.index) {
            match frame.read_upright_rgb(max_side) {
                Ok(picture) => kept.push(UprightFrame {
                    index: frame.stamp.index,
                    time: clock.time_of(frame.stamp.ticks),
                    picture,
                }),
                Err(error) => fault = Some(error),
            }
        }
        match kept.len() < most && fault.is_none() {
            true => ControlFlow::Continue(()),
            false => ControlFlow::Break(()),
        }
    })?;
    match fault {
        Some(error) => Err(error.into()),
        None => Ok(kept),
    }
}

/// The patch in a picture made smaller from `full` to `small`.
fn scaled(patch: FloorPatch, full: (u32, u32), small: (u32, u32)) -> FloorPatch {
    let side = |start: u32, length: u32, full: u32, small: u32| {
        let factor = full.checked_div(small).unwrap_or(1).max(1);
        let start = (start / factor).min(small.saturating_sub(1));
        (
            start,
            (length / factor).clamp(1, small.saturating_sub(start).max(1)),
        )
    };
    let (x, w) = side(patch.x, patch.w, full.0, small.0);
    let (y, h) = side(patch.y, patch.h, full.1, small.1);
    FloorPatch { x, y, w, h }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_frames_that_enclose_an_event_are_always_shown() {
        for (before, after) in [(0, 1), (2, 4), (50, 61), (50, 62), (50, 400), (7, 7)] {
            let shown = positions(before, after);
            assert!(
                shown.contains(&before) && shown.contains(&after),
                "{before} {after}"
            );
            assert!(shown.len() <= MOST_SHOWN && shown.is_sorted());
        }
        assert_eq!(positions(10, 11), [7, 8, 9, 10, 11, 12, 13, 14]);
    }

    #[test]
    fn a_patch_shrinks_with_its_picture_and_stays_inside() {
        let patch = FloorPatch {
            x: 3000,
            y: 1900,
            w: 841,
            h: 261,
        };
        let small = scaled(patch, (3841, 2161), (1280, 720));
        assert_eq!(
            small,
            FloorPatch {
                x: 1000,
                y: 633,
                w: 280,
                h: 87
            }
        );
        assert_eq!(scaled(patch, (3841, 2161), (3841, 2161)), patch);
    }
}
