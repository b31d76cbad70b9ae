//! `crosscheck`: a jump mat against the film.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::args::{Crosscheck, Readings, Task, today};
use super::{Outcome, log_file, output, scatter};
use crate::log::{AthleteId, Log, MatQuery, NewSaved, TrialQuery};
use crate::report::mat::{self, CorrectedRow, CrosscheckView, MatCorrection};
use crate::report::model::Failure;
use crate::report::plot::agreement::agreement_chart;
use crate::report::terminal::TextOptions;
use crate::trials::mat::{CrosscheckOptions, MatError, MatReading, crosscheck};
use crate::workflow;
use crate::workflow::crosscheck::{
    FilmJump, Paired, PairingOptions, Reading, film, pair_up, readings,
};
use crate::workflow::table::{Table, text_of};

/// Kinds of results in the log.
const COMPARISON: &str = "crosscheck";
const CORRECTION: &str = "correction";
/// Version of the layout of both.
const LAYOUT: u32 = 1;
/// What a mat without a name is saved under.
const ONLY_MAT: &str = "mat";

/// Intervals count athletes, so it matters who jumped.
const NAMELESS: &str = "\
note: jumps without a name count as one athlete's; name several in a column
      athlete of the table, a single one with --athlete
";

/// Compares, or corrects.
///
/// # Errors
/// When film and mat cannot be brought together, or a file cannot be used.
pub(super) fn run(call: &Crosscheck) -> Result<Outcome, Failure> {
    match &call.task {
        Task::Compare {
            results,
            options,
            save,
            plot,
            with_doubtful,
        } => {
            let film = if results.is_empty() {
                film_of_log(call)?
            } else {
                film_of_files(results)?
            };
            let (told, mat) = told_readings(call)?;
            let pairing = PairingOptions {
                athlete: call.athlete.clone(),
                with_doubtful: *with_doubtful,
                film_is_wider: results.is_empty(),
            };
            let paired = pair_up(&film.jumps, &told, &pairing)?;
            let found = Found {
                call,
                film,
                paired,
                mat,
            };
            compare(&found, *options, plot.as_deref(), *save)
        }
        Task::Apply(check) => apply(call, check.as_deref()),
    }
}

/// The film's side.
struct Film {
    jumps: Vec<FilmJump>,
    /// Where it is from.
    name: String,
}

/// Both sides, paired.
struct Found<'a> {
    call: &'a Crosscheck,
    film: Film,
    paired: Paired,
    /// What the mat is called in the log.
    mat: String,
}

fn film_of_files(paths: &[PathBuf]) -> Result<Film, Failure> {
    let mut jumps = Vec::new();
    for path in paths {
        let name = path.display().to_string();
        jumps.extend(film::from_results(&name, &text_of(path)?)?);
    }
    let names: Vec<String> = paths
        .iter()
        .map(|path| path.display().to_string())
        .collect();
    Ok(Film {
        jumps,
        name: names.join(", "),
    })
}

fn film_of_log(call: &Crosscheck) -> Result<Film, Failure> {
    let log = log_file::read(&call.log)?;
    let wrong = |error| log_file::failure(&call.log, &error);
    let athlete = athlete_id(&log, call)?;
    let query = TrialQuery {
        athlete,
        ..TrialQuery::default()
    }
    .between(call.from, call.to);
    let trials = log.trials(&query).map_err(wrong)?;
    let names = names(&log, call)?;
    let whose = call.athlete.as_ref().map(|name| format!(", {name}"));
    Ok(Film {
        jumps: film::from_log(&trials, |id| names.get(&id).cloned()),
        name: format!("the log{}", whose.unwrap_or_default()),
    })
}

fn athlete_id(log: &Log, call: &Crosscheck) -> Result<Option<AthleteId>, Failure> {
    let wrong = |error| log_file::failure(&call.log, &error);
    let found = call.athlete.as_ref().map(|name| log.athlete(name));
    Ok(found.transpose().map_err(wrong)?.map(|athlete| athlete.id))
}

fn names(log: &Log, call: &Crosscheck) -> Result<HashMap<AthleteId, String>, Failure> {
    let all = log.athletes();
    let all = all.map_err(|error| log_file::failure(&call.log, &error))?;
    Ok(all.into_iter().map(|one| (one.id, one.name)).collect())
}

