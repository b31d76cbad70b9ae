//! The upright picture with a pixel ruler along all four edges.

use super::paint::{Area, Fill, INK, PAPER, PATCH, Painter, Run};
use super::{StillError, UprightFrame, check_inside, encode_png};
use crate::video::patch::FloorPatch;

/// Distance between the smallest marks, in pixels.
const TICK_PX: i64 = 10;

/// Sizes that follow from the size of the picture.
struct Scale {
    /// Height of the lettering.
    text: f32,
    /// Width of a mark.
    thick: i64,
    /// Depth of the ruler.
    depth: i64,
    /// Distance between labelled marks, in pixels of the clip.
    label_step: i64,
}

impl Scale {
    /// Lettering is a fixed share of the short side, since people look at a 4K
    /// still shrunk to their screen; below 11 px the typeface breaks up.
    fn of(painter: &Painter) -> Self {
        let (width, height) = painter.size();
        let text = (width.min(height) as f32 / 44.0).clamp(11.0, 56.0);
        let widest = painter.text_width(text, &width.max(height).to_string());
        let label_step = [50, 100, 200, 500, 1000]
            .into_iter()
            .skip(usize::from(width.max(height) > 500))
            .find(|step| widest * 5 < step * 4)
            .unwrap_or(1000);
        let thick = (text / 18.0).round().max(1.0) as i64;
        Self {
            text,
            thick,
            depth: (text * 1.6).ceil() as i64,
            label_step,
        }
    }

    /// Length of the mark at `place`.
    fn tick(&self, place: i64) -> i64 {
        let share = if place % self.label_step == 0 {
            0.60
        } else if place % (5 * TICK_PX) == 0 {
            0.45
        } else {
            0.25
        };
        ((self.text * share) as i64).max(2)
    }
}

/// Draws a pixel ruler round the upright frame, and the suggested patch with its
/// numbers.
///
/// The picture keeps its size. Marks stand every 10 px and grow at every 50 px;
/// labels stand every 50 to 1000 px, as close as the lettering allows.
///
/// # Errors
/// [`StillError::Size`] for an empty or absurd picture, [`StillError::PatchOutside`]
/// for a patch that does not lie inside it, [`StillError::Encode`] from the encoder.
pub(in crate::video) fn ruler_still(
    frame: &UprightFrame,
    suggested: Option<FloorPatch>,
) -> Result<Vec<u8>, StillError> {
    frame.check_size()?;
    if let Some(patch) = suggested {
        check_inside(patch, frame.picture.dimensions())?;
    }
    let mut painter = Painter::on(frame.picture.clone())?;
    let scale = Scale::of(&painter);
    shade_edges(&mut painter, &scale);
    if let Some(patch) = suggested {
        mark_on_ruler(&mut painter, &scale, patch);
    }
    rule_across(&mut painter, &scale);
    rule_up(&mut painter, &scale);
    if let Some(patch) = suggested {
        draw_patch(&mut painter, &scale, patch);
    }
    caption(&mut painter, &scale, frame);
    encode_png(&painter.picture)
}

/// Darkens the four edges just enough to carry white marks; the picture stays visible.
fn shade_edges(painter: &mut Painter, scale: &Scale) {
    let (width, height) = painter.size();
    let d = scale.depth;
    for (x, y, w, h) in [
        (0, 0, width, d),
        (0, height - d, width, d),
        (0, d, d, height - 2 * d),
        (width - d, d, d, height - 2 * d),
    ] {
        painter.fill(Area { x, y, w, h }, INK, 0.62);
    }
}

/// Marks and labels of the top and bottom edges.
fn rule_across(painter: &mut Painter, scale: &Scale) {
    let (width, height) = painter.size();
    for x in (0..width).step_by(TICK_PX as usize) {
        let h = scale.tick(x);
        let w = scale.thick;
        painter.fill(Area { x, y: 0, w, h }, PAPER, 1.0);
        let y = height - h;
        painter.fill(Area { x, y, w, h }, PAPER, 1.0);
        if x % scale.label_step != 0 || x == 0 {
            continue;
        }
        let label = x.to_string();
        let left = x - painter.text_width(scale.text, &label) / 2;
        let end = left + painter.text_width(scale.text, &label);
        if end > width - scale.depth {
            continue;
        }
        let top = scale.depth - scale.text as i64 - 1;
        painter.text((left, top), scale.text, PAPER, &label, Run::Across);
        let top = height - scale.depth - 1;
        painter.text((left, top), scale.text, PAPER, &label, Run::Across);
    }
}

