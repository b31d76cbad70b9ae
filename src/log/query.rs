//! Which trials are wanted, and sessions made of them.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Row, ToSql};

use super::error::LogError;
use super::trial::doubts;
use super::{Athlete, AthleteId, JumpKind, Log, Trial, TrialId, trial_rows};
use crate::trials::{Session, TrialHeight};
use crate::units::{Metres, StandardUncertainty};

/// Which loads are wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum LoadFilter {
    /// Any load and none.
    #[default]
    Any,
    /// Without a load.
    None,
    /// With one.
    Some,
    /// This load in kg, to the gram.
    Exactly(f64),
}

/// Which trials are wanted; all of them by default.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TrialQuery {
    /// Whose.
    pub athlete: Option<AthleteId>,
    /// First day.
    pub from: Option<Date>,
    /// Last day.
    pub to: Option<Date>,
    /// Kind of jump.
    pub kind: Option<JumpKind>,
    /// Load.
    pub load: LoadFilter,
}

impl TrialQuery {
    /// All trials of one athlete.
    pub fn of(athlete: AthleteId) -> Self {
        Self {
            athlete: Some(athlete),
            ..Self::default()
        }
    }

    /// Those of one kind.
    pub fn kind(self, kind: JumpKind) -> Self {
        Self {
            kind: Some(kind),
            ..self
        }
    }

    /// Those with such a load.
    pub fn load(self, load: LoadFilter) -> Self {
        Self { load, ..self }
    }

    /// Those from one day to another, both included.
    pub fn between(self, from: Option<Date>, to: Option<Date>) -> Self {
        Self { from, to, ..self }
    }

    /// The condition on `trial t`, and the values in it.
    pub(super) fn condition(&self) -> Result<(String, Vec<Box<dyn ToSql>>), LogError> {
        let mut parts = vec!["1"];
        let mut values: Vec<Box<dyn ToSql>> = Vec::new();
        if let Some(athlete) = self.athlete {
            parts.push("t.athlete_id = ?");
            values.push(Box::new(athlete.0));
        }
        if let Some(from) = self.from {
            parts.push("t.date >= ?");
            values.push(Box::new(date_text(from)?));
        }
        if let Some(to) = self.to {
            parts.push("t.date <= ?");
            values.push(Box::new(date_text(to)?));
        }
        if let Some(kind) = self.kind {
            parts.push("t.kind = ?");
            values.push(Box::new(kind.code()));
        }
        match self.load {
            LoadFilter::Any => {}
            LoadFilter::None => parts.push("t.load_kg = 0"),
            LoadFilter::Some => parts.push("t.load_kg > 0"),
            LoadFilter::Exactly(load_kg) => {
                parts.push("abs(t.load_kg - ?) < 0.001");
                values.push(Box::new(load_kg));
            }
        }
        Ok((parts.join(" AND "), values))
    }
}

/// One athlete's trials of one day.
#[derive(Clone, Debug, PartialEq)]
pub struct DaySession {
    /// Whose.
    pub athlete: AthleteId,
    /// The day.
    pub date: Date,
    /// The trials in their order, those that do not count among them, with their
    /// doubts.
    pub trials: Vec<TrialHeight>,
    /// Number in the log of each trial.
    pub ids: Vec<TrialId>,
}

impl DaySession {
    /// The day as a number; see [`day_number`].
    pub fn day(&self) -> f64 {
        day_number(self.date)
    }

    /// The session as the statistics take it.
    pub fn as_session(&self) -> Session<'_> {
        Session {
            day: self.day(),
            trials: &self.trials,
        }
    }
}

/// One athlete with all sessions asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct AthleteSessions {
    /// Who.
    pub athlete: Athlete,
    /// The sessions by date; empty if there was none.
    pub sessions: Vec<DaySession>,
}

impl Log {
    /// The trials asked for, by athlete's number, date and place in the day.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn trials(&self, query: &TrialQuery) -> Result<Vec<Trial>, LogError> {
        let mut all = Vec::new();
        self.each_trial(query, &mut |trial| {
            all.push(trial);
            Ok(())
        })?;
        Ok(all)
    }

    /// Hands out the trials asked for one by one, in the order of [`Log::trials`].
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read, or what `take` returns.
    pub fn each_trial(
        &self,
        query: &TrialQuery,
        take: &mut dyn FnMut(Trial) -> Result<(), LogError>,
    ) -> Result<(), LogError> {
        trial_rows::each(&self.connection, query, take)
    }

    /// The sessions asked for, by athlete's number and date.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn sessions(&self, query: &TrialQuery) -> Result<Vec<DaySession>, LogError> {
        let (condition, values) = query.condition()?;
        let mut statement = self.connection.prepare_cached(&session_sql(&condition))?;
        let mut rows = statement.query(rusqlite::params_from_iter(values))?;
        let mut sessions: Vec<DaySession> = Vec::new();
        let mut last_date = String::new();
        while let Some(row) = rows.next()? {
            let athlete = AthleteId(row.get(0)?);
            let date = row.get_ref(1)?.as_str().map_err(LogError::damaged)?;
            let same = sessions.last().is_some_and(|s| s.athlete == athlete) && date == last_date;
            if !same {
                date.clone_into(&mut last_date);
                sessions.push(DaySession {
                    athlete,
                    date: read_date(date)?,
                    trials: Vec::new(),
                    ids: Vec::new(),
                });
            }
            if let Some(session) = sessions.last_mut() {
                session.ids.push(TrialId(row.get(2)?));
                session.trials.push(session_trial(row)?);
            }
        }
        Ok(sessions)
    }

    /// Every athlete by name, each with the sessions asked for.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn squad(&self, query: &TrialQuery) -> Result<Vec<AthleteSessions>, LogError> {
        let mut of: BTreeMap<AthleteId, Vec<DaySession>> = BTreeMap::new();
        for session in self.sessions(query)? {
            of.entry(session.athlete).or_default().push(session);
        }
        let wanted = |athlete: &Athlete| query.athlete.is_none_or(|id| id == athlete.id);
        let athletes = self.athletes()?;
        Ok(athletes
            .into_iter()
            .filter(wanted)
            .map(|athlete| AthleteSessions {
                sessions: of.remove(&athlete.id).unwrap_or_default(),
                athlete,
            })
            .collect())
    }
}

