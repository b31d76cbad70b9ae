//! From a drawing to a file's bytes, the same for every kind of plot of several jumps.

use std::ops::RangeInclusive;

use ab_glyph::FontRef;
use image::codecs::png::PngEncoder;
use image::{ExtendedColorType, ImageEncoder};
use plotters::prelude::{BitMapBackend, DrawingBackend, IntoDrawingArea, SVGBackend};

use super::draw::Area;
use super::lettering::Lettered;
use super::{PlotError, PlotSize, SIDES_PX, TYPEFACE, describe, typeface, typeface_fault};

/// Something that can be drawn on any backend.
pub(super) trait Drawing {
    /// What screen readers speak.
    fn title(&self) -> &str;

    /// Sides of a page that it can be drawn on, in pixels.
    fn sides(&self) -> RangeInclusive<u32> {
        SIDES_PX
    }

    /// Refuses what cannot be drawn, before any drawing.
    fn check(&self) -> Result<(), PlotError>;

    /// Draws on a page of any size.
    fn draw<B: DrawingBackend>(&self, page: &Area<B>) -> Result<(), PlotError>;
}

/// One SVG document.
pub(super) fn svg(drawing: &impl Drawing, size: PlotSize) -> Result<String, PlotError> {
    prepare(drawing, size)?;
    let mut text = String::new();
    let area = SVGBackend::with_string(&mut text, (size.width_px, size.height_px));
    drawing.draw(&area.into_drawing_area())?;
    Ok(describe(&text, drawing.title()))
}

/// An 8-bit RGB PNG of exactly this size.
pub(super) fn png(drawing: &impl Drawing, size: PlotSize) -> Result<Vec<u8>, PlotError> {
    prepare(drawing, size)?;
    let (width, height) = (size.width_px, size.height_px);
    let mut pixels = vec![0; width as usize * height as usize * 3];
    let backend = Lettered {
        inner: BitMapBackend::with_buffer(&mut pixels, (width, height)),
        typeface: FontRef::try_from_slice(TYPEFACE).map_err(|_| typeface_fault())?,
    };
    drawing.draw(&backend.into_drawing_area())?;
    let mut bytes = Vec::new();
    PngEncoder::new(&mut bytes).write_image(&pixels, width, height, ExtendedColorType::Rgb8)?;
    Ok(bytes)
}

fn prepare(drawing: &impl Drawing, size: PlotSize) -> Result<(), PlotError> {
    let sides = drawing.sides();
    if !sides.contains(&size.width_px) || !sides.contains(&size.height_px) {
        return Err(PlotError::Size {
            width_px: size.width_px,
            height_px: size.height_px,
        });
    }
    drawing.check()?;
    typeface()
}
