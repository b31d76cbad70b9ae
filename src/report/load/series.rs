//! One athlete's jumps across loads.

use serde::Serialize;

use super::cautions;
use super::rows::{
    FORM_OF_THE_DAY, Written, change_rows, height_rows, line_words, push_rows, scatter_words,
    subject_words, warning_words,
};
use crate::report::json::{JsonError, ends_as_lists};
use crate::report::model::SCHEMA;
use crate::report::terminal::wrap::{hanging, wrapped};
use crate::report::terminal::{TextOptions, Units};
use crate::trials::load::cautions::{CAUTIONS, Caution};
use crate::trials::load::regressions::PeakPower;
use crate::trials::load::series::SeriesInput;
use crate::trials::load::{LoadChange, LoadSeries};

/// What changed since an earlier session.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Since {
    /// The earlier session's day, or what stands for it.
    pub date: String,
    /// Load by load.
    pub changes: Vec<LoadChange>,
}

/// Everything that a series shows.
#[derive(Clone, Copy, Debug)]
pub struct SeriesView<'a> {
    /// Whose jumps; empty where nobody said.
    pub athlete: &'a str,
    /// The day; empty where it is not known.
    pub date: &'a str,
    /// What went in.
    pub input: &'a SeriesInput,
    /// What came out.
    pub series: &'a LoadSeries,
    /// The comparison with an earlier session.
    pub since: Option<&'a Since>,
    /// Peak power of the unloaded jump by regressions; empty unless asked for.
    pub peak_power: &'a [PeakPower],
    /// Jumps that do not count, and why.
    pub left_out: &'a [String],
}

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    athlete: &'a str,
    date: &'a str,
    input: &'a SeriesInput,
    left_out: &'a [String],
    series: &'a LoadSeries,
    since: Option<&'a Since>,
    peak_power: &'a [PeakPower],
    cautions: &'static [Caution],
}

/// The series as one JSON document.
///
/// # Errors
/// [`JsonError`] if it cannot be written.
pub fn series_json(view: &SeriesView<'_>) -> Result<String, JsonError> {
    let document = Document {
        schema: SCHEMA,
        athlete: view.athlete,
        date: view.date,
        input: view.input,
        left_out: view.left_out,
        series: view.series,
        since: view.since,
        peak_power: view.peak_power,
        cautions: &CAUTIONS,
    };
    Ok(ends_as_lists(serde_json::to_value(document)?).to_string())
}

/// The series for a person, heights first.
pub fn series_text(view: &SeriesView<'_>, options: TextOptions) -> String {
    let units = options.units;
    let subject = subject_words(view.athlete, view.date, view.input, units);
    let mut text = options.bold("Jumps under load") + &format!("  {subject}\n");
    text += &heights(view.series, units);
    if let Some(scatter) = scatter_words(view.series, units) {
        text += &wrapped("  ", &scatter);
    }
    if let Some(since) = view.since {
        text += &changes(since, units);
    }
    for warning in warning_words(view.series, units) {
        text += &options.alert("warning: ");
        text += &hanging(9, &warning);
    }
    text += &pushes(view, units);
    text += "Force against velocity\n";
    text += &wrapped("  ", &line_words(view.series));
    text += &peak_power(view.peak_power);
    text + "\n" + &cautions(options)
}

fn heights(series: &LoadSeries, units: Units) -> String {
    let mut text = format!(
        "  {:>9}{:>7}{:>13}  {:<16}{:>8}  {}\n",
        "load", "jumps", "mean height", "95 % interval", "kept", "95 % interval"
    );
    for row in height_rows(series, units) {
        let (height, kept) = (row.mean_height, row.kept);
        let row = format!(
            "  {:>9}{:>7}{:>13}  {:<16}{:>8}  {}",
            row.load, row.jumps, height.value, height.interval95, kept.value, kept.interval95
        );
        text += &(row.trim_end().to_owned() + "\n");
    }
    text
}

fn changes(since: &Since, units: Units) -> String {
    let rows = match change_rows(since, units) {
        Ok(rows) => rows,
        Err(nothing_in_common) => return wrapped("", &nothing_in_common),
    };
    let mut text = format!("Change since {}\n", since.date);
    for row in rows {
        text += &format!(
            "  {:>9}{:>16}  {:<16}{}\n",
            row.load, row.height.value, row.height.interval95, row.verdict
        );
    }
    text + &wrapped("  ", FORM_OF_THE_DAY)
}

/// Force, velocity and power.
fn pushes(view: &SeriesView<'_>, units: Units) -> String {
    let Some((rests_on, rows)) = push_rows(view.input, view.series, units) else {
        return String::new();
    };
    let mut text = wrapped("", &rests_on);
    text += &format!(
        "  {:>9}  {:<24}{:<24}{}\n",
        "load", "force, N", "velocity, m/s", "power, W"
    );
    for row in rows {
        let cell = |written: Written| format!("{} ({})", written.value, written.interval95);
        text += &format!(
            "  {:>9}  {:<24}{:<24}{}\n",
            row.load,
            cell(row.force_n),
            cell(row.velocity_m_s),
            cell(row.power_w),
        );
    }
    text
}

fn peak_power(all: &[PeakPower]) -> String {
    if all.is_empty() {
        return String::new();
    }
    let mut text = "Peak power of the unloaded jump by regression, in watts\n".to_owned();
    for power in all {
        let regression = &power.regression;
        let error = match regression.see_w {
            Some(see) => format!("standard error {see:.1} W, {}", regression.see_note),
            None => format!("standard error {}", regression.see_note),
        };
        let line = format!(
            "{:.0} W ({error}): {}; {}.",
            power.power_w, regression.source, regression.population
        );
        text += &wrapped("  - ", &line);
    }
    text + &wrapped(
        "  ",
        "Fitted to other people's jumps, mostly to heights by jump and reach; a height from \
         flight time is not that, and the power says little that the height does not.",
    )
}
