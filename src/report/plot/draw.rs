//! The drawing itself, the same for every backend.

use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::element::DashedPathElement;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::palette::{self, Stroke};
use super::scatter;
use super::{
    EventKind, JumpLabel, Look, Plot, PlotError, PlotEvent, Series, TracePlot, ZoomPanel, ZoomPlot,
    printable,
};
use crate::units::CaptureTime;

pub(super) type Area<B> = DrawingArea<B, Shift>;
pub(super) type Chart<'a, B> = ChartContext<'a, B, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// Turns the drawing library's errors, which name the backend, into ours.
pub(super) fn failed<E: std::error::Error + Send + Sync>(
    error: DrawingAreaErrorKind<E>,
) -> PlotError {
    PlotError::Drawing(error.to_string())
}

/// How the time axis counts.
#[derive(Clone, Copy)]
pub(super) enum TimeAxis {
    /// Seconds after the first frame.
    Seconds,
    /// Milliseconds after an event.
    MillisFrom(CaptureTime, EventKind),
}

impl TimeAxis {
    fn place(self, time: CaptureTime) -> f64 {
        match self {
            TimeAxis::Seconds => time.seconds(),
            TimeAxis::MillisFrom(origin, _) => (time - origin).millis(),
        }
    }

    fn label(self) -> String {
        match self {
            TimeAxis::Seconds => "time after the first frame (s)".to_owned(),
            TimeAxis::MillisFrom(_, kind) => format!("time from {} (ms)", kind.name()),
        }
    }
}

/// One chart: what it shows and how it counts time.
struct Panel<'a> {
    axis: TimeAxis,
    value_label: String,
    series: &'a [Series],
    events: &'a [PlotEvent],
    jumps: &'a [JumpLabel],
}

/// Draws a checked plot on any backend.
pub(super) fn plot<B: DrawingBackend>(area: &Area<B>, plot: Plot<'_>) -> Result<(), PlotError> {
    area.fill(&WHITE).map_err(failed)?;
    let unit = unit_of(area);
    let title = plot.title();
    let (_, body) = area.split_vertically(px(76.0, unit));
    let style = text(17.0, unit, palette::INK, HPos::Left, VPos::Top);
    let at = (px(18.0, unit), px(14.0, unit));
    let room = area.dim_in_pixel().0.saturating_sub(2 * wide(18.0, unit));
    let title = shortened(area, &printable(title), &style, room)?;
    area.draw_text(&title, &style, at).map_err(failed)?;
    match plot {
        Plot::Trace(trace) => draw_trace(area, &body, trace, unit)?,
        Plot::Zoom(zoom) => draw_zoom(area, &body, zoom, unit)?,
        Plot::Scatter(scatter) => scatter::draw(area, scatter, unit)?,
    }
    area.present().map_err(failed)
}

/// Cuts `title` from its end until it is at most `room` pixels wide.
pub(super) fn shortened<B: DrawingBackend>(
    area: &Area<B>,
    title: &str,
    style: &TextStyle<'_>,
    room: u32,
) -> Result<String, PlotError> {
    // No more letters than pixels can fit, which bounds the work below.
    let mut kept: Vec<char> = title.chars().take(room as usize).collect();
    let mut shown = title.to_owned();
    if kept.len() < title.chars().count() {
        shown = kept.iter().collect::<String>() + "…";
    }
    while area.estimate_text_size(&shown, style).map_err(failed)?.0 > room {
        if kept.pop().is_none() {
            break;
        }
        shown = kept.iter().collect::<String>() + "…";
    }
    Ok(shown)
}

fn draw_trace<B: DrawingBackend>(
    page: &Area<B>,
    body: &Area<B>,
    trace: &TracePlot,
    unit: f64,
) -> Result<(), PlotError> {
    let kinds: Vec<EventKind> = [EventKind::TakeOff, EventKind::Landing]
        .into_iter()
        .filter(|kind| trace.events.iter().any(|event| event.kind == *kind))
        .collect();
    legend(page, &trace.series, &kinds, unit)?;
    let panel = Panel {
        axis: TimeAxis::Seconds,
        value_label: value_label(&trace.values.name, &trace.values.unit),
        series: &trace.series,
        events: &trace.events,
        jumps: &trace.jumps,
    };
    draw_panel(body, &panel, unit)
}

