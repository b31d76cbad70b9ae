//! Arguments of the log: where it lies, and what is to be done with it.

mod entries;
mod files;
mod keep;

use std::path::PathBuf;

use clap::{Args, Subcommand};
use jiff::ZonedDateTime;
use jiff::civil::Date;

use crate::cli::log_file;
use crate::log::{JumpKind, LoadFilter, TrialId};
use crate::report::model::Failure;
use crate::report::terminal::Units;
use crate::units::Metres;

use super::clips::RawUnits;
pub(in crate::cli) use entries::{AthleteFacts, CompanionAdd, MatAdd};
use entries::{RawAthlete, RawCompanion, RawMat};
pub(in crate::cli) use files::{Export, Import};
use files::{RawExport, RawImport};
pub(in crate::cli) use keep::Keep;
pub(super) use keep::RawKeep;

/// What every command that uses the log takes.
#[derive(Args)]
pub(in crate::cli) struct RawLogFile {
    /// The log; else the file that UNDERFOOT_LOG names, else your own log
    #[arg(id = "log_file", long = "log", value_name = "FILE", global = true)]
    file: Option<PathBuf>,
}

impl RawLogFile {
    /// Whether a log was stated in this call.
    fn is_stated(&self) -> bool {
        self.file.is_some()
    }

    /// Where the log lies, whether or not it is there.
    pub(in crate::cli) fn checked(self) -> Result<PathBuf, Failure> {
        log_file::locate(self.file)
    }
}

#[derive(Args)]
#[command(
    disable_help_subcommand = true,
    after_help = "\
Example: underfoot log athlete add \"Mia Vogel\" --mass-kg 62
         underfoot measure jumps/ --athlete \"Mia Vogel\"
         underfoot log show --athlete \"Mia Vogel\""
)]
pub(super) struct RawLog {
    #[command(flatten)]
    file: RawLogFile,
    #[command(subcommand)]
    what: RawWhat,
}

#[derive(Subcommand)]
enum RawWhat {
    /// List the athletes
    #[command(after_help = "Example: underfoot log athletes --units in")]
    Athletes(RawListing),
    /// Add, change or forget an athlete
    #[command(subcommand, disable_help_subcommand = true)]
    Athlete(RawAthlete),
    /// List trials, day by day
    Show(RawShow),
    /// Keep trials from counting; they stay in the log
    SetAside(RawSetAside),
    /// Let trials count again that were set aside
    #[command(after_help = "Example: underfoot log restore 12 13")]
    Restore(RawTrials),
    /// Take trials out of the log, as if they had never been entered
    #[command(after_help = "Example: underfoot log remove 12")]
    Remove(RawTrials),
    /// Enter what a jump mat showed
    #[command(subcommand, disable_help_subcommand = true)]
    Mat(RawMat),
    /// Enter another measure of an athlete, such as throw speed
    #[command(subcommand, disable_help_subcommand = true)]
    Companion(RawCompanion),
    /// Enter the rows of a CSV or JSON lines file: all of them or none
    Import(RawImport),
    /// Write the log to a CSV or JSON lines file
    Export(RawExport),
    /// Copy the log to a new file, while others may go on using it
    #[command(after_help = "Example: underfoot log backup /media/stick/log-2026-11-25.sqlite")]
    Backup(RawNewFile),
    /// Say where the log lies
    #[command(after_help = "Example: underfoot log path")]
    Path,
    /// Write a log with a made-up squad, to try things with
    #[command(after_help = "Example: underfoot log demo squad.sqlite
         underfoot log show --log squad.sqlite")]
    Demo(RawNewFile),
}

#[derive(Args)]
struct RawListing {
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    /// Units of the text: cm and kg, or in and lb
    #[arg(long, value_name = "UNIT", default_value = "cm")]
    units: RawUnits,
}

#[derive(Args)]
#[command(after_help = "Example: underfoot log show --athlete \"Mia Vogel\" --from 2026-03-01")]
struct RawShow {
    #[command(flatten)]
    choice: RawChoice,
    /// Kind of jump: cmj, squat, drop or rebound
    #[arg(long, value_name = "KIND", value_parser = kind)]
    kind: Option<JumpKind>,
    /// Only jumps with this load in kg; 0 for those without
    #[arg(long, value_name = "KG")]
    load_kg: Option<f64>,
    #[command(flatten)]
    listing: RawListing,
}

/// Whose entries, and from when to when.
#[derive(Args)]
struct RawChoice {
    /// Only this athlete
    #[arg(long, value_name = "NAME")]
    athlete: Option<String>,
    /// First day, such as 2026-03-01
    #[arg(long, value_name = "DATE", value_parser = day)]
    from: Option<Date>,
    /// Last day
    #[arg(long, value_name = "DATE", value_parser = day)]
    to: Option<Date>,
}

#[derive(Args)]
#[command(after_help = "Example: underfoot log set-aside 12 --reason \"arms swung\"")]
struct RawSetAside {
    #[command(flatten)]
    trials: RawTrials,
    /// Why they do not count
    #[arg(long, value_name = "TEXT")]
    reason: String,
}

