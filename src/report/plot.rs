//! Plots of the contact trace with its events, as SVG and PNG.
//!
//! One drawing function serves both formats, so they cannot disagree. Colours are
//! told apart by luminance and line style too: the plots stay readable in greyscale
//! and for colour-blind readers.

pub mod agreement;
mod canvas;
pub mod chart;
mod chart_draw;
#[cfg(test)]
mod chart_tests;
mod draw;
mod lettering;
pub mod loads;
mod palette;
pub mod rows;
pub mod scatter;
#[cfg(test)]
mod tests;
pub mod timeline;

use std::sync::OnceLock;

use ab_glyph::FontRef;
use image::codecs::png::PngEncoder;
use image::{ExtendedColorType, ImageEncoder};
use plotters::drawing::IntoDrawingArea;
use plotters::prelude::{BitMapBackend, SVGBackend};
use plotters::style::{FontStyle, register_font};
use thiserror::Error;

use crate::units::CaptureTime;
pub use crate::video::still::EventKind;

/// Smallest and largest side of a plot, in pixels.
const SIDES_PX: std::ops::RangeInclusive<u32> = 240..=8192;

/// Largest time or value that is drawn; axes cannot be counted out far beyond it.
const LARGEST: f64 = 1e9;

/// Shortest span of time that is drawn, in seconds: far below one exposure.
const SHORTEST_SPAN_S: f64 = 1e-6;

/// Why a plot could not be drawn.
#[derive(Debug, Error)]
pub enum PlotError {
    /// Nothing to draw.
    #[error("the plot \"{plot}\" has no curve; measure the clip first")]
    NoSeries {
        /// Title of the plot or name of the panel.
        plot: String,
    },
    /// A curve needs two points at least.
    #[error("the curve \"{series}\" has {count} point(s), too few to draw; keep more of the clip")]
    TooFewPoints {
        /// Name of the curve.
        series: String,
        /// Points it has.
        count: usize,
    },
    /// A time or a value is not a finite number, or far beyond anything filmed.
    #[error("\"{series}\" holds no plausible number at point {point}; report this fault")]
    Implausible {
        /// Name of the curve, event or label.
        series: String,
        /// Position of the bad point, counted from 0.
        point: usize,
    },
    /// Earliest, best and latest moment of an event are out of order.
    #[error("the {event} at {best} lies outside its own bounds; report this fault")]
    EventOrder {
        /// Take-off or landing.
        event: &'static str,
        /// Best estimate of the moment.
        best: CaptureTime,
    },
    /// All points share one moment, or nearly so.
    #[error("the points of \"{plot}\" span no time; check the clip's time stamps")]
    NoTimeSpan {
        /// Title of the plot or name of the panel.
        plot: String,
    },
    /// A plot of this size cannot be read or held in memory.
    #[error(
        "a plot of {width_px} x {height_px} px cannot be drawn; choose sides from {least} to {most} px",
        least = SIDES_PX.start(), most = SIDES_PX.end()
    )]
    Size {
        /// Width asked for.
        width_px: u32,
        /// Height asked for.
        height_px: u32,
    },
    /// The drawing library failed.
    #[error("the plot could not be drawn: {0}")]
    Drawing(String),
    /// The PNG encoder failed.
    #[error("the plot could not be encoded as PNG: {0}")]
    Encode(#[from] image::ImageError),
}

/// Size of a plot; lettering and lines grow with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlotSize {
    /// Width in pixels (SVG user units).
    pub width_px: u32,
    /// Height in pixels (SVG user units).
    pub height_px: u32,
}

impl PlotSize {
    /// Fits a page of text.
    pub const PAGE: Self = Self {
        width_px: 960,
        height_px: 480,
    };
    /// Twice as fine, for pictures.
    pub const FINE: Self = Self {
        width_px: 1920,
        height_px: 960,
    };
}

/// How a curve is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// A line through the points.
    Line,
    /// A mark at each point: single frames.
    Points,
}

/// One curve over time.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// What the legend calls it.
    pub name: String,
    /// Line or marks.
    pub look: Look,
    /// Moments and values, in the unit of the plot's [`ValueAxis`].
    pub points: Vec<(CaptureTime, f64)>,
}

