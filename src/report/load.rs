//! Loads and jumps under load, for people and programs.

mod drops;
mod plan;
pub mod rows;
mod series;

pub use drops::{DropsView, drops_json, drops_text};
pub use plan::{PlanView, plan_json, plan_text};
pub use series::{SeriesView, Since, series_json, series_text};

use super::terminal::wrap::wrapped;
use super::terminal::{TextOptions, Units};
use crate::trials::load::cautions::CAUTIONS;
use crate::trials::mat::agree::Estimate;

/// The cautions, which go with every sheet about loads.
pub fn cautions(options: TextOptions) -> String {
    let mut text = options.bold("Before anyone jumps with a load") + "\n";
    for caution in &CAUTIONS {
        text += &wrapped("  - ", caution.text);
    }
    text
}

/// A mass in the reader's unit.
fn mass(mass_kg: f64, units: Units) -> String {
    format!(
        "{} {}",
        super::terminal::numbers::fixed(units.of_mass(mass_kg), 1),
        units.mass_symbol()
    )
}

/// The two ends of an interval.
fn ends(estimate: &Estimate<f64>, decimals: usize) -> String {
    super::terminal::numbers::range(estimate.interval95.lo, estimate.interval95.hi, decimals)
}
