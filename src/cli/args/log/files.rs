//! Arguments of import and export.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::{Choice, RawChoice};
use crate::log::exchange::{Format, Table};
use crate::report::model::Failure;

#[derive(Args)]
#[command(after_help = "Example: underfoot log import heights.csv --add-athletes")]
pub(super) struct RawImport {
    /// The file; its name ends in .csv or .jsonl
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Add athletes whom the log does not know, instead of refusing the file
    #[arg(long)]
    add_athletes: bool,
}

#[derive(Args)]
#[command(after_help = "Example: underfoot log export trials.csv --from 2026-01-01")]
pub(super) struct RawExport {
    /// The file; .csv for one table, .jsonl for everything
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// What a CSV file is to hold
    #[arg(long, value_name = "TABLE", default_value = "trials")]
    table: RawTable,
    #[command(flatten)]
    choice: RawChoice,
    /// Overwrite a file that is there
    #[arg(long)]
    force: bool,
}

#[derive(Clone, Copy, PartialEq, ValueEnum)]
enum RawTable {
    Athletes,
    Masses,
    Trials,
    Mat,
    Measures,
}

impl From<RawTable> for Table {
    fn from(raw: RawTable) -> Self {
        match raw {
            RawTable::Athletes => Self::Athletes,
            RawTable::Masses => Self::Masses,
            RawTable::Trials => Self::Trials,
            RawTable::Mat => Self::Mat,
            RawTable::Measures => Self::Measures,
        }
    }
}

/// Everything `log import` needs to know.
pub(in crate::cli) struct Import {
    pub(in crate::cli) file: PathBuf,
    pub(in crate::cli) format: Format,
    pub(in crate::cli) add_athletes: bool,
}

/// Everything `log export` needs to know.
pub(in crate::cli) struct Export {
    pub(in crate::cli) file: PathBuf,
    pub(in crate::cli) format: Format,
    pub(in crate::cli) table: Table,
    pub(in crate::cli) choice: Choice,
    pub(in crate::cli) force: bool,
}

impl RawImport {
    pub(super) fn checked(self) -> Result<Import, Failure> {
        Ok(Import {
            format: format(&self.file)?,
            file: self.file,
            add_athletes: self.add_athletes,
        })
    }
}

impl RawExport {
    pub(super) fn checked(self) -> Result<Export, Failure> {
        Ok(Export {
            format: format(&self.file)?,
            file: self.file,
            table: self.table.into(),
            choice: self.choice.checked()?,
            force: self.force,
        })
    }
}

/// The format that the file's name promises.
fn format(file: &Path) -> Result<Format, Failure> {
    let ending = file.extension().and_then(|ending| ending.to_str());
    match ending.map(str::to_ascii_lowercase).as_deref() {
        Some("csv") => Ok(Format::Csv),
        Some("jsonl" | "ndjson") => Ok(Format::JsonLines),
        _ => Err(Failure {
            message: format!(
                "{} is neither CSV nor JSON lines by its name",
                file.display()
            ),
            hint: "let the name end in .csv or .jsonl".to_owned(),
        }),
    }
}
