//! `log athletes`, `log show`: lists of what is kept.

use std::path::Path;

use serde_json::{Value, json};

use super::args::{Listing, Show};
use super::{log_file, output};
use crate::log::{Athlete, BodyMass, Log, LogError, Summary, Trial, TrialQuery};
use crate::report::model::{Failure, SCHEMA};
use crate::report::terminal::Units;
use crate::units::{Bounds, Interval95, Metres};

/// Columns of a terminal.
const WIDTH: usize = 80;
/// One inch in metres and one pound in kg, by the international agreement of 1959.
const INCH_M: f64 = 0.0254;
const POUND_KG: f64 = 0.453_592_37;

/// Lists the athletes.
///
/// # Errors
/// When the log cannot be read.
pub(super) fn athletes(file: &Path, listing: Listing) -> Result<(), Failure> {
    let log = log_file::read(file)?;
    let failed = |error| log_file::failure(file, &error);
    let mut rows = Vec::new();
    for athlete in log.athletes().map_err(failed)? {
        let summary = log.summary(athlete.id).map_err(failed)?;
        let mass = log.body_masses(athlete.id).map_err(failed)?.pop();
        rows.push((athlete, mass, summary));
    }
    if listing.json {
        let all: Vec<Value> = rows.iter().map(athlete_json).collect();
        return output::say(&format!("{}\n", json!({"schema": SCHEMA, "athletes": all})));
    }
    if rows.is_empty() {
        output::murmur("The log holds no athletes yet.\n");
        return Ok(());
    }
    let heading = format!(
        "{:<30} {:>8} {:>8} {:>6} {:>5}  {}\n",
        "Athlete",
        format!("Mass {}", mass_unit(listing.units)),
        format!("Tall {}", length_unit(listing.units)),
        "Trials",
        "Days",
        "Last day"
    );
    let lines = rows.iter().map(|row| athlete_line(row, listing.units));
    output::say(&(heading + &lines.collect::<String>()))
}

type AthleteRow = (Athlete, Option<BodyMass>, Summary);

fn athlete_line((athlete, mass, summary): &AthleteRow, units: Units) -> String {
    let mass = mass.map(|mass| in_mass_unit(mass.mass_kg, units));
    let stature = athlete.stature.map(|stature| in_unit(stature, units));
    let number = |value: Option<f64>| value.map_or("-".to_owned(), |v| format!("{v:.1}"));
    let last = summary
        .span
        .map_or("-".to_owned(), |(_, last)| last.to_string());
    format!(
        "{:<30} {:>8} {:>8} {:>6} {:>5}  {last}\n",
        cut(&athlete.name, 30),
        number(mass),
        number(stature),
        summary.trials,
        summary.days,
    )
}

fn athlete_json((athlete, mass, summary): &AthleteRow) -> Value {
    json!({
        "name": athlete.name,
        "stature_m": athlete.stature,
        "mass_kg": mass.map(|mass| mass.mass_kg),
        "mass_date": mass.map(|mass| mass.date.to_string()),
        "push_off_m": athlete.push_off.map(|p| p.distance),
        "push_off_u_m": athlete.push_off.map(|p| p.u),
        "push_off_measured": athlete.push_off.map(|p| p.measured),
        "birth_year": athlete.birth_year,
        "note": athlete.note,
        "trials": summary.trials,
        "days": summary.days,
        "first_day": summary.span.map(|(first, _)| first.to_string()),
        "last_day": summary.span.map(|(_, last)| last.to_string()),
        "mat_readings": summary.mat_readings,
        "other_values": summary.companions,
    })
}

/// Lists trials, athletes by name and days in order.
///
/// # Errors
/// When the log cannot be read, or knows no such athlete.
pub(super) fn trials(file: &Path, show: &Show) -> Result<(), Failure> {
    let log = log_file::read(file)?;
    let rows = chosen(&log, show).map_err(|error| log_file::failure(file, &error))?;
    if show.listing.json {
        let all = rows
            .iter()
            .flat_map(|(athlete, trials)| trials.iter().map(|trial| trial_json(athlete, trial)));
        let all: Vec<Value> = all.collect();
        return output::say(&format!("{}\n", json!({"schema": SCHEMA, "trials": all})));
    }
    let mut text = String::new();
    for (athlete, trials) in &rows {
        let mut last = None;
        for trial in trials {
            if last != Some(trial.date) {
                last = Some(trial.date);
                text += &day_heading(athlete, trial, show.listing.units, text.is_empty());
            }
            text += &trial_line(trial, show.listing.units);
        }
    }
    if text.is_empty() {
        output::murmur("The log holds no such trials.\n");
    }
    output::say(&text)
}

