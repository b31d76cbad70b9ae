//! The last day on which anybody jumped.

use jiff::civil::Date;
use rusqlite::OptionalExtension;

use super::error::LogError;
use super::query::read_date;
use super::{Log, TrialQuery};

impl Log {
    /// The last day that has a trial of those asked for.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn latest_day(&self, query: &TrialQuery) -> Result<Option<Date>, LogError> {
        let (condition, values) = query.condition()?;
        let sql =
            format!("SELECT t.date FROM trial t WHERE {condition} ORDER BY t.date DESC LIMIT 1");
        let mut statement = self.connection.prepare_cached(&sql)?;
        let found = statement.query_row(rusqlite::params_from_iter(values), |row| {
            row.get::<_, String>(0)
        });
        found.optional()?.map(|text| read_date(&text)).transpose()
    }
}
