//! Arguments: what was typed becomes what is meant, before any work begins.

mod clips;
mod load;
mod log;
mod mat;
mod page;
mod quantity;
mod setup;
mod views;

use std::ffi::OsString;

use clap::error::ErrorKind;
use clap::{CommandFactory, Parser, Subcommand};

use super::{Outcome, output};
use crate::report::model::Failure;
pub(super) use clips::{Inspect, Mark, Measure, Samples};
use clips::{RawInspect, RawMark, RawMeasure, RawSamples};
pub(super) use load::{Drops, Load, Plan as LoadPlan, Series, Source};
use log::RawLog;
pub(super) use log::{
    AthleteFacts, Choice, CompanionAdd, Export, Import, Keep, Listing, LogCall, LogCommand, MatAdd,
    Show, today,
};
pub(super) use mat::{Crosscheck, Readings, Task};
pub(super) use page::Page;
pub(super) use setup::{Completions, Manual};
pub(super) use views::{Change, Common, Companion, Plan, PlotFormat, Sheet, Squad, Trend, Trials};
use views::{RawChangeOf, RawCompanion, RawPlan, RawSheet, RawSquad, RawTrend, RawTrials};

#[derive(Parser)]
#[command(name = "underfoot", version, about, long_about = None, propagate_version = false)]
#[command(disable_help_subcommand = true, after_help = AFTER_HELP)]
struct Raw {
    #[command(subcommand)]
    command: RawCommand,
    /// Let FFmpeg's own messages through
    #[arg(short, long, global = true)]
    verbose: bool,
    /// Read clips in this process, without limits; otherwise each has one of its own
    #[arg(long, global = true)]
    in_process: bool,
}

const AFTER_HELP: &str = "\
Exit status: 0 done, at least one jump can be used; 1 no jump that can be used; \
2 wrong call or failure.";

/// Shown to a person who typed nothing but the program's name.
const WELCOME: &str = "\
underfoot measures how high a person jumped, from an ordinary clip.

  underfoot measure jump.mp4     how high, with bounds
  underfoot mark jump.mp4        show the floor with a ruler, to mark the feet by
  underfoot inspect jump.mp4     what the clip is, how well it can be measured
  underfoot page             all of it in the browser
  underfoot samples DIR          film sample clips to try it with
  underfoot crosscheck           is the jump mat right? film and mat compared
  underfoot load                 what to load, and jumps under load
  underfoot log show             trials of many days that were kept
  underfoot change NAME          is it really higher than before

hint: begin with `underfoot measure` and a clip; `underfoot --help` tells more
";

#[derive(Subcommand)]
enum RawCommand {
    /// Measure the jumps in clips
    Measure(RawMeasure),
    /// Show what a clip is, how it keeps time and how well it can be measured
    Inspect(RawInspect),
    /// Write a still with a pixel ruler and suggest a floor patch
    Mark(RawMark),
    /// Film the sample clips, whose truth is known
    Samples(RawSamples),
    /// Open a page in the browser that does the whole job
    Page(page::RawPage),
    /// Compare a jump mat with the film, or correct its readings
    Crosscheck(Box<mat::RawCrosscheck>),
    /// Plan loads, and read jumps under load and drop jumps
    Load(load::RawLoad),
    /// Keep and look up trials of many days
    Log(RawLog),
    /// Show the trials of one day with their error bars, mean, best and scatter
    Trials(RawTrials),
    /// Say whether a session is really higher than an earlier one
    Change(RawChangeOf),
    /// Say where an athlete's sessions are going
    Trend(RawTrend),
    /// Say who of a squad rose, who fell, who has too few trials
    Squad(RawSquad),
    /// Plan how many trials at how many frames per second show a change
    Plan(RawPlan),
    /// Show jump height beside another measure of the same athlete
    Companion(RawCompanion),
    /// Write a page about an athlete, to print or hand out
    Sheet(RawSheet),
    /// Print what a shell needs in order to complete commands
    Completions(Completions),
    /// Write a manual page for each command
    Man(Manual),
}

