//! One athlete's jumps across loads.

use serde::Serialize;

use super::{cautions, ends, mass};
use crate::report::json::{JsonError, ends_as_lists};
use crate::report::model::SCHEMA;
use crate::report::terminal::numbers::{decimals, fixed};
use crate::report::terminal::wrap::{hanging, wrapped};
use crate::report::terminal::{TextOptions, Units};
use crate::trials::load::cautions::{CAUTIONS, Caution};
use crate::trials::load::regressions::PeakPower;
use crate::trials::load::series::{LoadPoint, PushEstimate, SeriesInput};
use crate::trials::load::{LoadChange, LoadSeries};
use crate::trials::mat::agree::Estimate;

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
    let mut text = heading(view, options);
    text += &heights(view.series, units);
    text += &scatter(view.series, units);
    if let Some(since) = view.since {
        text += &changes(since, units);
    }
    for warning in &view.series.warnings {
        text += &options.alert("warning: ");
        text += &hanging(9, &warning.text_in(|kg| mass(kg, units)));
    }
    text += &pushes(view, units);
    text += &peak_power(view.peak_power);
    text + "\n" + &cautions(options)
}

fn heading(view: &SeriesView<'_>, options: TextOptions) -> String {
    let said = [
        view.athlete.to_owned(),
        view.date.to_owned(),
        format!("body mass {}", mass(view.input.body_mass_kg, options.units)),
    ];
    let said: Vec<String> = said.into_iter().filter(|part| !part.is_empty()).collect();
    options.bold("Jumps under load") + &format!("  {}\n", said.join(", "))
}

fn heights(series: &LoadSeries, units: Units) -> String {
    let symbol = units.symbol();
    let finest = series.points.iter().map(|p| units.of(p.u.0));
    let places = decimals(finest.fold(f64::INFINITY, f64::min), 1, 1);
    let mut text = format!(
        "  {:>9}{:>7}{:>13}  {:<16}{:>8}  {}\n",
        "load", "jumps", "mean height", "95 % interval", "kept", "95 % interval"
    );
    for point in &series.points {
        let height = point.mean_height.map(|m| units.of(m));
        let (kept, kept_ends) = match &point.share_kept {
            Some(share) => {
                let per_cent = share.map(|s| 100.0 * s);
                (format!("{:.0} %", per_cent.value), ends(&per_cent, 0))
            }
            None => (String::new(), String::new()),
        };
        let row = format!(
            "  {:>9}{:>7}{:>13}  {:<16}{kept:>8}  {kept_ends}",
            mass(point.load_kg, units),
            point.jumps,
            format!("{} {symbol}", fixed(height.value, places)),
            ends(&height, places),
        );
        text += &(row.trim_end().to_owned() + "\n");
    }
    text
}

fn scatter(series: &LoadSeries, units: Units) -> String {
    series.jump_sd.map_or_else(String::new, |sd| {
        let line = format!(
            "Single jumps at one load scatter by {} {} (standard deviation, film included).",
            fixed(units.of(sd), 1),
            units.symbol()
        );
        wrapped("  ", &line)
    })
}

fn changes(since: &Since, units: Units) -> String {
    if since.changes.is_empty() {
        return wrapped("", &format!("No load in common with {}.", since.date));
    }
    let mut text = format!("Change since {}\n", since.date);
    for change in &since.changes {
        let height = change.height.map(|m| units.of(m));
        let verdict = if change.beyond_scatter {
            "more than these sessions' scatter"
        } else {
            "within the scatter"
        };
        text += &format!(
            "  {:>9}{:>+13.1} {}  {:<16}{verdict}\n",
            mass(change.load_kg, units),
            height.value,
            units.symbol(),
            ends(&height, 1),
        );
    }
    text + &wrapped(
        "  ",
        "Form of the day is not in these intervals; take a change seriously when it comes back.",
    )
}

/// Force, velocity and power, and the line with its doubts.
fn pushes(view: &SeriesView<'_>, units: Units) -> String {
    let rows: Vec<(&LoadPoint, &PushEstimate)> = view
        .series
        .points
        .iter()
        .filter_map(|point| Some((point, point.push.as_ref()?)))
        .collect();
    let mut text = String::new();
    if let (Some(push_off), false) = (view.input.push_off, rows.is_empty()) {
        let how = if push_off.measured {
            "measured"
        } else {
            "guessed"
        };
        text += &wrapped(
            "",
            &format!(
                "Means over the push-off of {:.1} {unit} ({how}, ± {:.1} {unit}), by Samozino and \
                 others 2008",
                units.of(push_off.distance),
                units.of(push_off.u.0),
                unit = units.symbol()
            ),
        );
        text += &format!(
            "  {:>9}  {:<24}{:<24}{}\n",
            "load", "force, N", "velocity, m/s", "power, W"
        );
        for (point, push) in rows {
            let cell = |estimate: &Estimate<f64>, decimals| {
                let value = fixed(estimate.value, decimals);
                format!("{value} ({})", ends(estimate, decimals))
            };
            text += &format!(
                "  {:>9}  {:<24}{:<24}{}\n",
                mass(point.load_kg, units),
                cell(&push.force_n, 0),
                cell(&push.velocity_m_s, 2),
                cell(&push.power_w, 0),
            );
        }
    }
    text += "Force against velocity\n";
    text += &match (&view.series.profile, view.series.profile_failure) {
        (Some(profile), _) => wrapped("  ", &profile.text()),
        (None, Some(failure)) => wrapped("  ", &format!("Not shown: {}.", failure.text())),
        (None, None) => String::new(),
    };
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
