//! The day: trials, mean, scatter, change against before, the mat beside it.

use maud::{Markup, PreEscaped, html};

use super::super::day::DayShown;
use super::sentence;
use crate::log::MatEntry;
use crate::report::plot::PlotError;
use crate::report::terminal::Units;
use crate::report::views::trials::{Summary, TrialRow, TrialsView};
use crate::report::views::words::{self, counted, length, percent, span};
use crate::trials::mat::{HeightFormula, MatReading};
use crate::units::Metres;

/// A day of one athlete.
pub(in crate::page) fn day(shown: &DayShown, units: Units) -> Result<Markup, PlotError> {
    let view = &shown.trials;
    let plot = view.plot(units).svg_for_print()?;
    let name = view.subject.athlete.as_deref().unwrap_or_default();
    let address = format!(
        "sheet?athlete={}&kind={}&load_kg={}&date={}",
        encoded(name),
        view.subject.kind,
        shown.load_kg,
        view.date
    );
    Ok(html! {
        div.day-view data-athlete=(name) data-date=(view.date) {
            h3 { (words::subject(units, &view.subject)) ", " (view.date) }
            div.columns {
                div {
                    @if let Some(summary) = &view.summary { (figures(summary, units)) }
                    figure.plot { (PreEscaped(plot)) }
                }
                div {
                    (table(view, &shown.mat, units))
                    @for warning in &view.warnings { p.small { (warning) } }
                }
            }
            (change(shown, units))
            p.go { a.button href=(address) target="_blank" rel="noopener" { "The sheet to print" } }
        }
    })
}

fn figures(summary: &Summary, units: Units) -> Markup {
    html! {
        dl.figures {
            div { dt { "Mean of " (counted(summary.trials, "trial")) } dd { (length(units, summary.mean_m)) }
                @if let Some(interval) = summary.mean_interval95_m { dd.small { "95 %: " (span(units, interval)) } } }
            div { dt { "Best" } dd { (length(units, summary.best_m)) } dd.small { "trial " (summary.best_number) } }
            @if let Some(error) = summary.typical_error_m {
                div { dt { "Typical error" } dd { (length(units, error)) }
                    @if let Some(cv) = summary.cv { dd.small { "CV " (percent(cv)) } } }
            }
        }
    }
}

fn table(view: &TrialsView, mat: &[MatEntry], units: Units) -> Markup {
    html! {
        div.wide {
            table.trials {
                caption { "Trials" }
                thead { tr {
                    th scope="col" { "Trial" } th scope="col" { "Height" } th scope="col" { "Mat" } th scope="col" { "Counts" }
                } }
                tbody {
                    @for trial in &view.trials {
                        tr {
                            th scope="row" { (trial.number) }
                            td { (length(units, trial.height_m)) br; span.small { (span(units, trial.height_interval95_m)) } }
                            td { (mat_cell(trial, mat, units)) }
                            td { (counts(trial)) }
                        }
                    }
                }
            }
        }
        p.small { "Mat: type what it showed, as a height in cm or as a time in s (such as 0.512)." }
    }
}

/// What the mat showed beside a trial, with room to type it.
fn mat_cell(trial: &TrialRow, mat: &[MatEntry], units: Units) -> Markup {
    let entry = mat
        .iter()
        .find(|entry| entry.order as usize == trial.number);
    let shown = entry.map(|entry| match entry.reading {
        MatReading::Time { time, .. } => format!("{:.3}", time.seconds()),
        MatReading::Height { height, .. } => format!("{:.1}", height.centimetres()),
    });
    let gravity = HeightFormula::default().gravity;
    html! {
        form.mat data-order=(trial.number) {
            input name="value" type="number" step="any" min="0.05" max="200" inputmode="decimal" value=[shown]
                aria-label={ "Mat, trial " (trial.number) };
            button.small type="submit" aria-label={ "Enter the mat\u{2019}s value of trial " (trial.number) } { "Enter" }
        }
        @if let Some(entry) = entry {
            @let difference: Metres = entry.reading.height(gravity) - trial.height_m;
            span.small { (words::signed(units, difference)) " " (if units == Units::Metric { "cm" } else { "in" }) " against the film" }
        }
    }
}

fn counts(trial: &TrialRow) -> Markup {
    let aside = trial
        .reasons
        .iter()
        .any(|reason| reason.starts_with("set aside"));
    html! {
        @if trial.counts { "yes " } @else { (sentence(&trial.reasons.join(", ").replace('_', " "))) " " }
        @if aside {
            button.small type="button" data-restore=(trial.id) {
                "Count it" span.out-of-sight { " again, trial " (trial.number) }
            }
        } @else if trial.counts {
            button.small type="button" data-aside=(trial.id) {
                "Set aside" span.out-of-sight { " trial " (trial.number) }
            }
        }
    }
}

/// Is it really higher?
fn change(shown: &DayShown, units: Units) -> Markup {
    html! {
        section.change {
            h3 { "Is it really higher?" }
            @match &shown.change {
                Ok(change) => {
                    p.verdict { (change.sentence(units)) }
                    dl.facts { @for (name, value) in change.facts(units) { dt { (name) } dd { (value) } } }
                    @for caution in change.cautions(units) { p.small { (caution) } }
                }
                Err(failure) => p.empty { "Not answered yet: " (failure.message) "." },
            }
        }
    }
}

/// Text for an address (RFC 3986, 2.3: all but unreserved letters are encoded).
fn encoded(text: &str) -> String {
    text.bytes().fold(String::new(), |mut safe, byte| {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                safe.push(char::from(byte));
            }
            other => safe += &format!("%{other:02X}"),
        }
        safe
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_survive_in_an_address() {
        assert_eq!(encoded("Mia & Jörg"), "Mia%20%26%20J%C3%B6rg");
    }
}
