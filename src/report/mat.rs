//! A mat against the film, for people and programs.

mod document;
mod tables;

pub use document::{
    CorrectedRow, CrosscheckDocument, MatCorrection, corrected_json, correction_json,
    crosscheck_json,
};

use super::terminal::TextOptions;
use super::terminal::wrap::{elided, hanging, wrapped};
use crate::trials::mat::{Crosscheck, HeightUnit, paragraph};
use crate::units::Metres;

/// Everything that a comparison shows.
#[derive(Clone, Copy, Debug)]
pub struct CrosscheckView<'a> {
    /// Where the film's results are from.
    pub film: &'a str,
    /// Where the mat's readings are from.
    pub mat: &'a str,
    /// The comparison.
    pub result: &'a Crosscheck,
    /// Jumps and readings that were left out, and why.
    pub left_out: &'a [String],
    /// The film's error that all clips share, as a time.
    pub shared_u: crate::units::Span,
}

/// The comparison for a person: plain words first, then the figures.
pub fn crosscheck_text(view: &CrosscheckView<'_>, options: TextOptions) -> String {
    let result = view.result;
    let mut text = options.bold("Mat against film") + "\n";
    text += &wrapped("  Film  ", view.film);
    text += &wrapped("  Mat   ", view.mat);
    text += "\n";
    let unit = HeightUnit {
        per_metre: options.units.of(Metres::from_metres(1.0)),
        symbol: options.units.symbol(),
    };
    text += &wrapped("", &paragraph(result, unit));
    text += &shared_clock(view);
    text += "\n";
    text += &tables::agreement(result, options);
    text += &tables::proportionality(result);
    text += &tables::explanations(result, options);
    text += &tables::needed(result);
    text += &tables::jumps(result, options);
    text
}

/// What was left out, for standard error.
pub fn left_out_text(left_out: &[String], options: TextOptions) -> String {
    let mut text = String::new();
    for line in left_out {
        text += &options.alert("left out: ");
        text += &hanging(10, line);
    }
    text
}

/// The film's shared error is no scatter, so no interval holds it.
fn shared_clock(view: &CrosscheckView<'_>) -> String {
    let u_ms = view.shared_u.millis();
    if u_ms < 0.05 {
        return String::new();
    }
    wrapped(
        "",
        &format!(
            "What all clips of one phone share, the rate of its clock, is not in these figures: \
             it moves the mean by {u_ms:.1} ms (standard uncertainty)."
        ),
    )
}

/// Readings shown corrected, each marked.
pub fn corrected_text(
    rows: &[CorrectedRow],
    correction: &MatCorrection,
    options: TextOptions,
) -> String {
    let mut text = options.bold("Readings of the mat, corrected") + "\n";
    let found = match &correction.origin {
        origin if origin.is_empty() => String::new(),
        origin => format!(" ({origin})"),
    };
    text += &wrapped(
        "  ",
        &format!(
            "By {}{found}. Holds from {:.0} to {:.0} ms. A corrected value is no reading: it \
             has lost the mat's bias and keeps its scatter.",
            correction.correction.curve.explanation.words(),
            correction.correction.valid.lo().millis(),
            correction.correction.valid.hi().millis(),
        ),
    );
    text += &format!(
        "\n  {:<32}{:>10}{:>18}{:>14}\n",
        "", "shown", "corrected", "height"
    );
    let gravity = crate::jump::gravity::STANDARD_GRAVITY;
    for row in rows {
        let name = elided(&row.name, 31);
        let shown = format!("{:.1} ms", row.shown.millis());
        text += &match &row.corrected {
            Some(value) => {
                let height = crate::jump::height::height(value.corrected, gravity);
                let figures = format!(
                    "{:.1} ± {:.1} ms*",
                    value.corrected.millis(),
                    value.u.0.millis()
                );
                let height = tables::fixed(options.units.of(height), 1);
                let height = format!("{height} {}*", options.units.symbol());
                format!("  {name:<32}{shown:>10}{figures:>18}{height:>14}\n")
            }
            None => format!("  {name:<32}{shown:>10}  outside the range: as it is\n"),
        };
    }
    text += "  * corrected, ± one standard uncertainty; height by standard gravity\n";
    text
}
