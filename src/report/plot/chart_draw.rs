//! How a [`Chart`] is drawn.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::chart::{Band, Chart, ChartLine, ChartPanel, Mark, MarkPoint, Marks};
use super::draw::{
    Area, Chart as Axes, failed, px, sample_line, shortened, stroke_line, text, tidy, unit_of,
    value_label, wide,
};
use super::palette::{self, Stroke};
use super::{PlotError, printable};

/// Left and right of the page, in units.
const SIDE: f64 = 18.0;
/// Width of a sample in the legend, in units.
const SAMPLE: f64 = 26.0;
/// Distance of the legend's lines, in units.
const LEGEND_LINE: f64 = 22.0;
/// Half the width of a mark, in units.
const MARK: f64 = 4.5;

/// Draws the whole page.
pub(super) fn chart<B: DrawingBackend>(page: &Area<B>, chart: &Chart) -> Result<(), PlotError> {
    page.fill(&WHITE).map_err(failed)?;
    let unit = unit_of(page) * chart.lettering.clamp(0.5, 2.0);
    heading(page, &chart.title, unit)?;
    let lines = legend(page, chart, unit)?;
    let top = 44.0 + LEGEND_LINE * lines as f64;
    let (_, body) = page.split_vertically(px(top, unit));
    let parts = body.split_evenly((chart.panels.len(), 1));
    for (position, (part, panel)) in parts.iter().zip(&chart.panels).enumerate() {
        let is_last = position + 1 == chart.panels.len();
        draw_panel(page, part, chart, panel, is_last, unit)?;
    }
    page.present().map_err(failed)
}

/// The title, cut to the page's width.
pub(super) fn heading<B: DrawingBackend>(
    page: &Area<B>,
    title: &str,
    unit: f64,
) -> Result<(), PlotError> {
    let style = text(17.0, unit, palette::INK, HPos::Left, VPos::Top);
    let room = page.dim_in_pixel().0.saturating_sub(2 * wide(SIDE, unit));
    let title = shortened(page, &printable(title), &style, room)?;
    let at = (px(SIDE, unit), px(14.0, unit));
    page.draw_text(&title, &style, at).map_err(failed)
}

/// What one entry of the legend shows.
enum Sample {
    Line(Stroke),
    Band,
    Mark(Mark),
}

/// Samples with their names under the title; returns how many lines they take.
fn legend<B: DrawingBackend>(page: &Area<B>, chart: &Chart, unit: f64) -> Result<usize, PlotError> {
    let lettering = text(13.0, unit, palette::INK, HPos::Left, VPos::Center);
    let (left, sample) = (px(SIDE, unit), px(SAMPLE, unit));
    let right = page.dim_in_pixel().0 as i32 - left;
    let (mut x, mut line) = (left, 0);
    let mut named: Vec<String> = Vec::new();
    for (name, kind) in chart.panels.iter().flat_map(entries) {
        let name = printable(&name);
        if name.is_empty() || named.contains(&name) {
            continue;
        }
        let (width, _) = page.estimate_text_size(&name, &lettering).map_err(failed)?;
        // Viewers set SVG in typefaces of their own, some of them wider.
        let end = x + sample + px(7.0, unit) + (1.12 * f64::from(width)) as i32;
        if end > right && x > left {
            (x, line) = (left, line + 1);
        }
        let y = px(56.0 + LEGEND_LINE * line as f64, unit);
        draw_sample(page, &kind, (x, y), sample, unit)?;
        let at = (x + sample + px(7.0, unit), y);
        page.draw_text(&name, &lettering, at).map_err(failed)?;
        x = at.0 + (1.06 * f64::from(width)) as i32 + px(20.0, unit);
        named.push(name);
    }
    Ok(if named.is_empty() { 0 } else { line + 1 })
}

fn entries(panel: &ChartPanel) -> Vec<(String, Sample)> {
    let marks = panel.marks.iter();
    let lines = panel.lines.iter();
    marks
        .map(|one| (one.name.clone(), Sample::Mark(one.mark)))
        .chain(lines.map(|one| (one.name.clone(), Sample::Line(palette::stroke(one.style)))))
        .chain(
            panel
                .bands
                .iter()
                .map(|one| (one.name.clone(), Sample::Band)),
        )
        .collect()
}

