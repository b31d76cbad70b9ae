//! Charts of several jumps: trials, sessions, a trend, two measures over time.
//!
//! Marks differ in shape, lines in dashes and bands in shade, so nothing hangs on
//! colour alone.

use super::canvas::{self, Drawing};
use super::draw::Area;
use super::{PlotError, PlotSize, ValueAxis, chart_draw, plausible};
use plotters::prelude::DrawingBackend;

/// What runs from left to right: trials, dates, counts.
#[derive(Clone, Debug, PartialEq)]
pub struct Across {
    /// Name under the axis; may be empty.
    pub name: String,
    /// Left end.
    pub from: f64,
    /// Right end.
    pub to: f64,
    /// Places with their labels; labels that would touch are left out.
    pub ticks: Vec<(f64, String)>,
}

/// How single values are marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// A large dark dot: what the plot is about.
    Dot,
    /// A ring: secondary.
    Ring,
    /// A small pale dot: single trials behind a mean.
    Speck,
    /// A cross: does not count.
    Cross,
}

/// One value, with how far it may be off.
#[derive(Clone, Debug, PartialEq)]
pub struct MarkPoint {
    /// Place on the axis across.
    pub at: f64,
    /// The value.
    pub value: f64,
    /// Ends of its error bar.
    pub interval: Option<(f64, f64)>,
    /// A word beside it.
    pub label: Option<String>,
}

impl MarkPoint {
    /// A value without a label.
    pub fn new(at: f64, value: f64, interval: Option<(f64, f64)>) -> Self {
        Self {
            at,
            value,
            interval,
            label: None,
        }
    }
}

/// Values of one kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Marks {
    /// What the legend calls them; empty for no entry.
    pub name: String,
    /// Their shape.
    pub mark: Mark,
    /// The values.
    pub points: Vec<MarkPoint>,
}

/// A line through points.
#[derive(Clone, Debug, PartialEq)]
pub struct ChartLine {
    /// What the legend calls it; empty for no entry.
    pub name: String,
    /// Which of the plots' line styles; styles differ in shade and dashes.
    pub style: usize,
    /// Its points.
    pub points: Vec<(f64, f64)>,
}

/// A shaded range of values.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// What the legend calls it; empty for no entry.
    pub name: String,
    /// From where to where across.
    pub across: (f64, f64),
    /// From which value to which.
    pub values: (f64, f64),
}

/// One chart with its own upright axis.
#[derive(Clone, Debug, PartialEq)]
pub struct ChartPanel {
    /// The upright axis.
    pub values: ValueAxis,
    /// Shaded ranges, drawn first.
    pub bands: Vec<Band>,
    /// Lines.
    pub lines: Vec<ChartLine>,
    /// Values, drawn last.
    pub marks: Vec<Marks>,
}

/// One or more charts above one another over the same axis across.
#[derive(Clone, Debug, PartialEq)]
pub struct Chart {
    /// Heading.
    pub title: String,
    /// The common axis.
    pub across: Across,
    /// The charts, from the top.
    pub panels: Vec<ChartPanel>,
    /// Size of lettering and lines; 1 is usual, more where the plot is shown small.
    pub lettering: f64,
}

impl Chart {
    /// One chart with usual lettering.
    pub fn one(title: String, across: Across, panel: ChartPanel) -> Self {
        Self {
            title,
            across,
            panels: vec![panel],
            lettering: 1.0,
        }
    }

    /// The chart as one SVG document.
    ///
    /// # Errors
    /// [`PlotError`] when there is nothing to draw or a number is not plausible.
    pub fn svg(&self, size: PlotSize) -> Result<String, PlotError> {
        canvas::svg(self, size)
    }

    /// The chart as an 8-bit RGB PNG.
    ///
    /// # Errors
    /// As [`Chart::svg`].
    pub fn png(&self, size: PlotSize) -> Result<Vec<u8>, PlotError> {
        canvas::png(self, size)
    }
}

impl ChartPanel {
    /// Every value that must be on the chart.
    pub(super) fn heights(&self) -> impl Iterator<Item = f64> {
        let marks = self.marks.iter().flat_map(|marks| &marks.points);
        let marked = marks.flat_map(|p| {
            [
                Some(p.value),
                p.interval.map(|i| i.0),
                p.interval.map(|i| i.1),
            ]
        });
        let lines = self.lines.iter().flat_map(|line| &line.points);
        let bands = self.bands.iter().flat_map(|b| [b.values.0, b.values.1]);
        marked.flatten().chain(lines.map(|p| p.1)).chain(bands)
    }

    fn places(&self) -> impl Iterator<Item = f64> {
        let marks = self.marks.iter().flat_map(|marks| &marks.points);
        let lines = self.lines.iter().flat_map(|line| &line.points);
        let bands = self.bands.iter().flat_map(|b| [b.across.0, b.across.1]);
        marks.map(|p| p.at).chain(lines.map(|p| p.0)).chain(bands)
    }
}

impl Drawing for Chart {
    fn title(&self) -> &str {
        &self.title
    }

    fn check(&self) -> Result<(), PlotError> {
        all_plausible("lettering", [self.lettering].into_iter())?;
        let Across {
            from, to, ticks, ..
        } = &self.across;
        let ends = [*from, *to].into_iter().chain(ticks.iter().map(|t| t.0));
        all_plausible(&self.across.name, ends)?;
        if to <= from {
            return Err(PlotError::NoTimeSpan {
                plot: self.title.clone(),
            });
        }
        if self.panels.is_empty() {
            return Err(PlotError::NoSeries {
                plot: self.title.clone(),
            });
        }
        for panel in &self.panels {
            all_plausible(&panel.values.name, panel.heights())?;
            all_plausible(&panel.values.name, panel.places())?;
            if panel.heights().next().is_none() {
                return Err(PlotError::NoSeries {
                    plot: panel.values.name.clone(),
                });
            }
        }
        Ok(())
    }

    fn draw<B: DrawingBackend>(&self, page: &Area<B>) -> Result<(), PlotError> {
        chart_draw::chart(page, self)
    }
}

/// Refuses numbers to which no axis can be counted out.
pub(super) fn all_plausible(
    name: &str,
    mut numbers: impl Iterator<Item = f64>,
) -> Result<(), PlotError> {
    match numbers.position(|number| !plausible(number)) {
        Some(point) => Err(PlotError::Implausible {
            series: name.to_owned(),
            point,
        }),
        None => Ok(()),
    }
}
