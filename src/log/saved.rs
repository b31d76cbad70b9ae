//! Results that are used again: a mat's correction, a comparison.

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, Row, params};

use super::error::LogError;
use super::query::{date_text, read_date, read_moment};
use super::{AthleteId, Log, names};

/// A result to save. Its content is whoever saves it's own affair.
#[derive(Clone, Debug, PartialEq)]
pub struct NewSaved {
    /// Kind of result, such as `correction`.
    pub kind: String,
    /// Name under which it is found again, such as the mat's.
    pub name: String,
    /// Version of the layout of `content`.
    pub version: u32,
    /// The day it stands for.
    pub date: Date,
    /// JSON.
    pub content: String,
    /// Whom it tells something about. It is deleted when one of them is forgotten; a
    /// mat's correction tells nothing about anybody and outlives them.
    pub about: Vec<AthleteId>,
}

/// A saved result.
#[derive(Clone, Debug, PartialEq)]
pub struct Saved {
    /// Its number.
    pub id: i64,
    /// Kind of result.
    pub kind: String,
    /// Name.
    pub name: String,
    /// Version of the layout of `content`.
    pub version: u32,
    /// The day it stands for.
    pub date: Date,
    /// JSON.
    pub content: String,
    /// When it was saved.
    pub recorded: Timestamp,
}

const SELECT: &str = "SELECT id, kind, name, version, date, content, recorded_at FROM saved";

impl Log {
    /// Saves a result in place of an earlier one of the same kind and name.
    ///
    /// # Errors
    /// [`LogError::BadValue`] if the content is no JSON or the name is none.
    pub fn save(&mut self, result: &NewSaved, now: Timestamp) -> Result<i64, LogError> {
        self.at_once(|log| {
            let (kind, name) = (names::tidy(&result.kind)?, names::tidy(&result.name)?);
            let sql = "DELETE FROM saved WHERE kind = ?1 AND name = ?2";
            log.execute(sql, params![kind, name])?;
            insert(log, result, now)
        })
    }

    /// The saved result of this kind and name.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn saved(&self, kind: &str, name: &str) -> Result<Option<Saved>, LogError> {
        by_name(&self.connection, kind, &names::tidy(name)?)
    }

    /// All saved results of a kind, the newest first.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn all_saved(&self, kind: &str) -> Result<Vec<Saved>, LogError> {
        let sql = format!("{SELECT} WHERE kind = ?1 ORDER BY date DESC, id DESC");
        let mut statement = self.connection.prepare_cached(&sql)?;
        let rows = statement.query_map([kind], |row| Ok(read(row)))?;
        rows.map(|row| row?).collect()
    }

    /// Deletes a saved result.
    ///
    /// # Errors
    /// [`LogError::NoSuchEntry`].
    pub fn remove_saved(&mut self, id: i64) -> Result<(), LogError> {
        self.at_once(
            |log| match log.execute("DELETE FROM saved WHERE id = ?1", [id])? {
                0 => Err(LogError::NoSuchEntry {
                    what: "saved result",
                    number: id,
                }),
                _ => Ok(()),
            },
        )
    }
}

pub(super) fn insert(log: &Connection, result: &NewSaved, now: Timestamp) -> Result<i64, LogError> {
    let (kind, name) = (names::tidy(&result.kind)?, names::tidy(&result.name)?);
    let date = date_text(result.date)?;
    // Written anew, so that the same content is always the same text.
    let content = match serde_json::from_str::<serde_json::Value>(&result.content) {
        Ok(content) => content.to_string(),
        Err(error) => return Err(LogError::bad("a saved result", error, "it must be JSON")),
    };
    let mut statement = log.prepare_cached(
        "INSERT INTO saved (kind, name, version, date, content, recorded_at) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?;
    let version = result.version;
    let id = statement.insert(params![kind, name, version, date, content, now.to_string()])?;
    let mut about = log.prepare_cached("INSERT OR IGNORE INTO saved_about VALUES (?1, ?2)")?;
    for athlete in &result.about {
        about.execute(params![id, athlete.0])?;
    }
    Ok(id)
}

pub(super) fn by_name(log: &Connection, kind: &str, name: &str) -> Result<Option<Saved>, LogError> {
    let sql = format!("{SELECT} WHERE kind = ?1 AND name = ?2");
    let mut statement = log.prepare_cached(&sql)?;
    let found = statement.query_row(params![kind, name], |row| Ok(read(row)));
    found.optional()?.transpose()
}

/// Hands out all saved results with the names of those they tell about.
pub(super) fn each(
    log: &Connection,
    take: &mut dyn FnMut(Saved, Vec<String>) -> Result<(), LogError>,
) -> Result<(), LogError> {
    let sql = format!("{SELECT} ORDER BY kind, name");
    let mut statement = log.prepare_cached(&sql)?;
    let mut about = log.prepare_cached(
        "SELECT a.name FROM saved_about s JOIN athlete a ON a.id = s.athlete_id \
         WHERE s.saved_id = ?1 ORDER BY a.name_key",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let result = read(row)?;
        let names = about.query_map([result.id], |row| row.get(0))?;
        let names = names.collect::<Result<_, _>>()?;
        take(result, names)?;
    }
    Ok(())
}

fn read(row: &Row) -> Result<Saved, LogError> {
    Ok(Saved {
        id: row.get(0)?,
        kind: row.get(1)?,
        name: row.get(2)?,
        version: row.get(3)?,
        date: read_date(&row.get::<_, String>(4)?)?,
        content: row.get(5)?,
        recorded: read_moment(&row.get::<_, String>(6)?)?,
    })
}
