//! Athletes, sessions and trials, kept in one SQLite file.
//!
//! [`Log`] is the file. What goes in and what comes out are plain owned values:
//! nobody outside this module sees SQL, and nothing in here looks at the clock, so
//! whoever writes says what time it is.
//!
//! * an [`Athlete`] has a name, and a body mass that changes over time;
//! * a [`Trial`] is one jump: [`TrialRecord`] says all that was measured, and
//!   [`Trial::height`] gives back the [`TrialHeight`] that the statistics take;
//! * a [`DaySession`] holds one athlete's trials of one day, ready for
//!   [`crate::trials`]; [`Log::squad`] has those of everybody;
//! * a [`MatEntry`] is what a jump mat showed, a [`Companion`] another measure of the
//!   same athlete, a [`Saved`] a result to be used again, such as a mat's correction.
//!
//! ```
//! use jiff::{Timestamp, civil::date};
//! use underfoot::log::{JumpKind, Log, NewAthlete, TrialQuery, TrialRecord};
//! use underfoot::trials::summarise;
//! use underfoot::units::{Metres, StandardUncertainty};
//!
//! # let folder = tempfile::tempdir()?;
//! # let path = folder.path().join("log.sqlite");
//! # let now: Timestamp = "2026-03-02T18:00:00Z".parse()?;
//! let mut log = Log::open(&path)?;
//! let mia = log.add_athlete(&NewAthlete::named("Mia"), now)?;
//! let u = StandardUncertainty(Metres::from_metres(0.002));
//! for height in [0.312, 0.318, 0.309] {
//!     let record = TrialRecord::of_height(JumpKind::Countermovement, Metres::from_metres(height), u);
//!     log.add_trial(mia, date(2026, 3, 2), None, &record, now)?;
//! }
//! let sessions = log.sessions(&TrialQuery::of(mia))?;
//! let day = summarise(&sessions[0].trials)?;
//! assert_eq!(format!("{:.1} cm", day.mean.centimetres()), "31.3 cm");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Writers wait for one another; each call is one transaction, all or nothing.
//! [`Log::forget_athlete`] overwrites what it deletes.

mod athlete;
mod clip;
mod companion;
mod error;
pub mod exchange;
mod kind;
mod latest;
mod mat;
mod names;
mod query;
mod saved;
mod store;
mod summary;
mod trial;
mod trial_columns;
mod trial_rows;
mod ucum;

use std::path::{Path, PathBuf};

use rusqlite::{Connection, Transaction, TransactionBehavior};

pub use crate::jump::JumpKind;
pub use athlete::{Athlete, AthleteId, BodyMass, NewAthlete};
pub use clip::{ClipHash, ClipRef, ClipTrials, Kept, Stated};
pub use companion::{Companion, NewCompanion};
pub use error::LogError;
pub use mat::{MatEntry, MatQuery, NewMatEntry};
pub use query::{AthleteSessions, DaySession, LoadFilter, TrialQuery, day_number};
pub use saved::{NewSaved, Saved};
pub use summary::Summary;
pub use trial::{
    BudgetShare, EventTime, Measured, Overstatement, RaisedFlag, Trial, TrialId, TrialRecord,
};

#[allow(unused_imports)] // for the links in the text above
use crate::trials::TrialHeight;

/// The log: one file.
#[derive(Debug)]
pub struct Log {
    connection: Connection,
    path: PathBuf,
}

impl Log {
    /// Opens the log at `path` for reading and writing. If there is none, it is made,
    /// with its folder, readable by its owner only.
    ///
    /// # Errors
    /// [`LogError`] if the system refuses, or the file is damaged, of another kind or
    /// of a newer version; it is left as it was then.
    pub fn open(path: &Path) -> Result<Self, LogError> {
        Ok(Self {
            connection: store::open(path)?,
            path: path.to_owned(),
        })
    }

    /// Opens a log for reading; makes nothing and changes nothing.
    ///
    /// # Errors
    /// [`LogError::Missing`] if there is none; else as [`Log::open`].
    pub fn open_read_only(path: &Path) -> Result<Self, LogError> {
        Ok(Self {
            connection: store::open_read_only(path)?,
            path: path.to_owned(),
        })
    }

    /// Where the log lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Copies the log to a new file, as it is at this moment, while others may go on
    /// writing. `progress` is told pages done and pages in all.
    ///
    /// # Errors
    /// [`LogError`] if the file cannot be written, or the copy turns out damaged.
    pub fn backup(
        &self,
        to: &Path,
        progress: &mut dyn FnMut(usize, usize),
    ) -> Result<(), LogError> {
        store::backup(&self.connection, to, progress)
    }

    /// Reads the whole file and sees whether it is sound.
    ///
    /// # Errors
    /// [`LogError::Damaged`].
    pub fn check(&self) -> Result<(), LogError> {
        store::check(&self.connection)
    }

    /// Does several things as one: all of them, or, on an error, none.
    fn at_once<T>(
        &mut self,
        work: impl FnOnce(&Transaction<'_>) -> Result<T, LogError>,
    ) -> Result<T, LogError> {
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let done = work(&transaction)?;
        transaction.commit()?;
        Ok(done)
    }
}

#[cfg(test)]
mod tests;
#[cfg(test)]
mod values_tests;
