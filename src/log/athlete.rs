//! Athletes, and what is known of their bodies.

use std::time::Duration;

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, Row, params, params_from_iter};
use serde::Serialize;

use super::error::LogError;
use super::{Log, names, query, store};
use crate::trials::load::series::PushOff;
use crate::units::{Metres, StandardUncertainty};

/// An athlete's number in one log.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(transparent)]
pub struct AthleteId(pub(super) i64);

impl AthleteId {
    /// The plain number.
    pub fn number(self) -> i64 {
        self.0
    }
}

/// What is kept of an athlete. All but the name may be left out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Athlete {
    /// Number in this log.
    pub id: AthleteId,
    /// Name or initials; unique, whatever the case of its letters.
    pub name: String,
    /// Body height.
    #[serde(rename = "stature_m")]
    pub stature: Option<Metres>,
    /// How far the centre of mass travels in the push-off.
    pub push_off: Option<PushOff>,
    /// Year of birth.
    pub birth_year: Option<i16>,
    /// Remark.
    pub note: String,
    /// When she or he was added.
    pub added: Timestamp,
}

/// An athlete to add, or what an athlete is to be from now on.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NewAthlete {
    /// Name or initials.
    pub name: String,
    /// Body height.
    pub stature: Option<Metres>,
    /// How far the centre of mass travels in the push-off.
    pub push_off: Option<PushOff>,
    /// Year of birth.
    pub birth_year: Option<i16>,
    /// Remark.
    pub note: String,
}

impl NewAthlete {
    /// An athlete of whom nothing but the name is kept.
    pub fn named(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            ..Self::default()
        }
    }
}

impl From<Athlete> for NewAthlete {
    fn from(athlete: Athlete) -> Self {
        Self {
            name: athlete.name,
            stature: athlete.stature,
            push_off: athlete.push_off,
            birth_year: athlete.birth_year,
            note: athlete.note,
        }
    }
}

/// A body mass on a day.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BodyMass {
    /// The day.
    pub date: Date,
    /// The mass in kg.
    pub mass_kg: f64,
}

const COLUMNS: &str = "id, name, stature_m, push_off_m, push_off_u_m, push_off_measured, \
                       birth_year, note, added_at";

impl Log {
    /// Adds an athlete.
    ///
    /// # Errors
    /// [`LogError::AthleteExists`] if the name is taken, [`LogError::BadValue`] for
    /// what no body has.
    pub fn add_athlete(
        &mut self,
        athlete: &NewAthlete,
        now: Timestamp,
    ) -> Result<AthleteId, LogError> {
        self.at_once(|log| add(log, athlete, now))
    }

    /// Changes what is known of an athlete, the name included.
    ///
    /// # Errors
    /// As [`Log::add_athlete`].
    pub fn set_athlete(&mut self, id: AthleteId, athlete: &NewAthlete) -> Result<(), LogError> {
        let name = checked(athlete)?;
        self.at_once(|log| {
            free(log, &name, Some(id))?;
            let changed = log.execute(
                "UPDATE athlete SET name = ?1, name_key = ?2, stature_m = ?3, push_off_m = ?4, \
                 push_off_u_m = ?5, push_off_measured = ?6, birth_year = ?7, note = ?8 \
                 WHERE id = ?9",
                params_from_iter(columns(athlete, &name).into_iter().chain([id.0.into()])),
            )?;
            found(changed, id)
        })
    }

    /// The athlete of this name, in letters of either case.
    ///
    /// # Errors
    /// [`LogError::UnknownAthlete`], with the names that come close.
    pub fn athlete(&self, name: &str) -> Result<Athlete, LogError> {
        by_name(&self.connection, name)
    }

    /// The athlete of this number.
    ///
    /// # Errors
    /// [`LogError::NoSuchEntry`].
    pub fn athlete_by_id(&self, id: AthleteId) -> Result<Athlete, LogError> {
        let sql = format!("SELECT {COLUMNS} FROM athlete WHERE id = ?1");
        let mut statement = self.connection.prepare_cached(&sql)?;
        let athlete = statement.query_row([id.0], read).optional()?;
        let what = "athlete";
        athlete.unwrap_or(Err(LogError::NoSuchEntry { what, number: id.0 }))
    }

