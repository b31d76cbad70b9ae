//! A bitmap backend with evenly spaced letters.
//!
//! The drawing library's own bitmap lettering drops each glyph's left bearing and
//! rounds its place to whole pixels, which runs `c` and `l` together. Everything but
//! text is handed on unchanged.

use ab_glyph::{Font, FontRef, OutlinedGlyph, ScaleFont, point};
use plotters::prelude::BitMapBackend;
use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
};

/// Baseline below the top of the letter box, in em; SVG text is set alike.
const BASELINE_EM: f64 = 0.76;

/// The wrapped backend and its typeface.
pub(super) struct Lettered<'a> {
    pub inner: BitMapBackend<'a>,
    pub typeface: FontRef<'static>,
}

type Drawn<'a> = Result<(), DrawingErrorKind<<BitMapBackend<'a> as DrawingBackend>::ErrorType>>;

impl<'a> DrawingBackend for Lettered<'a> {
    type ErrorType = <BitMapBackend<'a> as DrawingBackend>::ErrorType;

    fn get_size(&self) -> (u32, u32) {
        self.inner.get_size()
    }

    fn ensure_prepared(&mut self) -> Drawn<'a> {
        self.inner.ensure_prepared()
    }

    fn present(&mut self) -> Drawn<'a> {
        self.inner.present()
    }

    fn draw_pixel(&mut self, at: BackendCoord, colour: BackendColor) -> Drawn<'a> {
        self.inner.draw_pixel(at, colour)
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
    ) -> Drawn<'a> {
        self.inner.draw_line(from, to, style)
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        upper_left: BackendCoord,
        lower_right: BackendCoord,
        style: &S,
        fill: bool,
    ) -> Drawn<'a> {
        self.inner.draw_rect(upper_left, lower_right, style, fill)
    }

    fn draw_text<T: BackendTextStyle>(
        &mut self,
        text: &str,
        style: &T,
        at: BackendCoord,
    ) -> Drawn<'a> {
        let (glyphs, width) = self.set(text, style.size());
        let em = style.size() / 1.24;
        let left = match style.anchor().h_pos {
            HPos::Left => 0.0,
            HPos::Center => -0.5 * width,
            HPos::Right => -width,
        };
        let top = match style.anchor().v_pos {
            VPos::Top => 0.0,
            VPos::Center => -0.5 * em,
            VPos::Bottom => -em,
        };
        let (left, base) = (left.round() as i32, (top + BASELINE_EM * em).round() as i32);
        let (turn, colour) = (style.transform(), style.color());
        let mut outcome = Ok(());
        for glyph in glyphs {
            let corner = glyph.px_bounds().min;
            glyph.draw(|x, y, cover| {
                let x = left + corner.x as i32 + x as i32;
                let (dx, dy) = turn.transform(x, base + corner.y as i32 + y as i32);
                if outcome.is_ok() {
                    let mixed = BackendColor {
                        alpha: colour.alpha * f64::from(cover.clamp(0.0, 1.0)),
                        ..colour
                    };
                    outcome = self.draw_inside((at.0 + dx, at.1 + dy), mixed);
                }
            });
        }
        outcome
    }
}

impl<'a> Lettered<'a> {
    /// Sets `text` on one line from the origin; also returns its width.
    fn set(&self, text: &str, size: f64) -> (Vec<OutlinedGlyph>, f64) {
        let font = self.typeface.as_scaled(size as f32);
        let mut pen = 0.0;
        let mut previous = None;
        let mut glyphs = Vec::new();
        for letter in text.chars() {
            let id = font.glyph_id(letter);
            pen += previous.map_or(0.0, |before| font.kern(before, id));
            let glyph = id.with_scale_and_position(font.scale(), point(pen, 0.0));
            glyphs.extend(font.outline_glyph(glyph));
            pen += font.h_advance(id);
            previous = Some(id);
        }
        (glyphs, f64::from(pen))
    }

    /// Draws a pixel if it lies on the picture.
    fn draw_inside(&mut self, (x, y): BackendCoord, colour: BackendColor) -> Drawn<'a> {
        let (width, height) = self.inner.get_size();
        if (0..width as i32).contains(&x) && (0..height as i32).contains(&y) {
            self.inner.draw_pixel((x, y), colour)
        } else {
            Ok(())
        }
    }
}
