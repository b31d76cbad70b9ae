//! Trials to rows and back.

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, params};

use super::clip::{self, ClipHash, ClipTrials, Kept};
use super::error::LogError;
use super::query::date_text;
use super::trial::{Trial, TrialId, TrialRecord};
use super::trial_columns::{read, write};
use super::{AthleteId, Log, TrialQuery};
use crate::units::Span;

/// Take-offs of one clip that are less apart belong to the same jump. Our own
/// choice: nobody jumps twice within a tenth of a second.
const SAME_JUMP: Span = Span::from_seconds(0.1);

const SELECT: &str = "SELECT t.*, c.sha256, c.name AS clip_name, c.patch_x_px, c.patch_y_px, \
    c.patch_w_px, c.patch_h_px FROM trial t LEFT JOIN clip c ON c.id = t.clip_id";

/// Where a trial goes.
pub(super) struct Seat {
    /// Number to be given to it; `None` for a new one.
    pub(super) id: Option<TrialId>,
    pub(super) athlete: AthleteId,
    pub(super) date: Date,
    /// `None` for the next place of the day.
    pub(super) place: Option<u32>,
    /// Row of the clip, and the jump's number there.
    pub(super) clip: Option<(i64, u32)>,
}

impl Log {
    /// Enters one jump, measured or read off elsewhere; `order` is its place in the
    /// athlete's day, the next one if `None`.
    ///
    /// # Errors
    /// [`LogError::BadValue`] for what cannot be, [`LogError::PlaceTaken`] for a
    /// place that has a jump already.
    pub fn add_trial(
        &mut self,
        athlete: AthleteId,
        date: Date,
        order: Option<u32>,
        record: &TrialRecord,
        now: Timestamp,
    ) -> Result<TrialId, LogError> {
        let seat = Seat {
            id: None,
            athlete,
            date,
            place: order,
            clip: None,
        };
        self.at_once(|log| insert(log, &seat, record, now))
    }

    /// Enters jumps, all or none; the places follow one another.
    ///
    /// # Errors
    /// As [`Log::add_trial`].
    pub fn add_trials(
        &mut self,
        trials: &[(AthleteId, Date, TrialRecord)],
        now: Timestamp,
    ) -> Result<Vec<TrialId>, LogError> {
        let enter = |log: &Connection, (athlete, date, record): &(_, _, TrialRecord)| {
            let seat = Seat {
                id: None,
                athlete: *athlete,
                date: *date,
                place: None,
                clip: None,
            };
            insert(log, &seat, record, now)
        };
        self.at_once(|log| trials.iter().map(|trial| enter(log, trial)).collect())
    }

    /// The trial of this number.
    ///
    /// # Errors
    /// [`LogError::NoSuchEntry`].
    pub fn trial(&self, id: TrialId) -> Result<Trial, LogError> {
        by_id(&self.connection, id)
    }

    /// Sets a trial aside: it stays, but does not count.
    ///
    /// # Errors
    /// [`LogError::NoSuchEntry`], or [`LogError::BadValue`] without a reason.
    pub fn set_aside(&mut self, id: TrialId, reason: &str) -> Result<(), LogError> {
        let reason = reason.trim();
        if reason.is_empty() {
            let remedy = "say in a few words why the trial does not count";
            return Err(LogError::bad("a reason", "empty", remedy));
        }
        let sql = "UPDATE trial SET set_aside = ?2 WHERE id = ?1";
        self.at_once(|log| existing(log.execute(sql, params![id.0, reason])?, id))
    }

    /// Lets a trial count again that was set aside.
    ///
    /// # Errors
    /// [`LogError::NoSuchEntry`].
    pub fn restore(&mut self, id: TrialId) -> Result<(), LogError> {
        let sql = "UPDATE trial SET set_aside = NULL WHERE id = ?1";
        self.at_once(|log| existing(log.execute(sql, [id.0])?, id))
    }

    /// Takes a trial out of the log, as if it had never been entered.
    ///
    /// # Errors
    /// [`LogError::NoSuchEntry`].
    pub fn remove_trial(&mut self, id: TrialId) -> Result<(), LogError> {
        self.at_once(|log| {
            existing(log.execute("DELETE FROM trial WHERE id = ?1", [id.0])?, id)?;
            clip::drop_orphans(log)
        })
    }
}

fn existing(changed: usize, id: TrialId) -> Result<(), LogError> {
    let what = "trial";
    match changed {
        0 => Err(LogError::NoSuchEntry { what, number: id.0 }),
        _ => Ok(()),
    }
}

pub(super) fn by_id(log: &Connection, id: TrialId) -> Result<Trial, LogError> {
    let sql = format!("{SELECT} WHERE t.id = ?1");
    let mut statement = log.prepare_cached(&sql)?;
    let found = statement
        .query_row([id.0], |row| Ok(read(row)))
        .optional()?;
    let what = "trial";
    found.unwrap_or(Err(LogError::NoSuchEntry { what, number: id.0 }))
}

pub(super) fn each(
    log: &Connection,
    query: &TrialQuery,
    take: &mut dyn FnMut(Trial) -> Result<(), LogError>,
) -> Result<(), LogError> {
    let (condition, values) = query.condition()?;
    let sql = format!("{SELECT} WHERE {condition} ORDER BY t.athlete_id, t.date, t.place");
    let mut statement = log.prepare_cached(&sql)?;
    let mut rows = statement.query(rusqlite::params_from_iter(values))?;
    while let Some(row) = rows.next()? {
        take(read(row)?)?;
    }
    Ok(())
}

