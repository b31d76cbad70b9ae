//! `load series`: one athlete's jumps across loads.

use super::{drawn, none_logged, text_options, whose};
use crate::cli::args::Series;
use crate::cli::{Outcome, log_file, output, scatter};
use crate::report::load::{series_json, series_text};
use crate::report::mat::left_out_text;
use crate::report::model::Failure;
use crate::report::plot::loads::force_velocity_chart;
use crate::report::terminal::TextOptions;
use crate::trials::load::LoadSeries;
use crate::trials::load::regressions::{PeakPower, REGRESSIONS};
use crate::trials::load::series::PushOff;
use crate::workflow;
use crate::workflow::load_session::{Frame, LoadSession, days_of_log, load_failure};
use crate::workflow::loads::{LoadDay, choose, load_days};
use crate::workflow::table::Table;

/// What is known before the jumps are read.
struct Known {
    athlete: String,
    days: Vec<LoadDay>,
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
    let frame = Frame {
        body_mass_kg: call.body_mass_kg,
        squat_max_kg: call.squat_max_kg,
        push_off,
        gravity: call.source.gravity,
    };
    let session = LoadSession::of(&known.athlete, &now, then.as_ref(), frame)?;
    let peak_power = peak_power(call, &session.series, session.input.body_mass_kg)?;
    plots(call, &session)?;
    let view = session.view(&peak_power);
    if call.json {
        output::say(&(series_json(&view).map_err(workflow::failure)? + "\n"))?;
    } else {
        output::say(&series_text(&view, text_options(call.units)))?;
    }
    Ok(Outcome::Done)
}

fn known_of_log(call: &Series) -> Result<Known, Failure> {
    let (log, athlete) = whose(&call.source)?;
    let asked = [call.source.date, call.since];
    let days = days_of_log(&log, &athlete, call.kind, &asked);
    let days = days.map_err(|error| log_file::failure(&call.source.log, &error))?;
    if days.is_empty() {
        return Err(none_logged(
            &athlete.name,
            "jumps under load",
            "--load-kg 20",
        ));
    }
    Ok(Known {
        athlete: athlete.name,
        days,
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

fn plots(call: &Series, session: &LoadSession) -> Result<(), Failure> {
    let who = [session.athlete.as_str(), session.date.as_str()];
    let who: Vec<&str> = who.into_iter().filter(|part| !part.is_empty()).collect();
    let title = |what: &str| match who.is_empty() {
        true => what.to_owned(),
        false => format!("{}: {what}", who.join(", ")),
    };
    if let Some(path) = &call.source.plot {
        let title = title("jump height against load");
        scatter::write(path, &session.heights_chart(&title, call.units))?;
        drawn(path, call.json);
    }
    if let Some(path) = &call.plot_line {
        match &session.series.profile {
            Some(profile) => {
                let title = title("force against velocity");
                scatter::write(
                    path,
                    &force_velocity_chart(&session.series, profile, &title),
                )?;
                drawn(path, call.json);
            }
            None => output::murmur("No line of force against velocity, so no plot of it\n"),
        }
    }
    Ok(())
}
