//! One clip of many: what it is known by, and what becomes of it.

use std::path::{Path, PathBuf};

use serde_json::Value;

use super::super::Outcome;
use super::super::args::Measure;
use super::super::keep::{self, Ready};
use super::super::pictures::{self, Place};
use super::super::progress::Bars;
use super::results::{Known, key};
use crate::report::model::{Document, Failure};
use crate::report::results::{FileState, Run};
use crate::video::kept::kept_path;
use crate::workflow::{self, MeasureOptions, Measurement};

/// One clip to measure.
pub(super) struct Task {
    path: PathBuf,
    /// Why the name gave no clip.
    usable: Result<(), Failure>,
    /// What names of its pictures begin with.
    stem: String,
    /// Length of its file, by which the remaining time is estimated.
    pub(super) bytes: u64,
}

/// What became of one clip.
pub(super) struct Done {
    pub(super) document: Document,
    pub(super) outcome: Outcome,
    /// The pictures written; `None` where none were wanted.
    pub(super) pictures: Option<Result<Vec<PathBuf>, Failure>>,
    /// What goes into the log, if anything.
    pub(super) keep: Result<Option<Ready>, Failure>,
    pub(super) bytes: u64,
    /// The file and the kept patch as they were when it was begun.
    known: Known,
    path_hex: Option<String>,
    usable: usize,
}

impl Task {
    pub(super) fn new(path: PathBuf, usable: Result<(), Failure>, stem: String) -> Self {
        let bytes = path.metadata().map_or(0, |data| data.len());
        Self {
            path,
            usable,
            stem,
            bytes,
        }
    }

    /// What the clip's line is known by.
    pub(super) fn key(&self) -> String {
        key(
            &self.path.display().to_string(),
            path_hex(&self.path).as_ref(),
        )
    }

    /// What a line must say of the clip to hold now.
    pub(super) fn known(&self, call: &Measure, athlete: Option<i64>) -> Known {
        let patch = kept_path(&self.path);
        Known {
            file: state(&self.path),
            // A patch that is stated goes before the one kept.
            patch_file: call
                .options
                .floor
                .is_none()
                .then(|| state(&patch))
                .flatten(),
            athlete,
        }
    }
}

/// What was stated that bears on a result, as a results file keeps it.
///
/// # Errors
/// None that can be thought of.
pub(super) fn options(options: &MeasureOptions) -> Result<Value, Failure> {
    let gravity = serde_json::to_value(options.gravity).map_err(workflow::failure)?;
    Ok(serde_json::json!({
        "floor": options.floor.map(|floor| floor.to_string()),
        "capture_fps": options.capture_fps,
        "gravity": gravity,
        "loaded": options.loaded,
        "stature_m": options.stature,
    }))
}

fn state(path: &Path) -> Option<FileState> {
    let data = path.metadata().ok()?;
    Some(FileState::new(data.len(), data.modified().ok()))
}

/// The bytes of a path that does not print as it is.
fn path_hex(path: &Path) -> Option<String> {
    let hex = |byte: &u8| format!("{byte:02x}");
    let bytes = path.as_os_str().as_encoded_bytes();
    path.to_str()
        .is_none()
        .then(|| bytes.iter().map(hex).collect())
}

/// Measures one clip; the evidence is let go before the next begins.
pub(super) fn measure(task: &Task, call: &Measure, options: &MeasureOptions, bars: &Bars) -> Done {
    let mut done = Done {
        document: Document::failed(task.path.display().to_string(), no_threads()),
        outcome: Outcome::Failed,
        pictures: None,
        keep: Ok(None),
        bytes: task.bytes,
        known: task.known(call, None),
        path_hex: path_hex(&task.path),
        usable: 0,
    };
    if let Err(failure) = &task.usable {
        done.document.error = Some(failure.clone());
        return done;
    }
    // Threads of its own, so that no clip waits for another's.
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(options.threads)
        .build();
    if let Ok(pool) = pool {
        pool.install(|| in_pool(task, call, options, bars, &mut done));
    }
    done
}

fn in_pool(task: &Task, call: &Measure, options: &MeasureOptions, bars: &Bars, done: &mut Done) {
    let path = &task.path;
    let mut bar = bars.clip(path);
    let stem = &task.stem;
    let options = MeasureOptions {
        pictures: call.pictures.is_some().then(|| stem.clone()),
        ..options.clone()
    };
    let measured = workflow::measure(path, &options, &mut bar);
    done.pictures = call.pictures.as_deref().map(|folder| {
        let place = Place { folder, stem };
        pictures::write(&measured, &place)
    });
    if let Some(keep) = &call.keep {
        done.keep = keep::ready(path, &measured, &keep.note);
    }
    bar.finish();
    done.outcome = outcome(&measured);
    done.usable = measured.usable;
    done.document = measured.document;
}

fn no_threads() -> Failure {
    Failure {
        message: "no thread can be started".to_owned(),
        hint: "close other programs and try again".to_owned(),
    }
}

fn outcome(measured: &Measurement) -> Outcome {
    match (&measured.document.error, measured.usable) {
        (Some(_), _) => Outcome::Failed,
        (None, 0) => Outcome::NoJump,
        (None, _) => Outcome::Done,
    }
}

impl Done {
    /// What its line says of how it came about.
    pub(super) fn run(&self, options: &Value, complete: bool, logged_as: Option<i64>) -> Run {
        Run {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            options: options.clone(),
            path_hex: self.path_hex.clone(),
            file: self.known.file.clone(),
            patch_file: self.known.patch_file.clone(),
            usable: self.usable,
            complete,
            logged_as,
        }
    }
}