    /// All athletes by name.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn athletes(&self) -> Result<Vec<Athlete>, LogError> {
        all(&self.connection)
    }

    /// Deletes an athlete with all trials, readings, measures and saved results that
    /// tell something about her or him, and overwrites the places where they stood.
    ///
    /// Clips and backups lie elsewhere and are not touched.
    ///
    /// # Errors
    /// [`LogError::NoSuchEntry`], or what keeps the log from being written;
    /// [`LogError::StillRead`] if all was deleted and older pages are still in use.
    pub fn forget_athlete(&mut self, id: AthleteId) -> Result<(), LogError> {
        self.at_once(|log| {
            log.execute(
                "DELETE FROM saved WHERE id IN \
                 (SELECT saved_id FROM saved_about WHERE athlete_id = ?1)",
                [id.0],
            )?;
            found(
                log.execute("DELETE FROM athlete WHERE id = ?1", [id.0])?,
                id,
            )?;
            super::clip::drop_orphans(log)
        })?;
        self.scrub()
    }

    /// Rewrites the file without what was deleted, and empties what SQLite keeps
    /// beside it.
    fn scrub(&mut self) -> Result<(), LogError> {
        self.connection.execute_batch("VACUUM")?;
        // The deletion is done; nobody should wait long to hear so.
        self.connection.busy_timeout(Duration::from_secs(2))?;
        let sql = "PRAGMA wal_checkpoint(TRUNCATE)";
        let held: bool = self.connection.query_row(sql, [], |row| row.get(0))?;
        store::be_patient(&mut self.connection)?;
        if held {
            return Err(LogError::StillRead);
        }
        Ok(())
    }

    /// Notes a body mass; a second one on the same day takes the place of the first.
    ///
    /// # Errors
    /// [`LogError::BadValue`] outside 10 to 400 kg.
    pub fn set_body_mass(
        &mut self,
        id: AthleteId,
        date: Date,
        mass_kg: f64,
        now: Timestamp,
    ) -> Result<(), LogError> {
        self.at_once(|log| set_body_mass(log, id, BodyMass { date, mass_kg }, now))
    }

    /// All body masses of an athlete by date.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn body_masses(&self, id: AthleteId) -> Result<Vec<BodyMass>, LogError> {
        masses(&self.connection, id)
    }

    /// The body mass that holds on a day: the latest noted up to then, or else the
    /// first noted after it.
    ///
    /// # Errors
    /// [`LogError`] if the log cannot be read.
    pub fn body_mass_on(&self, id: AthleteId, date: Date) -> Result<Option<BodyMass>, LogError> {
        let all = self.body_masses(id)?;
        let before = all.iter().rev().find(|mass| mass.date <= date);
        Ok(before.or(all.first()).copied())
    }
}

pub(super) fn add(
    log: &Connection,
    athlete: &NewAthlete,
    now: Timestamp,
) -> Result<AthleteId, LogError> {
    let name = checked(athlete)?;
    free(log, &name, None)?;
    let mut statement = log.prepare_cached(
        "INSERT INTO athlete (name, name_key, stature_m, push_off_m, push_off_u_m, \
         push_off_measured, birth_year, note, added_at) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
    )?;
    let added = now.to_string().into();
    let id = statement.insert(params_from_iter(
        columns(athlete, &name).into_iter().chain([added]),
    ))?;
    Ok(AthleteId(id))
}

/// An athlete in columns: name, its key, stature, push-off distance with uncertainty and
/// whether it was measured, year of birth, note.
fn columns(athlete: &NewAthlete, name: &str) -> [Value; 8] {
    let push_off = athlete.push_off;
    [
        name.to_owned().into(),
        names::key(name).into(),
        athlete.stature.map(Metres::metres).into(),
        push_off.map(|p| p.distance.metres()).into(),
        push_off.map(|p| p.u.0.metres()).into(),
        push_off.map(|p| p.measured).into(),
        athlete.birth_year.map(i64::from).into(),
        athlete.note.clone().into(),
    ]
}

pub(super) fn all(log: &Connection) -> Result<Vec<Athlete>, LogError> {
    let sql = format!("SELECT {COLUMNS} FROM athlete ORDER BY name_key");
    let mut statement = log.prepare_cached(&sql)?;
    let rows = statement.query_map([], read)?;
    rows.map(|row| row?).collect()
}

pub(super) fn masses(log: &Connection, id: AthleteId) -> Result<Vec<BodyMass>, LogError> {
    let sql = "SELECT date, mass_kg FROM body_mass WHERE athlete_id = ?1 ORDER BY date";
    let mut statement = log.prepare_cached(sql)?;
    let rows = statement.query_map([id.0], read_mass)?;
    rows.map(|row| row?).collect()
}

