//! Results that are used again: a mat's correction, a comparison.

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{OptionalExtension, Row, params};

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
        let (kind, name) = (names::tidy(&result.kind)?, names::tidy(&result.name)?);
        let date = date_text(result.date)?;
        if let Err(error) = serde_json::from_str::<serde::de::IgnoredAny>(&result.content) {
            return Err(LogError::bad("a saved result", error, "it must be JSON"));
        }
        self.at_once(|log| {
            log.execute(
                "DELETE FROM saved WHERE kind = ?1 AND name = ?2",
                params![kind, name],
            )?;
            log.execute(
                "INSERT INTO saved (kind, name, version, date, content, recorded_at) \
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                params![
                    kind,
                    name,
                    result.version,
                    date,
                    result.content,
                    now.to_string()
                ],
            )?;
            let id = log.last_insert_rowid();
            let sql = "INSERT OR IGNORE INTO saved_about VALUES (?1, ?2)";
            for athlete in &result.about {
                log.prepare_cached(sql)?.execute(params![id, athlete.0])?;
            }
            Ok(id)
        })
    }

    /// The saved result of this kind and name.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn saved(&self, kind: &str, name: &str) -> Result<Option<Saved>, LogError> {
        let name = names::tidy(name)?;
        let sql = format!("{SELECT} WHERE kind = ?1 AND name = ?2");
        let mut statement = self.connection.prepare_cached(&sql)?;
        let found = statement.query_row(params![kind, name], |row| Ok(read(row)));
        found.optional()?.transpose()
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
