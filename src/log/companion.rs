//! Other measures of the same athlete: throw speed, sprint time, squat maximum.

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, Row, params};

use super::error::LogError;
use super::query::{date_text, day_number, read_date, read_moment};
use super::{AthleteId, Log, names, ucum};
use crate::trials::trend::DatedValue;

/// A value to enter.
#[derive(Clone, Debug, PartialEq)]
pub struct NewCompanion {
    /// Whose.
    pub athlete: AthleteId,
    /// What was measured, in a few words, such as `throw speed`.
    pub measure: String,
    /// The day.
    pub date: Date,
    /// Which of the day's values, from 1; `None` for the next.
    pub order: Option<u32>,
    /// The value.
    pub value: f64,
    /// Its unit in UCUM's case-sensitive form; one measure has one unit.
    pub unit: String,
    /// Remark.
    pub note: String,
}

/// A value in the log.
#[derive(Clone, Debug, PartialEq)]
pub struct Companion {
    /// Its number.
    pub id: i64,
    /// Whose.
    pub athlete: AthleteId,
    /// What was measured.
    pub measure: String,
    /// The day.
    pub date: Date,
    /// Which of the day's values, from 1.
    pub order: u32,
    /// The value.
    pub value: f64,
    /// Its unit in UCUM's case-sensitive form.
    pub unit: String,
    /// Remark.
    pub note: String,
    /// When it was entered.
    pub recorded: Timestamp,
}

impl Companion {
    /// The value as the statistics take it.
    pub fn dated(&self) -> DatedValue {
        DatedValue {
            day: day_number(self.date),
            value: self.value,
        }
    }
}

impl Log {
    /// Enters a value.
    ///
    /// # Errors
    /// [`LogError::BadValue`] for what is no number or no unit, or a unit other than
    /// the one that the athlete's earlier values of this measure have.
    pub fn add_companion(&mut self, value: &NewCompanion, now: Timestamp) -> Result<i64, LogError> {
        self.at_once(|log| insert(log, value, now))
    }

    /// Enters values, all or none.
    ///
    /// # Errors
    /// As [`Log::add_companion`].
    pub fn add_companions(
        &mut self,
        values: &[NewCompanion],
        now: Timestamp,
    ) -> Result<Vec<i64>, LogError> {
        self.at_once(|log| values.iter().map(|value| insert(log, value, now)).collect())
    }

    /// An athlete's values of a measure, or everybody's of all measures, by athlete's
    /// number, measure, date and order.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn companions(
        &self,
        athlete: Option<AthleteId>,
        measure: Option<&str>,
    ) -> Result<Vec<Companion>, LogError> {
        let measure = measure.map(names::tidy).transpose()?;
        let mut all = Vec::new();
        each(
            &self.connection,
            athlete,
            measure.as_deref(),
            &mut |value| {
                all.push(value);
                Ok(())
            },
        )?;
        Ok(all)
    }

    /// Takes a value out of the log.
    ///
    /// # Errors
    /// [`LogError::NoSuchEntry`].
    pub fn remove_companion(&mut self, id: i64) -> Result<(), LogError> {
        let sql = "DELETE FROM companion WHERE id = ?1";
        self.at_once(|log| match log.execute(sql, [id])? {
            0 => Err(LogError::NoSuchEntry {
                what: "value",
                number: id,
            }),
            _ => Ok(()),
        })
    }
}

pub(super) fn each(
    log: &Connection,
    athlete: Option<AthleteId>,
    measure: Option<&str>,
    take: &mut dyn FnMut(Companion) -> Result<(), LogError>,
) -> Result<(), LogError> {
    let condition = match athlete {
        Some(_) => "athlete_id = ?1",
        None => "?1 IS NULL",
    };
    let sql = format!(
        "SELECT id, athlete_id, measure, date, place, value, unit, note, recorded_at \
         FROM companion WHERE {condition} AND (?2 IS NULL OR measure = ?2) \
         ORDER BY athlete_id, measure, date, place"
    );
    let mut statement = log.prepare_cached(&sql)?;
    let mut rows = statement.query(params![athlete.map(|id| id.0), measure])?;
    while let Some(row) = rows.next()? {
        take(read(row)?)?;
    }
    Ok(())
}

