//! A chart on any backend.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::marks::{draw_marks, sample_mark};
use super::{Layer, Scatter, Shape, Tone};
use crate::report::plot::draw::{
    Area, Chart as Axes, failed, px, sample_line, stroke_line, text, tidy, value_label, wide,
};
use crate::report::plot::palette::{self, Stroke};
use crate::report::plot::{PlotError, printable};

/// Dash and gap of what is not measured, in widths of the line.
const DASH: (f64, f64) = (4.0, 2.5);
/// Room at the right for the names of levels, in units.
const LABEL_ROOM: f64 = 172.0;
/// Height of one line of the legend, in units.
const LEGEND_LINE: f64 = 22.0;
/// Room for the title, in units.
const TITLE_ROOM: f64 = 42.0;

impl Tone {
    pub(super) fn colour(self) -> RGBColor {
        match self {
            Tone::Ink => palette::INK,
            Tone::Blue => palette::TAKEOFF,
            Tone::Teal => palette::stroke(1).colour,
            Tone::Orange => palette::LANDING,
            Tone::Violet => palette::stroke(2).colour,
            Tone::Grey => palette::stroke(3).colour,
        }
    }

    fn stroke(self, dashed: bool) -> Stroke {
        Stroke {
            colour: self.colour(),
            dash: dashed.then_some(DASH),
        }
    }
}

/// Draws a checked chart below its title on `page`.
pub(in crate::report::plot) fn draw<B: DrawingBackend>(
    page: &Area<B>,
    chart: &Scatter,
    unit: f64,
) -> Result<(), PlotError> {
    let lines = legend(page, chart, unit)?;
    let top = TITLE_ROOM + LEGEND_LINE * f64::from(lines) + 6.0;
    let (_, body) = page.split_vertically(px(top, unit));
    let (x, y) = chart.ranges();
    let mut axes = mesh(&body, chart, (x, y), unit)?;
    for layer in &chart.layers {
        draw_layer(&mut axes, layer, x, unit)?;
    }
    label_levels(&mut axes, chart, x.1, y, unit)
}

/// Axes and grid.
fn mesh<'a, B: DrawingBackend>(
    body: &'a Area<B>,
    chart: &Scatter,
    (x, y): ((f64, f64), (f64, f64)),
    unit: f64,
) -> Result<Axes<'a, B>, PlotError> {
    let labelled = chart.layers.iter().any(Layer::is_labelled);
    let right = if labelled { LABEL_ROOM } else { 18.0 };
    let mut axes = ChartBuilder::on(body)
        .margin(px(10.0, unit))
        .margin_right(px(right, unit))
        .x_label_area_size(px(42.0, unit))
        .y_label_area_size(px(62.0, unit))
        .build_cartesian_2d(x.0..x.1, y.0..y.1)
        .map_err(failed)?;
    let lettering = text(12.0, unit, palette::SOFT_INK, HPos::Center, VPos::Center);
    axes.configure_mesh()
        .bold_line_style(palette::GRID.stroke_width(wide(1.0, unit)))
        .light_line_style(TRANSPARENT)
        .axis_style(palette::SOFT_INK.stroke_width(wide(1.0, unit)))
        .x_labels(8)
        .y_labels(7)
        .x_label_formatter(&|value| tidy(*value, x.1 - x.0))
        .y_label_formatter(&|value| tidy(*value, y.1 - y.0))
        .label_style(lettering.pos(Pos::default()))
        .axis_desc_style(text(13.0, unit, palette::INK, HPos::Left, VPos::Top))
        .x_desc(value_label(&chart.across.name, &chart.across.unit))
        .y_desc(value_label(&chart.up.name, &chart.up.unit))
        .draw()
        .map_err(failed)?;
    Ok(axes)
}

fn draw_layer<B: DrawingBackend>(
    axes: &mut Axes<'_, B>,
    layer: &Layer,
    x: (f64, f64),
    unit: f64,
) -> Result<(), PlotError> {
    match &layer.shape {
        Shape::Marks(form, marks) => draw_marks(axes, *form, layer.tone.colour(), marks, unit),
        Shape::Line { points, dashed } => {
            stroke_line(axes, points.clone(), layer.tone.stroke(*dashed), 1.8, unit)
        }
        Shape::Band(points) => band(axes, points, layer.tone),
        Shape::Level {
            at, ends, dashed, ..
        } => {
            if let Some((lo, hi)) = *ends {
                band(axes, &[(x.0, lo, hi), (x.1, lo, hi)], layer.tone)?;
            }
            let line = vec![(x.0, *at), (x.1, *at)];
            stroke_line(axes, line, layer.tone.stroke(*dashed), 1.5, unit)
        }
    }
}