/// What the upright axis shows; all curves of a plot share it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ValueAxis {
    /// Name of the quantity.
    pub name: String,
    /// Its unit, such as `px` or `m`; empty for a pure number.
    pub unit: String,
}

/// An event with its bounds: it cannot lie before `earliest` or after `latest`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlotEvent {
    /// Take-off or landing.
    pub kind: EventKind,
    /// Lower bound.
    pub earliest: CaptureTime,
    /// Best estimate.
    pub best: CaptureTime,
    /// Upper bound.
    pub latest: CaptureTime,
}

/// Text over the flight of one jump.
#[derive(Clone, Debug, PartialEq)]
pub struct JumpLabel {
    /// Such as `Jump 1: 31.4 cm`.
    pub text: String,
    /// Where the flight begins.
    pub takeoff: CaptureTime,
    /// Where it ends.
    pub landing: CaptureTime,
}

/// The whole contact trace of a clip.
#[derive(Clone, Debug, PartialEq)]
pub struct TracePlot {
    /// Heading.
    pub title: String,
    /// The upright axis.
    pub values: ValueAxis,
    /// The curves.
    pub series: Vec<Series>,
    /// Take-offs and landings.
    pub events: Vec<PlotEvent>,
    /// A label for each jump.
    pub jumps: Vec<JumpLabel>,
}

/// The surroundings of one event; times count from its best estimate.
#[derive(Clone, Debug, PartialEq)]
pub struct ZoomPanel {
    /// The event in the middle.
    pub event: PlotEvent,
    /// Single frames as points, the fitted path as a line.
    pub series: Vec<Series>,
}

/// Take-off and landing of one jump side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct ZoomPlot {
    /// Heading.
    pub title: String,
    /// The upright axis of both panels.
    pub values: ValueAxis,
    /// Left panel.
    pub takeoff: ZoomPanel,
    /// Right panel.
    pub landing: ZoomPanel,
}