pub(super) fn by_name(log: &Connection, name: &str) -> Result<Athlete, LogError> {
    let tidy = names::tidy(name)?;
    let sql = format!("SELECT {COLUMNS} FROM athlete WHERE name_key = ?1");
    let mut statement = log.prepare_cached(&sql)?;
    if let Some(athlete) = statement.query_row([names::key(&tidy)], read).optional()? {
        return athlete;
    }
    let mut all = log.prepare_cached("SELECT name FROM athlete")?;
    let names: Vec<String> = all
        .query_map([], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    Err(LogError::UnknownAthlete {
        close: names::alike(&tidy, names),
        name: tidy,
    })
}

pub(super) fn set_body_mass(
    log: &Connection,
    id: AthleteId,
    mass: BodyMass,
    now: Timestamp,
) -> Result<(), LogError> {
    let date = query::date_text(mass.date)?;
    within("a body mass in kg", mass.mass_kg, 10.0, 400.0)?;
    let mut statement = log.prepare_cached(
        "INSERT INTO body_mass (athlete_id, date, mass_kg, recorded_at) VALUES (?1, ?2, ?3, ?4) \
         ON CONFLICT DO UPDATE SET mass_kg = excluded.mass_kg, recorded_at = excluded.recorded_at",
    )?;
    statement.execute(params![id.0, date, mass.mass_kg, now.to_string()])?;
    Ok(())
}

/// The tidy name of an athlete whose values can be.
fn checked(athlete: &NewAthlete) -> Result<String, LogError> {
    if let Some(stature) = athlete.stature {
        within("a stature in metres", stature.metres(), 0.5, 2.6)?;
    }
    if let Some(push_off) = athlete.push_off {
        within(
            "a push-off distance in metres",
            push_off.distance.metres(),
            0.1,
            0.9,
        )?;
        let u = "the uncertainty of a push-off distance in metres";
        within(u, push_off.u.0.metres(), 0.0, 0.2)?;
    }
    if let Some(year) = athlete.birth_year {
        within("a year of birth", f64::from(year), 1900.0, 2100.0)?;
    }
    names::tidy(&athlete.name)
}

/// A value that lies between these two; no number lies nowhere.
pub(super) fn within(what: &'static str, value: f64, lo: f64, hi: f64) -> Result<(), LogError> {
    if (lo..=hi).contains(&value) {
        return Ok(());
    }
    Err(LogError::bad(
        what,
        value,
        format!("it lies between {lo} and {hi}"),
    ))
}

/// Refuses a name that somebody else has.
fn free(log: &Connection, name: &str, own: Option<AthleteId>) -> Result<(), LogError> {
    let mut statement = log.prepare_cached("SELECT id FROM athlete WHERE name_key = ?1")?;
    let holder: Option<i64> = statement
        .query_row([names::key(name)], |row| row.get(0))
        .optional()?;
    match holder {
        Some(id) if own != Some(AthleteId(id)) => Err(LogError::AthleteExists(name.to_owned())),
        _ => Ok(()),
    }
}

fn found(changed: usize, id: AthleteId) -> Result<(), LogError> {
    let what = "athlete";
    match changed {
        0 => Err(LogError::NoSuchEntry { what, number: id.0 }),
        _ => Ok(()),
    }
}

type Read<T> = rusqlite::Result<Result<T, LogError>>;

fn read(row: &Row) -> Read<Athlete> {
    let distance: Option<f64> = row.get(3)?;
    let push_off = match distance {
        Some(distance) => Some(PushOff {
            distance: Metres::from_metres(distance),
            u: StandardUncertainty(Metres::from_metres(row.get(4)?)),
            measured: row.get(5)?,
        }),
        None => None,
    };
    let (id, name, stature): (_, _, Option<f64>) = (row.get(0)?, row.get(1)?, row.get(2)?);
    let (birth_year, note) = (row.get(6)?, row.get(7)?);
    let added: String = row.get(8)?;
    Ok(query::read_moment(&added).map(|added| Athlete {
        id: AthleteId(id),
        name,
        stature: stature.map(Metres::from_metres),
        push_off,
        birth_year,
        note,
        added,
    }))
}

fn read_mass(row: &Row) -> Read<BodyMass> {
    let (date, mass_kg): (String, f64) = (row.get(0)?, row.get(1)?);
    Ok(query::read_date(&date).map(|date| BodyMass { date, mass_kg }))
}
