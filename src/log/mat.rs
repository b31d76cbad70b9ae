//! What jump mats showed.

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, Row, params};

use super::error::LogError;
use super::query::{date_text, read_date, read_moment};
use super::{AthleteId, Log, names};
use crate::trials::mat::{HeightFormula, MatReading};
use crate::units::{Acceleration, Metres, Span};

/// A reading to enter.
#[derive(Clone, Debug, PartialEq)]
pub struct NewMatEntry {
    /// Who jumped.
    pub athlete: AthleteId,
    /// The day.
    pub date: Date,
    /// Place of the jump in the athlete's day, from 1, as in the trials; `None` for
    /// the next one on this mat.
    pub order: Option<u32>,
    /// Which mat; empty where there is only one.
    pub mat: String,
    /// What it showed.
    pub reading: MatReading,
    /// Remark.
    pub note: String,
}

/// A reading in the log.
#[derive(Clone, Debug, PartialEq)]
pub struct MatEntry {
    /// Its number.
    pub id: i64,
    /// Who jumped.
    pub athlete: AthleteId,
    /// The day.
    pub date: Date,
    /// Place of the jump in the athlete's day, from 1: the jump of the same athlete,
    /// day and place among the trials is the same jump.
    pub order: u32,
    /// Which mat; empty where there is only one.
    pub mat: String,
    /// What it showed.
    pub reading: MatReading,
    /// Remark.
    pub note: String,
    /// When it was entered.
    pub recorded: Timestamp,
}

/// Which readings are wanted; all of them by default.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MatQuery {
    /// Whose.
    pub athlete: Option<AthleteId>,
    /// First day.
    pub from: Option<Date>,
    /// Last day.
    pub to: Option<Date>,
    /// Which mat.
    pub mat: Option<String>,
}

impl Log {
    /// Enters a reading.
    ///
    /// # Errors
    /// [`LogError::BadValue`] for what no mat shows, [`LogError::PlaceTaken`] for a
    /// jump that has a reading of this mat already.
    pub fn add_mat_entry(&mut self, entry: &NewMatEntry, now: Timestamp) -> Result<i64, LogError> {
        self.at_once(|log| insert(log, entry, now))
    }

    /// Enters readings, all or none.
    ///
    /// # Errors
    /// As [`Log::add_mat_entry`].
    pub fn add_mat_entries(
        &mut self,
        entries: &[NewMatEntry],
        now: Timestamp,
    ) -> Result<Vec<i64>, LogError> {
        self.at_once(|log| {
            entries
                .iter()
                .map(|entry| insert(log, entry, now))
                .collect()
        })
    }

    /// The readings asked for, by athlete's number, date, mat and place.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn mat_entries(&self, query: &MatQuery) -> Result<Vec<MatEntry>, LogError> {
        let mut all = Vec::new();
        each(&self.connection, query, &mut |entry| {
            all.push(entry);
            Ok(())
        })?;
        Ok(all)
    }

    /// Takes a reading out of the log.
    ///
    /// # Errors
    /// [`LogError::NoSuchEntry`].
    pub fn remove_mat_entry(&mut self, id: i64) -> Result<(), LogError> {
        let sql = "DELETE FROM mat_reading WHERE id = ?1";
        self.at_once(|log| match log.execute(sql, [id])? {
            0 => Err(LogError::NoSuchEntry {
                what: "mat reading",
                number: id,
            }),
            _ => Ok(()),
        })
    }
}

pub(super) fn each(
    log: &Connection,
    query: &MatQuery,
    take: &mut dyn FnMut(MatEntry) -> Result<(), LogError>,
) -> Result<(), LogError> {
    let athlete = match query.athlete {
        Some(_) => "athlete_id = ?1",
        None => "?1 IS NULL",
    };
    let sql = format!(
        "SELECT id, athlete_id, date, place, mat, flight_time_s, step_s, height_m, step_m, \
         gravity_m_s2, added_m, note, recorded_at FROM mat_reading WHERE {athlete} \
         AND date BETWEEN ?2 AND ?3 AND (?4 IS NULL OR mat = ?4) \
         ORDER BY athlete_id, date, mat, place"
    );
    let mut statement = log.prepare_cached(&sql)?;
    let mut rows = statement.query(params![
        query.athlete.map(|id| id.0),
        query.from.map_or(Ok(String::new()), date_text)?,
        query.to.map_or(Ok("9999-12-31".to_owned()), date_text)?,
        query.mat,
    ])?;
    while let Some(row) = rows.next()? {
        take(read(row)?)?;
    }
    Ok(())
}

