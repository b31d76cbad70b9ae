//! Everything but trials as rows of files.

use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, params};

use super::cell::{Cell, Column, Holds, Row};
use super::tables::{Entered, Names, required};
use crate::log::athlete::{self, Athlete, BodyMass, NewAthlete};
use crate::log::companion::{self, Companion, NewCompanion};
use crate::log::mat::{self, MatEntry, NewMatEntry};
use crate::log::saved::{self, NewSaved};
use crate::log::{LogError, MatQuery};
use crate::trials::load::series::PushOff;
use crate::trials::mat::{HeightFormula, MatReading};
use crate::units::{Acceleration, Metres, Span, StandardUncertainty};

pub(super) const ATHLETES: [Column; 8] = [
    Column::text("athlete").needed(),
    Column::number("stature", "m"),
    Column::number("push_off", "m"),
    Column::number("push_off_u", "m"),
    Column::new("push_off_measured", "", Holds::Flag),
    Column::new("birth_year", "", Holds::Whole),
    Column::text("note"),
    Column::text("added"),
];

pub(super) const MASSES: [Column; 3] = [
    Column::text("athlete").needed(),
    Column::text("date").needed(),
    Column::number("mass", "kg").needed(),
];

pub(super) const MAT: [Column; 12] = [
    Column::text("athlete").needed(),
    Column::text("date").needed(),
    Column::new("order", "", Holds::Whole),
    Column::text("mat"),
    Column::number("mat_time", "s"),
    Column::number("mat_time_step", "s"),
    Column::number("mat_height", "m"),
    Column::number("mat_height_step", "m"),
    Column::number("mat_gravity", "m/s2"),
    Column::number("mat_added", "m"),
    Column::text("note"),
    Column::text("recorded"),
];

pub(super) const MEASURES: [Column; 8] = [
    Column::text("athlete").needed(),
    Column::text("date").needed(),
    Column::new("order", "", Holds::Whole),
    Column::text("measure").needed(),
    Column::number("value", "").needed(),
    Column::text("unit").needed(),
    Column::text("note"),
    Column::text("recorded"),
];

pub(super) const SAVED: [Column; 7] = [
    Column::text("kind").needed(),
    Column::text("name").needed(),
    Column::new("version", "", Holds::Whole).needed(),
    Column::text("date").needed(),
    Column::new("about", "", Holds::Json),
    Column::new("content", "", Holds::Json).needed(),
    Column::text("recorded"),
];

pub(super) fn athlete_cells(athlete: &Athlete) -> Vec<Cell> {
    vec![
        athlete.name.clone().into(),
        athlete.stature.map(Metres::metres).into(),
        athlete.push_off.map(|p| p.distance.metres()).into(),
        athlete.push_off.map(|p| p.u.0.metres()).into(),
        athlete.push_off.map(|p| p.measured).into(),
        match athlete.birth_year {
            Some(year) => Cell::Whole(year.into()),
            None => Cell::Empty,
        },
        athlete.note.clone().into(),
        athlete.added.into(),
    ]
}

pub(super) fn enter_athlete(
    log: &Connection,
    mut row: Row,
    now: Timestamp,
) -> Result<Entered, LogError> {
    let push_off = row.number("push_off").map(|distance| PushOff {
        distance: Metres::from_metres(distance),
        u: StandardUncertainty(Metres::from_metres(row.number("push_off_u").unwrap_or(0.0))),
        measured: row.flag("push_off_measured").unwrap_or(false),
    });
    let new = NewAthlete {
        name: row.text("athlete"),
        stature: row.number("stature").map(Metres::from_metres),
        push_off,
        birth_year: row.whole("birth_year")?,
        note: row.text("note"),
    };
    let added = row.moment("added", now)?;
    match athlete::by_name(log, &new.name) {
        Ok(old) => {
            let mut old = NewAthlete::from(old);
            old.name.clone_from(&new.name);
            if old == new {
                return Ok(Entered::AlreadyThere);
            }
            let remedy = "the log knows other things of her or him; change one of the two with \
                          `underfoot log athlete set`";
            Err(LogError::bad("the athlete", new.name, remedy))
        }
        Err(LogError::UnknownAthlete { .. }) => {
            athlete::add(log, &new, added)?;
            Ok(Entered::New)
        }
        Err(error) => Err(error),
    }
}

