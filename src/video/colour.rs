//! Small colour pictures for people: frames as RGB, upright.
//!
//! Nothing is measured here. Every other stage reads luma codes as they are.

use std::ops::Range;

use ffmpeg_next as ff;
use image::RgbImage;

use super::fault::ClipError;
use super::ffmpeg::{self, Component, Layout, Plane};
use super::orient::Orientation;
use super::plane::{Samples, UprightRect};

/// Weights of red and blue in luma (ISO/IEC 23091-2, table 4, by code).
fn luma_weights(matrix: i32, height: usize) -> (f32, f32) {
    match matrix {
        1 => (0.2126, 0.0722),
        4 => (0.30, 0.11),
        5 | 6 => (0.299, 0.114),
        7 => (0.212, 0.087),
        9 | 10 => (0.2627, 0.0593),
        // Nothing said: high definition is taken as BT.709, as players do.
        _ if height > 576 => (0.2126, 0.0722),
        _ => (0.299, 0.114),
    }
}

/// One component's plane, with what is needed to read it at stored (x, y).
struct Channel<'a> {
    plane: Plane<'a>,
    samples: Samples,
    component: Component,
    halvings: (u32, u32),
}

impl<'a> Channel<'a> {
    fn of(
        frame: &'a ff::frame::Video,
        layout: &Layout,
        component: Component,
        halvings: (u32, u32),
    ) -> Option<Self> {
        let shrink = |side: u32, by: u32| (side as usize).div_ceil(1 << by);
        let (w, h) = (
            shrink(frame.width(), halvings.0),
            shrink(frame.height(), halvings.1),
        );
        let sample_bytes = if component.depth <= 8 { 1 } else { 2 };
        let row_bytes = (w - 1) * component.step + component.offset + sample_bytes;
        Some(Self {
            plane: ffmpeg::plane(frame, component.plane, h, row_bytes)?,
            samples: Samples::of(layout, component.shift, component.depth),
            component,
            halvings,
        })
    }

    /// The plane made smaller: `w` by `h` means over squares of `factor` luma pixels,
    /// the first of them with its corner at stored luma (x, y).
    ///
    /// Rows are summed as they lie, which for 4K takes a twentieth of the time of asking
    /// for each sample.
    fn shrunk(&self, (x, y): (usize, usize), (w, h): (usize, usize), factor: usize) -> Vec<f32> {
        let across: Vec<Range<usize>> = (0..w)
            .map(|k| span(x + k * factor, factor, self.halvings.0))
            .collect();
        let first = across.first().map_or(0, |columns| columns.start);
        let end = across.last().map_or(0, |columns| columns.end);
        let mut sums = vec![0_u32; end - first];
        let mut small = Vec::with_capacity(w * h);
        for k in 0..h {
            let rows = span(y + k * factor, factor, self.halvings.1);
            sums.fill(0);
            for row in rows.clone() {
                self.add_row(row, first, &mut sums);
            }
            small.extend(across.iter().map(|columns| {
                let sums = &sums[columns.start - first..columns.end - first];
                let sum: u64 = sums.iter().copied().map(u64::from).sum();
                sum as f32 / (rows.len() * columns.len()) as f32
            }));
        }
        small
    }

    /// Adds the samples of a row of the plane, from a column on, to the sums.
    fn add_row(&self, row: usize, first: usize, sums: &mut [u32]) {
        let Component { step, offset, .. } = self.component;
        let start = row * self.plane.stride + first * step + offset;
        let side_by_side = self.plane.bytes.get(start..start + sums.len());
        match (self.samples, side_by_side) {
            (Samples::Bytes, Some(bytes)) if step == 1 => {
                for (sum, byte) in sums.iter_mut().zip(bytes) {
                    *sum += u32::from(*byte);
                }
            }
            _ => {
                for (k, sum) in sums.iter_mut().enumerate() {
                    *sum += u32::from(self.samples.get(self.plane.bytes, start + k * step));
                }
            }
        }
    }
}

/// Samples of a plane that `length` luma pixels from `start` on share.
fn span(start: usize, length: usize, halvings: u32) -> Range<usize> {
    (start >> halvings)..((start + length - 1) >> halvings) + 1
}

/// Turns luma and chroma codes into RGB bytes.
struct Converter {
    weights: (f32, f32),
    luma_zero: f32,
    luma_span: f32,
    chroma_zero: f32,
    chroma_span: f32,
    transfer: i32,
}