#[derive(Args)]
struct RawTrials {
    /// Numbers of trials, as `log show` lists them
    #[arg(value_name = "TRIAL", required = true)]
    trials: Vec<i64>,
}

#[derive(Args)]
struct RawNewFile {
    /// The new file
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

/// A command on the log.
pub(in crate::cli) struct LogCall {
    /// Where the log lies.
    pub(in crate::cli) file: PathBuf,
    pub(in crate::cli) what: LogCommand,
}

/// What is to be done.
pub(in crate::cli) enum LogCommand {
    Athletes(Listing),
    AddAthlete(String, Box<AthleteFacts>),
    SetAthlete(String, Box<AthleteFacts>),
    ForgetAthlete { name: String, sure: bool },
    Show(Show),
    SetAside(Vec<TrialId>, String),
    Restore(Vec<TrialId>),
    Remove(Vec<TrialId>),
    AddMat(MatAdd),
    AddCompanion(CompanionAdd),
    Import(Import),
    Export(Export),
    Backup(PathBuf),
    Path,
    Demo(PathBuf),
}

/// How a list is printed.
#[derive(Clone, Copy)]
pub(in crate::cli) struct Listing {
    pub(in crate::cli) json: bool,
    pub(in crate::cli) units: Units,
}

/// Whose entries, and from when to when.
pub(in crate::cli) struct Choice {
    pub(in crate::cli) athlete: Option<String>,
    pub(in crate::cli) from: Option<Date>,
    pub(in crate::cli) to: Option<Date>,
}

/// Everything `log show` needs to know.
pub(in crate::cli) struct Show {
    pub(in crate::cli) choice: Choice,
    pub(in crate::cli) kind: Option<JumpKind>,
    pub(in crate::cli) load: LoadFilter,
    pub(in crate::cli) listing: Listing,
}

impl RawLog {
    pub(super) fn checked(self) -> Result<LogCall, Failure> {
        let ids = |raw: RawTrials| raw.trials.into_iter().map(TrialId).collect();
        Ok(LogCall {
            file: self.file.checked()?,
            what: match self.what {
                RawWhat::Athletes(listing) => LogCommand::Athletes(listing.checked()),
                RawWhat::Athlete(raw) => raw.checked(),
                RawWhat::Show(raw) => LogCommand::Show(raw.checked()?),
                RawWhat::SetAside(raw) => LogCommand::SetAside(ids(raw.trials), raw.reason),
                RawWhat::Restore(raw) => LogCommand::Restore(ids(raw)),
                RawWhat::Remove(raw) => LogCommand::Remove(ids(raw)),
                RawWhat::Mat(raw) => LogCommand::AddMat(raw.checked()?),
                RawWhat::Companion(raw) => LogCommand::AddCompanion(raw.checked()?),
                RawWhat::Import(raw) => LogCommand::Import(raw.checked()?),
                RawWhat::Export(raw) => LogCommand::Export(raw.checked()?),
                RawWhat::Backup(raw) => LogCommand::Backup(raw.file),
                RawWhat::Path => LogCommand::Path,
                RawWhat::Demo(raw) => LogCommand::Demo(raw.file),
            },
        })
    }
}

impl RawListing {
    fn checked(self) -> Listing {
        Listing {
            json: self.json,
            units: self.units.into(),
        }
    }
}

impl RawChoice {
    fn checked(self) -> Result<Choice, Failure> {
        if let (Some(from), Some(to)) = (self.from, self.to)
            && from > to
        {
            return Err(Failure {
                message: format!("{from} is later than {to}"),
                hint: "give the earlier day with --from, the later one with --to".to_owned(),
            });
        }
        Ok(Choice {
            athlete: self.athlete,
            from: self.from,
            to: self.to,
        })
    }
}

impl RawShow {
    fn checked(self) -> Result<Show, Failure> {
        Ok(Show {
            choice: self.choice.checked()?,
            kind: self.kind,
            load: match self.load_kg {
                None => LoadFilter::Any,
                Some(0.0) => LoadFilter::None,
                Some(load_kg) => LoadFilter::Exactly(load_kg),
            },
            listing: self.listing.checked(),
        })
    }
}

/// Reads a day as it is typed.
pub(in crate::cli) fn day(text: &str) -> Result<Date, String> {
    text.parse()
        .map_err(|_| "write the day as year-month-day, such as 2026-03-02".to_owned())
}

/// Reads a kind of jump as it is typed.
pub(in crate::cli) fn kind(text: &str) -> Result<JumpKind, String> {
    text.parse()
        .map_err(|_| "the kinds are cmj, squat, drop and rebound".to_owned())
}

/// Today, where the computer stands.
pub(in crate::cli) fn today() -> Date {
    ZonedDateTime::now().date()
}

fn centimetres(value: f64) -> Metres {
    Metres::from_metres(value / 100.0)
}
