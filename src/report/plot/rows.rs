//! One row for each athlete: how far she changed, and how sure that is.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::canvas::{self, Drawing};
use super::chart::all_plausible;
use super::chart_draw::heading;
use super::draw::{
    Area, Chart as Axes, failed, px, shortened, stroke_line, text, tidy, value_label, wide,
};
use super::palette::{self, Stroke};
use super::{PlotError, PlotSize, ValueAxis, printable};

/// Most rows of one plot; more could not be read, nor drawn at any size.
pub const MOST_ROWS: usize = 120;

/// Width of the page in units.
const PAGE: f64 = 960.0;
/// Height of a row in units.
const ROW: f64 = 26.0;
/// Title and legend above the rows, in units.
const ABOVE: f64 = 76.0;
/// Axis and its name below them, in units.
const BELOW: f64 = 58.0;
/// Room for names on the left and notes on the right, in units.
const NAMES: f64 = 215.0;
const NOTES: f64 = 170.0;

/// How a row came out; each has a shape of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RowMark {
    /// A triangle upwards.
    Rose,
    /// A triangle downwards.
    Fell,
    /// A ring.
    Open,
}

/// One athlete.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Name on the left.
    pub name: String,
    /// Verdict on the right.
    pub note: String,
    /// The change; none if there is none.
    pub change: Option<RowChange>,
}

/// How far one athlete changed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RowChange {
    /// The change.
    pub value: f64,
    /// Its interval.
    pub interval: Option<(f64, f64)>,
    /// How it came out.
    pub mark: RowMark,
}

impl RowChange {
    /// The ends of the interval, or the value twice.
    fn ends(&self) -> (f64, f64) {
        self.interval.unwrap_or((self.value, self.value))
    }
}

/// A squad's changes about a line of no change.
#[derive(Clone, Debug, PartialEq)]
pub struct RowsPlot {
    /// Heading.
    pub title: String,
    /// What the axis under the rows shows.
    pub values: ValueAxis,
    /// What the legend calls the band about 0.
    pub band_name: String,
    /// Half its width; none draws no band.
    pub band: Option<f64>,
    /// The rows from the top.
    pub rows: Vec<Row>,
}

impl RowsPlot {
    /// The plot as one SVG document of the given width.
    ///
    /// # Errors
    /// [`PlotError`] when there is no row, too many, or a number is not plausible.
    pub fn svg(&self, width_px: u32) -> Result<String, PlotError> {
        canvas::svg(self, self.size(width_px))
    }

    /// The plot as a PNG of the given width.
    ///
    /// # Errors
    /// As [`RowsPlot::svg`].
    pub fn png(&self, width_px: u32) -> Result<Vec<u8>, PlotError> {
        canvas::png(self, self.size(width_px))
    }

    /// As high as its rows need.
    fn size(&self, width_px: u32) -> PlotSize {
        let rows = self.rows.len().min(MOST_ROWS) as f64;
        let height = ABOVE + ROW * rows + BELOW;
        PlotSize {
            width_px,
            height_px: (height * f64::from(width_px) / PAGE).ceil().max(240.0) as u32,
        }
    }

    fn reach(&self) -> f64 {
        let values = self.rows.iter().filter_map(|row| row.change);
        let ends = values.flat_map(|change| {
            let (lo, hi) = change.ends();
            [change.value.abs(), lo.abs(), hi.abs()]
        });
        let most = ends.chain(self.band).fold(0.0, f64::max);
        if most > 0.0 { 1.08 * most } else { 1.0 }
    }
}

impl Drawing for RowsPlot {
    fn title(&self) -> &str {
        &self.title
    }

    fn check(&self) -> Result<(), PlotError> {
        if self.rows.is_empty() || self.rows.len() > MOST_ROWS {
            return Err(PlotError::NoSeries {
                plot: self.title.clone(),
            });
        }
        for row in &self.rows {
            let numbers = row.change.map(|change| {
                let (lo, hi) = change.ends();
                [change.value, lo, hi]
            });
            all_plausible(&row.name, numbers.into_iter().flatten())?;
        }
        all_plausible(&self.band_name, self.band.into_iter())
    }

    fn draw<B: DrawingBackend>(&self, page: &Area<B>) -> Result<(), PlotError> {
        page.fill(&WHITE).map_err(failed)?;
        let unit = f64::from(page.dim_in_pixel().0) / PAGE;
        heading(page, &self.title, unit)?;
        let (reach, count) = (self.reach(), self.rows.len() as f64);
        let mut axes = ChartBuilder::on(page)
            .margin_top(px(ABOVE, unit))
            .margin_bottom(px(8.0, unit))
            .margin_left(px(NAMES, unit))
            .margin_right(px(NOTES, unit))
            .x_label_area_size(px(BELOW - 10.0, unit))
            .build_cartesian_2d(-reach..reach, 0.0..count)
            .map_err(failed)?;
        let lettering = text(12.0, unit, palette::SOFT_INK, HPos::Center, VPos::Center);
        axes.configure_mesh()
            .disable_y_mesh()
            .bold_line_style(palette::GRID.stroke_width(wide(1.0, unit)))
            .light_line_style(TRANSPARENT)
            .axis_style(palette::SOFT_INK.stroke_width(wide(1.0, unit)))
            .x_labels(9)
            .y_labels(0)
            .x_label_formatter(&|value| tidy(*value, 2.0 * reach))
            .label_style(lettering.pos(Pos::default()))
            .axis_desc_style(text(13.0, unit, palette::INK, HPos::Left, VPos::Top))
            .x_desc(value_label(&self.values.name, &self.values.unit))
            .draw()
            .map_err(failed)?;
        self.draw_ground(&mut axes, count, unit)?;
        for (position, row) in self.rows.iter().enumerate() {
            let middle = count - position as f64 - 0.5;
            draw_row(page, &axes, row, middle, reach, unit)?;
        }
        self.draw_legend(page, unit)?;
        page.present().map_err(failed)
    }
}