/// Enters the jumps of a clip; see [`Log::keep_clip`].
pub(super) fn keep_clip(
    log: &Connection,
    wanted: &ClipTrials,
    now: Timestamp,
) -> Result<Kept, LogError> {
    clip::refuse_another(log, &wanted.clip.sha256, wanted.athlete)?;
    let earlier = of_clip(log, &wanted.clip.sha256)?;
    let known = earlier.first().map(|trial| trial.date);
    let date = wanted.stated.date.or(known).unwrap_or(wanted.date);
    let mut kept = Kept {
        trials: Vec::new(),
        date,
        replaced: 0,
    };
    if wanted.trials.is_empty() {
        return Ok(kept);
    }
    kept.replaced = earlier.len();
    let clip = clip::ensure(log, &wanted.clip)?;
    log.execute("DELETE FROM trial WHERE clip_id = ?1", [clip])?;
    let mut seats = seats(wanted, (clip, date), earlier);
    // Those that keep their place first, so that no new one takes it.
    seats.sort_by_key(|(seat, _)| seat.place.is_none());
    let mut trials = Vec::new();
    for (seat, record) in &seats {
        let number = seat.clip.map(|(_, number)| number);
        trials.push((number, insert(log, seat, record, now)?));
    }
    trials.sort_unstable();
    kept.trials = trials.into_iter().map(|(_, id)| id).collect();
    Ok(kept)
}

/// Where each jump of a clip goes, and with what of the jump it replaces.
fn seats(
    wanted: &ClipTrials,
    (clip, date): (i64, Date),
    mut earlier: Vec<Trial>,
) -> Vec<(Seat, TrialRecord)> {
    let usual = earlier.first().map(|trial| trial.record.clone());
    let seat = |(number, record): &(u32, TrialRecord)| {
        let mut record = record.clone();
        let mut seat = Seat {
            id: None,
            athlete: wanted.athlete,
            date,
            place: None,
            clip: Some((clip, *number)),
        };
        let same = earlier
            .iter()
            .position(|old| is_same_jump(old, &record, *number));
        let old = same.map(|at| earlier.remove(at));
        let like = old.as_ref().map(|old| &old.record).or(usual.as_ref());
        if let Some(like) = like {
            (record.kind, record.load_kg) = (like.kind, like.load_kg);
            record.drop_height = like.drop_height;
        }
        record.kind = wanted.stated.kind.unwrap_or(record.kind);
        record.load_kg = wanted.stated.load_kg.unwrap_or(record.load_kg);
        record.drop_height = wanted.stated.drop_height.or(record.drop_height);
        if let Some(old) = old {
            seat.id = Some(old.id);
            seat.place = (old.date == date).then_some(old.order);
            if record.note.is_empty() {
                record.note = old.record.note;
            }
            record.set_aside = record.set_aside.or(old.record.set_aside);
        }
        (seat, record)
    };
    wanted.trials.iter().map(seat).collect()
}

fn is_same_jump(old: &Trial, new: &TrialRecord, number: u32) -> bool {
    match (old.record.takeoff, new.takeoff) {
        (Some(old), Some(new)) => (old.best - new.best).abs() < SAME_JUMP,
        _ => old.clip.as_ref().is_some_and(|(_, old)| *old == number),
    }
}

fn of_clip(log: &Connection, clip: &ClipHash) -> Result<Vec<Trial>, LogError> {
    let sql = format!("{SELECT} WHERE c.sha256 = ?1 ORDER BY t.clip_jump");
    let mut statement = log.prepare_cached(&sql)?;
    let rows = statement.query_map([clip.0.as_slice()], |row| Ok(read(row)))?;
    rows.map(|row| row?).collect()
}

/// Enters one trial.
pub(super) fn insert(
    log: &Connection,
    seat: &Seat,
    record: &TrialRecord,
    now: Timestamp,
) -> Result<TrialId, LogError> {
    record.check()?;
    let date = date_text(seat.date)?;
    let place = match seat.place {
        Some(place) => free_place(log, seat, &date, place)?,
        None => next_place(log, seat.athlete, &date)?,
    };
    write(log, seat, (&date, place), record, now)
}

fn next_place(log: &Connection, athlete: AthleteId, date: &str) -> Result<u32, LogError> {
    let sql = "SELECT coalesce(max(place), 0) + 1 FROM trial WHERE athlete_id = ?1 AND date = ?2";
    let mut statement = log.prepare_cached(sql)?;
    Ok(statement.query_row(params![athlete.0, date], |row| row.get(0))?)
}

fn free_place(log: &Connection, seat: &Seat, date: &str, place: u32) -> Result<u32, LogError> {
    let sql = "SELECT a.name FROM trial t JOIN athlete a ON a.id = t.athlete_id \
               WHERE t.athlete_id = ?1 AND t.date = ?2 AND t.place = ?3";
    let mut statement = log.prepare_cached(sql)?;
    let taken: Option<String> = statement
        .query_row(params![seat.athlete.0, date, place], |row| row.get(0))
        .optional()?;
    match taken {
        None if place > 0 => Ok(place),
        None => Err(LogError::bad(
            "a jump's place in the day",
            place,
            "it begins with 1",
        )),
        Some(athlete) => Err(LogError::PlaceTaken {
            what: "jump",
            athlete,
            date: seat.date,
            place,
        }),
    }
}