/// The readings, and what their mat is called in the log.
fn told_readings(call: &Crosscheck) -> Result<(Vec<Reading>, String), Failure> {
    let called = call.mat.clone().unwrap_or_default();
    let all = match &call.readings {
        Readings::Table(path) => readings::from_table(&Table::open(path)?, &call.scale),
        Readings::Typed(list, quantity) => readings::typed(list, *quantity, &call.scale),
        Readings::Log => {
            let log = log_file::read(&call.log)?;
            let query = MatQuery {
                athlete: athlete_id(&log, call)?,
                from: call.from,
                to: call.to,
                mat: call.mat.clone(),
            };
            let entries = log.mat_entries(&query);
            let entries = entries.map_err(|error| log_file::failure(&call.log, &error))?;
            let mats: Vec<&str> = entries.iter().map(|e| e.mat.as_str()).collect();
            let mat = one_mat(&mats)?.to_owned();
            let names = names(&log, call)?;
            let all = readings::from_log(&entries, |id| names.get(&id).cloned());
            return Ok((all, saved_name(mat)));
        }
    };
    Ok((all?, saved_name(called)))
}

/// A mat without a name is the only one.
fn saved_name(mat: String) -> String {
    if mat.is_empty() {
        ONLY_MAT.to_owned()
    } else {
        mat
    }
}

/// Two mats err in two ways; they are never thrown together.
fn one_mat<'a>(mats: &[&'a str]) -> Result<&'a str, Failure> {
    let mut mats = mats.to_vec();
    mats.sort_unstable();
    mats.dedup();
    match mats.as_slice() {
        [] => Err(Failure {
            message: "the log holds no readings of a mat there".to_owned(),
            hint: "enter them first, or give a table: --readings FILE.csv".to_owned(),
        }),
        [one] => Ok(one),
        several => Err(Failure {
            message: format!("the log holds readings of {} mats", several.len()),
            hint: format!("choose one with --mat: \"{}\"", several.join("\", \"")),
        }),
    }
}

fn compare(
    found: &Found<'_>,
    options: CrosscheckOptions,
    plot: Option<&Path>,
    save: bool,
) -> Result<Outcome, Failure> {
    let call = found.call;
    output::murmur(&mat::left_out_text(
        &found.paired.left_out,
        TextOptions::default(),
    ));
    if found
        .paired
        .pairs
        .iter()
        .any(|pair| pair.athlete.is_empty())
    {
        output::murmur(NAMELESS);
    }
    let result = crosscheck(&found.paired.pairs, options).map_err(mat_failure)?;
    let mat_name = mat_name(found);
    let view = CrosscheckView {
        film: &found.film.name,
        mat: &mat_name,
        result: &result,
        left_out: &found.paired.left_out,
        shared_u: found.paired.shared_u,
    };
    let json = mat::crosscheck_json(&view).map_err(workflow::failure)?;
    if let Some(path) = plot {
        let people = match result.flight_time.athletes {
            1 => "one athlete".to_owned(),
            several => format!("{several} athletes"),
        };
        let jumps = result.flight_time.jumps;
        let title = format!("Mat against film: {jumps} jumps of {people}");
        scatter::write(path, &agreement_chart(&result, &title))?;
    }
    if save {
        keep(found, &json, &mat::correction_json(&result))?;
    }
    if call.json {
        output::say(&(json + "\n"))?;
    } else {
        output::say(&mat::crosscheck_text(&view, text_options(call)))?;
    }
    Ok(Outcome::Done)
}

fn text_options(call: &Crosscheck) -> TextOptions {
    TextOptions {
        units: call.units,
        details: false,
        colour: output::wants_colour(),
    }
}

fn mat_failure(error: MatError) -> Failure {
    Failure {
        message: error.to_string(),
        hint: error.remedy().to_owned(),
    }
}

