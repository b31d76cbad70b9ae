//! The coach's views over several jumps: is it really higher?
//!
//! Each view is a document: what `--json` prints, what the text and the plot are made
//! of. Lengths are metres, masses kilograms, dates calendar days; an interval is a
//! list of two, lower end first. Keys are described in `docs/trials.md`.

pub mod change;
pub mod companion;
pub mod dates;
pub mod plan;
pub mod reliability;
mod rows;
pub mod squad;
pub mod trend;
pub mod trials;
pub mod words;

use jiff::civil::Date;
use serde::Serialize;

use super::plot::PlotError;
use super::plot::chart::{Across, Chart, ChartPanel};
use super::plot::rows::RowsPlot;
use crate::trials::{Session, TrialHeight};
use crate::units::{Interval95, Metres};

/// Version of these documents' layout; it rises when a key changes meaning or goes.
pub const SCHEMA: u32 = 1;

/// Lettering of a plot on paper against that on a screen: 12 units of 960 are 6 points
/// on a page 18 cm wide, and print should not be smaller than 8.
const PRINT_LETTERING: f64 = 1.4;

/// Whose jumps, and of what sort: heights of different sorts are not compared.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Subject {
    /// Name or initials; none where a whole squad is meant.
    pub athlete: Option<String>,
    /// Short name of the kind of jump, such as `cmj`.
    pub kind: String,
    /// The kind in words.
    #[serde(skip)]
    pub kind_words: String,
    /// Load beyond the body; 0 without.
    pub load_kg: f64,
}

/// The trials of one day, as the views take them.
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// The date.
    pub date: Date,
    /// All trials, those that do not count among them.
    pub trials: Vec<TrialHeight>,
}

impl Day {
    /// As the statistics take it.
    pub fn session(&self) -> Session<'_> {
        Session {
            day: dates::number(self.date),
            trials: &self.trials,
        }
    }

    /// Heights of the trials that count.
    pub fn heights(&self) -> Vec<Metres> {
        let counting = self.trials.iter().filter(|trial| trial.is_usable());
        counting.map(|trial| trial.height).collect()
    }

    /// Their mean; none if no trial counts.
    pub fn mean(&self) -> Option<Metres> {
        let heights = self.heights();
        let sum: f64 = heights.iter().map(|height| height.metres()).sum();
        (!heights.is_empty()).then(|| Metres::from_metres(sum / heights.len() as f64))
    }
}

/// A plot of one of the two sorts.
#[derive(Clone, Debug, PartialEq)]
pub enum ViewPlot {
    /// Values over trials or dates.
    Chart(Box<Chart>),
    /// One row for each athlete.
    Rows(RowsPlot),
}

impl ViewPlot {
    /// A single chart.
    fn chart(title: String, across: Across, panel: ChartPanel) -> Self {
        Self::Chart(Box::new(Chart::one(title, across, panel)))
    }

    /// As SVG, for a page of text.
    ///
    /// # Errors
    /// [`PlotError`] where it cannot be drawn.
    pub fn svg(&self) -> Result<String, PlotError> {
        match self {
            Self::Chart(chart) => chart.svg(super::plot::PlotSize::PAGE),
            Self::Rows(rows) => rows.svg(super::plot::PlotSize::PAGE.width_px),
        }
    }

    /// As SVG with larger lettering, for a page on which it is shown small.
    ///
    /// # Errors
    /// [`PlotError`] where it cannot be drawn.
    pub fn svg_for_print(&self) -> Result<String, PlotError> {
        match self {
            Self::Chart(chart) => {
                let mut chart = chart.clone();
                chart.lettering = PRINT_LETTERING;
                chart.svg(super::plot::PlotSize::PAGE)
            }
            Self::Rows(_) => self.svg(),
        }
    }

    /// As PNG, twice as fine.
    ///
    /// # Errors
    /// [`PlotError`] where it cannot be drawn.
    pub fn png(&self) -> Result<Vec<u8>, PlotError> {
        match self {
            Self::Chart(chart) => chart.png(super::plot::PlotSize::FINE),
            Self::Rows(rows) => rows.png(super::plot::PlotSize::FINE.width_px),
        }
    }
}

/// An interval as it is written: lower end first.
pub fn list<T: Copy>(interval: Interval95<T>) -> [T; 2] {
    [interval.lo, interval.hi]
}
