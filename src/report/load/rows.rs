//! A series across loads in words and numbers: the same in the terminal and on the page.

use super::series::Since;
use super::{ends, mass};
use crate::report::terminal::Units;
use crate::report::terminal::numbers::{decimals, fixed};
use crate::trials::load::LoadSeries;
use crate::trials::load::series::SeriesInput;
use crate::trials::mat::agree::Estimate;

/// A value with its 95 % interval, as they are written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Written {
    /// The value.
    pub value: String,
    /// Its interval.
    pub interval95: String,
}

/// The jumps at one load.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HeightRow {
    /// Load beyond the body.
    pub load: String,
    /// How many jumps.
    pub jumps: usize,
    /// Mean height with its unit.
    pub mean_height: Written,
    /// Height over the unloaded height; empty for the unloaded one and without it.
    pub kept: Written,
}

/// The mean height at each load, lightest first.
pub fn height_rows(series: &LoadSeries, units: Units) -> Vec<HeightRow> {
    let symbol = units.symbol();
    let finest = series.points.iter().map(|p| units.of(p.u.0));
    let places = decimals(finest.fold(f64::INFINITY, f64::min), 1, 1);
    let row = |point: &crate::trials::load::series::LoadPoint| {
        let height = point.mean_height.map(|m| units.of(m));
        let kept = point.share_kept.map(|share| {
            let per_cent = share.map(|s| 100.0 * s);
            Written {
                value: format!("{:.0} %", per_cent.value),
                interval95: ends(&per_cent, 0),
            }
        });
        HeightRow {
            load: mass(point.load_kg, units),
            jumps: point.jumps,
            mean_height: Written {
                value: format!("{} {symbol}", fixed(height.value, places)),
                interval95: ends(&height, places),
            },
            kept: kept.unwrap_or_default(),
        }
    };
    series.points.iter().map(row).collect()
}

/// How single jumps at one load scatter, where any load was jumped twice.
pub fn scatter_words(series: &LoadSeries, units: Units) -> Option<String> {
    series.jump_sd.map(|sd| {
        format!(
            "Single jumps at one load scatter by {} {} (standard deviation, film included).",
            fixed(units.of(sd), 1),
            units.symbol()
        )
    })
}

/// What weakens the series.
pub fn warning_words(series: &LoadSeries, units: Units) -> Vec<String> {
    let in_words = |kg: f64| mass(kg, units);
    let warnings = series.warnings.iter();
    warnings.map(|warning| warning.text_in(in_words)).collect()
}

/// What changed at one load.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangeRow {
    /// Load beyond the body.
    pub load: String,
    /// Height now minus then, with its sign and unit.
    pub height: Written,
    /// Whether it is more than scatter.
    pub verdict: &'static str,
}

/// What is in no interval of a change.
pub const FORM_OF_THE_DAY: &str =
    "Form of the day is not in these intervals; take a change seriously when it comes back.";

/// The changes since an earlier session, or that no load is common to both.
pub fn change_rows(since: &Since, units: Units) -> Result<Vec<ChangeRow>, String> {
    if since.changes.is_empty() {
        return Err(format!("No load in common with {}.", since.date));
    }
    let rows = since.changes.iter().map(|change| {
        let height = change.height.map(|m| units.of(m));
        ChangeRow {
            load: mass(change.load_kg, units),
            height: Written {
                value: format!("{} {}", signed(height.value), units.symbol()),
                interval95: ends(&height, 1),
            },
            verdict: if change.beyond_scatter {
                "more than these sessions' scatter"
            } else {
                "within the scatter"
            },
        }
    });
    Ok(rows.collect())
}

/// With its sign; nought has none.
fn signed(value: f64) -> String {
    match fixed(value, 1).as_str() {
        "0.0" => "0.0".to_owned(),
        _ => format!("{value:+.1}"),
    }
}

/// Means over the push-off at one load.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PushRow {
    /// Load beyond the body.
    pub load: String,
    /// In newtons.
    pub force_n: Written,
    /// In metres per second.
    pub velocity_m_s: Written,
    /// In watts.
    pub power_w: Written,
}

/// Force, velocity and power, after a sentence on what they rest on; `None` without a
/// push-off distance.
pub fn push_rows(
    input: &SeriesInput,
    series: &LoadSeries,
    units: Units,
) -> Option<(String, Vec<PushRow>)> {
    let push_off = input.push_off?;
    let how = if push_off.measured {
        "measured"
    } else {
        "guessed"
    };
    let rests_on = format!(
        "Means over the push-off of {:.1} {unit} ({how}, ± {:.1} {unit}), by Samozino and others \
         2008",
        units.of(push_off.distance),
        units.of(push_off.u.0),
        unit = units.symbol()
    );
    let written = |estimate: &Estimate<f64>, decimals| Written {
        value: fixed(estimate.value, decimals),
        interval95: ends(estimate, decimals),
    };
    let rows = series.points.iter().filter_map(|point| {
        let push = point.push.as_ref()?;
        Some(PushRow {
            load: mass(point.load_kg, units),
            force_n: written(&push.force_n, 0),
            velocity_m_s: written(&push.velocity_m_s, 2),
            power_w: written(&push.power_w, 0),
        })
    });
    let rows: Vec<PushRow> = rows.collect();
    (!rows.is_empty()).then_some((rests_on, rows))
}

/// The line of force against velocity with its doubts, or why there is none.
pub fn line_words(series: &LoadSeries) -> String {
    match (&series.profile, series.profile_failure) {
        (Some(profile), _) => profile.text(),
        (None, Some(failure)) => format!("Not shown: {}.", failure.text()),
        (None, None) => String::new(),
    }
}

/// Whose jumps, of which day, and how heavy the body is.
pub fn subject_words(athlete: &str, date: &str, input: &SeriesInput, units: Units) -> String {
    let said = [
        athlete.to_owned(),
        date.to_owned(),
        format!("body mass {}", mass(input.body_mass_kg, units)),
    ];
    let said: Vec<String> = said.into_iter().filter(|part| !part.is_empty()).collect();
    said.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_change_has_no_sign() {
        assert_eq!(
            [-0.04, 0.04, -0.06, 1.0].map(signed),
            ["0.0", "0.0", "-0.1", "+1.0"]
        );
    }
}