fn draw_zoom<B: DrawingBackend>(
    page: &Area<B>,
    body: &Area<B>,
    zoom: &ZoomPlot,
    unit: f64,
) -> Result<(), PlotError> {
    let kinds = [EventKind::TakeOff, EventKind::Landing];
    legend(page, &zoom.takeoff.series, &kinds, unit)?;
    let halves = body.split_evenly((1, 2));
    let panels = [&zoom.takeoff, &zoom.landing];
    for (half, ZoomPanel { event, series }) in halves.iter().zip(panels) {
        let panel = Panel {
            axis: TimeAxis::MillisFrom(event.best, event.kind),
            value_label: value_label(&zoom.values.name, &zoom.values.unit),
            series,
            events: std::slice::from_ref(event),
            jumps: &[],
        };
        draw_panel(half, &panel, unit)?;
    }
    Ok(())
}

pub(super) fn value_label(name: &str, unit: &str) -> String {
    let (name, unit) = (printable(name), printable(unit));
    if unit.is_empty() {
        name
    } else {
        format!("{name} ({unit})")
    }
}

/// Axes, grid, bands, curves and labels of one chart.
fn draw_panel<B: DrawingBackend>(
    area: &Area<B>,
    panel: &Panel<'_>,
    unit: f64,
) -> Result<(), PlotError> {
    let (times, values) = ranges(panel);
    let (time_step, value_step) = (times.1 - times.0, values.1 - values.0);
    let mut chart = ChartBuilder::on(area)
        .margin(px(10.0, unit))
        .margin_right(px(18.0, unit))
        .x_label_area_size(px(42.0, unit))
        .y_label_area_size(px(62.0, unit))
        .build_cartesian_2d(times.0..times.1, values.0..values.1)
        .map_err(failed)?;
    let lettering = text(12.0, unit, palette::SOFT_INK, HPos::Center, VPos::Center);
    chart
        .configure_mesh()
        .bold_line_style(palette::GRID.stroke_width(wide(1.0, unit)))
        .light_line_style(TRANSPARENT)
        .axis_style(palette::SOFT_INK.stroke_width(wide(1.0, unit)))
        .x_labels(8)
        .y_labels(6)
        .x_label_formatter(&|value| tidy(*value, time_step))
        .y_label_formatter(&|value| tidy(*value, value_step))
        .label_style(lettering.clone().pos(Pos::default()))
        .axis_desc_style(text(13.0, unit, palette::INK, HPos::Left, VPos::Top))
        .x_desc(panel.axis.label())
        .y_desc(&panel.value_label)
        .draw()
        .map_err(failed)?;
    for event in panel.events {
        draw_event(&mut chart, panel.axis, event, values, unit)?;
    }
    for (position, series) in panel.series.iter().enumerate() {
        draw_series(&mut chart, panel.axis, series, position, unit)?;
    }
    for jump in panel.jumps {
        draw_jump(&mut chart, panel.axis, jump, values, unit)?;
    }
    Ok(())
}

/// The span of both axes: all points and bounds, with some air round them.
fn ranges(panel: &Panel<'_>) -> ((f64, f64), (f64, f64)) {
    let points = panel.series.iter().flat_map(|series| &series.points);
    let bounds = panel.events.iter().flat_map(|e| [e.earliest, e.latest]);
    let flights = panel.jumps.iter().flat_map(|j| [j.takeoff, j.landing]);
    let moments = points
        .clone()
        .map(|(time, _)| *time)
        .chain(bounds)
        .chain(flights);
    let times = span(moments.map(|time| panel.axis.place(time)));
    let values = span(points.map(|(_, value)| *value));
    let side = 0.02 * (times.1 - times.0);
    let mut height = values.1 - values.0;
    if height <= 1e-9 * values.0.abs().max(1e-3) {
        height = values.0.abs().max(1.0);
    }
    let above = if panel.jumps.is_empty() { 0.10 } else { 0.24 };
    (
        (times.0 - side, times.1 + side),
        (values.0 - 0.08 * height, values.1 + above * height),
    )
}