/// A command that can be carried out.
pub(super) enum Command {
    /// Measure clips.
    Measure(Box<Measure>),
    /// Say what clips are.
    Inspect(Inspect),
    /// Write a still and suggest a patch.
    Mark(Mark),
    /// Film the samples.
    Samples(Samples),
    /// Serve the local page.
    Page(Page),
    /// Compare a mat, or correct it.
    Crosscheck(Box<Crosscheck>),
    /// Jumps under load.
    Load(Load),
    /// Work on the log.
    Log(LogCall),
    /// Show a day's trials.
    Trials(Trials),
    /// Compare a session with a baseline.
    Change(Change),
    /// Show a trend.
    Trend(Trend),
    /// Judge a squad.
    Squad(Squad),
    /// Plan.
    Plan(Plan),
    /// Show two measures side by side.
    Companion(Companion),
    /// Write an athlete's page.
    Sheet(Sheet),
    /// Print a completion script.
    Completions(Completions),
    /// Write manual pages.
    Man(Manual),
}

/// Reads the arguments; what cannot be used is complained of here.
pub(super) fn parse(arguments: impl IntoIterator<Item = OsString>) -> Result<Command, Outcome> {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    if arguments.len() < 2 {
        output::murmur(WELCOME);
        return Err(Outcome::Failed);
    }
    let raw = Raw::try_parse_from(arguments).map_err(explain)?;
    crate::video::decoder_messages(raw.verbose);
    if !raw.in_process {
        crate::workflow::apart::keep_apart(raw.verbose);
    }
    checked(raw.command).map_err(|failure| {
        output::complain(&failure);
        Outcome::Failed
    })
}

/// Help and version go to standard output, complaints with a hint to standard error.
fn explain(error: clap::Error) -> Outcome {
    match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
            match output::say(&error.render().to_string()) {
                Ok(()) => Outcome::Done,
                Err(_) => Outcome::Failed,
            }
        }
        _ => {
            output::complain(&one_line(&error.render().to_string()));
            Outcome::Failed
        }
    }
}

/// What the parser says, without its usage and over one line.
fn one_line(text: &str) -> Failure {
    let parts: Vec<String> = text
        .split("\n\n")
        .map(|part| part.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    let tip = parts.iter().find_map(|part| part.strip_prefix("tip: "));
    let message = parts.first().map_or("", String::as_str);
    Failure {
        message: message.trim_start_matches("error: ").to_owned(),
        hint: match tip {
            Some(tip) => format!("{tip}; `underfoot --help` tells more"),
            None => "see `underfoot --help`".to_owned(),
        },
    }
}

fn checked(raw: RawCommand) -> Result<Command, Failure> {
    Ok(match raw {
        RawCommand::Measure(raw) => Command::Measure(Box::new(raw.checked()?)),
        RawCommand::Inspect(raw) => Command::Inspect(raw.checked()?),
        RawCommand::Mark(raw) => Command::Mark(raw.checked()?),
        RawCommand::Samples(raw) => Command::Samples(raw.checked()),
        RawCommand::Page(raw) => Command::Page(raw.checked()?),
        RawCommand::Crosscheck(raw) => Command::Crosscheck(Box::new(raw.checked()?)),
        RawCommand::Load(raw) => Command::Load(raw.checked()?),
        RawCommand::Log(raw) => Command::Log(raw.checked()?),
        RawCommand::Trials(raw) => Command::Trials(raw.checked()?),
        RawCommand::Change(raw) => Command::Change(raw.checked()?),
        RawCommand::Trend(raw) => Command::Trend(raw.checked()?),
        RawCommand::Squad(raw) => Command::Squad(raw.checked()?),
        RawCommand::Plan(raw) => Command::Plan(raw.checked()?),
        RawCommand::Companion(raw) => Command::Companion(raw.checked()?),
        RawCommand::Sheet(raw) => Command::Sheet(raw.checked()?),
        RawCommand::Completions(raw) => Command::Completions(raw),
        RawCommand::Man(raw) => Command::Man(raw),
    })
}

/// The parser, for what describes it.
pub(super) fn command() -> clap::Command {
    Raw::command()
}
