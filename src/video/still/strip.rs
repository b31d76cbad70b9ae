//! Two rows of frames, round take-off and round landing, for a check by eye.

use image::imageops::{self, FilterType};
use image::{Rgb, RgbImage};

use super::paint::{AIR, Area, CONTACT, Fill, INK, PAPER, PATCH, Painter, QUIET, Run};
use super::{
    EventKind, EventRow, MOST_FRAMES_IN_ROW, StillError, UprightFrame, check_inside, encode_png,
};
use crate::units::FrameIndex;
use crate::video::patch::FloorPatch;

/// Side of one square tile, border included, in pixels.
pub(super) const TILE_PX: i64 = 236;
/// Width of the border of a marked tile.
pub(super) const BORDER_PX: i64 = 9;
/// White space between tiles and round the page.
pub(super) const GAP_PX: i64 = 14;
/// Height of the header line.
pub(super) const HEADER_PX: i64 = 52;
/// Height of a row's heading.
pub(super) const HEADING_PX: i64 = 34;
/// Height of the two lines under a tile.
pub(super) const FOOT_PX: i64 = 56;

/// Draws the frames round the events of one jump, a row for each event.
///
/// Every frame is cropped to the surroundings of the patch and shows its time from
/// the event and its index. The two frames that enclose the event carry a border:
/// plain and dark with the feet on the floor, striped and bright with the feet in
/// the air; a label says the same in words. `header` is set on one line above.
///
/// # Errors
/// [`StillError::FrameCount`] for a row that is empty or too long to look at,
/// [`StillError::Size`] and [`StillError::PatchOutside`] for frames that cannot be
/// cropped, [`StillError::Encode`] from the encoder.
pub(in crate::video) fn event_strip(
    header: &str,
    patch: FloorPatch,
    rows: &[EventRow<'_>],
) -> Result<Vec<u8>, StillError> {
    check(patch, rows)?;
    let columns = rows.iter().map(|row| row.frames.len()).max().unwrap_or(0) as i64;
    let row_height = HEADING_PX + TILE_PX + FOOT_PX;
    let width = GAP_PX + columns.max(3) * (TILE_PX + GAP_PX);
    let height = HEADER_PX + rows.len() as i64 * row_height;
    let mut painter = Painter::on(RgbImage::from_pixel(width as u32, height as u32, PAPER))?;
    let header = fit(&painter, header, 26.0, width - 2 * GAP_PX);
    painter.text((GAP_PX, 14), 26.0, INK, &header, Run::Across);
    for (number, row) in rows.iter().enumerate() {
        let top = HEADER_PX + number as i64 * row_height;
        draw_row(&mut painter, top, patch, row);
    }
    encode_png(&painter.picture)
}

fn check(patch: FloorPatch, rows: &[EventRow<'_>]) -> Result<(), StillError> {
    if rows.is_empty() {
        return Err(StillError::FrameCount { count: 0 });
    }
    for row in rows {
        let count = row.frames.len();
        if !(1..=MOST_FRAMES_IN_ROW).contains(&count) {
            return Err(StillError::FrameCount { count });
        }
        for frame in row.frames {
            frame.check_size()?;
            check_inside(patch, frame.picture.dimensions())?;
        }
    }
    Ok(())
}

fn draw_row(painter: &mut Painter, top: i64, patch: FloorPatch, row: &EventRow<'_>) {
    let heading = match row.kind {
        EventKind::TakeOff => "Take-off",
        EventKind::Landing => "Landing",
    };
    let heading = format!("{heading} at {:.4} s", row.moment.seconds());
    painter.text((GAP_PX, top + 4), 21.0, INK, &heading, Run::Across);
    for (column, frame) in row.frames.iter().enumerate() {
        let x = GAP_PX + column as i64 * (TILE_PX + GAP_PX);
        let area = Area {
            x,
            y: top + HEADING_PX,
            w: TILE_PX,
            h: TILE_PX,
        };
        draw_tile(painter, area, patch, frame);
        mark_tile(painter, area, row, frame.index);
        let millis = (frame.time - row.moment).millis();
        let foot = area.y + TILE_PX + 5;
        centred(painter, area, foot, 20.0, INK, &signed_ms(millis));
        let index = format!("frame {}", frame.index);
        centred(painter, area, foot + 23, 17.0, QUIET, &index);
    }
}

/// The cropped frame with the patch outlined.
fn draw_tile(painter: &mut Painter, area: Area, patch: FloorPatch, frame: &UprightFrame) {
    let (x, y, side_w, side_h) = window(patch, frame.picture.dimensions());
    let inner = (TILE_PX - 2 * BORDER_PX) as u32;
    let crop = imageops::crop_imm(&frame.picture, x, y, side_w, side_h).to_image();
    let factor = f64::from(inner) / f64::from(side_w.max(side_h));
    let scaled = |length: u32| (f64::from(length) * factor).round() as u32;
    let (tile_w, tile_h) = (
        scaled(side_w).clamp(1, inner),
        scaled(side_h).clamp(1, inner),
    );
    let tile = imageops::resize(&crop, tile_w, tile_h, FilterType::CatmullRom);
    painter.border(area, 1, Fill::Plain(QUIET));
    let left = area.x + BORDER_PX + i64::from((inner - tile_w) / 2);
    let upper = area.y + BORDER_PX + i64::from((inner - tile_h) / 2);
    painter.paste(&tile, left, upper);
    let outline = Area {
        x: left + i64::from(scaled(patch.x - x)),
        y: upper + i64::from(scaled(patch.y - y)),
        w: i64::from(scaled(patch.w)),
        h: i64::from(scaled(patch.h)),
    };
    painter.border(outline.grown(1), 1, Fill::Plain(INK));
    painter.border(outline, 2, Fill::Dashed(PATCH, INK, 7));
}

/// Border and label of the two frames that enclose the event.
fn mark_tile(painter: &mut Painter, area: Area, row: &EventRow<'_>, index: FrameIndex) {
    let (label, on_floor) = match row.kind {
        EventKind::TakeOff if index == row.before => ("last contact", true),
        EventKind::TakeOff if index == row.after => ("first in the air", false),
        EventKind::Landing if index == row.before => ("last in the air", false),
        EventKind::Landing if index == row.after => ("first contact", true),
        _ => return,
    };
    let (fill, ink, plate): (Fill, Rgb<u8>, Rgb<u8>) = if on_floor {
        (Fill::Plain(CONTACT), PAPER, CONTACT)
    } else {
        (Fill::Striped(AIR, INK, 9), INK, AIR)
    };
    painter.border(area, BORDER_PX, fill);
    let plate_area = Area {
        x: area.x + BORDER_PX,
        y: area.y + BORDER_PX,
        w: TILE_PX - 2 * BORDER_PX,
        h: 25,
    };
    painter.fill(plate_area, plate, 1.0);
    centred(painter, area, plate_area.y + 3, 19.0, ink, label);
}

/// The square round the patch that shows shoes and shins: left, top, width, height.
///
/// Most of the surroundings shown lie above the patch, where the legs are.
fn window(patch: FloorPatch, (width, height): (u32, u32)) -> (u32, u32, u32, u32) {
    let (w, h) = (f64::from(patch.w), f64::from(patch.h));
    let side = (1.5 * w).max(2.0 * h).max(48.0).ceil();
    let side_w = (side as u32).clamp(1, width);
    let side_h = (side as u32).clamp(1, height);
    let centre = f64::from(patch.x) + 0.5 * w;
    let bottom = f64::from(patch.y) + h + 0.12 * side;
    let left = (centre - 0.5 * f64::from(side_w)).round().max(0.0) as u32;
    let top = (bottom - f64::from(side_h)).round().max(0.0) as u32;
    let left = left.min(width - side_w).min(patch.x);
    let top = top.min(height - side_h).min(patch.y);
    (left, top, side_w, side_h)
}

fn centred(painter: &mut Painter, area: Area, y: i64, size: f32, colour: Rgb<u8>, text: &str) {
    let x = area.x + (area.w - painter.text_width(size, text)) / 2;
    painter.text((x, y), size, colour, text, Run::Across);
}

/// Milliseconds with their sign; zero has none.
fn signed_ms(millis: f64) -> String {
    let text = format!("{:.1}", millis.abs());
    match text.as_str() {
        "0.0" => "0.0 ms".to_owned(),
        _ if millis < 0.0 => format!("\u{2212}{text} ms"),
        _ => format!("+{text} ms"),
    }
}

/// Shortens `text` from its end until it fits.
fn fit(painter: &Painter, text: &str, size: f32, room: i64) -> String {
    let mut kept: Vec<char> = text.chars().filter(|c| !c.is_control()).collect();
    // No header this long can fit; cutting here bounds the work below.
    let mut cut = kept.len() > 400;
    kept.truncate(400);
    loop {
        let mut shown: String = kept.iter().collect();
        if cut {
            shown.push('…');
        }
        if painter.text_width(size, &shown) <= room || kept.pop().is_none() {
            return shown;
        }
        cut = true;
    }
}
