//! Frames in capture order.

mod delivery;

use std::num::NonZero;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::sync::mpsc::sync_channel;

use ffmpeg_next as ff;

use super::clip::Clip;
use super::colour;
use super::container::Container;
use super::fault::ClipError;
use super::ffmpeg::Layout;
use super::orient::Orientation;
use super::packets::{PacketReader, PacketTable};
use super::plane::{LumaPlane, Strip, UprightRect};
use crate::units::FrameIndex;
pub(super) use delivery::Delivery;

/// Side of the grid behind [`DecodedFrame::sparse_luma`].
const SPARSE_SIDE: usize = 64;

/// What part of a clip to decode, and with how many threads.
#[derive(Clone, Copy, Debug, Default)]
pub struct DecodeOptions {
    /// Decoding threads; 0 means as many as there are cores.
    pub threads: usize,
    /// First and last tick wanted, both included; `None` means all frames.
    pub range: Option<(i64, i64)>,
}

/// What came of decoding.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DecodeSummary {
    /// Frames handed out.
    pub frames: usize,
    /// Frames among them that the decoder marks as damaged.
    pub corrupt: Vec<FrameIndex>,
    /// Frames that the container lists or claims but that did not come.
    pub missing: u64,
    /// Errors met by the container reader and the decoder.
    pub errors: u64,
    /// How much earlier the pictures end than the file claims, where that is
    /// more than a few frames.
    pub ends_early_s: Option<f64>,
    /// Whether the receiver stopped before the end.
    pub stopped: bool,
}

impl DecodeSummary {
    /// Whether every frame came, whole.
    pub fn is_clean(&self) -> bool {
        self.corrupt.is_empty()
            && self.missing == 0
            && self.errors == 0
            && self.ends_early_s.is_none()
    }

    /// Counts a frame that is handed out.
    fn count(&mut self, stamp: FrameStamp) {
        self.frames += 1;
        if stamp.corrupt {
            self.corrupt.push(stamp.index);
        }
    }
}

/// When a frame was taken, without its pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FrameStamp {
    /// Position in the clip; places of frames that did not come stay empty.
    pub index: FrameIndex,
    /// Presentation time in ticks of the stream's clock.
    pub ticks: i64,
    /// Whether the decoder marks the frame as damaged.
    pub corrupt: bool,
}

/// One decoded frame.
pub(in crate::video) struct DecodedFrame {
    /// When it was taken.
    pub stamp: FrameStamp,
    frame: ff::frame::Video,
    layout: Arc<Layout>,
    orientation: Orientation,
    /// Errors met before it came.
    errors: u64,
}

#[allow(dead_code)] // Strips and pictures are read by stages that follow.
impl DecodedFrame {
    /// Copies the luma of a rectangle of the upright picture.
    pub fn read_strip(&self, rect: UprightRect, strip: &mut Strip) -> Result<(), ClipError> {
        LumaPlane::of(&self.frame, &self.layout, self.orientation)?.read(rect, strip)
    }

    /// At most 4096 luma samples from an even grid over the whole picture.
    pub fn sparse_luma(&self) -> Result<Vec<u16>, ClipError> {
        Ok(LumaPlane::of(&self.frame, &self.layout, self.orientation)?.sparse(SPARSE_SIDE))
    }

    /// The upright frame in colour, for people to look at, made smaller by a
    /// whole factor until its longer side is at most `max_side` pixels.
    pub fn read_upright_rgb(&self, max_side: u32) -> Result<image::RgbImage, ClipError> {
        colour::upright_rgb(&self.frame, &self.layout, self.orientation, max_side)
    }

    /// Part of the upright frame in colour, made smaller likewise.
    pub fn read_part_rgb(
        &self,
        part: UprightRect,
        max_side: u32,
    ) -> Result<image::RgbImage, ClipError> {
        colour::upright_part(&self.frame, &self.layout, self.orientation, part, max_side)
    }
}

/// Decodes `clip` and reports each frame's time; no pixel is looked at.
pub fn stamps(
    clip: &Clip,
    options: &DecodeOptions,
    mut receive: impl FnMut(FrameStamp) -> ControlFlow<()>,
) -> Result<DecodeSummary, ClipError> {
    frames(clip, options, |frame| receive(frame.stamp))
}