/// What a session needs of its trials; no more, since logs grow.
fn session_sql(condition: &str) -> String {
    format!(
        "SELECT t.athlete_id, t.date, t.id, t.place, t.height_m, t.film_u_m, t.shared_u_m, \
         t.doubts, t.set_aside FROM trial t WHERE {condition} \
         ORDER BY t.athlete_id, t.date, t.place"
    )
}

fn session_trial(row: &Row) -> rusqlite::Result<TrialHeight> {
    let codes: String = row.get(7)?;
    let reason: Option<String> = row.get(8)?;
    let codes = codes.split(',').filter(|code| !code.is_empty());
    Ok(TrialHeight {
        order: row.get::<_, u32>(3)? as usize,
        height: Metres::from_metres(row.get(4)?),
        film_u: StandardUncertainty(Metres::from_metres(row.get(5)?)),
        shared_u: StandardUncertainty(Metres::from_metres(row.get(6)?)),
        doubts: doubts(codes, reason.as_deref()),
    })
}

/// The number of a day, counted from 1970-01-01, for trends.
pub fn day_number(date: Date) -> f64 {
    let days = date - jiff::civil::date(1970, 1, 1);
    f64::from(days.get_days())
}

/// The day as it is kept; text and calendar sort alike between these years.
pub(super) fn date_text(date: Date) -> Result<String, LogError> {
    if (1900..=9999).contains(&date.year()) {
        return Ok(date.to_string());
    }
    let remedy = "write the day as year-month-day, such as 2026-03-02";
    Err(LogError::bad("a date", date, remedy))
}

pub(super) fn read_date(text: &str) -> Result<Date, LogError> {
    text.parse()
        .map_err(|_| LogError::damaged(format!("\"{text}\" stands where a date should")))
}

pub(super) fn read_moment(text: &str) -> Result<Timestamp, LogError> {
    text.parse()
        .map_err(|_| LogError::damaged(format!("\"{text}\" stands where a time should")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    /// How SQLite goes about a query.
    fn plan(query: &TrialQuery) -> String {
        let folder = tempfile::tempdir().unwrap();
        let log = Log::open(&folder.path().join("log.sqlite")).unwrap();
        let (condition, values) = query.condition().unwrap();
        let sql = format!("EXPLAIN QUERY PLAN {}", session_sql(&condition));
        let mut statement = log.connection.prepare(&sql).unwrap();
        let rows = statement.query_map(rusqlite::params_from_iter(values), |row| row.get(3));
        let steps: Vec<String> = rows.unwrap().collect::<Result<_, _>>().unwrap();
        steps.join("; ")
    }

    #[test]
    fn look_ups_use_an_index_and_one_athletes_need_no_sorting() {
        let days = (Some(date(2026, 1, 1)), Some(date(2026, 1, 31)));
        let of_one = TrialQuery::of(AthleteId(1));
        for query in [
            of_one,
            of_one.between(days.0, days.1),
            of_one.kind(JumpKind::Drop).load(LoadFilter::Some),
        ] {
            let steps = plan(&query);
            assert!(
                steps.contains("SEARCH t USING INDEX sqlite_autoindex_trial_1"),
                "{steps}"
            );
            assert!(!steps.contains("TEMP B-TREE"), "{steps}");
        }
        let steps = plan(&TrialQuery::default().between(days.0, days.1));
        assert!(
            steps.contains("SEARCH t USING INDEX trial_by_date"),
            "{steps}"
        );
    }

    #[test]
    fn days_are_counted_across_months_and_years() {
        let day = |y, m, d| day_number(date(y, m, d));
        assert_eq!(day(1970, 1, 1), 0.0);
        assert_eq!(day(2000, 3, 1) - day(2000, 2, 28), 2.0);
        assert_eq!(day(2026, 1, 1) - day(2025, 1, 1), 365.0);
        assert_eq!(day(1969, 12, 31), -1.0);
    }
}
