//! Joins the stages: a clip's path in, its document out.
//!
//! The commands and the local page both call [`measure`], so they show the same
//! numbers. Nothing is printed here, and a clip that cannot be measured is a
//! document with its error, never a stop.

pub mod batch;
pub mod crosscheck;
mod document;
mod doubt;
mod flags;
pub mod floor;
mod inspect;
pub mod loads;
pub mod table;
pub mod views;
pub mod wording;

use std::path::Path;

use crate::jump::{FoundJump, Gravity, find_jumps};
use crate::log::TrialRecord;
use crate::report::model::{Document, Failure, SCHEMA};
use crate::units::Metres;
use crate::video::clip::Clip;
use crate::video::kept::PatchOrigin;
use crate::video::{
    CaptureClock, ContactTrace, FloorPatch, PatchError, PatchSpec, Watched, watch,
    watch_everything, watch_where_needed,
};

use document::Situation;
pub use document::record;
use floor::Chosen;
pub use inspect::{Inspected, inspect};
pub use wording::failure;

/// What the person stated; by default nothing, with standard gravity.
#[derive(Clone, Debug, Default)]
pub struct MeasureOptions {
    /// Where the feet stand; `None` to use the kept patch or a suggestion.
    pub floor: Option<PatchSpec>,
    /// Whether a patch marked by hand is kept beside the clip for next time.
    pub keep: bool,
    /// The camera's setting in frames per second; `None` to go by the file.
    pub capture_fps: Option<f64>,
    /// Gravity at the place of the jump.
    pub gravity: Gravity,
    /// Decoding threads; 0 for as many as there are cores.
    pub threads: usize,
    /// Whether every frame is decoded, even where a coarse look shows that nothing
    /// happens.
    pub full: bool,
    /// Whether the athlete jumped with an extra load.
    pub loaded: bool,
    /// The athlete's stature, by which free fall checks the clip's clock.
    pub stature: Option<Metres>,
}

/// What the workflow is busy with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Looking for the feet where nobody marked the floor.
    Suggesting,
    /// Decoding the clip and watching the floor patch.
    Watching,
    /// Looking again, as if the clip were slow motion.
    TryingSlowMotion,
    /// Filming a sample.
    Filming,
}

/// Is told how far a clip is.
pub trait Progress {
    /// So many of so many frames are done in this stage.
    fn frames(&mut self, stage: Stage, done: usize, of: usize);
}

impl<F: FnMut(Stage, usize, usize)> Progress for F {
    fn frames(&mut self, stage: Stage, done: usize, of: usize) {
        self(stage, done, of);
    }
}

/// The result of one clip.
#[derive(Debug)]
pub struct Measurement {
    /// What people and programs read.
    pub document: Document,
    /// What pictures are made of; `None` when the clip could not be measured or
    /// nothing in it looks like a jump.
    pub evidence: Option<Evidence>,
    /// The jumps in the document's order, as the log keeps them.
    pub trials: Vec<TrialRecord>,
    /// Jumps that no flag makes doubtful.
    pub usable: usize,
}

/// What a measurement rests on.
#[derive(Debug)]
pub struct Evidence {
    /// The clip, still open.
    pub clip: Clip,
    /// Its clock.
    pub clock: CaptureClock,
    /// The patch that was watched.
    pub patch: FloorPatch,
    /// What moved there.
    pub trace: ContactTrace,
    /// The jumps found, in the document's order.
    pub jumps: Vec<FoundJump>,
}

/// Measures the clip at `path`.
///
/// Never fails: what went wrong is the document's `error`, beside whatever was
/// known by then.
pub fn measure(path: &Path, options: &MeasureOptions, progress: &mut dyn Progress) -> Measurement {
    let mut document = Document {
        schema: SCHEMA,
        clip: path.display().to_string(),
        clock: None,
        patch: None,
        jumps: Vec::new(),
        warnings: Vec::new(),
        error: None,
    };
    match fill(&mut document, path, options, progress) {
        Ok((evidence, trials)) => Measurement {
            usable: trials.iter().filter(|trial| is_usable(trial)).count(),
            document,
            evidence,
            trials,
        },
        Err(error) => {
            document.jumps.clear();
            document.error = Some(error);
            Measurement {
                document,
                evidence: None,
                trials: Vec::new(),
                usable: 0,
            }
        }
    }
}

fn is_usable(trial: &TrialRecord) -> bool {
    trial.doubts().next().is_none()
}

/// Runs the stages and enters into `document` what each of them gives.
fn fill(
    document: &mut Document,
    path: &Path,
    options: &MeasureOptions,
    progress: &mut dyn Progress,
) -> Result<(Option<Evidence>, Vec<TrialRecord>), Failure> {
    let (clip, clock) = open(document, path, options.capture_fps)?;
    let chosen = choose_patch(document, &clip, &clock, options, progress)?;
    let Some(Chosen { patch, origin, .. }) = chosen else {
        let nothing = PatchError::NothingJumps.to_string();
        document.warnings.push(nothing);
        return Ok((None, Vec::new()));
    };
    document.patch = Some([patch.x, patch.y, patch.w, patch.h]);
    let (watched, jumps) = watch_floor(&clip, &clock, patch, options, progress)?;
    if let Some(clock) = &mut document.clock {
        clock.repeated = watched.repeats.repeated.len();
    }
    document.warnings.extend(wording::of_decoding(&watched));
    doubt::check(&clip, &clock, patch, &jumps, options.threads, progress)?;
    if jumps.is_empty() {
        refuse_stillness(&watched.trace)?;
        let unseen = wording::of_unseen_feet(&watched.trace.body_flights);
        document.warnings.extend(unseen);
    }
    if options.keep && origin == PatchOrigin::Marked {
        document
            .warnings
            .extend(floor::keep(&clip, patch, origin).err());
    }
    let situation = Situation {
        clock: &clock,
        watched: &watched,
        options,
        suggested: origin == PatchOrigin::Suggested,
    };
    let trials = enter(document, &jumps, &situation)?;
    let evidence = Evidence {
        clip,
        clock,
        patch,
        trace: watched.trace,
        jumps,
    };
    Ok((Some(evidence), trials))
}

