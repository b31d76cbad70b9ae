//! Lettering and boxes on an RGB picture, clipped at its edges.

use ab_glyph::FontRef;
use image::{GrayImage, Luma, Rgb, RgbImage};
use imageproc::drawing::{draw_text_mut, text_size};

use super::StillError;

/// Near black: lettering on white, outlines round bright marks.
pub(super) const INK: Rgb<u8> = Rgb([24, 26, 31]);
/// White: the page, and lettering on dark plates.
pub(super) const PAPER: Rgb<u8> = Rgb([255, 255, 255]);
/// Secondary lettering and thin frames.
pub(super) const QUIET: Rgb<u8> = Rgb([112, 117, 126]);
/// The floor patch: bright enough to stand out in greyscale too.
pub(super) const PATCH: Rgb<u8> = Rgb([255, 224, 64]);
/// Frames with the feet on the floor: dark, so it differs from [`AIR`] in greyscale.
pub(super) const CONTACT: Rgb<u8> = Rgb([22, 62, 138]);
/// Frames with the feet in the air.
pub(super) const AIR: Rgb<u8> = Rgb([238, 150, 20]);

/// A box that may reach beyond the picture; what lies outside is not drawn.
#[derive(Clone, Copy, Debug)]
pub(super) struct Area {
    pub x: i64,
    pub y: i64,
    pub w: i64,
    pub h: i64,
}

impl Area {
    /// The same box grown by `by` pixels on every side.
    pub fn grown(self, by: i64) -> Self {
        Self {
            x: self.x - by,
            y: self.y - by,
            w: self.w + 2 * by,
            h: self.h + 2 * by,
        }
    }
}

/// Which way lettering runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Run {
    /// Left to right.
    Across,
    /// Bottom to top, for the upright edges.
    Up,
}

/// How the border of a box is filled.
#[derive(Clone, Copy, Debug)]
pub(super) enum Fill {
    /// One colour.
    Plain(Rgb<u8>),
    /// Slanting stripes of two colours, each `width` pixels across.
    Striped(Rgb<u8>, Rgb<u8>, i64),
    /// Straight dashes of two colours, each `length` pixels long.
    Dashed(Rgb<u8>, Rgb<u8>, i64),
}

impl Fill {
    fn at(self, x: i64, y: i64, along: i64) -> Rgb<u8> {
        let (a, b, stripe) = match self {
            Fill::Plain(colour) => return colour,
            Fill::Striped(a, b, width) => (a, b, (x + y).div_euclid(width.max(1))),
            Fill::Dashed(a, b, length) => (a, b, along.div_euclid(length.max(1))),
        };
        if stripe % 2 == 0 { a } else { b }
    }
}

/// A picture being drawn on.
pub(super) struct Painter {
    pub picture: RgbImage,
    typeface: FontRef<'static>,
}

impl Painter {
    /// Starts drawing on `picture`.
    pub fn on(picture: RgbImage) -> Result<Self, StillError> {
        let typeface = FontRef::try_from_slice(epaint_default_fonts::HACK_REGULAR)
            .map_err(|_| StillError::Typeface)?;
        Ok(Self { picture, typeface })
    }

    /// Width and height of the picture.
    pub fn size(&self) -> (i64, i64) {
        (
            i64::from(self.picture.width()),
            i64::from(self.picture.height()),
        )
    }

    /// Width of `text` set at `size` pixels.
    pub fn text_width(&self, size: f32, text: &str) -> i64 {
        i64::from(text_size(size, &self.typeface, text).0)
    }

    /// Sets `text` with the top left corner of its box at `(x, y)`.
    pub fn text(&mut self, (x, y): (i64, i64), size: f32, colour: Rgb<u8>, text: &str, run: Run) {
        let (w, h) = text_size(size, &self.typeface, text);
        let mut mask = GrayImage::new(w.max(1), h.max(1));
        draw_text_mut(&mut mask, Luma([255]), 0, 0, size, &self.typeface, text);
        let tall = i64::from(mask.width());
        for (mask_x, mask_y, Luma([cover])) in mask.enumerate_pixels() {
            let (mask_x, mask_y) = (i64::from(mask_x), i64::from(mask_y));
            let (dx, dy) = match run {
                Run::Across => (mask_x, mask_y),
                Run::Up => (mask_y, tall - 1 - mask_x),
            };
            if *cover > 0 {
                self.blend(x + dx, y + dy, colour, f32::from(*cover) / 255.0);
            }
        }
    }

    /// Fills `area`, letting `1 - cover` of what is there shine through.
    pub fn fill(&mut self, area: Area, colour: Rgb<u8>, cover: f32) {
        let (width, height) = self.size();
        for y in area.y.max(0)..(area.y + area.h).min(height) {
            for x in area.x.max(0)..(area.x + area.w).min(width) {
                self.blend(x, y, colour, cover);
            }
        }
    }

    /// Draws a border `thick` pixels wide just inside `area`.
    pub fn border(&mut self, area: Area, thick: i64, fill: Fill) {
        for y in area.y..area.y + area.h {
            for x in area.x..area.x + area.w {
                let from_side = (x - area.x).min(area.x + area.w - 1 - x);
                let from_end = (y - area.y).min(area.y + area.h - 1 - y);
                if from_side.min(from_end) < thick {
                    let along = if from_end < thick {
                        x - area.x
                    } else {
                        y - area.y
                    };
                    self.blend(x, y, fill.at(x, y, along), 1.0);
                }
            }
        }
    }

    /// Copies `tile` with its top left corner at `(x, y)`.
    pub fn paste(&mut self, tile: &RgbImage, x: i64, y: i64) {
        image::imageops::replace(&mut self.picture, tile, x, y);
    }

    fn blend(&mut self, x: i64, y: i64, colour: Rgb<u8>, cover: f32) {
        let (Ok(x), Ok(y)) = (u32::try_from(x), u32::try_from(y)) else {
            return;
        };
        let Some(pixel) = self.picture.get_pixel_mut_checked(x, y) else {
            return;
        };
        for (old, new) in pixel.0.iter_mut().zip(colour.0) {
            let mixed = f32::from(*old) * (1.0 - cover) + f32::from(new) * cover;
            *old = mixed.round().clamp(0.0, 255.0) as u8;
        }
    }
}
