//! The log to files and back: CSV for spreadsheets, JSON lines for programs.
//!
//! A CSV file (RFC 4180, UTF-8) holds one table, units in the headings as UCUM writes
//! them: `height[m]`. JSON lines hold everything, one object a line, with keys that
//! end in their unit: `height_m`. Every number is written so that it comes back to
//! the last bit. `docs/log.md` has all columns.

mod cell;
mod csv_rows;
mod headings;
mod json_rows;
mod others;
mod tables;
mod text;
mod trials;
mod watched;

use std::io::{Read, Write};

use jiff::Timestamp;
use jiff::civil::Date;

use super::{AthleteId, Log, LogError};
use cell::Row;
pub use tables::Table;
use tables::{Entered, Names};
use watched::Watched;

/// How a file is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Comma-separated values, one table a file.
    Csv,
    /// One JSON object a line.
    JsonLines,
}

/// Which part of the log is exported; all of it by default.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Selection {
    /// Whose entries.
    pub athlete: Option<AthleteId>,
    /// First day of dated entries.
    pub from: Option<Date>,
    /// Last day.
    pub to: Option<Date>,
}

/// What an import came to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Imported {
    /// Rows that were entered.
    pub entered: usize,
    /// Rows that were in the log already, to the last bit.
    pub already_there: usize,
    /// Names of athletes that were added because rows named them.
    pub added: Vec<String>,
}

/// One row of a file, and the line it begins in.
struct Found {
    line: u64,
    table: Table,
    row: Row,
}

impl Log {
    /// Writes one table as CSV; returns the number of rows.
    ///
    /// # Errors
    /// [`LogError::Unwritable`] if `out` refuses, else what keeps the log from being
    /// read.
    pub fn export_csv(
        &self,
        table: Table,
        selection: &Selection,
        out: impl Write,
        progress: &mut dyn FnMut(usize),
    ) -> Result<usize, LogError> {
        let reading = self.connection.unchecked_transaction()?;
        let mut writer = csv_rows::Writer::new(table, out)?;
        let mut count = 0;
        tables::each(&reading, table, selection, &mut |cells| {
            count += 1;
            progress(count);
            writer.row(&cells)
        })?;
        writer.finish()?;
        Ok(count)
    }

    /// Writes everything as JSON lines; returns the number of rows.
    ///
    /// # Errors
    /// As [`Log::export_csv`].
    pub fn export_json_lines(
        &self,
        selection: &Selection,
        mut out: impl Write,
        progress: &mut dyn FnMut(usize),
    ) -> Result<usize, LogError> {
        let reading = self.connection.unchecked_transaction()?;
        json_rows::write_head(&mut out)?;
        let mut count = 0;
        for table in Table::ALL {
            tables::each(&reading, table, selection, &mut |cells| {
                count += 1;
                progress(count);
                json_rows::write(table, cells, &mut out)
            })?;
        }
        out.flush().map_err(LogError::unwritable)?;
        Ok(count)
    }

    /// Enters all rows of a file, or none of them.
    ///
    /// Rows that are in the log already, to the last bit, are left as they are. The
    /// athletes must be known, unless `add_athletes`. `progress` is told the bytes read.
    ///
    /// # Errors
    /// [`LogError::AtLine`] with what is wrong with which line.
    pub fn import(
        &mut self,
        format: Format,
        input: impl Read,
        add_athletes: bool,
        now: Timestamp,
        progress: &mut dyn FnMut(u64),
    ) -> Result<Imported, LogError> {
        let watched = Watched::new(input);
        let bytes = watched.count();
        self.at_once(|log| {
            let mut names = Names::new(add_athletes.then_some(now));
            let mut imported = Imported::default();
            let mut enter = |found: Found| {
                let Found { line, table, row } = found;
                match tables::enter(log, table, row, &mut names, now) {
                    Ok(Entered::New) => imported.entered += 1,
                    Ok(Entered::AlreadyThere) => imported.already_there += 1,
                    Err(error) => return Err(error.at_line(line)),
                }
                progress(bytes.take_record());
                Ok(())
            };
            match format {
                Format::Csv => csv_rows::read(watched, &mut enter)?,
                Format::JsonLines => json_rows::read(watched, &mut enter)?,
            }
            imported.added = names.added;
            Ok(imported)
        })
    }
}