fn draw_sample<B: DrawingBackend>(
    page: &Area<B>,
    kind: &Sample,
    (x, y): (i32, i32),
    length: i32,
    unit: f64,
) -> Result<(), PlotError> {
    match kind {
        Sample::Line(stroke) => sample_line(page, (x, y), length, *stroke, unit),
        Sample::Band => {
            let half = px(8.0, unit);
            let corners = [(x, y - half), (x + length, y + half)];
            page.draw(&Rectangle::new(corners, band_fill()))
                .map_err(failed)
        }
        Sample::Mark(mark) => draw_mark(page, *mark, (x + length / 2, y), unit),
    }
}

fn band_fill() -> ShapeStyle {
    palette::TAKEOFF.mix(0.16).filled()
}

/// Axes, grid and everything on one chart.
fn draw_panel<B: DrawingBackend>(
    page: &Area<B>,
    area: &Area<B>,
    chart: &Chart,
    panel: &ChartPanel,
    is_last: bool,
    unit: f64,
) -> Result<(), PlotError> {
    let values = value_range(panel);
    let name = if is_last {
        chart.across.name.as_str()
    } else {
        ""
    };
    let mut axes = frame(area, chart, panel, (values, name), unit)?;
    draw_ticks(page, &mut axes, chart, values, unit)?;
    for band in &panel.bands {
        draw_band(&mut axes, band, unit)?;
    }
    for ChartLine { style, points, .. } in &panel.lines {
        let stroke = palette::stroke(*style);
        stroke_line(&mut axes, points.clone(), stroke, 1.8, unit)?;
    }
    for marks in &panel.marks {
        draw_marks(page, &axes, marks, unit)?;
    }
    Ok(())
}

/// The axes with their names, and the grid of values.
fn frame<'a, B: DrawingBackend>(
    area: &Area<B>,
    chart: &Chart,
    panel: &ChartPanel,
    ((lo, hi), name): ((f64, f64), &str),
    unit: f64,
) -> Result<Axes<'a, B>, PlotError> {
    let below = if name.is_empty() { 26.0 } else { 46.0 };
    let mut axes = ChartBuilder::on(area)
        .margin(px(8.0, unit))
        .margin_right(px(22.0, unit))
        .x_label_area_size(px(below, unit))
        .y_label_area_size(px(64.0, unit))
        .build_cartesian_2d(chart.across.from..chart.across.to, lo..hi)
        .map_err(failed)?;
    let lettering = text(12.0, unit, palette::SOFT_INK, HPos::Center, VPos::Center);
    axes.configure_mesh()
        .disable_x_mesh()
        .bold_line_style(palette::GRID.stroke_width(wide(1.0, unit)))
        .light_line_style(TRANSPARENT)
        .axis_style(palette::SOFT_INK.stroke_width(wide(1.0, unit)))
        .x_labels(0)
        .y_labels(6)
        .y_label_formatter(&|value| tidy(*value, hi - lo))
        .label_style(lettering.pos(Pos::default()))
        .axis_desc_style(text(13.0, unit, palette::INK, HPos::Left, VPos::Top))
        .x_desc(printable(name))
        .y_desc(value_label(&panel.values.name, &panel.values.unit))
        .draw()
        .map_err(failed)?;
    Ok(axes)
}

/// The values shown, with some air above and below.
fn value_range(panel: &ChartPanel) -> (f64, f64) {
    let (lo, hi) = panel
        .heights()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| {
            (lo.min(v), hi.max(v))
        });
    let height = hi - lo;
    let air = if height > 1e-9 * hi.abs().max(1e-3) {
        0.1 * height
    } else {
        0.1 * hi.abs().max(1.0)
    };
    // A band that begins at nothing stands on the axis.
    let below = if lo == 0.0 { 0.0 } else { air };
    (lo - below, hi + air)
}

/// Labels under the chart, as many as fit side by side, and the grid above them.
fn draw_ticks<B: DrawingBackend>(
    page: &Area<B>,
    axes: &mut Axes<'_, B>,
    chart: &Chart,
    (lo, hi): (f64, f64),
    unit: f64,
) -> Result<(), PlotError> {
    let lettering = text(12.0, unit, palette::SOFT_INK, HPos::Center, VPos::Top);
    let gap = px(9.0, unit);
    let mut taken = i32::MIN;
    for (at, label) in &chart.across.ticks {
        let grid = palette::GRID.stroke_width(wide(1.0, unit));
        let line = PathElement::new([(*at, lo), (*at, hi)], grid);
        axes.draw_series([line]).map_err(failed)?;
        let label = printable(label);
        let (width, _) = page
            .estimate_text_size(&label, &lettering)
            .map_err(failed)?;
        let (x, y) = axes.backend_coord(&(*at, lo));
        let half = (0.56 * f64::from(width)) as i32;
        if x - half > taken.saturating_add(gap) {
            let place = (x, y + px(7.0, unit));
            page.draw_text(&label, &lettering, place).map_err(failed)?;
            taken = x + half;
        }
    }
    Ok(())
}