fn span(numbers: impl Iterator<Item = f64>) -> (f64, f64) {
    numbers.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), number| {
        (lo.min(number), hi.max(number))
    })
}

/// The bounds as a band over the whole height, the best estimate as a line.
pub(super) fn draw_event<B: DrawingBackend>(
    chart: &mut Chart<'_, B>,
    axis: TimeAxis,
    event: &PlotEvent,
    (low, high): (f64, f64),
    unit: f64,
) -> Result<(), PlotError> {
    let stroke = event_stroke(event.kind);
    let (from, to) = (axis.place(event.earliest), axis.place(event.latest));
    let band = Rectangle::new(
        [(from, low), (to, high)],
        stroke.colour.mix(palette::BAND_COVER).filled(),
    );
    chart.draw_series([band]).map_err(failed)?;
    for edge in [from, to] {
        let thin = stroke.colour.mix(0.5).stroke_width(wide(1.0, unit));
        let line = PathElement::new([(edge, low), (edge, high)], thin);
        chart.draw_series([line]).map_err(failed)?;
    }
    let best = axis.place(event.best);
    stroke_line(chart, vec![(best, low), (best, high)], stroke, 2.0, unit)
}

fn event_stroke(kind: EventKind) -> Stroke {
    match kind {
        EventKind::TakeOff => Stroke {
            colour: palette::TAKEOFF,
            dash: None,
        },
        EventKind::Landing => Stroke {
            colour: palette::LANDING,
            dash: Some((4.0, 2.0)),
        },
    }
}

pub(super) fn draw_series<B: DrawingBackend>(
    chart: &mut Chart<'_, B>,
    axis: TimeAxis,
    series: &Series,
    position: usize,
    unit: f64,
) -> Result<(), PlotError> {
    let stroke = palette::stroke(position);
    let points = series
        .points
        .iter()
        .map(|(time, value)| (axis.place(*time), *value));
    match series.look {
        Look::Line => stroke_line(chart, points.collect(), stroke, 1.8, unit),
        Look::Points => {
            let (size, fill) = (px(3.5, unit), stroke.colour.filled());
            let marks = points.map(|point| Circle::new(point, size, fill));
            chart.draw_series(marks).map_err(failed)?;
            Ok(())
        }
    }
}

pub(super) fn stroke_line<B: DrawingBackend>(
    chart: &mut Chart<'_, B>,
    points: Vec<(f64, f64)>,
    stroke: Stroke,
    width: f64,
    unit: f64,
) -> Result<(), PlotError> {
    let style = stroke.colour.stroke_width(wide(width, unit));
    match stroke.dash {
        None => {
            chart
                .draw_series(LineSeries::new(points, style))
                .map_err(failed)?;
        }
        Some((dash, gap)) => {
            let (dash, gap) = (wide(dash * width, unit), wide(gap * width, unit));
            let line = DashedLineSeries::new(points, dash, gap, style);
            chart.draw_series(line).map_err(failed)?;
        }
    }
    Ok(())
}

/// A bracket from take-off to landing with the label over it.
pub(super) fn draw_jump<B: DrawingBackend>(
    chart: &mut Chart<'_, B>,
    axis: TimeAxis,
    jump: &JumpLabel,
    (low, high): (f64, f64),
    unit: f64,
) -> Result<(), PlotError> {
    let (from, to) = (axis.place(jump.takeoff), axis.place(jump.landing));
    let height = high - low;
    let (bar, foot) = (high - 0.10 * height, high - 0.13 * height);
    let bracket = vec![(from, foot), (from, bar), (to, bar), (to, foot)];
    let style = palette::INK.stroke_width(wide(1.2, unit));
    chart
        .draw_series([PathElement::new(bracket, style)])
        .map_err(failed)?;
    let lettering = text(13.0, unit, palette::INK, HPos::Center, VPos::Bottom);
    let place = (0.5 * (from + to), bar + 0.015 * height);
    let label = Text::new(printable(&jump.text), place, lettering);
    chart.draw_series([label]).map_err(failed)?;
    Ok(())
}

