//! Watching a clip: every frame once, the floor patch and what is round it.

use std::ops::ControlFlow;

use super::body::BodyView;
use super::clip::Clip;
use super::clock::CaptureClock;
use super::contact::{ContactTrace, Watch};
use super::decode::{DecodeOptions, DecodeSummary, DecodedFrame, frames};
use super::fault::ClipError;
use super::patch::FloorPatch;
use super::pieces::{add_leaps, watch_pieces};
use super::plane::Strip;
use super::repeats::{RepeatFinder, RepeatReport};
use super::zone::Zone;

/// What watching a clip gave.
#[derive(Clone, Debug)]
pub struct Watched {
    /// What moved in and round the patch; no pixels.
    pub trace: ContactTrace,
    /// Frames that came, were damaged or stayed out.
    pub summary: DecodeSummary,
    /// Frames that show their predecessor again.
    pub repeats: RepeatReport,
}

impl Watched {
    /// Whether every frame of the clip was looked at.
    pub fn is_everything(&self) -> bool {
        self.trace.motion.iter().all(|motion| motion.is_finite())
    }
}

/// Watches `patch`, decoding only what has to be decoded; the whole clip where a
/// coarse look at it is not sure.
///
/// Leaps are those of [`watch_everything`], number for number. `progress` is told
/// which frame was reached.
///
/// # Errors
/// When the patch does not lie in the picture, or the clip cannot be decoded.
pub fn watch_where_needed(
    clip: &Clip,
    clock: &CaptureClock,
    patch: FloorPatch,
    threads: usize,
    progress: &mut dyn FnMut(usize),
) -> Result<Watched, ClipError> {
    match watch_pieces(clip, clock, patch, threads, progress)? {
        Some(watched) => Ok(watched),
        None => watch(clip, clock, patch, threads, progress),
    }
}

/// Decodes every frame and watches `patch`; pieces that [`watch_where_needed`]
/// would look at are looked at in the same way, and the rest as well.
///
/// # Errors
/// When the patch does not lie in the picture, or the clip cannot be decoded.
pub fn watch_everything(
    clip: &Clip,
    clock: &CaptureClock,
    patch: FloorPatch,
    threads: usize,
    progress: &mut dyn FnMut(usize),
) -> Result<Watched, ClipError> {
    let pieces = watch_pieces(clip, clock, patch, threads, &mut |_| {})?;
    let mut watched = watch(clip, clock, patch, threads, progress)?;
    if let Some(pieces) = pieces {
        let found = std::mem::replace(&mut watched.trace.leaps, pieces.trace.leaps);
        add_leaps(&mut watched.trace.leaps, found);
    }
    Ok(watched)
}

/// Decodes the clip once and watches `patch`, the whole clip at once.
///
/// `progress` is told how many frames are done.
///
/// # Errors
/// When the patch does not lie in the picture, or the clip cannot be decoded.
pub fn watch(
    clip: &Clip,
    clock: &CaptureClock,
    patch: FloorPatch,
    threads: usize,
    progress: &mut dyn FnMut(usize),
) -> Result<Watched, ClipError> {
    let zone = Zone::new(patch, clip.facts().size);
    let options = DecodeOptions {
        threads,
        range: None,
    };
    let mut repeats = RepeatFinder::new();
    let mut done = 0;
    let body = BodyView::new(patch, clip.facts().size);
    let watch = Watch::new(zone, Some(body));
    let (watch, summary) = feed(clip, clock, watch, &options, |frame, depth_bits| {
        repeats.push(frame.stamp.index, frame.sparse_luma()?, depth_bits);
        done += 1;
        progress(done);
        Ok(())
    })?;
    Ok(Watched {
        trace: watch.finish(),
        summary,
        repeats: repeats.finish(),
    })
}

/// Decodes part of a clip and shows the zone of each frame to a new [`Watch`];
/// `also` sees every frame too, with the number of bits of its luma.
///
/// # Errors
/// When the zone does not lie in the picture, the clip cannot be decoded, or
/// `also` fails.
pub(in crate::video) fn feed(
    clip: &Clip,
    clock: &CaptureClock,
    mut watch: Watch,
    options: &DecodeOptions,
    mut also: impl FnMut(&DecodedFrame, u32) -> Result<(), ClipError>,
) -> Result<(Watch, DecodeSummary), ClipError> {
    let mut strip = Strip::default();
    let mut failure = None;
    let summary = frames(clip, options, |frame| {
        let shown =
            show(frame, clock, &mut watch, &mut strip).and_then(|_| also(frame, strip.depth_bits));
        match shown {
            Ok(()) => ControlFlow::Continue(()),
            Err(error) => {
                failure = Some(error);
                ControlFlow::Break(())
            }
        }
    })?;
    match failure {
        Some(error) => Err(error),
        None => Ok((watch, summary)),
    }
}

/// Shows a frame's zone, and its column of the body where that is wanted, to `watch`;
/// gives the frame's time in seconds. The zone is left in `strip`.
pub(in crate::video) fn show(
    frame: &DecodedFrame,
    clock: &CaptureClock,
    watch: &mut Watch,
    strip: &mut Strip,
) -> Result<f64, ClipError> {
    let time_s = clock.time_of(frame.stamp.ticks).seconds();
    if let Some(column) = watch.wanted_body(time_s) {
        frame.read_strip(column, strip)?;
        watch.push_body(time_s, &strip.luma, strip.depth_bits);
    }
    frame.read_strip(watch.zone().rect(), strip)?;
    watch.push(frame.stamp.index, time_s, &strip.luma, strip.depth_bits);
    Ok(time_s)
}