pub(super) fn mass_cells(name: &str, mass: &BodyMass) -> Vec<Cell> {
    vec![name.into(), mass.date.into(), mass.mass_kg.into()]
}

pub(super) fn enter_mass(
    log: &Connection,
    mut row: Row,
    names: &mut Names,
    now: Timestamp,
) -> Result<Entered, LogError> {
    let athlete = names.id(log, &row.text("athlete"))?;
    let date = row.date("date")?;
    let mass_kg = row.number("mass").ok_or_else(|| required("mass"))?;
    let sql = "SELECT mass_kg FROM body_mass WHERE athlete_id = ?1 AND date = ?2";
    let mut statement = log.prepare_cached(sql)?;
    let old: Option<f64> = statement
        .query_row(params![athlete.0, date.to_string()], |row| row.get(0))
        .optional()?;
    match old {
        Some(old) if old == mass_kg => Ok(Entered::AlreadyThere),
        Some(old) => {
            let remedy = format!("{old} kg is kept for that day; correct one of the two");
            Err(LogError::bad("a body mass in kg", mass_kg, remedy))
        }
        None => {
            athlete::set_body_mass(log, athlete, BodyMass { date, mass_kg }, now)?;
            Ok(Entered::New)
        }
    }
}

pub(super) fn mat_cells(name: &str, entry: &MatEntry) -> Vec<Cell> {
    let [time_s, step_s, height_m, step_m, gravity_m_s2, added_m] = mat::columns(&entry.reading);
    vec![
        name.into(),
        entry.date.into(),
        entry.order.into(),
        entry.mat.clone().into(),
        time_s.into(),
        step_s.into(),
        height_m.into(),
        step_m.into(),
        gravity_m_s2.into(),
        added_m.into(),
        entry.note.clone().into(),
        entry.recorded.into(),
    ]
}

pub(super) fn enter_mat(
    log: &Connection,
    mut row: Row,
    names: &mut Names,
    now: Timestamp,
) -> Result<Entered, LogError> {
    let entry = NewMatEntry {
        athlete: names.id(log, &row.text("athlete"))?,
        date: row.date("date")?,
        order: row.whole("order")?,
        mat: row.text("mat"),
        reading: read_reading(&mut row)?,
        note: row.text("note"),
    };
    let recorded = row.moment("recorded", now)?;
    if let Some(order) = entry.order {
        let query = MatQuery {
            athlete: Some(entry.athlete),
            from: Some(entry.date),
            to: Some(entry.date),
            mat: Some(entry.mat.clone()),
        };
        let mut same = None;
        mat::each(log, &query, &mut |old| {
            if old.order == order {
                same = Some(old.reading == entry.reading && old.note == entry.note);
            }
            Ok(())
        })?;
        if same == Some(true) {
            return Ok(Entered::AlreadyThere);
        }
    }
    mat::insert(log, &entry, recorded)?;
    Ok(Entered::New)
}

fn read_reading(row: &mut Row) -> Result<MatReading, LogError> {
    let time = (row.number("mat_time"), row.number("mat_time_step"));
    let height = (row.number("mat_height"), row.number("mat_height_step"));
    let formula = HeightFormula::default();
    let gravity = row.number("mat_gravity");
    let added = row.number("mat_added").map(Metres::from_metres);
    match (time, height) {
        ((Some(time), Some(step)), (None, None)) => Ok(MatReading::Time {
            time: Span::from_seconds(time),
            step: Span::from_seconds(step),
        }),
        ((None, None), (Some(height), Some(step))) => Ok(MatReading::Height {
            height: Metres::from_metres(height),
            step: Metres::from_metres(step),
            formula: HeightFormula {
                gravity: gravity.map_or(
                    formula.gravity,
                    Acceleration::from_metres_per_second_squared,
                ),
                added: added.unwrap_or(formula.added),
            },
        }),
        _ => {
            let remedy = "fill in mat_time and its step, or mat_height and its step, not both";
            Err(LogError::bad(
                "a mat's reading",
                "told from this row",
                remedy,
            ))
        }
    }
}

