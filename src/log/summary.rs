//! How much is kept of an athlete.

use jiff::civil::Date;
use rusqlite::params;

use super::error::LogError;
use super::query::read_date;
use super::{AthleteId, Log};

/// How much is kept of an athlete.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Summary {
    /// Trials, those set aside among them.
    pub trials: u32,
    /// Days with trials.
    pub days: u32,
    /// The first and the last of these days.
    pub span: Option<(Date, Date)>,
    /// Mat readings.
    pub mat_readings: u32,
    /// Values of other measures.
    pub companions: u32,
}

impl Log {
    /// Counts what is kept of an athlete.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn summary(&self, athlete: AthleteId) -> Result<Summary, LogError> {
        let count = |sql: &str| -> Result<u32, LogError> {
            let mut statement = self.connection.prepare_cached(sql)?;
            Ok(statement.query_row([athlete.0], |row| row.get(0))?)
        };
        let mut summary = Summary {
            mat_readings: count("SELECT count(*) FROM mat_reading WHERE athlete_id = ?1")?,
            companions: count("SELECT count(*) FROM companion WHERE athlete_id = ?1")?,
            ..Summary::default()
        };
        let mut statement = self.connection.prepare_cached(
            "SELECT count(*), count(DISTINCT date), min(date), max(date) FROM trial \
             WHERE athlete_id = ?1",
        )?;
        let (first, last): (Option<String>, Option<String>);
        (summary.trials, summary.days, first, last) = statement
            .query_row(params![athlete.0], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
            })?;
        if let Some((first, last)) = first.zip(last) {
            summary.span = Some((read_date(&first)?, read_date(&last)?));
        }
        Ok(summary)
    }
}