/// Decodes `clip` and hands each frame to `receive`, in capture order.
///
/// Decoding goes on while `receive` looks at a frame; what comes after the one at which
/// it stops is not told. Damaged places are stepped over and counted. Memory does not
/// grow with the clip beyond its packet table.
///
/// # Errors
/// When the file cannot be opened or decoded at all, when no frame comes of a
/// decoding of the whole clip, and when the picture changes its size.
pub(in crate::video) fn frames(
    clip: &Clip,
    options: &DecodeOptions,
    mut receive: impl FnMut(&DecodedFrame) -> ControlFlow<()>,
) -> Result<DecodeSummary, ClipError> {
    let table = clip.packets()?;
    let container = start(clip, table, options)?;
    let decoder = open_decoder(clip, &container, options.threads)?;
    let delivery = Delivery::new(clip, table, options.range);
    // Handed from hand to hand: a frame is decoded while the one before is looked at, and
    // none waits in between, for the memory.
    let (hand_on, shown) = sync_channel::<DecodedFrame>(0);
    std::thread::scope(|scope| {
        let decoding = std::thread::Builder::new()
            .name("decoder".to_owned())
            .spawn_scoped(scope, move || {
                decode(clip, container, decoder, delivery, |frame| {
                    // Nobody waits for more.
                    hand_on
                        .send(frame)
                        .map_or_else(|_| ControlFlow::Break(()), |()| ControlFlow::Continue(()))
                })
            })
            .map_err(|_| ClipError::NoMemory)?;
        let mut summary = DecodeSummary::default();
        for frame in shown {
            summary.count(frame.stamp);
            summary.errors = frame.errors;
            if receive(&frame).is_break() {
                summary.stopped = true;
                break;
            }
        }
        let whole = decoding
            .join()
            .unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        if summary.stopped { Ok(summary) } else { whole }
    })
}

/// Decodes all that is wanted and hands it to `receive`.
fn decode(
    clip: &Clip,
    mut container: Container,
    mut decoder: ff::decoder::Video,
    mut delivery: Delivery,
    mut receive: impl FnMut(DecodedFrame) -> ControlFlow<()>,
) -> Result<DecodeSummary, ClipError> {
    let mut reader = PacketReader::new(&mut container);
    let mut going = true;
    while going {
        let Some(packet) = reader.next_packet() else {
            break;
        };
        delivery.faults = reader.faults;
        delivery.note(decoder.send_packet(&packet))?;
        going = delivery.collect(&mut decoder, &mut receive)?;
    }
    if reader.starved {
        return Err(ClipError::NoMemory);
    }
    delivery.faults = reader.faults;
    if going {
        // The decoder holds back frames until it is told that no more come.
        delivery.note(decoder.send_eof())?;
        delivery.collect(&mut decoder, &mut receive)?;
    }
    if delivery.faults == 0 {
        clip.give_back(container);
    }
    delivery.finish()
}

/// Goes to where decoding has to begin.
fn start(
    clip: &Clip,
    table: &PacketTable,
    options: &DecodeOptions,
) -> Result<Container, ClipError> {
    let key = options.range.and_then(|(from, _)| table.key_before(from));
    let key = key.filter(|&key| table.packets().first() != Some(key));
    let Some(key) = key.filter(|_| !table.keeps_decoding_times_only()) else {
        return clip.at_its_beginning();
    };
    let mut container = clip.anywhere()?;
    // Some containers seek by the time of showing, some by that of decoding.
    for target in [key.pts, key.dts].into_iter().flatten() {
        if container.go_to(target).is_err() {
            continue;
        }
        let landed = PacketReader::new(&mut container)
            .next_packet()
            .map(|packet| (packet.dts(), packet.pts()));
        let in_time = landed.is_some_and(|(dts, pts)| match (dts, key.dts) {
            (Some(dts), Some(wanted)) => dts <= wanted,
            _ => pts.is_some() && pts <= key.pts,
        });
        if in_time && container.go_to(target).is_ok() {
            return Ok(container);
        }
    }
    // An index that leads astray: decode from the beginning instead.
    clip.at_its_beginning()
}

/// Opens the decoder with one frame per thread.
pub(super) fn open_decoder(
    clip: &Clip,
    container: &Container,
    threads: usize,
) -> Result<ff::decoder::Video, ClipError> {
    let undecodable = |error: ff::Error| match error {
        ff::Error::DecoderNotFound => ClipError::NoDecoder(clip.facts().codec.clone()),
        error => ClipError::Undecodable {
            codec: clip.facts().codec.clone(),
            reason: error.to_string(),
        },
    };
    let picture = container.input.stream(container.stream);
    let parameters = picture.ok_or(ClipError::NoVideoStream)?.parameters();
    let mut context = ff::codec::Context::from_parameters(parameters).map_err(undecodable)?;
    let mut threading = ff::threading::Config::kind(ff::threading::Type::Frame);
    threading.count = match threads {
        // Left to itself the library starts one more than there are cores.
        0 => std::thread::available_parallelism().map_or(1, NonZero::get),
        count => count,
    }
    .min(64);
    context.set_threading(threading);
    // A damaged frame that is marked keeps its place; one left out does not.
    context.set_flags(ff::codec::Flags::OUTPUT_CORRUPT);
    context.decoder().video().map_err(undecodable)
}

#[cfg(test)]
#[path = "strip_tests.rs"]
mod strip_tests;