/// A plot that can be drawn.
#[derive(Clone, Copy, Debug)]
pub enum Plot<'a> {
    /// The whole clip.
    Trace(&'a TracePlot),
    /// Two events from near.
    Zoom(&'a ZoomPlot),
    /// Any two quantities against one another.
    Scatter(&'a scatter::Scatter),
}

impl Plot<'_> {
    /// The plot as one SVG document.
    ///
    /// # Errors
    /// Each [`PlotError`] but [`PlotError::Encode`].
    pub fn svg(self, size: PlotSize) -> Result<String, PlotError> {
        self.prepare(size)?;
        let mut text = String::new();
        let area = SVGBackend::with_string(&mut text, (size.width_px, size.height_px));
        draw::plot(&area.into_drawing_area(), self)?;
        Ok(describe(&text, self.title()))
    }

    /// The plot as an 8-bit RGB PNG of exactly the size asked for.
    ///
    /// # Errors
    /// Each [`PlotError`].
    pub fn png(self, size: PlotSize) -> Result<Vec<u8>, PlotError> {
        self.prepare(size)?;
        let (width, height) = (size.width_px, size.height_px);
        let mut pixels = vec![0; width as usize * height as usize * 3];
        let backend = lettering::Lettered {
            inner: BitMapBackend::with_buffer(&mut pixels, (width, height)),
            typeface: FontRef::try_from_slice(TYPEFACE).map_err(|_| typeface_fault())?,
        };
        draw::plot(&backend.into_drawing_area(), self)?;
        let mut bytes = Vec::new();
        PngEncoder::new(&mut bytes).write_image(&pixels, width, height, ExtendedColorType::Rgb8)?;
        Ok(bytes)
    }

    fn title(&self) -> &str {
        match self {
            Plot::Trace(trace) => &trace.title,
            Plot::Zoom(zoom) => &zoom.title,
            Plot::Scatter(scatter) => &scatter.title,
        }
    }

    /// Refuses what cannot be drawn, before any drawing.
    fn prepare(&self, size: PlotSize) -> Result<(), PlotError> {
        if !SIDES_PX.contains(&size.width_px) || !SIDES_PX.contains(&size.height_px) {
            return Err(PlotError::Size {
                width_px: size.width_px,
                height_px: size.height_px,
            });
        }
        match self {
            Plot::Trace(trace) => {
                check_series(&trace.title, &trace.series)?;
                check_labels(&trace.jumps)?;
                trace.events.iter().try_for_each(check_event)?;
            }
            Plot::Zoom(zoom) => {
                for panel in [&zoom.takeoff, &zoom.landing] {
                    check_series(panel.event.kind.name(), &panel.series)?;
                    check_event(&panel.event)?;
                }
            }
            Plot::Scatter(scatter) => scatter.check()?,
        }
        typeface()
    }
}

fn check_series(plot: &str, all: &[Series]) -> Result<(), PlotError> {
    for series in all {
        if series.points.len() < 2 {
            return Err(PlotError::TooFewPoints {
                series: series.name.clone(),
                count: series.points.len(),
            });
        }
        let good =
            |(time, value): &(CaptureTime, f64)| plausible(time.seconds()) && plausible(*value);
        if let Some(point) = series.points.iter().position(|point| !good(point)) {
            return Err(PlotError::Implausible {
                series: series.name.clone(),
                point,
            });
        }
    }
    let moments = all.iter().flat_map(|series| &series.points);
    let ends = moments
        .map(|(time, _)| (*time, *time))
        .reduce(|(first, last), (time, _)| (first.earlier(time), last.later(time)));
    let plot = plot.to_owned();
    match ends {
        None => Err(PlotError::NoSeries { plot }),
        Some((first, last)) if (last - first).seconds() < SHORTEST_SPAN_S => {
            Err(PlotError::NoTimeSpan { plot })
        }
        Some(_) => Ok(()),
    }
}

/// Whether an axis can be counted out to `number`.
fn plausible(number: f64) -> bool {
    number.abs() <= LARGEST
}

fn check_event(event: &PlotEvent) -> Result<(), PlotError> {
    let moments = [event.earliest, event.best, event.latest];
    if let Some(point) = moments.iter().position(|time| !plausible(time.seconds())) {
        return Err(PlotError::Implausible {
            series: event.kind.name().to_owned(),
            point,
        });
    }
    if event.earliest > event.best || event.best > event.latest {
        return Err(PlotError::EventOrder {
            event: event.kind.name(),
            best: event.best,
        });
    }
    Ok(())
}

fn check_labels(jumps: &[JumpLabel]) -> Result<(), PlotError> {
    for label in jumps {
        let ends = [label.takeoff, label.landing];
        if let Some(point) = ends.iter().position(|time| !plausible(time.seconds())) {
            return Err(PlotError::Implausible {
                series: label.text.clone(),
                point,
            });
        }
    }
    Ok(())
}

/// The built-in typeface.
const TYPEFACE: &[u8] = epaint_default_fonts::UBUNTU_LIGHT;

/// Hands the built-in typeface to the drawing library, once.
fn typeface() -> Result<(), PlotError> {
    static READY: OnceLock<bool> = OnceLock::new();
    let register = || register_font(palette::TYPEFACE, FontStyle::Normal, TYPEFACE).is_ok();
    if *READY.get_or_init(register) {
        Ok(())
    } else {
        Err(typeface_fault())
    }
}

fn typeface_fault() -> PlotError {
    let fault = "the built-in typeface could not be read; reinstall the program";
    PlotError::Drawing(fault.to_owned())
}

/// Text with the characters removed that XML 1.0 cannot hold, even escaped.
fn printable(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_control() && !matches!(c, '\u{FFFE}' | '\u{FFFF}'))
        .collect()
}

/// Adds a title, which screen readers speak, to an SVG document.
fn describe(svg: &str, title: &str) -> String {
    let title = printable(title)
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;");
    match svg.split_once('>') {
        Some((head, rest)) => format!("{head} role=\"img\">\n<title>{title}</title>{rest}"),
        None => svg.to_owned(),
    }
}
