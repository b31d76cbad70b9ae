//! The contact trace under a picture: drawn for the screen it is shown on, so that its
//! lettering keeps its size, and placed so that a click on it means a moment.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::canvas::{self, Drawing};
use super::draw::{Area, TimeAxis, draw_event, draw_jump, draw_series, failed, text, tidy};
use super::palette;
use super::{JumpLabel, PlotError, PlotEvent, PlotSize, Series, check_event, check_series};
use crate::units::CaptureTime;

/// Room left and right of the drawing and below it, in pixels.
pub const SIDE_PX: u32 = 22;
const FOOT_PX: u32 = 24;

/// A stretch of a clip's trace.
#[derive(Clone, Debug, PartialEq)]
pub struct Timeline {
    /// What screen readers speak.
    pub title: String,
    /// The curves.
    pub series: Vec<Series>,
    /// Take-offs and landings.
    pub events: Vec<PlotEvent>,
    /// A label for each jump.
    pub jumps: Vec<JumpLabel>,
    /// The moment at the left edge of the drawing, [`SIDE_PX`] from that of the plot.
    pub from: CaptureTime,
    /// The moment at its right edge, as far from that of the plot.
    pub to: CaptureTime,
}

impl Timeline {
    /// As one SVG document of this size.
    ///
    /// # Errors
    /// [`PlotError`] where it cannot be drawn.
    pub fn svg(&self, size: PlotSize) -> Result<String, PlotError> {
        canvas::svg(self, size)
    }

    /// The curve's parts that show: points inside, and one more on either side.
    fn shown(&self) -> Vec<Series> {
        let part = |series: &Series| {
            let points = &series.points;
            let first = points.partition_point(|(time, _)| *time < self.from);
            let last = points.partition_point(|(time, _)| *time <= self.to);
            let range = first.saturating_sub(1)..(last + 1).min(points.len());
            Series {
                points: points.get(range).unwrap_or_default().to_vec(),
                ..series.clone()
            }
        };
        self.series.iter().map(part).collect()
    }

    fn highest(&self) -> f64 {
        let values = self.series.iter().flat_map(|series| &series.points);
        values.map(|(_, value)| *value).fold(1e-3, f64::max)
    }
}

impl Drawing for Timeline {
    fn title(&self) -> &str {
        &self.title
    }

    /// Low enough to stand under a picture.
    fn sides(&self) -> std::ops::RangeInclusive<u32> {
        80..=4096
    }

    fn check(&self) -> Result<(), PlotError> {
        check_series(&self.title, &self.series)?;
        self.events.iter().try_for_each(check_event)?;
        let finite = self.from.seconds().is_finite() && self.to.seconds().is_finite();
        if finite && (self.to - self.from).seconds() >= super::SHORTEST_SPAN_S {
            return Ok(());
        }
        Err(PlotError::NoTimeSpan {
            plot: self.title.clone(),
        })
    }

    fn draw<B: DrawingBackend>(&self, page: &Area<B>) -> Result<(), PlotError> {
        page.fill(&WHITE).map_err(failed)?;
        let (from, to) = (self.from.seconds(), self.to.seconds());
        let values = (-0.06 * self.highest(), 1.4 * self.highest());
        let mut chart = ChartBuilder::on(page)
            .margin_left(SIDE_PX)
            .margin_right(SIDE_PX)
            .margin_top(4)
            .x_label_area_size(FOOT_PX)
            .build_cartesian_2d(from..to, values.0..values.1)
            .map_err(failed)?;
        let step = to - from;
        let marks = (page.dim_in_pixel().0 / 90).max(2) as usize;
        chart
            .configure_mesh()
            .disable_y_mesh()
            .disable_y_axis()
            .bold_line_style(palette::GRID.stroke_width(1))
            .light_line_style(TRANSPARENT)
            .axis_style(palette::SOFT_INK.stroke_width(1))
            .x_labels(marks)
            .x_label_formatter(&|value| format!("{} s", tidy(*value, step)))
            .label_style(
                text(12.0, 1.0, palette::SOFT_INK, HPos::Center, VPos::Center).pos(Pos::default()),
            )
            .draw()
            .map_err(failed)?;
        let inside = |a: CaptureTime, b: CaptureTime| b >= self.from && a <= self.to;
        for event in &self.events {
            if inside(event.earliest, event.latest) {
                draw_event(&mut chart, TimeAxis::Seconds, event, values, 1.0)?;
            }
        }
        for (position, series) in self.shown().iter().enumerate() {
            if series.points.len() > 1 {
                draw_series(&mut chart, TimeAxis::Seconds, series, position, 1.0)?;
            }
        }
        for jump in &self.jumps {
            if jump.takeoff >= self.from && jump.landing <= self.to {
                draw_jump(&mut chart, TimeAxis::Seconds, jump, values, 1.0)?;
            }
        }
        page.present().map_err(failed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::plot::Look;

    fn at(seconds: f64) -> CaptureTime {
        CaptureTime::from_seconds(seconds)
    }

    #[test]
    fn only_the_stretch_asked_for_is_drawn() {
        let series = Series {
            name: "floor patch".to_owned(),
            look: Look::Line,
            points: (0..100)
                .map(|k| (at(f64::from(k) * 0.1), f64::from(k % 7)))
                .collect(),
        };
        let timeline = Timeline {
            title: "a clip".to_owned(),
            series: vec![series],
            events: Vec::new(),
            jumps: Vec::new(),
            from: at(2.0),
            to: at(4.0),
        };
        let shown = timeline.shown();
        let points = &shown[0].points;
        assert!((points[0].0.seconds() - 1.9).abs() < 1e-9);
        assert!((points[points.len() - 1].0.seconds() - 4.1).abs() < 1e-9);
        let size = PlotSize {
            width_px: 360,
            height_px: 240,
        };
        assert!(timeline.svg(size).is_ok_and(|svg| svg.contains("3 s")));
        let nothing = Timeline {
            to: at(2.0),
            ..timeline
        };
        assert!(matches!(
            nothing.svg(size),
            Err(PlotError::NoTimeSpan { .. })
        ));
    }
}