pub(super) fn insert(
    log: &Connection,
    value: &NewCompanion,
    now: Timestamp,
) -> Result<i64, LogError> {
    if !value.value.is_finite() {
        return Err(LogError::bad(
            "a value",
            value.value,
            "give a finite number",
        ));
    }
    let (measure, date) = (names::tidy(&value.measure)?, date_text(value.date)?);
    let unit = same_unit(log, value, &measure)?;
    let place = place(log, value, &measure, &date)?;
    let mut statement = log.prepare_cached(
        "INSERT INTO companion (athlete_id, measure, date, place, value, unit, note, recorded_at) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    )?;
    Ok(statement.insert(params![
        value.athlete.0,
        measure,
        date,
        place,
        value.value,
        unit,
        value.note,
        now.to_string(),
    ])?)
}

/// The unit, if it is that of the measure's earlier values.
fn same_unit(log: &Connection, value: &NewCompanion, measure: &str) -> Result<String, LogError> {
    let unit = value.unit.trim().to_owned();
    if !ucum::is_unit(&unit) {
        let remedy = match ucum::meant(&unit) {
            Some(meant) => format!("UCUM writes {meant}"),
            None => "write it as UCUM does: m/s, km/h, s, kg, cm, 1 for a count".to_owned(),
        };
        return Err(LogError::bad("a unit", format!("\"{unit}\""), remedy));
    }
    let sql = "SELECT unit FROM companion WHERE athlete_id = ?1 AND measure = ?2 LIMIT 1";
    let mut statement = log.prepare_cached(sql)?;
    let values = params![value.athlete.0, measure];
    let earlier: Option<String> = statement.query_row(values, |row| row.get(0)).optional()?;
    match earlier {
        Some(earlier) if earlier != unit => {
            let remedy = format!("{measure} has been kept in {earlier} so far; convert the value");
            Err(LogError::bad("the unit", unit, remedy))
        }
        _ => Ok(unit),
    }
}

fn place(
    log: &Connection,
    value: &NewCompanion,
    measure: &str,
    date: &str,
) -> Result<u32, LogError> {
    let Some(place) = value.order else {
        let sql = "SELECT coalesce(max(place), 0) + 1 FROM companion \
                   WHERE athlete_id = ?1 AND measure = ?2 AND date = ?3";
        let mut statement = log.prepare_cached(sql)?;
        return Ok(statement.query_row(params![value.athlete.0, measure, date], |r| r.get(0))?);
    };
    if place == 0 {
        return Err(LogError::bad(
            "a value's place in the day",
            place,
            "it begins with 1",
        ));
    }
    let sql = "SELECT a.name FROM companion c JOIN athlete a ON a.id = c.athlete_id \
               WHERE c.athlete_id = ?1 AND c.measure = ?2 AND c.date = ?3 AND c.place = ?4";
    let mut statement = log.prepare_cached(sql)?;
    let values = params![value.athlete.0, measure, date, place];
    let taken: Option<String> = statement.query_row(values, |row| row.get(0)).optional()?;
    taken.map_or(Ok(place), |athlete| {
        Err(LogError::PlaceTaken {
            what: "value",
            athlete,
            date: value.date,
            place,
        })
    })
}

fn read(row: &Row) -> Result<Companion, LogError> {
    Ok(Companion {
        id: row.get(0)?,
        athlete: AthleteId(row.get(1)?),
        measure: row.get(2)?,
        date: read_date(&row.get::<_, String>(3)?)?,
        order: row.get(4)?,
        value: row.get(5)?,
        unit: row.get(6)?,
        note: row.get(7)?,
        recorded: read_moment(&row.get::<_, String>(8)?)?,
    })
}