impl RowsPlot {
    fn draw_ground<B: DrawingBackend>(
        &self,
        axes: &mut Axes<'_, B>,
        count: f64,
        unit: f64,
    ) -> Result<(), PlotError> {
        if let Some(half) = self.band {
            let fill = palette::TAKEOFF.mix(0.16).filled();
            let band = Rectangle::new([(-half, 0.0), (half, count)], fill);
            axes.draw_series([band]).map_err(failed)?;
        }
        let zero = Stroke {
            colour: palette::SOFT_INK,
            dash: Some((4.0, 3.0)),
        };
        stroke_line(axes, vec![(0.0, 0.0), (0.0, count)], zero, 1.2, unit)
    }

    /// The marks in use with their meaning, under the title.
    fn draw_legend<B: DrawingBackend>(&self, page: &Area<B>, unit: f64) -> Result<(), PlotError> {
        let lettering = text(13.0, unit, palette::INK, HPos::Left, VPos::Center);
        let (mut x, y) = (px(25.0, unit), px(54.0, unit));
        let name = |x: &mut i32, label: &str| -> Result<(), PlotError> {
            let at = (*x + px(12.0, unit), y);
            page.draw_text(label, &lettering, at).map_err(failed)?;
            let (width, _) = page.estimate_text_size(label, &lettering).map_err(failed)?;
            *x = at.0 + (1.08 * f64::from(width)) as i32 + px(26.0, unit);
            Ok(())
        };
        for (mark, label) in [
            (RowMark::Rose, "rose"),
            (RowMark::Fell, "fell"),
            (RowMark::Open, "not told apart yet"),
        ] {
            let used = |row: &Row| row.change.is_some_and(|change| change.mark == mark);
            if self.rows.iter().any(used) {
                draw_mark(page, mark, (x, y), unit)?;
                name(&mut x, label)?;
            }
        }
        if self.band.is_some() {
            let (half, length) = (px(8.0, unit), px(20.0, unit));
            let corners = [(x - half, y - half), (x - half + length, y + half)];
            let fill = palette::TAKEOFF.mix(0.16).filled();
            page.draw(&Rectangle::new(corners, fill)).map_err(failed)?;
            x += px(8.0, unit);
            name(&mut x, &printable(&self.band_name))?;
        }
        Ok(())
    }
}

fn draw_row<B: DrawingBackend>(
    page: &Area<B>,
    axes: &Axes<'_, B>,
    row: &Row,
    middle: f64,
    reach: f64,
    unit: f64,
) -> Result<(), PlotError> {
    let (left, y) = axes.backend_coord(&(-reach, middle));
    let right = axes.backend_coord(&(reach, middle)).0;
    let names = text(13.0, unit, palette::INK, HPos::Right, VPos::Center);
    let room = wide(NAMES - 26.0, unit);
    let name = shortened(page, &printable(&row.name), &names, room)?;
    let at = (left - px(10.0, unit), y);
    page.draw_text(&name, &names, at).map_err(failed)?;
    let notes = text(13.0, unit, palette::SOFT_INK, HPos::Left, VPos::Center);
    let note = shortened(
        page,
        &printable(&row.note),
        &notes,
        wide(NOTES - 20.0, unit),
    )?;
    let at = (right + px(10.0, unit), y);
    page.draw_text(&note, &notes, at).map_err(failed)?;
    let Some(RowChange {
        value,
        interval,
        mark,
    }) = row.change
    else {
        return Ok(());
    };
    if let Some((lo, hi)) = interval {
        let place = |value| axes.backend_coord(&(value, middle)).0;
        draw_interval(page, (place(lo), place(hi)), y, unit)?;
    }
    draw_mark(
        page,
        mark,
        (axes.backend_coord(&(value, middle)).0, y),
        unit,
    )
}

/// A level bar with feet.
fn draw_interval<B: DrawingBackend>(
    page: &Area<B>,
    (lo, hi): (i32, i32),
    y: i32,
    unit: f64,
) -> Result<(), PlotError> {
    let style = palette::INK.stroke_width(wide(1.3, unit));
    let foot = px(4.0, unit);
    for line in [
        [(lo, y), (hi, y)],
        [(lo, y - foot), (lo, y + foot)],
        [(hi, y - foot), (hi, y + foot)],
    ] {
        page.draw(&PathElement::new(line, style)).map_err(failed)?;
    }
    Ok(())
}

fn draw_mark<B: DrawingBackend>(
    page: &Area<B>,
    mark: RowMark,
    (x, y): (i32, i32),
    unit: f64,
) -> Result<(), PlotError> {
    let size = px(6.0, unit);
    let triangle = |way: i32| {
        vec![
            (x - size, y + way * size),
            (x + size, y + way * size),
            (x, y - way * size),
        ]
    };
    match mark {
        RowMark::Rose => page.draw(&Polygon::new(triangle(1), palette::TAKEOFF.filled())),
        RowMark::Fell => page.draw(&Polygon::new(triangle(-1), palette::LANDING.filled())),
        RowMark::Open => {
            let size = px(4.5, unit);
            page.draw(&Circle::new((x, y), size, WHITE.filled()))
                .and_then(|()| {
                    let edge = palette::INK.stroke_width(wide(1.6, unit));
                    page.draw(&Circle::new((x, y), size, edge))
                })
        }
    }
    .map_err(failed)
}
