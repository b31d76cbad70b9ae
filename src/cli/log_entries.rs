//! `log athlete`, `log mat`, `log companion`: what people enter by hand.

use std::path::Path;

use jiff::Timestamp;

use super::args::{AthleteFacts, CompanionAdd, MatAdd};
use super::{log_file, output};
use crate::log::{AthleteId, Log, LogError, NewAthlete, NewCompanion, NewMatEntry};
use crate::report::model::Failure;

/// Does something with the log at `file`; its errors become failures.
fn with<T>(
    file: &Path,
    mut log: Log,
    work: impl FnOnce(&mut Log) -> Result<T, LogError>,
) -> Result<T, Failure> {
    work(&mut log).map_err(|error| log_file::failure(file, &error))
}

pub(super) fn add_athlete(
    file: &Path,
    name: &str,
    facts: &AthleteFacts,
    now: Timestamp,
) -> Result<(), Failure> {
    let name = with(file, log_file::write(file)?, |log| {
        let mut athlete = NewAthlete::named(name);
        state(&mut athlete, facts);
        let id = log.add_athlete(&athlete, now)?;
        if let Err(error) = weigh(log, id, facts, now) {
            log.forget_athlete(id)?;
            return Err(error);
        }
        Ok(log.athlete_by_id(id)?.name)
    })?;
    output::say(&format!("{name} was added\n"))
}

pub(super) fn set_athlete(
    file: &Path,
    name: &str,
    facts: &AthleteFacts,
    now: Timestamp,
) -> Result<(), Failure> {
    let name = with(file, log_file::change(file)?, |log| {
        let known = log.athlete(name)?;
        let id = known.id;
        let mut athlete = NewAthlete::from(known);
        if let Some(name) = &facts.rename {
            athlete.name.clone_from(name);
        }
        state(&mut athlete, facts);
        weigh(log, id, facts, now)?;
        log.set_athlete(id, &athlete)?;
        Ok(log.athlete_by_id(id)?.name)
    })?;
    output::say(&format!("{name} was changed\n"))
}

/// Enters what is stated and leaves the rest.
fn state(athlete: &mut NewAthlete, facts: &AthleteFacts) {
    athlete.stature = facts.stature.or(athlete.stature);
    athlete.push_off = facts.push_off.or(athlete.push_off);
    athlete.birth_year = facts.birth_year.or(athlete.birth_year);
    if let Some(note) = &facts.note {
        athlete.note.clone_from(note);
    }
}

fn weigh(
    log: &mut Log,
    id: AthleteId,
    facts: &AthleteFacts,
    now: Timestamp,
) -> Result<(), LogError> {
    match facts.mass {
        Some((date, mass_kg)) => log.set_body_mass(id, date, mass_kg, now),
        None => Ok(()),
    }
}

pub(super) fn forget(file: &Path, name: &str, sure: bool) -> Result<(), Failure> {
    let failed = |error| log_file::failure(file, &error);
    let mut log = log_file::change(file)?;
    let athlete = log.athlete(name).map_err(failed)?;
    let kept = log.summary(athlete.id).map_err(failed)?;
    if !sure {
        return Err(Failure {
            message: format!(
                "this would delete {} for good: {}, {}, {}",
                athlete.name,
                output::count(kept.trials as usize, "trial"),
                output::count(kept.mat_readings as usize, "mat reading"),
                output::count(kept.companions as usize, "other value"),
            ),
            hint: "say --yes to delete; backups, exports and clips are not touched".to_owned(),
        });
    }
    log.forget_athlete(athlete.id).map_err(failed)?;
    output::say(&format!(
        "{} was forgotten, with {}\n",
        athlete.name,
        output::count(kept.trials as usize, "trial")
    ))?;
    output::murmur("note: backups, exported files and clips still hold what they held\n");
    Ok(())
}

pub(super) fn add_mat(file: &Path, add: &MatAdd, now: Timestamp) -> Result<(), Failure> {
    let (name, count) = with(file, log_file::change(file)?, |log| {
        let athlete = log.athlete(&add.athlete)?;
        let entry = |(later, reading)| NewMatEntry {
            athlete: athlete.id,
            date: add.date,
            order: add.order.map(|first| first + later),
            mat: add.mat.clone(),
            reading,
            note: add.note.clone(),
        };
        let readings = (0..).zip(add.readings.iter().copied());
        let entries: Vec<NewMatEntry> = readings.map(entry).collect();
        log.add_mat_entries(&entries, now)?;
        Ok((athlete.name, entries.len()))
    })?;
    let date = add.date;
    let readings = output::count(count, "mat reading");
    output::say(&format!("{readings} of {name}, {date}\n"))
}

pub(super) fn add_companion(
    file: &Path,
    add: &CompanionAdd,
    now: Timestamp,
) -> Result<(), Failure> {
    let name = with(file, log_file::change(file)?, |log| {
        let athlete = log.athlete(&add.athlete)?;
        let value = |value: &f64| NewCompanion {
            athlete: athlete.id,
            measure: add.measure.clone(),
            date: add.date,
            order: None,
            value: *value,
            unit: add.unit.clone(),
            note: add.note.clone(),
        };
        let values: Vec<NewCompanion> = add.values.iter().map(value).collect();
        log.add_companions(&values, now)?;
        Ok(athlete.name)
    })?;
    let values = output::count(add.values.len(), "value");
    let (measure, date) = (&add.measure, add.date);
    output::say(&format!("{values} of {measure} of {name}, {date}\n"))
}
