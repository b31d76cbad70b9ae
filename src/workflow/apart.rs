//! Reading clips in a child process.
//!
//! The decoder is a large library in C that reads whatever strangers put into a
//! file. The program therefore starts itself once more for each clip
//! ([`serve`] is what runs there). The child is told what is wanted, locks itself in
//! (`cage`), opens the clip and sends back what it found (`wire`). If it breaks down,
//! hangs or wants too much memory, that is one clear error of one clip (`parent`).
//! What it sends is looked at as carefully as a file: whoever has the child in hand
//! could send anything.
//!
//! A library's user decides nothing and gets everything in one process; the program
//! calls [`keep_apart`] once, and every front then has it.

mod cage;
#[cfg(target_os = "linux")]
mod cage_linux;
mod child;
mod parent;
mod viewer;
mod wire;

use std::path::Path;
use std::sync::OnceLock;

use serde::{Deserialize, Serialize};

use crate::report::model::Failure;
use crate::video::FloorPatch;

use super::{Found, Inspected, MarkOptions, Marked, MeasureOptions, Progress};
use cage::Limits;
use parent::{Helper, Received};

pub use child::serve;
pub(super) use viewer::Viewer;

/// The first argument of the child; no command that people type.
pub const ARGUMENT: &str = "decode-apart";

static HELPER: OnceLock<Helper> = OnceLock::new();

/// From now on clips are read by children of this program, which must hand over to
/// [`serve`] when its first argument is [`ARGUMENT`]. `verbose` lets the decoder's
/// own messages through. Only the first call counts.
pub fn keep_apart(verbose: bool) {
    HELPER.get_or_init(|| Helper::this_program(verbose));
}

/// What became of a request.
pub(super) enum Asked<T> {
    /// The child answered.
    Answer(Box<T>),
    /// It could not do it, or broke down over it.
    Failed(Failure),
    /// This process is to do it itself; with a remark where that was not intended.
    Here(Option<String>),
}

/// What a child is asked for.
#[derive(Clone, Debug, Serialize, Deserialize)]
enum Task {
    Measure(MeasureOptions),
    Inspect {
        capture_fps: Option<f64>,
        threads: usize,
    },
    Mark(MarkOptions),
    Suggest {
        capture_fps: Option<f64>,
        threads: usize,
    },
    Look {
        capture_fps: Option<f64>,
    },
}

impl Task {
    fn threads(&self) -> usize {
        match self {
            Self::Measure(options) => options.threads,
            Self::Inspect { threads, .. } | Self::Suggest { threads, .. } => *threads,
            Self::Look { .. } => 0,
            Self::Mark(options) => options.threads,
        }
    }
}

/// All that a child is told, but for the clip's path.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Request {
    task: Task,
    limits: Limits,
    verbose: bool,
}

/// Has a child measure the clip.
pub(super) fn measure(
    path: &Path,
    options: &MeasureOptions,
    progress: &mut dyn Progress,
) -> Asked<Found> {
    let read = |received: Received, limits: &Limits| {
        let mut found: Found = received.answer()?;
        let error = found.document.error.take();
        found.document.error = error.map(|error| parent::with_memory(error, limits));
        if let Some(evidence) = &mut found.evidence {
            evidence.motion = received.motion;
            evidence.strips = match received.refused_pictures {
                Some(failure) => Some(Err(failure)),
                None => options.pictures.is_some().then_some(Ok(received.pictures)),
            };
        }
        wire::check(&mut found, path)?;
        Ok(found)
    };
    ask(path, Task::Measure(options.clone()), progress, read)
}

/// Has a child look into the clip.
pub(super) fn inspect(path: &Path, capture_fps: Option<f64>, threads: usize) -> Asked<Inspected> {
    let task = Task::Inspect {
        capture_fps,
        threads,
    };
    let read = |received: Received, _: &Limits| {
        let mut inspected: Inspected = received.answer()?;
        inspected.inspection.clip = path.display().to_string();
        Ok(inspected)
    };
    ask(path, task, &mut |_, _, _| {}, read)
}

/// Has a child draw a still.
pub(super) fn mark(
    path: &Path,
    options: &MarkOptions,
    progress: &mut dyn Progress,
) -> Asked<Marked> {
    let read = |received: Received, _: &Limits| {
        let mut marked: Marked = received.answer()?;
        let picture = received.pictures.into_iter().next();
        marked.png = picture.ok_or("there is no picture")?;
        Ok(marked)
    };
    ask(path, Task::Mark(*options), progress, read)
}

/// Has a child look where the feet may stand.
pub(super) fn suggest(
    path: &Path,
    capture_fps: Option<f64>,
    threads: usize,
    progress: &mut dyn Progress,
) -> Asked<Option<FloorPatch>> {
    let task = Task::Suggest {
        capture_fps,
        threads,
    };
    let read = |received: Received, _: &Limits| received.answer();
    ask(path, task, progress, read)
}

/// What is said where no child can be started.
fn not_apart(error: &std::io::Error) -> String {
    format!(
        "the decoder could not be kept in a process of its own ({error}); the clip was read \
         without that"
    )
}

/// Asks a child, where clips are read apart.
fn ask<T>(
    path: &Path,
    task: Task,
    progress: &mut dyn Progress,
    read: impl FnOnce(Received, &Limits) -> Result<T, String>,
) -> Asked<T> {
    let Some(helper) = HELPER.get() else {
        return Asked::Here(None);
    };
    let request = Request {
        limits: Limits::of(path, task.threads()),
        task,
        verbose: helper.verbose,
    };
    match helper.ask(path, &request, progress) {
        Ok(received) => match read(received, &request.limits) {
            Ok(answer) => Asked::Answer(Box::new(answer)),
            Err(reason) => Asked::Failed(parent::senseless(&reason)),
        },
        Err(parent::Refusal::NotStarted(error)) => Asked::Here(Some(not_apart(&error))),
        Err(parent::Refusal::Failed(failure)) => Asked::Failed(failure),
    }
}