fn chosen(log: &Log, show: &Show) -> Result<Vec<(Athlete, Vec<Trial>)>, LogError> {
    let athletes = match &show.choice.athlete {
        Some(name) => vec![log.athlete(name)?],
        None => log.athletes()?,
    };
    let mut rows = Vec::new();
    for athlete in athletes {
        let query = TrialQuery {
            kind: show.kind,
            load: show.load,
            ..TrialQuery::of(athlete.id).between(show.choice.from, show.choice.to)
        };
        let trials = log.trials(&query)?;
        rows.push((athlete, trials));
    }
    Ok(rows)
}

fn day_heading(athlete: &Athlete, trial: &Trial, units: Units, first: bool) -> String {
    let gap = if first { "" } else { "\n" };
    format!(
        "{gap}{}, {}\n  {:>6} {:>4}  {:<7} {:>7} {:>9}  {:<12}  Remarks\n",
        cut(&athlete.name, WIDTH - 12),
        trial.date,
        "Trial",
        "Jump",
        "Kind",
        format!("Load {}", mass_unit(units)),
        format!("Height {}", length_unit(units)),
        "95 %",
    )
}

fn trial_line(trial: &Trial, units: Units) -> String {
    let record = &trial.record;
    let load = match record.load_kg {
        0.0 => "-".to_owned(),
        load => format!("{:.1}", in_mass_unit(load, units)),
    };
    let height = in_unit(record.height.best, units);
    let interval = record.height.interval95.map_or("-".to_owned(), |range| {
        let (lo, hi) = (in_unit(range.lo, units), in_unit(range.hi, units));
        format!("{lo:.1} to {hi:.1}")
    });
    let mut remarks: Vec<String> = trial.height().doubts;
    if !record.note.is_empty() {
        remarks.push(record.note.clone());
    }
    let mut line = format!(
        "  {:>6} {:>4}  {:<7} {load:>7} {height:>9.1}  {interval:<12}  ",
        trial.id.0, trial.order, record.kind
    );
    let room = WIDTH.saturating_sub(line.chars().count());
    line += &cut(&remarks.join("; "), room);
    let mut line = line.trim_end().to_owned();
    line.push('\n');
    line
}

fn trial_json(athlete: &Athlete, trial: &Trial) -> Value {
    let record = &trial.record;
    let bounds = |bounds: Bounds<Metres>| [bounds.lo(), bounds.hi()];
    let interval = |range: Interval95<Metres>| [range.lo, range.hi];
    json!({
        "trial": trial.id,
        "athlete": athlete.name,
        "date": trial.date.to_string(),
        "order": trial.order,
        "kind": record.kind,
        "load_kg": record.load_kg,
        "drop_height_m": record.drop_height,
        "height_m": record.height.best,
        "height_u_m": record.height.u,
        "height_bounds_m": record.height.bounds.map(bounds),
        "height_interval95_m": record.height.interval95.map(interval),
        "film_u_m": record.film_u,
        "shared_u_m": record.shared_u,
        "flight_time_s": record.flight_time.map(|time| time.best),
        "contact_time_s": record.contact_time,
        "flags": record.flags,
        "set_aside": record.set_aside,
        "usable": trial.height().is_usable(),
        "note": record.note,
        "clip": trial.clip.as_ref().map(|(clip, _)| &clip.name),
        "recorded": trial.recorded.to_string(),
    })
}

fn in_unit(length: Metres, units: Units) -> f64 {
    match units {
        Units::Metric => length.centimetres(),
        Units::Imperial => length.metres() / INCH_M,
    }
}

fn in_mass_unit(mass_kg: f64, units: Units) -> f64 {
    match units {
        Units::Metric => mass_kg,
        Units::Imperial => mass_kg / POUND_KG,
    }
}

fn length_unit(units: Units) -> &'static str {
    match units {
        Units::Metric => "cm",
        Units::Imperial => "in",
    }
}

fn mass_unit(units: Units) -> &'static str {
    match units {
        Units::Metric => "kg",
        Units::Imperial => "lb",
    }
}

/// Text on one line of at most `room` characters, without anything that a terminal
/// would obey.
fn cut(text: &str, room: usize) -> String {
    let turning = |c: &char| !matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let letters: Vec<char> = text.chars().filter(turning).map(plain).collect();
    let mut shown: String = letters.iter().take(room).collect();
    if letters.len() > room {
        shown.pop();
        shown.push('…');
    }
    shown
}