fn draw_band<B: DrawingBackend>(
    axes: &mut Axes<'_, B>,
    band: &Band,
    unit: f64,
) -> Result<(), PlotError> {
    let ((from, to), (lo, hi)) = (band.across, band.values);
    let fill = Rectangle::new([(from, lo), (to, hi)], band_fill());
    axes.draw_series([fill]).map_err(failed)?;
    for edge in [lo, hi] {
        let thin = palette::TAKEOFF.mix(0.5).stroke_width(wide(1.0, unit));
        let line = PathElement::new([(from, edge), (to, edge)], thin);
        axes.draw_series([line]).map_err(failed)?;
    }
    Ok(())
}

fn draw_marks<B: DrawingBackend>(
    page: &Area<B>,
    axes: &Axes<'_, B>,
    marks: &Marks,
    unit: f64,
) -> Result<(), PlotError> {
    let lettering = text(12.0, unit, palette::INK, HPos::Center, VPos::Bottom);
    for MarkPoint {
        at,
        value,
        interval,
        label,
    } in &marks.points
    {
        let place = axes.backend_coord(&(*at, *value));
        let mut top = place.1 - px(MARK, unit);
        if let Some((lo, hi)) = interval {
            let (low, high) = (
                axes.backend_coord(&(*at, *lo)).1,
                axes.backend_coord(&(*at, *hi)).1,
            );
            error_bar(page, place.0, (low, high), marks.mark, unit)?;
            top = top.min(high);
        }
        draw_mark(page, marks.mark, place, unit)?;
        if let Some(label) = label {
            let over = (place.0, top - px(4.0, unit));
            page.draw_text(&printable(label), &lettering, over)
                .map_err(failed)?;
        }
    }
    Ok(())
}

/// An upright bar with feet.
fn error_bar<B: DrawingBackend>(
    page: &Area<B>,
    x: i32,
    (low, high): (i32, i32),
    mark: Mark,
    unit: f64,
) -> Result<(), PlotError> {
    let colour = match mark {
        Mark::Dot | Mark::Ring => palette::INK,
        Mark::Speck | Mark::Cross => palette::SOFT_INK,
    };
    let style = colour.stroke_width(wide(1.3, unit));
    let foot = px(5.0, unit);
    for line in [
        [(x, low), (x, high)],
        [(x - foot, low), (x + foot, low)],
        [(x - foot, high), (x + foot, high)],
    ] {
        page.draw(&PathElement::new(line, style)).map_err(failed)?;
    }
    Ok(())
}

/// A mark at a place of the page.
pub(super) fn draw_mark<B: DrawingBackend>(
    page: &Area<B>,
    mark: Mark,
    (x, y): (i32, i32),
    unit: f64,
) -> Result<(), PlotError> {
    let size = px(MARK, unit);
    match mark {
        Mark::Dot => page.draw(&Circle::new((x, y), size, palette::TAKEOFF.filled())),
        Mark::Speck => {
            let small = px(0.6 * MARK, unit);
            page.draw(&Circle::new(
                (x, y),
                small,
                palette::SOFT_INK.mix(0.6).filled(),
            ))
        }
        Mark::Ring => page
            .draw(&Circle::new((x, y), size, WHITE.filled()))
            .and_then(|()| {
                let edge = palette::TAKEOFF.stroke_width(wide(1.6, unit));
                page.draw(&Circle::new((x, y), size, edge))
            }),
        Mark::Cross => {
            let style = palette::LANDING.stroke_width(wide(2.0, unit));
            let ends = [
                [(x - size, y - size), (x + size, y + size)],
                [(x - size, y + size), (x + size, y - size)],
            ];
            ends.into_iter()
                .try_for_each(|line| page.draw(&PathElement::new(line, style)))
        }
    }
    .map_err(failed)
}