pub(super) fn insert(
    log: &Connection,
    entry: &NewMatEntry,
    now: Timestamp,
) -> Result<i64, LogError> {
    check(&entry.reading)?;
    let date = date_text(entry.date)?;
    let mat = match entry.mat.trim() {
        "" => String::new(),
        mat => names::tidy(mat)?,
    };
    let place = place(log, entry, &date, &mat)?;
    let [time_s, step_s, height_m, step_m, gravity_m_s2, added_m] = columns(&entry.reading);
    let mut statement = log.prepare_cached(
        "INSERT INTO mat_reading (athlete_id, date, place, mat, flight_time_s, step_s, height_m, \
         step_m, gravity_m_s2, added_m, note, recorded_at) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
    )?;
    Ok(statement.insert(params![
        entry.athlete.0,
        date,
        place,
        mat,
        time_s,
        step_s,
        height_m,
        step_m,
        gravity_m_s2,
        added_m,
        entry.note,
        now.to_string(),
    ])?)
}

/// A reading in columns: time and its step in seconds, height and its step in metres,
/// gravity in metres per second squared and the added height in metres of its formula.
pub(super) fn columns(reading: &MatReading) -> [Option<f64>; 6] {
    match reading {
        MatReading::Time { time, step } => {
            let (time, step) = (time.seconds(), step.seconds());
            [Some(time), Some(step), None, None, None, None]
        }
        MatReading::Height {
            height,
            step,
            formula,
        } => [
            None,
            None,
            Some(height.metres()),
            Some(step.metres()),
            Some(formula.gravity.metres_per_second_squared()),
            Some(formula.added.metres()),
        ],
    }
}

/// The place that the reading takes.
fn place(log: &Connection, entry: &NewMatEntry, date: &str, mat: &str) -> Result<u32, LogError> {
    let Some(place) = entry.order else {
        let sql = "SELECT coalesce(max(place), 0) + 1 FROM mat_reading \
                   WHERE athlete_id = ?1 AND date = ?2 AND mat = ?3";
        let mut statement = log.prepare_cached(sql)?;
        return Ok(statement.query_row(params![entry.athlete.0, date, mat], |row| row.get(0))?);
    };
    if place == 0 {
        return Err(LogError::bad(
            "a jump's place in the day",
            place,
            "it begins with 1",
        ));
    }
    let sql = "SELECT a.name FROM mat_reading m JOIN athlete a ON a.id = m.athlete_id \
               WHERE m.athlete_id = ?1 AND m.date = ?2 AND m.place = ?3 AND m.mat = ?4";
    let mut statement = log.prepare_cached(sql)?;
    let values = params![entry.athlete.0, date, place, mat];
    let taken: Option<String> = statement.query_row(values, |row| row.get(0)).optional()?;
    taken.map_or(Ok(place), |athlete| {
        Err(LogError::PlaceTaken {
            what: "mat reading",
            athlete,
            date: entry.date,
            place,
        })
    })
}

/// Refuses what no mat shows, wrong units above all. The comparison itself looks
/// closer ([`crate::trials::mat::Pair::check`]).
fn check(reading: &MatReading) -> Result<(), LogError> {
    use super::athlete::within;
    match reading {
        MatReading::Time { time, step } => {
            within("a mat's flight time in seconds", time.seconds(), 0.05, 1.5)?;
            within("a mat's step in seconds", step.seconds(), 1e-6, 0.1)
        }
        MatReading::Height {
            height,
            step,
            formula,
        } => {
            within("a mat's height in metres", height.metres(), 0.005, 2.0)?;
            within("a mat's step in metres", step.metres(), 1e-6, 0.1)?;
            let gravity = formula.gravity.metres_per_second_squared();
            within("a mat's gravity in m/s²", gravity, 9.0, 11.0)?;
            within(
                "a mat's added height in metres",
                formula.added.metres(),
                -0.5,
                0.5,
            )
        }
    }
}

fn read(row: &Row) -> Result<MatEntry, LogError> {
    let time: Option<f64> = row.get(5)?;
    let reading = match time {
        Some(time) => MatReading::Time {
            time: Span::from_seconds(time),
            step: Span::from_seconds(row.get(6)?),
        },
        None => MatReading::Height {
            height: Metres::from_metres(row.get(7)?),
            step: Metres::from_metres(row.get(8)?),
            formula: HeightFormula {
                gravity: Acceleration::from_metres_per_second_squared(row.get(9)?),
                added: Metres::from_metres(row.get(10)?),
            },
        },
    };
    Ok(MatEntry {
        id: row.get(0)?,
        athlete: AthleteId(row.get(1)?),
        date: read_date(&row.get::<_, String>(2)?)?,
        order: row.get(3)?,
        mat: row.get(4)?,
        reading,
        note: row.get(11)?,
        recorded: read_moment(&row.get::<_, String>(12)?)?,
    })
}
