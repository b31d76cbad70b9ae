//! Numbering frames, handing them out, and keeping the count.

use std::ops::ControlFlow;
use std::sync::Arc;

use ffmpeg_next as ff;

use super::{DecodeSummary, DecodedFrame, FrameStamp};
use crate::units::FrameIndex;
use crate::video::clip::Clip;
use crate::video::fault::ClipError;
use crate::video::ffmpeg::{self, Layout};
use crate::video::packets::PacketTable;

/// Errors in a row, without a frame between, after which a decoder that is
/// being emptied is left alone.
const MAX_DRAIN_ERRORS: u32 = 1024;

/// Numbers the frames, hands them out and keeps the count.
pub(in crate::video) struct Delivery<'a> {
    clip: &'a Clip,
    table: &'a PacketTable,
    /// First and last tick wanted.
    range: Option<(i64, i64)>,
    frame: ff::frame::Video,
    layout: Option<(i32, Arc<Layout>)>,
    /// Frames have no times of their own, so the table's are dealt out in turn.
    by_count: bool,
    next_index: usize,
    last_ticks: Option<i64>,
    interlaced: usize,
    /// Errors that the reader of the container has met.
    pub faults: u64,
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
            faults: 0,
            summary: DecodeSummary::default(),
        }
    }

    /// Counts what went wrong in the decoder. Want of memory is no fault of the clip's
    /// bytes, and ends the decoding.
    pub(super) fn note(&mut self, done: Result<(), ff::Error>) -> Result<(), ClipError> {
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
        receive: &mut impl FnMut(DecodedFrame) -> ControlFlow<()>,
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
        receive: &mut impl FnMut(DecodedFrame) -> ControlFlow<()>,
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
            self.layout = Some((number, Arc::new(layout)));
        }
        let Some((_, layout)) = &self.layout else {
            return Err(ClipError::NoFrames);
        };
        self.interlaced += usize::from(self.frame.is_interlaced());
        self.last_ticks = Some(stamp.ticks);
        self.summary.count(stamp);
        let flow = receive(DecodedFrame {
            stamp,
            frame: std::mem::replace(&mut self.frame, ff::frame::Video::empty()),
            layout: Arc::clone(layout),
            orientation: self.clip.orientation(),
            errors: self.summary.errors + self.faults,
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
    pub(super) fn finish(mut self) -> Result<DecodeSummary, ClipError> {
        self.summary.errors += self.faults;
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