/// Marks and labels of the left and right edges.
fn rule_up(painter: &mut Painter, scale: &Scale) {
    let (width, height) = painter.size();
    for y in (0..height).step_by(TICK_PX as usize) {
        let w = scale.tick(y);
        let h = scale.thick;
        painter.fill(Area { x: 0, y, w, h }, PAPER, 1.0);
        let x = width - w;
        painter.fill(Area { x, y, w, h }, PAPER, 1.0);
        if y % scale.label_step != 0 || y == 0 {
            continue;
        }
        let label = y.to_string();
        let long = painter.text_width(scale.text, &label);
        let top = y - long / 2;
        if top + long > height - scale.depth {
            continue;
        }
        let left = scale.depth - scale.text as i64 - 1;
        painter.text((left, top), scale.text, PAPER, &label, Run::Up);
        let left = width - scale.depth - 1;
        painter.text((left, top), scale.text, PAPER, &label, Run::Up);
    }
}

/// Bars along the rulers where the patch lies, so that its numbers can be read off.
fn mark_on_ruler(painter: &mut Painter, scale: &Scale, patch: FloorPatch) {
    let (width, height) = painter.size();
    let patch = area(patch);
    let bar = (scale.thick * 3).max(3);
    let inner = scale.depth;
    for y in [inner, height - scale.depth - bar] {
        let (x, w) = (patch.x, patch.w);
        painter.fill(Area { x, y, w, h: bar }, PATCH, 1.0);
    }
    for x in [inner, width - scale.depth - bar] {
        let (y, h) = (patch.y, patch.h);
        painter.fill(Area { x, y, w: bar, h }, PATCH, 1.0);
    }
}

/// The patch's outline, just outside its pixels, and its numbers on a plate.
fn draw_patch(painter: &mut Painter, scale: &Scale, patch: FloorPatch) {
    let around = area(patch);
    let thick = scale.thick;
    painter.border(around.grown(2 * thick), thick, Fill::Plain(INK));
    let dash = Fill::Dashed(PATCH, INK, 6 * thick);
    painter.border(around.grown(thick), thick, dash);
    let label = format!("x {}  y {}  w {}  h {}", patch.x, patch.y, patch.w, patch.h);
    // Below is floor; above are the shoes.
    let above = around.y - 3 * thick - plate_height(scale);
    let below = around.y + around.h + 3 * thick;
    let room = painter.size().1 - scale.depth - plate_height(scale);
    let y = if below <= room { below } else { above };
    plate(painter, scale, (around.x, y), &label);
}

/// Says how large the picture is and, where there is room, which frame this is.
fn caption(painter: &mut Painter, scale: &Scale, frame: &UprightFrame) {
    let (width, height) = painter.size();
    let gap = scale.depth + 6 * scale.thick;
    let size = format!("{width} x {height} px");
    let whole = format!(
        "{size}   frame {}   {:.3} s",
        frame.index,
        frame.time.seconds()
    );
    let fits = painter.text_width(scale.text, &whole) <= width - 2 * gap - scale.text as i64;
    let text = if fits { whole } else { size };
    plate(painter, scale, (gap, gap), &text);
}

fn plate_height(scale: &Scale) -> i64 {
    (scale.text * 1.3).ceil() as i64
}

/// Lettering on a dark plate, shifted so that it stays inside the rulers.
fn plate(painter: &mut Painter, scale: &Scale, (x, y): (i64, i64), text: &str) {
    let (width, height) = painter.size();
    let pad = (scale.text * 0.35) as i64;
    let h = plate_height(scale);
    let w = painter.text_width(scale.text, text) + 2 * pad;
    let x = x.min(width - scale.depth - w).max(0);
    let y = y.min(height - scale.depth - h).max(0);
    painter.fill(Area { x, y, w, h }, INK, 0.82);
    let top = y + (h - scale.text as i64) / 2;
    painter.text((x + pad, top), scale.text, PAPER, text, Run::Across);
}

fn area(patch: FloorPatch) -> Area {
    Area {
        x: i64::from(patch.x),
        y: i64::from(patch.y),
        w: i64::from(patch.w),
        h: i64::from(patch.h),
    }
}
