//! The command line: arguments, and one file for each command.

mod args;
mod change;
mod companion;
mod completions;
mod crosscheck;
mod files;
mod inspect;
mod keep;
mod load;
mod log;
mod log_demo;
mod log_entries;
mod log_exchange;
mod log_file;
mod log_show;
mod man;
mod mark;
mod measure;
mod output;
mod page;
mod pictures;
mod plan;
mod progress;
mod samples;
mod scatter;
mod sheet;
mod show;
mod squad;
mod stop;
mod trend;
mod trials;
mod write;

use std::ffi::OsString;
use std::path::Path;
use std::process::ExitCode;

use crate::workflow::apart;
use args::Command;

/// What a run of the program came to; scripts can rely on the codes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// 0: everything was done; when measuring, at least one jump can be used.
    Done,
    /// 1: every clip was read, but none holds a jump that can be used; or the log has
    /// too few trials for an answer.
    NoJump,
    /// 2: a wrong call, or something that could not be done.
    Failed,
}

impl Outcome {
    /// Done if there was something to go by, else nothing usable.
    fn usable(is_usable: bool) -> Self {
        if is_usable { Self::Done } else { Self::NoJump }
    }
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Done => 0.into(),
            Outcome::NoJump => 1.into(),
            Outcome::Failed => 2.into(),
        }
    }
}

/// Runs the program with these arguments, the program's own name first.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    if let [_, first, clip] = arguments.as_slice()
        && first == apart::ARGUMENT
    {
        return helper(Path::new(clip));
    }
    let command = match args::parse(arguments) {
        Ok(command) => command,
        Err(outcome) => return outcome.into(),
    };
    // The page ends by itself, and clears its folder away.
    if !matches!(command, Command::Page(_)) {
        stop::on_signals();
    }
    let done = match command {
        Command::Measure(call) => measure::run(&call),
        Command::Inspect(call) => inspect::run(&call),
        Command::Mark(call) => mark::run(&call),
        Command::Samples(call) => samples::run(&call),
        Command::Page(call) => page::run(&call),
        Command::Crosscheck(call) => crosscheck::run(&call),
        Command::Load(call) => load::run(&call),
        Command::Log(call) => log::run(&call),
        Command::Trials(call) => trials::run(&call),
        Command::Change(call) => change::run(&call),
        Command::Trend(call) => trend::run(&call),
        Command::Squad(call) => squad::run(&call),
        Command::Plan(call) => plan::run(&call),
        Command::Companion(call) => companion::run(&call),
        Command::Sheet(call) => sheet::run(&call),
        Command::Completions(call) => completions::run(&call),
        Command::Man(call) => man::run(&call),
    };
    done.unwrap_or_else(|failure| {
        output::complain(&failure);
        Outcome::Failed
    })
    .into()
}

/// What runs in the process of the decoder; nobody types this.
fn helper(clip: &Path) -> ExitCode {
    match apart::serve(clip) {
        Ok(()) => Outcome::Done,
        Err(reason) => {
            output::murmur(&format!("error: {reason}\n"));
            Outcome::Failed
        }
    }
    .into()
}