/// What the mat shows and where that was written down.
fn mat_name(found: &Found<'_>) -> String {
    let call = found.call;
    let place = match &call.readings {
        Readings::Table(path) => path.display().to_string(),
        Readings::Typed(..) => "as typed".to_owned(),
        Readings::Log => "the log".to_owned(),
    };
    let heights = found.paired.pairs.iter().find_map(|pair| match pair.mat {
        MatReading::Height { step, formula, .. } => Some((step, formula)),
        MatReading::Time { .. } => None,
    });
    let times = found.paired.pairs.iter().find_map(|pair| match pair.mat {
        MatReading::Time { step, .. } => Some(step),
        MatReading::Height { .. } => None,
    });
    let mut kinds = Vec::new();
    kinds.extend(times.map(|step| format!("flight times, step {} ms", rounded(step.millis()))));
    kinds.extend(heights.map(|(step, formula)| {
        let gravity = formula.gravity.metres_per_second_squared();
        let added = match rounded(formula.added.centimetres()) {
            0.0 => String::new(),
            added => format!(" {added:+} cm"),
        };
        let step = rounded(step.centimetres());
        format!("heights, step {step} cm, by g T²/8{added} with g = {gravity} m/s²")
    }));
    format!("{place}: {}", kinds.join("; "))
}

/// Binary fractions of typed decimals make no sense to a reader.
fn rounded(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// Keeps the comparison, which goes when one of its athletes is forgotten, and the
/// correction, which tells of nobody.
fn keep(found: &Found<'_>, comparison: &str, correction: &str) -> Result<(), Failure> {
    let call = found.call;
    let mut log = log_file::write(&call.log)?;
    let now = Timestamp::now();
    let today = today();
    let mut jumped: Vec<&str> = found
        .paired
        .pairs
        .iter()
        .map(|p| p.athlete.as_str())
        .collect();
    jumped.sort_unstable();
    jumped.dedup();
    // Who is not in the log cannot be forgotten by it.
    let about: Vec<AthleteId> = jumped
        .iter()
        .filter_map(|name| log.athlete(name).ok())
        .map(|athlete| athlete.id)
        .collect();
    let name = &found.mat;
    let saved = |kind: &str, content: &str, about| NewSaved {
        kind: kind.to_owned(),
        name: name.clone(),
        version: LAYOUT,
        date: found.paired.last_day.unwrap_or(today),
        content: content.to_owned(),
        about,
    };
    let results = [
        saved(COMPARISON, comparison, about),
        saved(CORRECTION, correction, Vec::new()),
    ];
    for result in results {
        log.save(&result, now)
            .map_err(|error| log_file::failure(&call.log, &error))?;
    }
    output::murmur(&format!(
        "Kept in the log for the mat \"{name}\".\n\
         `underfoot crosscheck --apply` shows its readings corrected.\n"
    ));
    Ok(())
}

/// Shows readings corrected, each marked.
fn apply(call: &Crosscheck, check: Option<&Path>) -> Result<Outcome, Failure> {
    let (told, mat) = told_readings(call)?;
    let text = match check {
        Some(path) => text_of(path)?,
        None => saved_correction(call, &mat)?,
    };
    let correction = MatCorrection::from_json(&text).map_err(|error| {
        let name = check.map_or("the log".into(), |path| path.display().to_string());
        Failure {
            message: format!("{name} holds no comparison ({error})"),
            hint: "make it with `underfoot crosscheck --json`".to_owned(),
        }
    })?;
    let Some(correction) = correction else {
        return Err(Failure {
            message: "that comparison carries no correction".to_owned(),
            hint: "leave the readings as they are, or film more jumps on the mat, low and high"
                .to_owned(),
        });
    };
    let rows: Vec<_> = told
        .iter()
        .filter_map(|reading| {
            let shown = reading.reading?.flight_time();
            Some(CorrectedRow {
                name: reading.name(),
                shown,
                corrected: correction.correction.apply(shown).ok(),
            })
        })
        .collect();
    if call.json {
        output::say(&(mat::corrected_json(&rows, &correction) + "\n"))?;
    } else {
        output::say(&mat::corrected_text(&rows, &correction, text_options(call)))?;
    }
    let any = rows.iter().any(|row| row.corrected.is_some());
    Ok(if any { Outcome::Done } else { Outcome::NoJump })
}

fn saved_correction(call: &Crosscheck, name: &str) -> Result<String, Failure> {
    let log = log_file::read(&call.log)?;
    let saved = log.saved(CORRECTION, name);
    let saved = saved.map_err(|error| log_file::failure(&call.log, &error))?;
    saved.map(|saved| saved.content).ok_or_else(|| Failure {
        message: format!("the log holds no comparison of the mat \"{name}\""),
        hint: "compare first: `underfoot crosscheck`; or name one with --check FILE".to_owned(),
    })
}
