//! Two quantities against one another: marks with error bars, lines, bands, levels.
//!
//! What is shown is decided in the modules that fill a [`Scatter`]; this one draws.

mod draw;
mod marks;
#[cfg(test)]
mod tests;

pub(super) use draw::draw;

use plotters::prelude::{DrawingBackend, WHITE};

use super::draw::{Area, failed};
use super::{PlotError, PlotSize, ValueAxis, canvas, plausible};

/// Colour of a layer; the tones differ in luminance too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// Nearly black.
    Ink,
    /// Dark blue.
    Blue,
    /// Green-blue.
    Teal,
    /// Orange.
    Orange,
    /// Violet.
    Violet,
    /// Grey, for what stays in the background.
    Grey,
}

/// Form of a mark, so that series differ without colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// A disc.
    Disc,
    /// A triangle.
    Triangle,
    /// A square.
    Square,
    /// A diamond.
    Diamond,
}

impl Form {
    /// The form of the series at `position`.
    pub fn nth(position: usize) -> Self {
        const ORDER: [Form; 4] = [Form::Disc, Form::Triangle, Form::Square, Form::Diamond];
        ORDER[position % ORDER.len()]
    }
}

/// One measured point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// Place across.
    pub x: f64,
    /// Place up.
    pub y: f64,
    /// Ends of a level error bar.
    pub across: Option<(f64, f64)>,
    /// Ends of an upright error bar.
    pub up: Option<(f64, f64)>,
    /// Drawn as an outline only.
    pub hollow: bool,
}

/// What a layer is made of.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// Single points.
    Marks(Form, Vec<Mark>),
    /// A line through points, dashed or not.
    Line {
        /// The points.
        points: Vec<(f64, f64)>,
        /// Dashed, for what is not measured.
        dashed: bool,
    },
    /// What lies between two curves: x, lower end, upper end.
    Band(Vec<(f64, f64, f64)>),
    /// A level line across the whole chart with its interval as a band.
    Level {
        /// Its value.
        at: f64,
        /// Ends of its interval.
        ends: Option<(f64, f64)>,
        /// Written at its right end.
        label: String,
        /// Dashed or not.
        dashed: bool,
    },
}

/// One layer of a chart; the first is drawn first.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// What the legend calls it; empty leaves it out.
    pub name: String,
    /// Its colour.
    pub tone: Tone,
    /// What is drawn.
    pub shape: Shape,
}

/// A chart that can be drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Scatter {
    /// Heading.
    pub title: String,
    /// The level axis.
    pub across: ValueAxis,
    /// The upright axis.
    pub up: ValueAxis,
    /// Layers, from the background forward.
    pub layers: Vec<Layer>,
    /// Places that must be on the chart although nothing stands there.
    pub include: Vec<(f64, f64)>,
}

/// Lettering of a chart on a screen, in units: as large as the words round it.
const SCREEN_UNIT: f64 = 0.85;

/// A chart for the screen it is shown on: its lettering keeps its size, however narrow.
struct OnScreen<'a>(&'a Scatter);

impl canvas::Drawing for OnScreen<'_> {
    fn title(&self) -> &str {
        &self.0.title
    }

    fn check(&self) -> Result<(), PlotError> {
        self.0.check()
    }

    fn draw<B: DrawingBackend>(&self, page: &Area<B>) -> Result<(), PlotError> {
        page.fill(&WHITE).map_err(failed)?;
        draw(page, self.0, SCREEN_UNIT)?;
        page.present().map_err(failed)
    }
}

impl Scatter {
    /// As one SVG document of this size, without its title, which stands beside it on a
    /// page.
    ///
    /// # Errors
    /// Each [`PlotError`] but [`PlotError::Encode`].
    pub fn svg_for_screen(&self, size: PlotSize) -> Result<String, PlotError> {
        canvas::svg(&OnScreen(self), size)
    }

    /// Refuses what cannot be drawn, before any drawing.
    pub(super) fn check(&self) -> Result<(), PlotError> {
        for layer in &self.layers {
            if let Some(point) = layer.places().iter().position(|(x, y)| {
                !(plausible(x.unwrap_or_default()) && plausible(y.unwrap_or_default()))
            }) {
                return Err(PlotError::Implausible {
                    series: layer.name.clone(),
                    point,
                });
            }
        }
        let empty = |layer: &Layer| layer.places().iter().all(|(x, _)| x.is_none());
        if self.layers.iter().all(empty) {
            return Err(PlotError::NoSeries {
                plot: self.title.clone(),
            });
        }
        Ok(())
    }

    /// The span of both axes with some air round what is drawn.
    fn ranges(&self) -> ((f64, f64), (f64, f64)) {
        let places = self.layers.iter().flat_map(Layer::places);
        let wanted = self.include.iter().map(|(x, y)| (Some(*x), Some(*y)));
        let (mut x, mut y) = (EMPTY, EMPTY);
        for (across, up) in places.chain(wanted) {
            x = across.map_or(x, |v| (x.0.min(v), x.1.max(v)));
            y = up.map_or(y, |v| (y.0.min(v), y.1.max(v)));
        }
        (aired(x), aired(y))
    }
}

const EMPTY: (f64, f64) = (f64::INFINITY, f64::NEG_INFINITY);

/// A range with air; an axis that begins at nought keeps beginning there.
fn aired((lo, hi): (f64, f64)) -> (f64, f64) {
    let width = hi - lo;
    let air = if width > 1e-9 * hi.abs().max(1e-3) {
        0.05 * width
    } else {
        hi.abs().max(1.0)
    };
    (if lo == 0.0 { 0.0 } else { lo - air }, hi + air)
}

impl Layer {
    /// Every place the layer takes up, on either axis.
    fn places(&self) -> Vec<(Option<f64>, Option<f64>)> {
        let both = |x: f64, y: f64| (Some(x), Some(y));
        match &self.shape {
            Shape::Marks(_, marks) => marks
                .iter()
                .flat_map(|m| {
                    let (left, right) = m.across.unwrap_or((m.x, m.x));
                    let (lower, upper) = m.up.unwrap_or((m.y, m.y));
                    [both(m.x, m.y), both(left, lower), both(right, upper)]
                })
                .collect(),
            Shape::Line { points, .. } => points.iter().map(|(x, y)| both(*x, *y)).collect(),
            Shape::Band(points) => points
                .iter()
                .flat_map(|(x, lo, hi)| [both(*x, *lo), both(*x, *hi)])
                .collect(),
            Shape::Level { at, ends, .. } => {
                let (lo, hi) = ends.unwrap_or((*at, *at));
                vec![(None, Some(*at)), (None, Some(lo)), (None, Some(hi))]
            }
        }
    }
}
