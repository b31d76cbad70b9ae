//! The measuring thread: one clip after another, so that a full queue starves nobody.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::time::{Duration, Instant};

use super::jumps::Findings;
use super::shelf::{Held, Job, Mark, Origin, Shelf, Stage, Task};
use crate::report::model::Failure;
use crate::workflow::{self, MeasureOptions};

/// Time between two tellings of progress.
const PAUSE: Duration = Duration::from_millis(150);

/// Works until the page closes.
pub(super) fn run(shelf: &Arc<Shelf>, threads: usize) {
    while let Some(task) = shelf.next() {
        let work = || match task.job {
            Job::Suggest => suggest(shelf, &task, threads),
            Job::Measure => measure(shelf, &task, threads),
        };
        // A fault in one clip must not end the page; what it held is given up.
        if catch_unwind(AssertUnwindSafe(work)).is_err() {
            let failure = Failure {
                message: "the program met a fault of its own in this clip".to_owned(),
                hint: "copy the clip from the phone again; if that does not help, report it"
                    .to_owned(),
            };
            settle(shelf, &task, Stage::Failed(failure), |_| {});
        }
    }
}

/// Tells how far a task is, not more often than anybody can read.
fn teller<'a>(shelf: &'a Shelf, task: &'a Task) -> impl FnMut(workflow::Stage, usize, usize) + 'a {
    let mut last: Option<(workflow::Stage, Instant)> = None;
    move |what, done, of| {
        let fresh = last.is_none_or(|(stage, at)| stage != what || at.elapsed() >= PAUSE);
        if !fresh {
            return;
        }
        last = Some((what, Instant::now()));
        let job = task.job;
        shelf.progress(task.id, |clip| {
            if matches!(clip.stage, Stage::Working { .. }) {
                clip.stage = Stage::Working {
                    job,
                    what,
                    done,
                    of,
                };
            }
        });
    }
}

/// Enters what came of a task, and sets the stage unless the person wanted something
/// else meanwhile.
fn settle(shelf: &Shelf, task: &Task, stage: Stage, enter: impl FnOnce(&mut Held)) {
    // A clip that was taken away needs no stage.
    let _ = shelf.change(task.id, |clip| {
        enter(clip);
        if matches!(clip.stage, Stage::Working { job, .. } if job == task.job) {
            clip.stage = stage;
        }
    });
}

fn suggest(shelf: &Shelf, task: &Task, threads: usize) {
    let Some(film) = &task.clip.film else {
        return settle(shelf, task, Stage::Marking, |_| {});
    };
    match film.suggested_patch(threads, &mut teller(shelf, task)) {
        Err(failure) => settle(shelf, task, Stage::Failed(failure), |_| {}),
        Ok(found) => settle(shelf, task, Stage::Marking, |clip| {
            clip.no_suggestion = found.is_none();
            if clip.mark.is_none() {
                clip.mark = found.map(|patch| Mark {
                    patch,
                    origin: Origin::Suggested,
                });
            }
        }),
    }
}

fn measure(shelf: &Shelf, task: &Task, threads: usize) {
    let clip = &task.clip;
    let options = MeasureOptions {
        floor: clip.mark.map(|mark| mark.patch.into()),
        // Beside clips that are only visited nothing is left behind.
        keep: !clip.ours,
        capture_fps: clip.capture_fps,
        threads,
        by_hand: true,
        ..MeasureOptions::default()
    };
    let measured = workflow::measure(&clip.path, &options, &mut teller(shelf, task));
    let stage = match measured.document.error.clone() {
        Some(failure) => Stage::Failed(failure),
        None => Stage::Measured,
    };
    let findings = (stage == Stage::Measured).then(|| Findings::of(measured, &clip.name));
    settle(shelf, task, stage, |clip| {
        clip.findings = findings.map(Arc::new);
        clip.corrections.clear();
        clip.kept = None;
    });
}
