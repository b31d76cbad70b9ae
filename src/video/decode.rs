//! Frames in capture order.

use std::num::NonZero;
use std::ops::ControlFlow;

use ffmpeg_next as ff;

use super::clip::Clip;
use super::colour;
use super::container::Container;
use super::fault::ClipError;
use super::ffmpeg::{self, Layout};
use super::orient::Orientation;
use super::packets::{PacketReader, PacketTable};
use super::plane::{LumaPlane, Strip, UprightRect};
use crate::units::FrameIndex;

/// Errors in a row, without a frame between, after which a decoder that is
/// being emptied is left alone.
const MAX_DRAIN_ERRORS: u32 = 1024;

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

/// One decoded frame, for as long as the receiver looks at it.
pub(in crate::video) struct DecodedFrame<'a> {
    /// When it was taken.
    pub stamp: FrameStamp,
    pub(super) frame: &'a ff::frame::Video,
    pub(super) layout: &'a Layout,
    pub(super) orientation: Orientation,
}

#[allow(dead_code)] // Strips and pictures are read by stages that follow.
impl DecodedFrame<'_> {
    /// Copies the luma of a rectangle of the upright picture.
    pub fn read_strip(&self, rect: UprightRect, strip: &mut Strip) -> Result<(), ClipError> {
        LumaPlane::of(self.frame, self.layout, self.orientation)?.read(rect, strip)
    }

    /// At most 4096 luma samples from an even grid over the whole picture.
    pub fn sparse_luma(&self) -> Result<Vec<u16>, ClipError> {
        Ok(LumaPlane::of(self.frame, self.layout, self.orientation)?.sparse(SPARSE_SIDE))
    }

    /// The upright frame in colour, for people to look at, made smaller by a
    /// whole factor until its longer side is at most `max_side` pixels.
    pub fn read_upright_rgb(&self, max_side: u32) -> Result<image::RgbImage, ClipError> {
        colour::upright_rgb(self.frame, self.layout, self.orientation, max_side)
    }

    /// Part of the upright frame in colour, made smaller likewise.
    pub fn read_part_rgb(
        &self,
        part: UprightRect,
        max_side: u32,
    ) -> Result<image::RgbImage, ClipError> {
        colour::upright_part(self.frame, self.layout, self.orientation, part, max_side)
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
/// Damaged places are stepped over and counted. Memory does not grow with the
/// clip beyond its packet table.
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
    let mut container = start(clip, table, options)?;
    let mut decoder = open_decoder(clip, &container, options.threads)?;
    let mut delivery = Delivery::new(clip, table, options.range);
    let mut reader = PacketReader::new(&mut container);
    let mut going = true;
    while going {
        let Some(packet) = reader.next_packet() else {
            break;
        };
        delivery.note(decoder.send_packet(&packet))?;
        going = delivery.collect(&mut decoder, &mut receive)?;
    }
    if reader.starved {
        return Err(ClipError::NoMemory);
    }
    let faults = reader.faults;
    delivery.summary.errors += faults;
    if going {
        // The decoder holds back frames until it is told that no more come.
        delivery.note(decoder.send_eof())?;
        delivery.collect(&mut decoder, &mut receive)?;
    }
    if faults == 0 {
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

/// Numbers the frames, hands them out and keeps the count.
pub(super) struct Delivery<'a> {
    clip: &'a Clip,
    table: &'a PacketTable,
    /// First and last tick wanted.
    range: Option<(i64, i64)>,
    frame: ff::frame::Video,
    layout: Option<(i32, Layout)>,
    /// Frames have no times of their own, so the table's are dealt out in turn.
    by_count: bool,
    next_index: usize,
    last_ticks: Option<i64>,
    interlaced: usize,
    pub summary: DecodeSummary,
}

impl<'a> Delivery<'a> {
    pub fn new(clip: &'a Clip, table: &'a PacketTable, range: Option<(i64, i64)>) -> Self {
        Self {
            clip,
            table,
            range,
            frame: ff::frame::Video::empty(),
            layout: None,
            by_count: table.keeps_decoding_times_only(),
            next_index: 0,
            last_ticks: None,
            interlaced: 0,
            summary: DecodeSummary::default(),
        }
    }

    /// Counts what went wrong in the decoder. Want of memory is no fault of the clip's
    /// bytes, and ends the decoding.
    fn note(&mut self, done: Result<(), ff::Error>) -> Result<(), ClipError> {
        match done {
            Ok(()) => {}
            Err(error) if error == ffmpeg::NO_MEMORY => return Err(ClipError::NoMemory),
            // Some decoders do not say why they got no room for a picture.
            Err(_) if !self.has_room() => return Err(ClipError::NoMemory),
            Err(_) => self.summary.errors += 1,
        }
        Ok(())
    }

    /// Whether there is memory for two pictures more; it is only asked for, not used.
    fn has_room(&self) -> bool {
        let (w, h) = self.clip.facts().stored_size;
        let bytes = (w as usize).saturating_mul(h as usize).saturating_mul(4);
        let mut room = Vec::<u8>::new();
        let got = room.try_reserve_exact(bytes).is_ok();
        // Else the compiler may leave out what nobody looks at.
        std::hint::black_box(room);
        got
    }

    /// Takes all frames that are ready; `false` when no more are wanted.
    pub fn collect(
        &mut self,
        decoder: &mut ff::decoder::Video,
        receive: &mut impl FnMut(&DecodedFrame) -> ControlFlow<()>,
    ) -> Result<bool, ClipError> {
        let mut errors_in_a_row = 0;
        loop {
            match decoder.receive_frame(&mut self.frame) {
                Ok(()) => {
                    errors_in_a_row = 0;
                    if self.hand_out(receive)?.is_break() {
                        return Ok(false);
                    }
                }
                Err(ff::Error::Eof) => return Ok(true),
                Err(ff::Error::Other {
                    errno: ff::error::EAGAIN,
                }) => return Ok(true),
                error => {
                    self.note(error)?;
                    errors_in_a_row += 1;
                    if errors_in_a_row > MAX_DRAIN_ERRORS {
                        return Ok(true);
                    }
                }
            }
        }
    }

    /// Numbers the frame just received and shows it to the receiver.
    fn hand_out(
        &mut self,
        receive: &mut impl FnMut(&DecodedFrame) -> ControlFlow<()>,
    ) -> Result<ControlFlow<()>, ClipError> {
        let Some(stamp) = self.stamp() else {
            self.summary.errors += 1;
            return Ok(ControlFlow::Continue(()));
        };
        self.next_index = stamp.index.0 + 1;
        if let Some((from, to)) = self.range {
            if stamp.ticks < from {
                return Ok(ControlFlow::Continue(()));
            }
            if stamp.ticks > to {
                return Ok(ControlFlow::Break(()));
            }
        }
        self.check_size(stamp.index)?;
        let number = ffmpeg::pixel_format(&self.frame);
        if self
            .layout
            .as_ref()
            .is_none_or(|(known, _)| *known != number)
        {
            let layout = ffmpeg::layout(number).ok_or(ClipError::NoFrames)?;
            self.layout = Some((number, layout));
        }
        let Some((_, layout)) = &self.layout else {
            return Err(ClipError::NoFrames);
        };
        self.summary.frames += 1;
        self.interlaced += usize::from(self.frame.is_interlaced());
        self.last_ticks = Some(stamp.ticks);
        if stamp.corrupt {
            self.summary.corrupt.push(stamp.index);
        }
        let flow = receive(&DecodedFrame {
            stamp,
            frame: &self.frame,
            layout,
            orientation: self.clip.orientation(),
        });
        self.summary.stopped |= flow.is_break();
        Ok(flow)
    }

    /// Time and place of the frame just received; none without a time stamp,
    /// for a frame whose moment is unknown bounds nothing.
    ///
    /// The place comes from the packet table, so that it is the same whether
    /// decoding began here or at the beginning, and whatever was lost before.
    fn stamp(&self) -> Option<FrameStamp> {
        let ticks = if self.by_count {
            self.table.presented().get(self.next_index).copied()?
        } else {
            self.frame.timestamp()?
        };
        let place = self.table.position(ticks).unwrap_or(0);
        Some(FrameStamp {
            index: FrameIndex(place.max(self.next_index)),
            ticks,
            corrupt: ffmpeg::is_damaged(&self.frame),
        })
    }

    fn check_size(&self, frame: FrameIndex) -> Result<(), ClipError> {
        let from = self.clip.facts().stored_size;
        let to = (self.frame.width(), self.frame.height());
        if from == to {
            return Ok(());
        }
        Err(ClipError::SizeChanges { frame, from, to })
    }

    /// Compares what came with what was listed and claimed.
    fn finish(mut self) -> Result<DecodeSummary, ClipError> {
        if self.summary.stopped {
            return Ok(self.summary);
        }
        let listed = self.table.presented();
        let wanted = match self.range {
            None => listed.len(),
            Some((from, to)) => listed
                .iter()
                .filter(|&&ticks| (from..=to).contains(&ticks))
                .count(),
        };
        // Two fields may come in two packets: then the list says nothing.
        if 2 * self.interlaced <= self.summary.frames {
            self.summary.missing = wanted.saturating_sub(self.summary.frames) as u64;
        }
        if self.range.is_some() {
            return Ok(self.summary);
        }
        if self.summary.frames == 0 {
            return Err(ClipError::NoFrames);
        }
        let facts = self.clip.facts();
        let read = self.table.packets().len() as u64;
        let beyond = facts.frames_claimed.map_or(0, |n| n.saturating_sub(read));
        self.summary.missing = self.summary.missing.saturating_add(beyond);
        self.summary.ends_early_s = ends_early_s(self.clip, self.table, self.last_ticks);
        Ok(self.summary)
    }
}

/// Seconds by which the last frame ends before the claimed length, beyond what
/// rounding and one or two lost frames explain.
///
/// Some containers count their length from the first frame and some from zero,
/// so the later end of the two is believed.
fn ends_early_s(clip: &Clip, table: &PacketTable, last_ticks: Option<i64>) -> Option<f64> {
    let facts = clip.facts();
    let claimed_s = facts.duration_s?;
    let listed = table.presented();
    let (first, last) = (*listed.first()?, last_ticks?);
    let shown_s = last.saturating_sub(first) as f64 * facts.tick_s();
    let frame_s = shown_s / listed.len().saturating_sub(1).max(1) as f64;
    let end_s = shown_s.max(last as f64 * facts.tick_s()) + frame_s;
    let short_s = claimed_s - end_s;
    (short_s > 0.1 + 3.0 * frame_s).then_some(short_s)
}

#[cfg(test)]
#[path = "strip_tests.rs"]
mod strip_tests;
