//! Small colour pictures for people: frames as RGB, upright.
//!
//! Nothing is measured here. Every other stage reads luma codes as they are.

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

    fn at(&self, x: usize, y: usize) -> f32 {
        let (x, y) = (x >> self.halvings.0, y >> self.halvings.1);
        let at = y * self.plane.stride + x * self.component.step + self.component.offset;
        f32::from(self.samples.get(self.plane.bytes, at))
    }
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
    let picture = RgbImage::from_fn(w / factor, h / factor, |x, y| {
        let mut sums = [0.0; 3];
        for dy in 0..factor {
            for dx in 0..factor {
                let upright = (
                    (left + x * factor + dx) as usize,
                    (top + y * factor + dy) as usize,
                );
                let (sx, sy) = orientation.stored(upright, stored);
                for (sum, channel) in sums.iter_mut().zip(&channels) {
                    *sum += channel.at(sx, sy);
                }
            }
        }
        let [luma, cb, cr] = sums.map(|sum| sum / (factor * factor) as f32);
        image::Rgb(converter.rgb(luma, (channels.len() == 3).then_some((cb, cr))))
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
}