impl Converter {
    /// Code ranges by ISO/IEC 23091-2: 16 to 235 and 16 to 240 at eight bits in
    /// limited range, everything in full range.
    fn new(matrix: i32, full_range: bool, transfer: i32, depth: u32, height: usize) -> Self {
        let unit = 2_f32.powi(depth as i32 - 8);
        let top = 2_f32.powi(depth as i32) - 1.0;
        Self {
            weights: luma_weights(matrix, height),
            luma_zero: if full_range { 0.0 } else { 16.0 * unit },
            luma_span: if full_range { top } else { 219.0 * unit },
            chroma_zero: 128.0 * unit,
            chroma_span: if full_range { top } else { 224.0 * unit },
            transfer,
        }
    }

    fn rgb(&self, luma: f32, chroma: Option<(f32, f32)>) -> [u8; 3] {
        let (kr, kb) = self.weights;
        let y = (luma - self.luma_zero) / self.luma_span;
        let (cb, cr) = chroma.map_or((0.0, 0.0), |(cb, cr)| {
            (
                (cb - self.chroma_zero) / self.chroma_span,
                (cr - self.chroma_zero) / self.chroma_span,
            )
        });
        let r = y + 2.0 * (1.0 - kr) * cr;
        let b = y + 2.0 * (1.0 - kb) * cb;
        let g = (y - kr * r - kb * b) / (1.0 - kr - kb);
        [r, g, b].map(|value| (self.tone(value.clamp(0.0, 1.0)) * 255.0).round() as u8)
    }

    /// High dynamic range brought to a plain screen, roughly: a picture to
    /// recognise a foot on, no colour-managed one.
    fn tone(&self, value: f32) -> f32 {
        match self.transfer {
            // PQ codes put paper white near 0.58 of the range.
            16 => (value / 0.62).min(1.0).powf(1.35),
            // HLG is meant to look right undecoded; its white lies at 0.75.
            18 => (value / 0.85).min(1.0),
            _ => value,
        }
    }
}

/// The upright frame as RGB, made smaller by a whole factor until its longer
/// side is at most `max_side`.
pub(super) fn upright_rgb(
    frame: &ff::frame::Video,
    layout: &Layout,
    orientation: Orientation,
    max_side: u32,
) -> Result<RgbImage, ClipError> {
    let whole = UprightRect::whole(orientation.upright_size((frame.width(), frame.height())));
    upright_part(frame, layout, orientation, whole, max_side)
}

