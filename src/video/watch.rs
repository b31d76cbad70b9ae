//! Watching a clip: every frame once, the floor patch and what is round it.

use std::ops::ControlFlow;

use super::clip::Clip;
use super::clock::CaptureClock;
use super::contact::{ContactTrace, Watch};
use super::decode::{DecodeOptions, DecodeSummary, frames};
use super::fault::ClipError;
use super::patch::FloorPatch;
use super::plane::{Strip, UprightRect};
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
    let rect = UprightRect {
        x: zone.x,
        y: zone.y,
        w: zone.w,
        h: zone.h,
    };
    let options = DecodeOptions {
        threads,
        range: None,
    };
    let mut watch = Watch::new(zone);
    let mut repeats = RepeatFinder::new();
    let mut strip = Strip::default();
    let mut done = 0;
    let mut failure = None;
    let summary = frames(clip, &options, |frame| {
        let read = frame
            .read_strip(rect, &mut strip)
            .and_then(|()| frame.sparse_luma());
        match read {
            Ok(sparse) => {
                let time = clock.time_of(frame.stamp.ticks);
                watch.push(
                    frame.stamp.index,
                    time.seconds(),
                    &strip.luma,
                    strip.depth_bits,
                );
                repeats.push(frame.stamp.index, sparse, strip.depth_bits);
                done += 1;
                progress(done);
                ControlFlow::Continue(())
            }
            Err(error) => {
                failure = Some(error);
                ControlFlow::Break(())
            }
        }
    })?;
    match failure {
        Some(error) => Err(error),
        None => Ok(Watched {
            trace: watch.finish(),
            summary,
            repeats: repeats.finish(),
        }),
    }
}
