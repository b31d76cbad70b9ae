//! Luma of a part of the upright picture, straight from the decoder's plane.

use ffmpeg_next as ff;

use super::fault::ClipError;
use super::ffmpeg::{self, Layout, Plane};
use super::orient::Orientation;

/// A rectangle in pixels of the upright picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::video) struct UprightRect {
    pub x: u32,
    pub y: u32,
    pub w: u32,
    pub h: u32,
}

impl UprightRect {
    /// The whole of a picture.
    pub fn whole((w, h): (u32, u32)) -> Self {
        Self { x: 0, y: 0, w, h }
    }

    /// Whether it has pixels, all of them inside a picture of this size.
    fn lies_in(&self, (w, h): (u32, u32)) -> bool {
        let fits = |start: u32, length: u32, side: u32| {
            length > 0 && start.checked_add(length).is_some_and(|end| end <= side)
        };
        fits(self.x, self.w, w) && fits(self.y, self.h, h)
    }
}

/// Luma code values of a rectangle, upright, row by row.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::video) struct Strip {
    pub w: u32,
    pub h: u32,
    /// Bits per sample: the code values end below 2 to this power.
    pub depth_bits: u32,
    /// `w * h` code values as coded, not stretched to full range.
    pub luma: Vec<u16>,
}

/// How samples are read from the bytes of a plane.
#[derive(Clone, Copy, Debug)]
pub(super) enum Samples {
    Bytes,
    Words { big_endian: bool, shift: u32 },
}

impl Samples {
    pub fn of(layout: &Layout, shift: u32, depth: u32) -> Self {
        if depth <= 8 {
            Self::Bytes
        } else {
            Self::Words {
                big_endian: layout.big_endian,
                shift,
            }
        }
    }

    /// The sample that begins at byte `at`; 0 past the end.
    #[inline]
    pub fn get(self, bytes: &[u8], at: usize) -> u16 {
        match self {
            Self::Bytes => bytes.get(at).map_or(0, |&byte| u16::from(byte)),
            Self::Words { big_endian, shift } => {
                let Some(&[first, second]) = bytes.get(at..at + 2) else {
                    return 0;
                };
                let word = if big_endian {
                    u16::from_be_bytes([first, second])
                } else {
                    u16::from_le_bytes([first, second])
                };
                word >> shift
            }
        }
    }
}

/// The luma plane of one frame and the way it is turned.
#[derive(Clone, Copy, Debug)]
pub(super) struct LumaPlane<'a> {
    plane: Plane<'a>,
    samples: Samples,
    step: usize,
    depth_bits: u32,
    stored: (usize, usize),
    orientation: Orientation,
}

impl<'a> LumaPlane<'a> {
    /// The luma plane of a decoded frame.
    pub fn of(
        frame: &'a ff::frame::Video,
        layout: &Layout,
        orientation: Orientation,
    ) -> Result<Self, ClipError> {
        let unsupported = || ClipError::UnsupportedPixels(layout.name.clone());
        let luma = layout.components.first().filter(|_| layout.plain_luma);
        let luma = luma.ok_or_else(unsupported)?;
        let stored = (frame.width() as usize, frame.height() as usize);
        let plane = ffmpeg::plane(frame, 0, stored.1, stored.0.saturating_mul(luma.step))
            .ok_or_else(unsupported)?;
        Ok(Self {
            plane,
            samples: Samples::of(layout, luma.shift, luma.depth),
            step: luma.step,
            depth_bits: luma.depth,
            stored,
            orientation,
        })
    }

    /// Copies `rect` into `strip`, whose memory is used again.
    pub fn read(&self, rect: UprightRect, strip: &mut Strip) -> Result<(), ClipError> {
        let size = self
            .orientation
            .upright_size((self.stored.0 as u32, self.stored.1 as u32));
        if !rect.lies_in(size) {
            return Err(ClipError::OutsidePicture(size));
        }
        strip.w = rect.w;
        strip.h = rect.h;
        strip.depth_bits = self.depth_bits;
        strip.luma.clear();
        strip.luma.reserve(rect.w as usize * rect.h as usize);
        for y in rect.y..rect.y + rect.h {
            self.append_row(rect.x as usize, y as usize, rect.w as usize, strip);
        }
        Ok(())
    }

    /// Appends `count` samples of upright row `y` from column `x` on.
    fn append_row(&self, x: usize, y: usize, count: usize, strip: &mut Strip) {
        let start = self.byte_of(x, y);
        let bytes = self.plane.bytes;
        if !self.orientation.swapped && !self.orientation.x_reversed {
            let row = bytes.get(start..start + count * self.step).unwrap_or(&[]);
            match self.samples {
                Samples::Bytes => strip.luma.extend(row.iter().map(|&byte| u16::from(byte))),
                samples => {
                    let (words, _) = row.as_chunks::<2>();
                    strip
                        .luma
                        .extend(words.iter().map(|word| samples.get(word, 0)));
                }
            }
            return;
        }
        let stride = if self.orientation.swapped {
            self.plane.stride
        } else {
            self.step
        };
        let backwards = self.orientation.x_reversed;
        strip.luma.extend((0..count).map(|i| {
            let at = if backwards {
                start.wrapping_sub(i * stride)
            } else {
                start + i * stride
            };
            self.samples.get(bytes, at)
        }));
    }

    /// First byte of the sample that shows at upright (x, y).
    fn byte_of(&self, x: usize, y: usize) -> usize {
        let (stored_x, stored_y) = self.orientation.stored((x, y), self.stored);
        stored_y * self.plane.stride + stored_x * self.step
    }

    /// At most `side * side` samples on an even grid over the whole picture,
    /// as stored: enough to tell whether two frames are the same.
    pub fn sparse(&self, side: usize) -> Vec<u16> {
        let (w, h) = self.stored;
        let (columns, rows) = (side.min(w), side.min(h));
        let mut samples = Vec::with_capacity(columns * rows);
        for row in 0..rows {
            let y = (2 * row + 1) * h / (2 * rows);
            for column in 0..columns {
                let x = (2 * column + 1) * w / (2 * columns);
                let at = y * self.plane.stride + x * self.step;
                samples.push(self.samples.get(self.plane.bytes, at));
            }
        }
        samples
    }
}