/// A rectangle of the upright frame as RGB, as much of it as lies inside, made smaller
/// as a whole frame is.
pub(super) fn upright_part(
    frame: &ff::frame::Video,
    layout: &Layout,
    orientation: Orientation,
    part: UprightRect,
    max_side: u32,
) -> Result<RgbImage, ClipError> {
    let unsupported = || ClipError::UnsupportedPixels(layout.name.clone());
    let mut channels = Vec::with_capacity(3);
    for (i, &component) in layout.components.iter().enumerate() {
        let halvings = if i == 0 {
            (0, 0)
        } else {
            layout.chroma_halvings
        };
        channels.push(Channel::of(frame, layout, component, halvings).ok_or_else(unsupported)?);
    }
    let luma = channels.first().filter(|_| layout.plain_luma);
    let luma = luma.ok_or_else(unsupported)?;
    let (matrix, range, transfer) = ffmpeg::colour_codes(frame);
    let stored = (frame.width() as usize, frame.height() as usize);
    let converter = Converter::new(
        matrix,
        range == 2 || layout.name.starts_with("yuvj"),
        transfer,
        luma.component.depth,
        stored.1.min(stored.0),
    );
    let (width, height) = orientation.upright_size((frame.width(), frame.height()));
    let (left, top) = (part.x.min(width - 1), part.y.min(height - 1));
    let (w, h) = (part.w.clamp(1, width - left), part.h.clamp(1, height - top));
    let factor = w.max(h).div_ceil(max_side.max(1)).min(w.min(h)).max(1);
    let small = (w / factor, h / factor);
    // Where the squares lie as stored, whichever way the picture is turned.
    let at = |x: u32, y: u32| orientation.stored((x as usize, y as usize), stored);
    let (a, b) = (
        at(left, top),
        at(left + small.0 * factor - 1, top + small.1 * factor - 1),
    );
    let corner = (a.0.min(b.0), a.1.min(b.1));
    let factor = factor as usize;
    let side = |from: usize, to: usize| (from.abs_diff(to) + 1) / factor;
    let as_stored = (side(a.0, b.0), side(a.1, b.1));
    let planes: Vec<Vec<f32>> = channels
        .iter()
        .map(|channel| channel.shrunk(corner, as_stored, factor))
        .collect();
    let picture = RgbImage::from_fn(small.0, small.1, |x, y| {
        let (sx, sy) = orientation.stored((x as usize, y as usize), as_stored);
        let at = sy * as_stored.0 + sx;
        let chroma = match &planes[1..] {
            [cb, cr] => Some((cb[at], cr[at])),
            _ => None,
        };
        image::Rgb(converter.rgb(planes[0][at], chroma))
    });
    Ok(picture)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// BT.709 at eight bits: codes of the 100 % colour bars, ITU-R BT.709-6
    /// item 3 equations, computed by hand for red: Y 63, Cb 102, Cr 240.
    #[test]
    fn bars_come_back_as_their_colours() {
        let convert = Converter::new(1, false, 1, 8, 720);
        for (code, colour) in [
            ((16.0, 128.0, 128.0), [0, 0, 0]),
            ((235.0, 128.0, 128.0), [255, 255, 255]),
            ((63.0, 102.0, 240.0), [255, 0, 0]),
            ((173.0, 42.0, 26.0), [0, 255, 0]),
            ((32.0, 240.0, 118.0), [0, 0, 255]),
        ] {
            let seen = convert.rgb(code.0, Some((code.1, code.2)));
            for (seen, wanted) in seen.iter().zip(colour) {
                assert!(seen.abs_diff(wanted) <= 2, "{code:?} gave {seen}");
            }
        }
    }

    #[test]
    fn ten_bits_and_full_range_use_their_own_ends() {
        let ten = Converter::new(9, false, 18, 10, 720);
        assert_eq!(ten.rgb(64.0, Some((512.0, 512.0))), [0, 0, 0]);
        assert_eq!(ten.rgb(940.0, None), [255, 255, 255]);
        let full = Converter::new(5, true, 6, 8, 480);
        assert_eq!(full.rgb(0.0, None), [0, 0, 0]);
        assert_eq!(full.rgb(127.5, None), [128, 128, 128]);
    }

    /// Each mean against the samples asked for one by one.
    #[test]
    fn smaller_planes_hold_the_means_of_their_squares() {
        let bytes: Vec<u8> = (0..40_u32 * 24).map(|k| (k * k % 251) as u8).collect();
        let component = |step, offset, depth| Component {
            plane: 0,
            step,
            offset,
            shift: 0,
            depth,
        };
        let words = Samples::Words {
            big_endian: false,
            shift: 0,
        };
        for (samples, component, halvings) in [
            (Samples::Bytes, component(1, 0, 8), (0, 0)),
            (Samples::Bytes, component(1, 0, 8), (1, 1)),
            // Red and blue by turns in one plane.
            (Samples::Bytes, component(2, 1, 8), (1, 1)),
            (words, component(2, 0, 10), (1, 0)),
        ] {
            let channel = Channel {
                plane: Plane {
                    bytes: &bytes,
                    stride: 40,
                },
                samples,
                component,
                halvings,
            };
            let (corner, size, factor) = ((3, 2), (4, 3), 3);
            let small = channel.shrunk(corner, size, factor);
            for (k, mean) in small.iter().enumerate() {
                let (x, y) = (corner.0 + k % 4 * factor, corner.1 + k / 4 * factor);
                let (columns, rows) = (span(x, factor, halvings.0), span(y, factor, halvings.1));
                let one = |x: usize, y: usize| {
                    let at = y * 40 + x * component.step + component.offset;
                    f32::from(samples.get(&bytes, at))
                };
                let all: Vec<f32> = rows
                    .flat_map(|y| columns.clone().map(move |x| (x, y)))
                    .map(|(x, y)| one(x, y))
                    .collect();
                let wanted = all.iter().sum::<f32>() / all.len() as f32;
                assert!((mean - wanted).abs() < 0.01, "{k}: {mean} for {wanted}");
            }
        }
    }
}
