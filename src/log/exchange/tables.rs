//! The tables that files hold, and what a row of each becomes.

use std::collections::HashMap;

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::Connection;

use super::cell::{Cell, Column, Row};
use super::{Selection, others, trials};
use crate::log::{AthleteId, LogError, MatQuery, NewAthlete, TrialQuery};
use crate::log::{athlete, companion, mat, saved, trial_rows};

/// What a file can hold of the log.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Table {
    /// Athletes.
    Athletes,
    /// Their body masses.
    Masses,
    /// Trials.
    Trials,
    /// What jump mats showed.
    Mat,
    /// Other measures.
    Measures,
    /// Saved results; in JSON lines only.
    Saved,
}

impl Table {
    /// All of them, in the order in which one builds on another.
    pub const ALL: [Self; 6] = [
        Self::Athletes,
        Self::Masses,
        Self::Trials,
        Self::Mat,
        Self::Measures,
        Self::Saved,
    ];

    /// The name as it is typed.
    pub fn code(self) -> &'static str {
        match self {
            Self::Athletes => "athletes",
            Self::Masses => "masses",
            Self::Trials => "trials",
            Self::Mat => "mat",
            Self::Measures => "measures",
            Self::Saved => "saved",
        }
    }

    /// What a JSON line calls one of its rows.
    pub(super) fn record(self) -> &'static str {
        match self {
            Self::Athletes => "athlete",
            Self::Masses => "mass",
            Self::Trials => "trial",
            Self::Mat => "mat",
            Self::Measures => "measure",
            Self::Saved => "saved",
        }
    }

    pub(super) fn columns(self) -> &'static [Column] {
        match self {
            Self::Athletes => &others::ATHLETES,
            Self::Masses => &others::MASSES,
            Self::Trials => &trials::COLUMNS,
            Self::Mat => &others::MAT,
            Self::Measures => &others::MEASURES,
            Self::Saved => &others::SAVED,
        }
    }

    /// The headings of a CSV file with this table, units in brackets.
    pub fn headings(self) -> Vec<String> {
        self.columns().iter().map(Column::heading).collect()
    }
}

/// What became of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Entered {
    New,
    AlreadyThere,
}

/// The athletes that rows name.
pub(super) struct Names {
    known: HashMap<String, AthleteId>,
    /// Since when those are added that nobody knows; `None` to refuse them.
    add: Option<Timestamp>,
    /// Those who were added.
    pub(super) added: Vec<String>,
}

impl Names {
    pub(super) fn new(add: Option<Timestamp>) -> Self {
        Self {
            known: HashMap::new(),
            add,
            added: Vec::new(),
        }
    }

    pub(super) fn id(&mut self, log: &Connection, name: &str) -> Result<AthleteId, LogError> {
        if let Some(id) = self.known.get(name) {
            return Ok(*id);
        }
        let id = match (athlete::by_name(log, name), self.add) {
            (Err(LogError::UnknownAthlete { name, .. }), Some(now)) => {
                let id = athlete::add(log, &NewAthlete::named(&name), now)?;
                self.added.push(name);
                id
            }
            (found, _) => found?.id,
        };
        self.known.insert(name.to_owned(), id);
        Ok(id)
    }

    /// A name under which the athlete was asked for.
    pub(super) fn name(&self, id: AthleteId) -> String {
        let found = self.known.iter().find(|(_, known)| **known == id);
        found.map(|(name, _)| name.clone()).unwrap_or_default()
    }
}

/// Two entries that claim the same place and say different things.
pub(super) fn conflict(what: &'static str, athlete: &str, date: Date, place: u32) -> LogError {
    LogError::PlaceTaken {
        what,
        athlete: athlete.to_owned(),
        date,
        place,
    }
}

/// A value that no row may be without.
pub(super) fn required(what: &'static str) -> LogError {
    LogError::bad(what, "empty", "fill it in")
}

/// Enters one row.
pub(super) fn enter(
    log: &Connection,
    table: Table,
    row: Row,
    names: &mut Names,
    now: Timestamp,
) -> Result<Entered, LogError> {
    let empty = row.columns.iter().zip(&row.cells);
    let mut empty = empty.filter(|(column, cell)| column.needed && **cell == Cell::Empty);
    if let Some((column, _)) = empty.next() {
        return Err(required(column.name));
    }
    match table {
        Table::Athletes => others::enter_athlete(log, row, now),
        Table::Masses => others::enter_mass(log, row, names, now),
        Table::Trials => trials::enter(log, row, names, now),
        Table::Mat => others::enter_mat(log, row, names, now),
        Table::Measures => others::enter_measure(log, row, names, now),
        Table::Saved => others::enter_saved(log, row, names, now),
    }
}

/// Takes the cells of a row.
pub(super) type Take<'a> = &'a mut dyn FnMut(Vec<Cell>) -> Result<(), LogError>;

/// Hands out the rows of a table, athletes by name.
pub(super) fn each(
    log: &Connection,
    table: Table,
    selection: &Selection,
    take: Take,
) -> Result<(), LogError> {
    if table == Table::Saved {
        // What tells about several people does not belong to the choice of one.
        if selection.athlete.is_some() {
            return Ok(());
        }
        return saved::each(log, &mut |result, about| {
            take(others::saved_cells(&result, about)?)
        });
    }
    for athlete in athlete::all(log)? {
        if selection.athlete.is_some_and(|wanted| wanted != athlete.id) {
            continue;
        }
        match table {
            Table::Athletes => take(others::athlete_cells(&athlete))?,
            _ => each_of(log, table, (athlete.id, &athlete.name), selection, take)?,
        }
    }
    Ok(())
}

/// Hands out one athlete's rows.
fn each_of(
    log: &Connection,
    table: Table,
    (id, name): (AthleteId, &str),
    selection: &Selection,
    take: Take,
) -> Result<(), LogError> {
    let (from, to) = (selection.from, selection.to);
    let wanted = |date: Date| from.is_none_or(|f| f <= date) && to.is_none_or(|t| date <= t);
    match table {
        Table::Athletes | Table::Saved => Ok(()),
        Table::Masses => athlete::masses(log, id)?
            .iter()
            .filter(|mass| wanted(mass.date))
            .try_for_each(|mass| take(others::mass_cells(name, mass))),
        Table::Trials => {
            let query = TrialQuery::of(id).between(from, to);
            trial_rows::each(log, &query, &mut |trial| take(trials::cells(name, &trial)?))
        }
        Table::Mat => {
            let query = MatQuery {
                athlete: Some(id),
                from,
                to,
                mat: None,
            };
            mat::each(log, &query, &mut |entry| {
                take(others::mat_cells(name, &entry))
            })
        }
        Table::Measures => {
            companion::each(log, Some(id), None, &mut |value| match wanted(value.date) {
                true => take(others::measure_cells(name, &value)),
                false => Ok(()),
            })
        }
    }
}
