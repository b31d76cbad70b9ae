//! Drop jumps from several heights.

use serde::Serialize;

use super::{cautions, ends};
use crate::report::json::{JsonError, ends_as_lists};
use crate::report::model::SCHEMA;
use crate::report::terminal::TextOptions;
use crate::report::terminal::numbers::fixed;
use crate::report::terminal::wrap::wrapped;
use crate::trials::load::Reactive;
use crate::trials::load::cautions::{CAUTIONS, Caution};
use crate::trials::load::reactive::FAST_CONTACT;

/// Everything that a comparison of drop heights shows.
#[derive(Clone, Copy, Debug)]
pub struct DropsView<'a> {
    /// Whose jumps; empty where nobody said.
    pub athlete: &'a str,
    /// The day; empty where it is not known.
    pub date: &'a str,
    /// What came out.
    pub result: &'a Reactive,
    /// Jumps that do not count, and why.
    pub left_out: &'a [String],
}

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    athlete: &'a str,
    date: &'a str,
    left_out: &'a [String],
    reactive: &'a Reactive,
    cautions: &'static [Caution],
}

/// The comparison as one JSON document.
///
/// # Errors
/// [`JsonError`] if it cannot be written.
pub fn drops_json(view: &DropsView<'_>) -> Result<String, JsonError> {
    let document = Document {
        schema: SCHEMA,
        athlete: view.athlete,
        date: view.date,
        left_out: view.left_out,
        reactive: view.result,
        cautions: &CAUTIONS,
    };
    Ok(ends_as_lists(serde_json::to_value(document)?).to_string())
}

/// The comparison for a person.
pub fn drops_text(view: &DropsView<'_>, options: TextOptions) -> String {
    let units = options.units;
    let said: Vec<&str> = [view.athlete, view.date]
        .into_iter()
        .filter(|part| !part.is_empty())
        .collect();
    let mut text = options.bold("Drop jumps") + &format!("  {}\n", said.join(", "));
    text += &format!(
        "  {:>8}{:>7}  {:<24}{:<22}{}\n",
        "drop", "jumps", "height/contact, m/s", "flight/contact", "contact"
    );
    for point in &view.result.points {
        let pace = if point.fast { "fast" } else { "slow" };
        let index = format!(
            "{} ({})",
            fixed(point.index_m_s.value, 2),
            ends(&point.index_m_s, 2)
        );
        let ratio = format!(
            "{} ({})",
            fixed(point.ratio.value, 2),
            ends(&point.ratio, 2)
        );
        text += &format!(
            "  {:>5} {}{:>7}  {index:<24}{ratio:<22}{:.3} s {pace}\n",
            fixed(units.of(point.drop_height), 0),
            units.symbol(),
            point.jumps,
            point.contact_time.seconds(),
        );
    }
    text += &wrapped(
        "  ",
        &format!(
            "Brackets: 95 % intervals. Height/contact and flight/contact are two indices and \
             not interchangeable. Contacts below {:.2} s count as fast (Schmidtbleicher 1992, \
             from memory).",
            FAST_CONTACT.seconds()
        ),
    );
    text + &verdict(view, options) + "\n" + &cautions(options)
}

fn verdict(view: &DropsView<'_>, options: TextOptions) -> String {
    let (result, units) = (view.result, options.units);
    let show = |height| format!("{} {}", fixed(units.of(height), 0), units.symbol());
    let mut said = format!(
        "The best height is {} by height over contact time",
        show(result.best)
    );
    match result.standing.as_slice() {
        [_] if result.points.len() == 1 => said += "; there is no other to compare with.",
        [_] => said += ", told apart from all others.",
        [lowest, ..] => {
            let all: Vec<String> = result.standing.iter().map(|h| show(*h)).collect();
            said += &format!(
                ", but {} are not told apart; of these the lowest, {}, does the job.",
                all.join(", "),
                show(*lowest)
            );
        }
        [] => said += ".",
    }
    if !result.repeated {
        said += " One jump per height: the athlete's own scatter is unknown; jump three times.";
    }
    said += " The drop is rarely the height of the box: who steps down low falls less.";
    wrapped("", &said)
}