/// Opens the clip and enters what it says of itself.
fn open(
    document: &mut Document,
    path: &Path,
    capture_fps: Option<f64>,
) -> Result<(Clip, CaptureClock), Failure> {
    let clip = Clip::open(path).map_err(failure)?;
    let clock = clock_of(&clip, capture_fps)?;
    document.clock = Some(document::clock(clock.report()));
    document.warnings.extend(wording::of_clip(clip.facts()));
    document.warnings.extend(wording::of_clock(clock.report()));
    Ok((clip, clock))
}

/// Enters the jumps, and gives them as the log keeps them.
fn enter(
    document: &mut Document,
    jumps: &[FoundJump],
    situation: &Situation,
) -> Result<Vec<TrialRecord>, Failure> {
    let mut trials = Vec::new();
    for (at, jump) in jumps.iter().enumerate() {
        let (jump, trial) = document::jump(at + 1, jump, situation)?;
        document.jumps.push(jump);
        trials.push(trial);
    }
    Ok(trials)
}

/// The clip's clock, from the times of all its frames.
pub fn clock_of(clip: &Clip, capture_fps: Option<f64>) -> Result<CaptureClock, Failure> {
    let table = clip.packets().map_err(failure)?;
    CaptureClock::new(clip.facts(), table.presented(), capture_fps).map_err(failure)
}

/// The patch to watch: stated, kept, suggested, or suggested as if the clip were
/// slow motion that does not say so.
fn choose_patch(
    document: &mut Document,
    clip: &Clip,
    clock: &CaptureClock,
    options: &MeasureOptions,
    progress: &mut dyn Progress,
) -> Result<Option<Chosen>, Failure> {
    if let Some(known) = floor::known(clip, options.floor, &mut document.warnings)? {
        return Ok(Some(known));
    }
    let suggestion = match floor::suggested(clip, clock, options.threads, progress)? {
        Some(suggestion) => Some(suggestion),
        None => doubt::suggested(clip, clock, options.threads, progress)?,
    };
    Ok(suggestion.map(|suggestion| {
        document.warnings.push(floor::remark(suggestion.patch));
        Chosen {
            patch: suggestion.patch,
            origin: PatchOrigin::Suggested,
            kept: false,
        }
    }))
}

/// Watches the patch for the first time, decoding what the options ask for, and
/// finds the jumps. A clip without any is always decoded in full.
fn watch_floor(
    clip: &Clip,
    clock: &CaptureClock,
    patch: FloorPatch,
    options: &MeasureOptions,
    progress: &mut dyn Progress,
) -> Result<(Watched, Vec<FoundJump>), Failure> {
    let of = clip.packets().map_err(failure)?.presented().len();
    let mut tell = |done| progress.frames(Stage::Watching, done, of);
    let found = |watched: &Watched| find_jumps(&watched.trace).map_err(wording::jump_failure);
    if !options.full {
        let watched = watch_where_needed(clip, clock, patch, options.threads, &mut tell);
        let watched = watched.map_err(failure)?;
        let jumps = found(&watched)?;
        if !jumps.is_empty() || watched.is_everything() {
            return Ok((watched, jumps));
        }
    }
    let watched = watch_everything(clip, clock, patch, options.threads, &mut tell);
    let watched = watched.map_err(failure)?;
    let jumps = found(&watched)?;
    Ok((watched, jumps))
}

/// Watches the patch and passes on how far it is.
fn watch_with(
    clip: &Clip,
    clock: &CaptureClock,
    patch: FloorPatch,
    threads: usize,
    stage: Stage,
    progress: &mut dyn Progress,
) -> Result<Watched, Failure> {
    let of = clip.packets().map_err(failure)?.presented().len();
    let mut tell = |done| progress.frames(stage, done, of);
    watch(clip, clock, patch, threads, &mut tell).map_err(failure)
}

/// Change from one frame to the next, in grey levels of 255, below which nothing
/// but noise is seen. On 26 clips of known truth, patches on the feet came to 2.3
/// and more in their liveliest hundredth of frames, patches beside them to 1.9 and
/// less where the camera stood still.
const NOISE_GREY: f32 = 1.2;
/// The same for noisy clips, as a multiple of the usual change: 2.9 and more on the
/// feet of noisy clips, 1.6 and less beside them.
const NOISE_RATIO: f32 = 2.0;

/// A patch without motion is a patch in the wrong place.
fn refuse_stillness(trace: &ContactTrace) -> Result<(), Failure> {
    let mut sorted = trace.motion.clone();
    sorted.sort_by(f32::total_cmp);
    let at = |hundredths: usize| sorted.get(sorted.len() * hundredths / 100).copied();
    let (usual, lively) = at(50).zip(at(99)).unwrap_or_default();
    if lively >= NOISE_GREY.max(NOISE_RATIO * usual) {
        return Ok(());
    }
    Err(Failure {
        message: "nothing moves in the floor patch".to_owned(),
        hint: "mark where the feet stand, with the floor just below them: `underfoot mark` \
               shows the picture with a ruler"
            .to_owned(),
    })
}
