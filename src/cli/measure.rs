//! `measure`: clips in, heights out, several clips at a time.

mod clip;
mod results;
mod shard;

use std::collections::HashSet;

use super::args::Measure;
use super::files;
use super::keep::Keeper;
use super::progress::{Bars, Whole};
use super::{Outcome, output, pictures, write};
use crate::report::json;
use crate::report::model::Failure;
use crate::report::results::ResultLine;
use crate::report::terminal::{TextOptions, clip_text};
use crate::workflow::batch::{self, Share};
use crate::workflow::{self, MeasureOptions};

use clip::{Done, Task};
pub(super) use results::Out;
use results::Results;
#[cfg(not(feature = "parquet"))]
pub(super) use results::no_parquet;
pub(super) use shard::Shard;

/// Measures the clips and prints each result as soon as those before it are out.
///
/// # Errors
/// When results cannot be written. Clips that cannot be measured are results.
pub(super) fn run(call: &Measure) -> Result<Outcome, Failure> {
    if let Some(folder) = &call.pictures {
        write::folder(folder)?;
    }
    let keeper = call.keep.as_ref().map(Keeper::open).transpose()?;
    let options = clip::options(&call.options)?;
    let results = match &call.out {
        Some(out) => Some(Results::open(out, &options)?),
        None => None,
    };
    let tasks = tasks(call);
    let order: Vec<String> = tasks.iter().map(Task::key).collect();
    let mut tally = Tally::default();
    let tasks = match &results {
        Some(results) => to_do(tasks, results, call, keeper.as_ref(), &mut tally),
        None => tasks,
    };
    let share = Share::of(call.threads, tasks.len());
    let measured = MeasureOptions {
        threads: share.threads,
        ..call.options.clone()
    };
    let bars = Bars::new();
    let whole = bars.whole(
        order.len(),
        tally.clips(),
        tasks.iter().map(|task| task.bytes).sum(),
    );
    let mut printer = Printer {
        call,
        options,
        bars: &bars,
        whole,
        keeper,
        results,
        tally,
        first: true,
    };
    batch::in_order(
        &tasks,
        share,
        |task| clip::measure(task, call, &measured, &bars),
        |done| printer.take(done),
    )?;
    printer.finish(&order)
}

/// The clips of this process, in order.
fn tasks(call: &Measure) -> Vec<Task> {
    let wanted = files::clips(&call.clips);
    // Of all clips, so that names of pictures do not hang on what else is left out.
    let stems = pictures::stems(wanted.iter().map(|(path, _)| path.as_path()));
    let mut tasks: Vec<Task> = wanted
        .into_iter()
        .zip(stems)
        .filter(|((path, _), _)| call.shard.is_none_or(|shard| shard.has(path)))
        .map(|((path, usable), stem)| Task::new(path, usable, stem))
        .collect();
    if call.out.is_some() {
        // A results file has one line for each clip.
        let mut known = HashSet::new();
        tasks.retain(|task| known.insert(task.key()));
    }
    tasks
}

/// The clips of which no line holds; the others are counted as done, and said.
fn to_do(
    mut tasks: Vec<Task>,
    results: &Results,
    call: &Measure,
    keeper: Option<&Keeper>,
    tally: &mut Tally,
) -> Vec<Task> {
    let of = tasks.len();
    let athlete = keeper.map(Keeper::athlete);
    tasks.retain(|task| {
        let outcome = results.still_holds(&task.key(), &task.known(call, athlete));
        outcome.inspect(|outcome| tally.add(*outcome)).is_none()
    });
    let left = tasks.len();
    if left < of {
        output::murmur(&format!(
            "{} of {of} clips were measured before and have not changed; {left} to go\n",
            of - left
        ));
    }
    tasks
}

/// What became of all clips.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    usable: usize,
    without: usize,
    failed: usize,
    /// Things besides the measurement that went wrong.
    trouble: bool,
}

impl Tally {
    fn add(&mut self, outcome: Outcome) {
        match outcome {
            Outcome::Done => self.usable += 1,
            Outcome::NoJump => self.without += 1,
            Outcome::Failed => self.failed += 1,
        }
    }

