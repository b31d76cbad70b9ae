//! Jumps under load: height against load, what changed, what is still to be jumped.

use maud::{Markup, PreEscaped, html};

use super::super::loads::{Compared, LoadsShown};
use super::sentence;
use crate::report::load::Since;
use crate::report::load::rows::{
    FORM_OF_THE_DAY, Written, change_rows, height_rows, line_words, push_rows, scatter_words,
    subject_words, warning_words,
};
use crate::report::plot::{PlotError, PlotSize};
use crate::report::terminal::Units;
use crate::report::views::words::{counted, mass};
use crate::trials::load::cautions::CAUTIONS;
use crate::workflow::load_session::LoadSession;

/// A day across loads.
pub(in crate::page) fn loads(
    shown: &LoadsShown,
    units: Units,
    width_px: u32,
) -> Result<Markup, PlotError> {
    let body = match &shown.result {
        Compared::NotOfThisKind => html! {
            p.empty { "Loads are compared for countermovement jumps and squat jumps." }
        },
        Compared::TooFewLoads => too_few(shown, units),
        Compared::NoBodyMass => html! {
            p { (so_far(shown, units)) }
            p { "How much of the body\u{2019}s mass a load is says whether the loads reach far enough: \
                 put the athlete on the scales." }
            (body_mass(shown))
            (cautions())
        },
        Compared::Session(session) => whole(shown, session, units, width_px)?,
    };
    Ok(html! {
        section.loads aria-labelledby="loads-title" data-athlete=(shown.athlete) {
            h3 #loads-title tabindex="-1" { "Jumps under load" }
            (body)
            @for line in &shown.left_out { p.small { "Left out: " (line) } }
        }
    })
}

/// What the day has, where that is too little.
fn so_far(shown: &LoadsShown, units: Units) -> String {
    let when = shown
        .date
        .map_or_else(|| "So far".to_owned(), |date| format!("On {date}"));
    let sets: Vec<String> = shown
        .sets
        .iter()
        .map(|set| {
            let with = match set.load_kg {
                0.0 => "without a load".to_owned(),
                load => format!("with {}", mass(units, load)),
            };
            format!("{} {with}", counted(set.jumps.len(), "jump"))
        })
        .collect();
    match sets.as_slice() {
        [] => format!("{when}: no {} that counts.", shown.kind.label()),
        _ => format!("{when}: {}.", sets.join(", ")),
    }
}

fn too_few(shown: &LoadsShown, units: Units) -> Markup {
    let loaded = shown.sets.iter().any(|set| set.load_kg > 0.0);
    html! {
        p.empty {
            (so_far(shown, units))
            " Height against load needs two loads at least, body weight being one."
        }
        // Nobody is talked into a load: who has none sees this when they ask for it.
        details #loads-next open[loaded] {
            summary { "What to film next, if the coach wants loads" }
            (cautions())
            (next(shown, units))
        }
    }
}

/// What would tell more.
fn next(shown: &LoadsShown, units: Units) -> Markup {
    html! {
        @if !shown.to_jump.is_empty() {
            h4 { "To film next" }
            ul.next { @for one in &shown.to_jump { li { (sentence(&one.text_in(|kg| mass(units, kg)))) } } }
        }
    }
}

fn whole(
    shown: &LoadsShown,
    session: &LoadSession,
    units: Units,
    width_px: u32,
) -> Result<Markup, PlotError> {
    let chart = session.heights_chart("Jump height against load", units);
    let size = PlotSize {
        width_px,
        height_px: (width_px * 5 / 8).clamp(260, 460),
    };
    let plot = chart.svg_for_screen(size)?;
    Ok(html! {
        p { (subject_words(&session.athlete, &session.date, &session.input, units)) }
        div.columns {
            div {
                figure.plot.on-screen { (PreEscaped(plot)) }
                (heights(session, units))
            }
            div {
                (cautions())
                @for warning in warning_words(&session.series, units) { p.warning { (sentence(&warning)) } }
                (next(shown, units))
            }
        }
        @if let Some(since) = &session.since { (changes(since, units)) }
        (pushes(session, units))
        details #body-again { summary { "Another body mass" } (body_mass(shown)) }
    })
}

/// A value with its interval below it.
fn cell(written: &Written) -> Markup {
    html! { (written.value) @if !written.interval95.is_empty() { br; span.small { "95 %: " (written.interval95) } } }
}

fn heights(session: &LoadSession, units: Units) -> Markup {
    html! {
        table.heights {
            caption { "Height against load" }
            thead { tr {
                th scope="col" { "Load" } th scope="col" { "Jumps" } th scope="col" { "Mean height" } th scope="col" { "Kept" }
            } }
            tbody {
                @for row in height_rows(&session.series, units) {
                    tr {
                        th scope="row" { (row.load) }
                        td { (row.jumps) }
                        td { (cell(&row.mean_height)) }
                        td { (cell(&row.kept)) }
                    }
                }
            }
        }
        @if let Some(scatter) = scatter_words(&session.series, units) { p.small { (scatter) } }
    }
}

fn changes(since: &Since, units: Units) -> Markup {
    html! {
        h4 { "Change since " (since.date) }
        @match change_rows(since, units) {
            Ok(rows) => {
                table.changes {
                    caption.out-of-sight { "Change since " (since.date) ", load by load" }
                    thead { tr { th scope="col" { "Load" } th scope="col" { "Change" } th scope="col" { "What it is" } } }
                    tbody { @for row in rows {
                        tr { th scope="row" { (row.load) } td { (cell(&row.height)) } td { (row.verdict) } }
                    } }
                }
                p.small { (FORM_OF_THE_DAY) }
            }
            Err(nothing_in_common) => p { (nothing_in_common) },
        }
    }
}

/// Force, velocity and power, and the line with its doubts.
fn pushes(session: &LoadSession, units: Units) -> Markup {
    html! {
        h4 { "Force against velocity" }
        @if let Some((rests_on, rows)) = push_rows(&session.input, &session.series, units) {
            p.small { (rests_on) "." }
            table.pushes {
                caption.out-of-sight { "Means over the push-off at each load" }
                thead { tr {
                    th scope="col" { "Load" } th scope="col" { "Force, N" } th scope="col" { "Velocity, m/s" } th scope="col" { "Power, W" }
                } }
                tbody { @for row in rows {
                    tr { th scope="row" { (row.load) } td { (cell(&row.force_n)) } td { (cell(&row.velocity_m_s)) } td { (cell(&row.power_w)) } }
                } }
            }
        }
        p.line { (line_words(&session.series)) }
    }
}

/// Room for what the scales showed.
fn body_mass(shown: &LoadsShown) -> Markup {
    html! {
        @if let Some(date) = shown.date {
            form.body-mass #body-mass data-date=(date) {
                label { "Body mass on " (date) ", kg"
                    input name="mass_kg" type="number" min="10" max="400" step="0.1" inputmode="decimal" required;
                }
                button type="submit" { "Enter" }
            }
        }
    }
}

/// What has to be said before anyone jumps with a load.
fn cautions() -> Markup {
    html! {
        div.cautions {
            p { strong { "Before anyone jumps with a load" } }
            ul { @for caution in &CAUTIONS { li { (caution.text) } } }
        }
    }
}