pub(super) fn measure_cells(name: &str, value: &Companion) -> Vec<Cell> {
    vec![
        name.into(),
        value.date.into(),
        value.order.into(),
        value.measure.clone().into(),
        value.value.into(),
        value.unit.clone().into(),
        value.note.clone().into(),
        value.recorded.into(),
    ]
}

pub(super) fn enter_measure(
    log: &Connection,
    mut row: Row,
    names: &mut Names,
    now: Timestamp,
) -> Result<Entered, LogError> {
    let value = NewCompanion {
        athlete: names.id(log, &row.text("athlete"))?,
        measure: row.text("measure"),
        date: row.date("date")?,
        order: row.whole("order")?,
        value: row.number("value").ok_or_else(|| required("value"))?,
        unit: row.text("unit"),
        note: row.text("note"),
    };
    let recorded = row.moment("recorded", now)?;
    let sql = "SELECT value = ?5 AND unit = ?6 AND note = ?7 FROM companion WHERE athlete_id = ?1 \
               AND measure = ?2 AND date = ?3 AND place = ?4";
    let mut statement = log.prepare_cached(sql)?;
    let same: Option<bool> = statement
        .query_row(
            params![
                value.athlete.0,
                value.measure,
                value.date.to_string(),
                value.order,
                value.value,
                value.unit,
                value.note
            ],
            |row| row.get(0),
        )
        .optional()?;
    if same == Some(true) {
        return Ok(Entered::AlreadyThere);
    }
    companion::insert(log, &value, recorded)?;
    Ok(Entered::New)
}

pub(super) fn saved_cells(
    result: &saved::Saved,
    about: Vec<String>,
) -> Result<Vec<Cell>, LogError> {
    let content = serde_json::from_str(&result.content).map_err(LogError::damaged)?;
    let about = match about.is_empty() {
        true => Cell::Empty,
        false => Cell::Json(about.into()),
    };
    Ok(vec![
        result.kind.clone().into(),
        result.name.clone().into(),
        result.version.into(),
        result.date.into(),
        about,
        Cell::Json(content),
        result.recorded.into(),
    ])
}

pub(super) fn enter_saved(
    log: &Connection,
    mut row: Row,
    names: &mut Names,
    now: Timestamp,
) -> Result<Entered, LogError> {
    let about: Vec<String> = match row.json("about") {
        None => Vec::new(),
        Some(value) => serde_json::from_value(value)
            .map_err(|error| LogError::bad("about", error, "it is a list of names"))?,
    };
    let content = row.json("content").ok_or_else(|| required("content"))?;
    let result = NewSaved {
        kind: row.text("kind"),
        name: row.text("name"),
        version: row.whole("version")?.ok_or_else(|| required("version"))?,
        date: row.date("date")?,
        content: content.to_string(),
        about: about
            .iter()
            .map(|name| names.id(log, name))
            .collect::<Result<_, _>>()?,
    };
    let recorded = row.moment("recorded", now)?;
    match saved::by_name(log, &result.kind, &result.name)? {
        Some(old) if old.content == result.content => Ok(Entered::AlreadyThere),
        Some(_) => {
            let remedy = "another one of this name is saved; take that out first";
            Err(LogError::bad("a saved result's name", result.name, remedy))
        }
        None => {
            saved::insert(log, &result, recorded)?;
            Ok(Entered::New)
        }
    }
}
