//! `load series`: one athlete's jumps across loads.

use super::{dated, drawn, load_failure, none_logged, of_log, text_options};
use crate::cli::args::Series;
use crate::cli::{Outcome, log_file, output, scatter};
use crate::report::load::{SeriesView, Since, series_json, series_text};
use crate::report::mat::left_out_text;
use crate::report::model::Failure;
use crate::report::plot::loads::{force_velocity_chart, heights_chart};
use crate::report::terminal::TextOptions;
use crate::trials::load::regressions::{PeakPower, REGRESSIONS};
use crate::trials::load::series::{PushOff, SeriesInput};
use crate::trials::load::{LoadSeries, change_since, load_series};
use crate::workflow;
use crate::workflow::loads::{LoadDay, choose, load_days, load_days_of_log};
use crate::workflow::table::Table;

/// Standard uncertainty of a body mass in kg: clothes and breakfast.
const BODY_MASS_U_KG: f64 = 0.5;

/// What is known before the jumps are read.
struct Known {
    athlete: String,
    days: Vec<LoadDay>,
    body_mass_kg: Option<f64>,
    push_off: Option<PushOff>,
}

/// Reads the jumps and says what they tell.
///
/// # Errors
/// When there are none, numbers cannot be, or a file cannot be used.
pub(super) fn run(call: &Series) -> Result<Outcome, Failure> {
    let known = match &call.source.table {
        Some(path) => Known {
            athlete: call.source.athlete.clone().unwrap_or_default(),
            days: load_days(
                &Table::open(path)?,
                call.source.athlete.as_deref(),
                call.film_u,
            )?,
            body_mass_kg: None,
            push_off: None,
        },
        None => known_of_log(call)?,
    };
    let (now, then) = choose(known.days, |day| day.date, call.source.date, call.since)?;
    output::murmur(&left_out_text(&now.left_out, TextOptions::default()));
    let push_off = call.push_off.or(known.push_off);
    if call.plot_line.is_some() && push_off.is_none() {
        return Err(Failure {
            message: "--plot-line needs the push-off distance, which is not known".to_owned(),
            hint: "add --push-off 38 (centimetres), or keep it: underfoot log athlete set NAME \
                   --push-off-cm 38"
                .to_owned(),
        });
    }
    let input = |day: &LoadDay| -> Result<SeriesInput, Failure> {
        let kept = day.body_mass_kg.or(known.body_mass_kg);
        let body_mass_kg = call.body_mass_kg.or(kept).ok_or_else(|| Failure {
            message: "the body mass is not known".to_owned(),
            hint: "add --body 62 (kilograms), or a column body_kg".to_owned(),
        })?;
        Ok(SeriesInput {
            body_mass_kg,
            u_body_mass_kg: BODY_MASS_U_KG,
            squat_max_kg: call.squat_max_kg,
            push_off,
            gravity: call.source.gravity,
            sets: day.sets.clone(),
        })
    };
    let now_input = input(&now)?;
    let series = load_series(&now_input).map_err(load_failure)?;
    let earlier = match &then {
        Some(day) => Some(load_series(&input(day)?).map_err(load_failure)?),
        None => None,
    };
    let earlier_date = match then.as_ref().map(|day| dated(day.date)) {
        Some(date) if date.is_empty() => "the jumps without a date".to_owned(),
        Some(date) => date,
        None => String::new(),
    };
    let since = earlier.as_ref().map(|then| Since {
        date: earlier_date.clone(),
        changes: change_since(&series, then),
    });
    let date = dated(now.date);
    let view = SeriesView {
        athlete: &known.athlete,
        date: &date,
        input: &now_input,
        series: &series,
        since: since.as_ref(),
        peak_power: &peak_power(call, &series, now_input.body_mass_kg)?,
        left_out: &now.left_out,
    };
    plots(
        call,
        &view,
        earlier.as_ref().map(|e| (e, earlier_date.as_str())),
    )?;
    if call.json {
        output::say(&(series_json(&view).map_err(workflow::failure)? + "\n"))?;
    } else {
        output::say(&series_text(&view, text_options(call.units)))?;
    }
    Ok(Outcome::Done)
}

fn known_of_log(call: &Series) -> Result<Known, Failure> {
    let (log, athlete, trials) = of_log(&call.source, call.kind)?;
    let wrong = |error| log_file::failure(&call.source.log, &error);
    let mut days = load_days_of_log(&trials);
    // A day without any load is no session across loads, unless it is asked for.
    let asked = [call.source.date, call.since];
    let is_loaded = |day: &LoadDay| day.sets.iter().any(|set| set.load_kg > 0.0);
    days.retain(|day| is_loaded(day) || day.date.is_some() && asked.contains(&day.date));
    if days.is_empty() {
        return Err(none_logged(
            &athlete.name,
            "jumps under load",
            "--load-kg 20",
        ));
    }
    for day in &mut days {
        if let Some(date) = day.date {
            let mass = log.body_mass_on(athlete.id, date).map_err(wrong)?;
            day.body_mass_kg = mass.map(|mass| mass.mass_kg);
        }
    }
    Ok(Known {
        athlete: athlete.name,
        days,
        body_mass_kg: None,
        push_off: athlete.push_off,
    })
}

fn peak_power(
    call: &Series,
    series: &LoadSeries,
    body_mass_kg: f64,
) -> Result<Vec<PeakPower>, Failure> {
    if !call.peak_power {
        return Ok(Vec::new());
    }
    let unloaded = series.points.first().filter(|point| point.load_kg == 0.0);
    let unloaded = unloaded.ok_or_else(|| Failure {
        message: "peak power needs a jump without load".to_owned(),
        hint: "leave --peak-power out, or add the jumps without load".to_owned(),
    })?;
    let height = unloaded.mean_height.value;
    let all = REGRESSIONS
        .iter()
        .map(|r| r.peak_power(height, body_mass_kg));
    all.collect::<Result<_, _>>().map_err(load_failure)
}

fn plots(
    call: &Series,
    view: &SeriesView<'_>,
    earlier: Option<(&LoadSeries, &str)>,
) -> Result<(), Failure> {
    let who = [view.athlete, view.date];
    let who: Vec<&str> = who.into_iter().filter(|part| !part.is_empty()).collect();
    let title = |what: &str| match who.is_empty() {
        true => what.to_owned(),
        false => format!("{}: {what}", who.join(", ")),
    };
    if let Some(path) = &call.source.plot {
        let title = title("jump height against load");
        scatter::write(
            path,
            &heights_chart(view.series, earlier, &title, call.units),
        )?;
        drawn(path, call.json);
    }
    if let Some(path) = &call.plot_line {
        match &view.series.profile {
            Some(profile) => {
                let title = title("force against velocity");
                scatter::write(path, &force_velocity_chart(view.series, profile, &title))?;
                drawn(path, call.json);
            }
            None => output::murmur("No line of force against velocity, so no plot of it\n"),
        }
    }
    Ok(())
}
