//! Watching a clip: every frame once, the floor patch and what is round it.

use std::ops::ControlFlow;

use super::body::BodyView;
use super::clip::Clip;
use super::clock::CaptureClock;
use super::contact::{ContactTrace, Watch};
use super::decode::{DecodeOptions, DecodeSummary, DecodedFrame, frames};
use super::fault::ClipError;
use super::patch::FloorPatch;
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

/// Decodes the clip once and watches `patch`.
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
        let time_s = clock.time_of(frame.stamp.ticks).seconds();
        let body = match watch.wanted_body(time_s) {
            Some(column) => frame.read_strip(column, &mut strip).map(|()| {
                watch.push_body(time_s, &strip.luma, strip.depth_bits);
            }),
            None => Ok(()),
        };
        let zone = watch.zone().rect();
        let shown = body.and_then(|()| frame.read_strip(zone, &mut strip));
        let shown = shown.and_then(|()| {
            watch.push(frame.stamp.index, time_s, &strip.luma, strip.depth_bits);
            also(frame, strip.depth_bits)
        });
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