    fn clips(&self) -> usize {
        self.usable + self.without + self.failed
    }

    /// One failed clip fails the run; else one jump that can be used is a success, and
    /// so is a part of the work without any clip.
    fn outcome(&self) -> Outcome {
        match self {
            _ if self.failed > 0 || self.trouble => Outcome::Failed,
            _ => Outcome::usable(self.usable > 0 || self.clips() == 0),
        }
    }
}

/// Takes results in the order of the clips.
struct Printer<'a> {
    call: &'a Measure,
    options: serde_json::Value,
    bars: &'a Bars,
    whole: Option<Whole>,
    keeper: Option<Keeper>,
    results: Option<Results>,
    tally: Tally,
    first: bool,
}

impl Printer<'_> {
    /// Prints a result, keeps its jumps, and appends its line, which says that all
    /// that was done.
    fn take(&mut self, done: Done) -> Result<(), Failure> {
        let first = std::mem::replace(&mut self.first, false);
        self.bars.aside(|| print(&done, self.call, first))?;
        self.tally.add(done.outcome);
        let pictures_failed = matches!(done.pictures, Some(Err(_)));
        let logged = self
            .bars
            .aside(|| logged(&done, self.call, self.keeper.as_mut()));
        self.tally.trouble |= pictures_failed || logged.is_err();
        if let Some(results) = &mut self.results {
            let complete = !pictures_failed && logged.is_ok();
            let run = done.run(&self.options, complete, logged.ok().flatten());
            results.append(&ResultLine {
                document: done.document,
                run: Some(run),
            })?;
        }
        if let Some(whole) = &mut self.whole {
            whole.clip_done(done.bytes);
        }
        Ok(())
    }

    /// Brings the results file in order, and says what came out in all.
    fn finish(self, order: &[String]) -> Result<Outcome, Failure> {
        if let Some(whole) = &self.whole {
            whole.finish();
        }
        if let (Some(results), Some(out)) = (self.results, &self.call.out) {
            results.finish(order)?;
            let Tally {
                usable,
                without,
                failed,
                ..
            } = self.tally;
            output::murmur(&format!(
                "{}: {}, {usable} with jumps that can be used, {without} without, {failed} failed\n",
                out.table.as_ref().unwrap_or(&out.lines).display(),
                output::count(self.tally.clips(), "clip"),
            ));
        }
        Ok(self.tally.outcome())
    }
}

/// Keeps a clip's jumps; what cannot be kept is said. Gives the number of the athlete
/// in whose log they are.
fn logged(done: &Done, call: &Measure, keeper: Option<&mut Keeper>) -> Result<Option<i64>, ()> {
    let (Some(keeper), Some(keep)) = (keeper, &call.keep) else {
        return Ok(None);
    };
    let clip = &done.document.clip;
    let kept = match &done.keep {
        Ok(None) => return Ok(None),
        Ok(Some(ready)) => keeper.keep(keep, clip, ready),
        Err(failure) => Err(failure.clone()),
    };
    match kept {
        Ok(()) => Ok(Some(keeper.athlete())),
        Err(failure) => {
            output::complain_of(clip, &failure);
            Err(())
        }
    }
}

fn print(done: &Done, call: &Measure, first: bool) -> Result<(), Failure> {
    let text = TextOptions {
        units: call.units,
        details: call.details,
        colour: output::wants_colour(),
    };
    let document = &done.document;
    let clip = &document.clip;
    output::warn(clip, &document.warnings);
    if let Some(error) = &document.error {
        output::complain_of(clip, error);
    }
    if let Some(Err(error)) = &done.pictures {
        output::complain_of(clip, error);
    }
    if call.json {
        let line = json::to_line(document).map_err(workflow::failure)?;
        return output::say(&(line + "\n"));
    }
    if document.error.is_some() {
        return Ok(());
    }
    let gap = if first { "" } else { "\n" };
    let mut result = format!("{gap}{}", clip_text(document, text));
    for path in done.pictures.iter().flatten().flatten() {
        result += &format!("Picture: {}\n", output::shown(path));
    }
    output::say(&result)
}