/// One line of samples with their names, between title and chart.
fn legend<B: DrawingBackend>(
    page: &Area<B>,
    series: &[Series],
    kinds: &[EventKind],
    unit: f64,
) -> Result<(), PlotError> {
    let (mut x, y) = (px(18.0, unit), px(56.0, unit));
    let lettering = text(13.0, unit, palette::INK, HPos::Left, VPos::Center);
    let sample = px(26.0, unit);
    let name = |label: &str, x: &mut i32| -> Result<(), PlotError> {
        let label = printable(label);
        let at = (*x + sample + px(7.0, unit), y);
        page.draw_text(&label, &lettering, at).map_err(failed)?;
        let (width, _) = page
            .estimate_text_size(&label, &lettering)
            .map_err(failed)?;
        *x = at.0 + width as i32 + px(22.0, unit);
        Ok(())
    };
    for (position, one) in series.iter().enumerate() {
        let stroke = palette::stroke(position);
        match one.look {
            Look::Line => sample_line(page, (x, y), sample, stroke, unit)?,
            Look::Points => {
                let at = (x + sample / 2, y);
                let mark = Circle::new(at, px(3.5, unit), stroke.colour.filled());
                page.draw(&mark).map_err(failed)?;
            }
        }
        name(&one.name, &mut x)?;
    }
    for kind in kinds {
        let stroke = event_stroke(*kind);
        sample_line(page, (x, y), sample, stroke, unit)?;
        name(kind.name(), &mut x)?;
        let half = px(8.0, unit);
        let fill = stroke.colour.mix(palette::BAND_COVER).filled();
        let band = Rectangle::new([(x, y - half), (x + sample, y + half)], fill);
        page.draw(&band).map_err(failed)?;
        name("cannot be outside", &mut x)?;
    }
    Ok(())
}

pub(super) fn sample_line<B: DrawingBackend>(
    page: &Area<B>,
    (x, y): (i32, i32),
    length: i32,
    stroke: Stroke,
    unit: f64,
) -> Result<(), PlotError> {
    let style = stroke.colour.stroke_width(wide(2.0, unit));
    let ends = [(x, y), (x + length, y)];
    match stroke.dash {
        None => page.draw(&PathElement::new(ends, style)).map_err(failed),
        Some((dash, gap)) => {
            let (dash, gap) = (wide(dash * 2.0, unit), wide(gap * 2.0, unit));
            let line = DashedPathElement::new(ends, dash, gap, style);
            page.draw(&line).map_err(failed)
        }
    }
}

/// Size of a drawing unit: 1 px on a page-sized plot.
pub(super) fn unit_of<B: DrawingBackend>(area: &Area<B>) -> f64 {
    let (width, height) = area.dim_in_pixel();
    (f64::from(width) / 960.0).min(f64::from(height) / 480.0)
}

/// A length in units as whole pixels, one at least.
pub(super) fn px(length: f64, unit: f64) -> i32 {
    (length * unit).round().clamp(1.0, 8192.0) as i32
}

/// The width of a line in whole pixels, one at least.
pub(super) fn wide(length: f64, unit: f64) -> u32 {
    px(length, unit).unsigned_abs()
}

pub(super) fn text(
    size: f64,
    unit: f64,
    colour: RGBColor,
    across: HPos,
    down: VPos,
) -> TextStyle<'static> {
    // The library sets letters at size / 1.24.
    (palette::TYPEFACE, size * unit * 1.24)
        .into_font()
        .color(&colour)
        .pos(Pos::new(across, down))
}

/// A number on an axis that spans `whole`: no more decimals than its marks need.
pub(super) fn tidy(value: f64, whole: f64) -> String {
    let decimals = (1.0 - whole.log10().floor()).clamp(0.0, 6.0) as usize;
    let text = format!("{value:.decimals$}");
    let text = match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        Some(rest) => format!("\u{2212}{rest}"),
        None => text,
    };
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