fn band<B: DrawingBackend>(
    axes: &mut Axes<'_, B>,
    points: &[(f64, f64, f64)],
    tone: Tone,
) -> Result<(), PlotError> {
    let lower = points.iter().map(|(x, lo, _)| (*x, *lo));
    let upper = points.iter().rev().map(|(x, _, hi)| (*x, *hi));
    let outline: Vec<(f64, f64)> = lower.chain(upper).collect();
    let fill = tone.colour().mix(0.6 * palette::BAND_COVER).filled();
    axes.draw_series([Polygon::new(outline, fill)])
        .map_err(failed)?;
    Ok(())
}

impl Layer {
    fn is_labelled(&self) -> bool {
        matches!(&self.shape, Shape::Level { label, .. } if !label.is_empty())
    }
}

/// Names the levels right of the chart, moved apart where they would overlap.
fn label_levels<B: DrawingBackend>(
    axes: &mut Axes<'_, B>,
    chart: &Scatter,
    right: f64,
    (low, high): (f64, f64),
    unit: f64,
) -> Result<(), PlotError> {
    let tall = f64::from(axes.plotting_area().dim_in_pixel().1.max(1));
    let per_px = (high - low) / tall;
    let mut levels: Vec<(f64, &str, Tone)> = chart
        .layers
        .iter()
        .filter_map(|layer| match &layer.shape {
            Shape::Level { at, label, .. } if !label.is_empty() => {
                Some((*at, label.as_str(), layer.tone))
            }
            _ => None,
        })
        .collect();
    levels.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut above = f64::NEG_INFINITY;
    for (at, label, tone) in levels {
        // Pixels count downwards from the level itself.
        let own = (high - at) / per_px;
        let place = own.max(above + 17.0 * unit);
        above = place;
        let style = text(12.0, unit, tone.colour(), HPos::Left, VPos::Center);
        let moved = (px(8.0, unit), (place - own).round() as i32);
        let label = Text::new(printable(label), moved, style);
        axes.draw_series([EmptyElement::at((right, at)) + label])
            .map_err(failed)?;
    }
    Ok(())
}

/// Samples with their names below the title; returns the lines they took.
fn legend<B: DrawingBackend>(page: &Area<B>, chart: &Scatter, unit: f64) -> Result<u32, PlotError> {
    let left = px(18.0, unit);
    let room = page.dim_in_pixel().0 as i32 - left;
    let lettering = text(13.0, unit, palette::INK, HPos::Left, VPos::Center);
    let sample = px(26.0, unit);
    let (mut x, mut line) = (left, 0u32);
    for layer in chart.layers.iter().filter(|layer| !layer.name.is_empty()) {
        let name = printable(&layer.name);
        let (width, _) = page.estimate_text_size(&name, &lettering).map_err(failed)?;
        let whole = sample + px(7.0, unit) + width as i32;
        if x > left && x + whole > room {
            (x, line) = (left, line + 1);
        }
        let y = px(TITLE_ROOM + LEGEND_LINE * (f64::from(line) + 0.5), unit);
        draw_sample(page, layer, (x, y), sample, unit)?;
        let at = (x + sample + px(7.0, unit), y);
        page.draw_text(&name, &lettering, at).map_err(failed)?;
        x += whole + px(22.0, unit);
    }
    Ok(line + 1)
}

fn draw_sample<B: DrawingBackend>(
    page: &Area<B>,
    layer: &Layer,
    (x, y): (i32, i32),
    length: i32,
    unit: f64,
) -> Result<(), PlotError> {
    match &layer.shape {
        Shape::Marks(form, marks) => {
            // A layer without marks stands in the legend alone, to explain the hollow ones.
            let hollow = marks.iter().all(|mark| mark.hollow);
            let at = (x + length / 2, y);
            sample_mark(page, *form, layer.tone.colour(), hollow, at, unit)
        }
        Shape::Line { dashed, .. } | Shape::Level { dashed, .. } => {
            sample_line(page, (x, y), length, layer.tone.stroke(*dashed), unit)
        }
        Shape::Band(_) => {
            let half = px(7.0, unit);
            let fill = layer.tone.colour().mix(0.6 * palette::BAND_COVER).filled();
            let corners = [(x, y - half), (x + length, y + half)];
            page.draw(&Rectangle::new(corners, fill)).map_err(failed)
        }
    }
}
