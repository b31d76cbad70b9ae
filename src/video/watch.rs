//! Watching a clip: every frame once, the floor patch and what is round it.

use std::ops::ControlFlow;

use super::body::BodyView;
use super::clip::Clip;
use super::clock::CaptureClock;
use super::coarse::is_plain;
use super::contact::{ContactTrace, Watch};
use super::decode::{DecodeOptions, DecodeSummary, DecodedFrame, frames};
use super::fault::ClipError;
use super::patch::FloorPatch;
use super::pieces::{add_leaps, is_whole, times_s, watch_pieces};
use super::plane::Strip;
use super::repeats::{RepeatFinder, RepeatReport};
use super::rest::RestWatch;
use super::spacing::median_spacing;
use super::zone::Zone;
use crate::units::FrameIndex;

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
    if let Some(watched) = watch_pieces(clip, clock, patch, threads, progress)? {
        return Ok(watched);
    }
    match watch_until_rest(clip, clock, patch, threads, progress)? {
        Some(watched) => Ok(watched),
        None => watch(clip, clock, patch, threads, progress),
    }
}

/// Decodes every frame and watches `patch`; what [`watch_where_needed`] would look at is
/// looked at in the same way, and the rest as well.
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
    let needed = watch_where_needed(clip, clock, patch, threads, progress)?;
    if needed.is_everything() {
        return Ok(needed);
    }
    let mut watched = watch(clip, clock, patch, threads, progress)?;
    let found = std::mem::replace(&mut watched.trace.leaps, needed.trace.leaps);
    add_leaps(&mut watched.trace.leaps, found);
    Ok(watched)
}

/// Watches a clip from its beginning to its end, or until nothing more can happen in it;
/// `None` where frames are missing or damaged.
fn watch_until_rest(
    clip: &Clip,
    clock: &CaptureClock,
    patch: FloorPatch,
    threads: usize,
    progress: &mut dyn FnMut(usize),
) -> Result<Option<Watched>, ClipError> {
    if !is_plain(clip, clip.packets()?) {
        return Ok(None);
    }
    let times_s = times_s(clip, clock)?;
    let zone = Zone::new(patch, clip.facts().size);
    let mut rest = RestWatch::new(&zone, &times_s);
    let mut watched = watch_while(
        clip,
        clock,
        patch,
        threads,
        &mut |watch, repeats, time_s| {
            progress(watch.indices().len());
            let rest = rest.as_mut();
            let enough = rest.is_some_and(|rest| rest.is_enough(watch, time_s, repeats));
            match enough {
                true => ControlFlow::Break(()),
                false => ControlFlow::Continue(()),
            }
        },
    )?;
    if !watched.summary.stopped {
        return Ok(Some(watched));
    }
    let trace = &mut watched.trace;
    if !is_whole(&trace.indices, &watched.summary, 0) {
        return Ok(None);
    }
    // Motion is no number where nothing was decoded.
    trace.motion.resize(times_s.len(), f32::NAN);
    trace.indices = (0..times_s.len()).map(FrameIndex).collect();
    trace.spacing_s = median_spacing(&times_s);
    trace.times_s = times_s;
    Ok(Some(watched))
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
    watch_while(clip, clock, patch, threads, &mut |watch, _, _| {
        progress(watch.indices().len());
        ControlFlow::Continue(())
    })
}

/// Decodes the clip and watches `patch` until `look` breaks: it is shown what was watched,
/// how many pictures repeat, and the newest frame's time in seconds.
fn watch_while(
    clip: &Clip,
    clock: &CaptureClock,
    patch: FloorPatch,
    threads: usize,
    look: &mut dyn FnMut(&mut Watch, &RepeatFinder, f64) -> ControlFlow<()>,
) -> Result<Watched, ClipError> {
    let zone = Zone::new(patch, clip.facts().size);
    let options = DecodeOptions {
        threads,
        range: None,
    };
    let mut repeats = RepeatFinder::new();
    let body = BodyView::new(patch, clip.facts().size);
    let watch = Watch::new(zone, Some(body));
    let (watch, summary) = feed(clip, clock, watch, &options, |frame, watch, seen| {
        repeats.push(frame.stamp.index, frame.sparse_luma()?, seen.depth_bits);
        Ok(look(watch, &repeats, seen.time_s))
    })?;
    Ok(Watched {
        trace: watch.finish(),
        summary,
        repeats: repeats.finish(),
    })
}

/// What a frame brought besides its picture.
#[derive(Clone, Copy, Debug)]
pub(in crate::video) struct Seen {
    pub(in crate::video) time_s: f64,
    /// Bits of its luma.
    pub(in crate::video) depth_bits: u32,
}

/// Decodes part of a clip and shows the zone of each frame to a new [`Watch`];
/// `also` sees every frame too, with what was watched, and may break.
///
/// # Errors
/// When the zone does not lie in the picture, the clip cannot be decoded, or
/// `also` fails.
pub(in crate::video) fn feed(
    clip: &Clip,
    clock: &CaptureClock,
    mut watch: Watch,
    options: &DecodeOptions,
    mut also: impl FnMut(&DecodedFrame, &mut Watch, Seen) -> Result<ControlFlow<()>, ClipError>,
) -> Result<(Watch, DecodeSummary), ClipError> {
    let mut strip = Strip::default();
    let mut failure = None;
    let summary = frames(clip, options, |frame| {
        let shown = show(frame, clock, &mut watch, &mut strip).and_then(|time_s| {
            let depth_bits = strip.depth_bits;
            also(frame, &mut watch, Seen { time_s, depth_bits })
        });
        match shown {
            Ok(flow) => flow,
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
fn show(
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
