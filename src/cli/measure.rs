//! `measure`: clips in, heights out, several clips at a time.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::mpsc;

use rayon::prelude::*;

use super::args::{Keep, Measure};
use super::files::{self, Wanted};
use super::keep::{self, Keeper, Ready};
use super::pictures::Place;
use super::progress::Bars;
use super::{Outcome, output, pictures, write};
use crate::report::json;
use crate::report::model::{Document, Failure};
use crate::report::terminal::{TextOptions, clip_text};
use crate::workflow::{self, MeasureOptions, Measurement};

/// What became of one clip.
struct Done {
    document: Document,
    outcome: Outcome,
    /// The pictures written; `None` where none were wanted.
    pictures: Option<Result<Vec<PathBuf>, Failure>>,
    /// What goes into the log, if anything.
    keep: Result<Option<Ready>, Failure>,
}

/// Measures the clips and prints each result as soon as those before it are out.
///
/// # Errors
/// When results cannot be written. Clips that cannot be measured are results.
pub(super) fn run(call: &Measure) -> Result<Outcome, Failure> {
    if let Some(folder) = &call.pictures {
        write::folder(folder)?;
    }
    let mut keeper = call.keep.as_ref().map(Keeper::open).transpose()?;
    let wanted = files::clips(&call.clips);
    let stems = pictures::stems(wanted.iter().map(|(path, _)| path.as_path()));
    let jobs = wanted.len().clamp(1, call.threads);
    let options = MeasureOptions {
        threads: (call.threads / jobs).max(1),
        ..call.options.clone()
    };
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(call.threads.max(1))
        .build()
        .map_err(|error| Failure {
            message: format!("no thread can be started ({error})"),
            hint: "close other programs and try again".to_owned(),
        })?;
    let bars = Bars::new();
    std::thread::scope(|scope| {
        let (sender, receiver) = mpsc::channel();
        let (bars, options) = (&bars, &options);
        let named = wanted.par_iter().zip(&stems).enumerate();
        scope.spawn(move || {
            pool.install(|| {
                named.for_each_with(sender, |sender, (position, (clip, stem))| {
                    let done = one(clip, stem, call, options, bars);
                    // Fails only when printing has stopped; then nobody wants it.
                    let _ = sender.send((position, done));
                });
            });
        });
        print_in_order(receiver, call, bars, keeper.as_mut())
    })
}

/// Measures one clip; the evidence is let go before the next begins.
fn one(
    (path, usable): &Wanted,
    stem: &str,
    call: &Measure,
    options: &MeasureOptions,
    bars: &Bars,
) -> Done {
    if let Err(failure) = usable {
        let document = Document::failed(path.display().to_string(), failure.clone());
        return Done {
            document,
            outcome: Outcome::Failed,
            pictures: None,
            keep: Ok(None),
        };
    }
    let mut bar = bars.clip(path);
    let options = MeasureOptions {
        pictures: call.pictures.is_some().then(|| stem.to_owned()),
        ..options.clone()
    };
    let measured = workflow::measure(path, &options, &mut bar);
    let pictures = call.pictures.as_deref().map(|folder| {
        let place = Place { folder, stem };
        pictures::write(&measured, &place)
    });
    let keep = match &call.keep {
        Some(keep) => keep::ready(path, &measured, &keep.note),
        None => Ok(None),
    };
    bar.finish();
    let outcome = match &pictures {
        Some(Err(_)) => Outcome::Failed,
        _ => outcome(&measured),
    };
    Done {
        document: measured.document,
        outcome,
        pictures,
        keep,
    }
}

fn outcome(measured: &Measurement) -> Outcome {
    match (&measured.document.error, measured.usable) {
        (Some(_), _) => Outcome::Failed,
        (None, 0) => Outcome::NoJump,
        (None, _) => Outcome::Done,
    }
}

fn print_in_order(
    receiver: mpsc::Receiver<(usize, Done)>,
    call: &Measure,
    bars: &Bars,
    mut keeper: Option<&mut Keeper>,
) -> Result<Outcome, Failure> {
    let mut waiting = BTreeMap::new();
    let mut next = 0;
    let mut outcomes = Vec::new();
    for (position, done) in receiver {
        waiting.insert(position, done);
        while let Some(done) = waiting.remove(&next) {
            next += 1;
            outcomes.push(done.outcome);
            bars.aside(|| print(&done, call, next == 1))?;
            if let (Some(keeper), Some(keep)) = (keeper.as_deref_mut(), &call.keep) {
                outcomes.push(bars.aside(|| logged(&done, keep, keeper)));
            }
        }
    }
    Ok(in_all(&outcomes))
}

/// Keeps a clip's jumps; what cannot be kept is said and fails the run.
fn logged(done: &Done, keep: &Keep, keeper: &mut Keeper) -> Outcome {
    let clip = &done.document.clip;
    let kept = match &done.keep {
        Ok(None) => return done.outcome,
        Ok(Some(ready)) => keeper.keep(keep, clip, ready),
        Err(failure) => Err(failure.clone()),
    };
    match kept {
        Ok(()) => done.outcome,
        Err(failure) => {
            output::complain_of(clip, &failure);
            Outcome::Failed
        }
    }
}

/// One failed clip fails the run; else one jump that can be used is a success.
fn in_all(outcomes: &[Outcome]) -> Outcome {
    if outcomes.contains(&Outcome::Failed) {
        Outcome::Failed
    } else if outcomes.contains(&Outcome::Done) {
        Outcome::Done
    } else {
        Outcome::NoJump
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
