//! Joins the stages: a clip's path in, its document out.
//!
//! The commands and the local page both call [`measure`], so they show the same
//! numbers. Nothing is printed here, and a clip that cannot be measured is a
//! document with its error, never a stop.
//!
//! All that touches a clip's bytes can be done by a child process, so that a hostile
//! file harms nothing else: see [`apart`].

pub mod apart;
pub mod batch;
pub mod crosscheck;
mod document;
mod doubt;
mod flags;
pub mod floor;
pub mod frames;
pub mod hand;
mod inspect;
pub mod interrupt;
pub mod keeping;
pub mod load_session;
pub mod loads;
pub mod looking;
mod mark;
mod strips;
pub mod table;
pub mod views;
pub mod wording;

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::jump::{FoundJump, Gravity, find_jumps};
use crate::log::TrialRecord;
use crate::report::model::{Document, Failure, SCHEMA};
use crate::units::Metres;
use crate::video::clip::Clip;
use crate::video::kept::PatchOrigin;
use crate::video::{
    CaptureClock, ClockReport, ContactTrace, FloorPatch, PatchError, PatchSpec, Watched, watch,
    watch_everything, watch_where_needed,
};

use apart::Asked;
use document::Situation;
pub use document::record;
use floor::{Chosen, ToKeep};
pub use inspect::{Inspected, inspect};
pub use mark::{MarkOptions, Marked, mark};
pub use wording::failure;

/// What the person stated; by default nothing, with standard gravity.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
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
    /// What the clip is called in pictures of its jumps; `None` for no pictures.
    pub pictures: Option<String>,
    /// Whether events may be set by hand afterwards ([`hand::by_hand`]); the evidence
    /// then has what that rests on.
    pub by_hand: bool,
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

/// What a measurement rests on; no clip is open any more.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Evidence {
    /// Tags of the clip that bear on time: name and value.
    pub tags: Vec<(String, String)>,
    /// The patch that was watched.
    pub patch: FloorPatch,
    /// What moved there.
    #[serde(skip)]
    pub motion: Motion,
    /// For each jump of the document a PNG of the frames round its events, or why
    /// they could not be drawn; `None` unless [`MeasureOptions::pictures`] asks.
    #[serde(skip)]
    pub strips: Option<Result<Vec<Vec<u8>>, Failure>>,
    /// What events are set by hand on; `None` unless [`MeasureOptions::by_hand`] asks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
}

/// What events can be set by hand on.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Basis {
    /// The clip's clock.
    pub clock: ClockReport,
    /// The jumps found, in the document's order.
    pub jumps: Vec<FoundJump>,
}

/// Change in the patch from frame to frame, in grey levels of 255; frames that were
/// not decoded have none.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Motion {
    /// Moment of each frame in seconds.
    pub times_s: Vec<f64>,
    /// Change against the frame before, as many as there are moments.
    pub change: Vec<f32>,
}

/// All that the clip itself has to be read for.
#[derive(Debug, Serialize, Deserialize)]
struct Found {
    document: Document,
    trials: Vec<TrialRecord>,
    evidence: Option<Evidence>,
    /// A patch to be kept beside the clip.
    to_keep: Option<ToKeep>,
}

impl Found {
    fn failed(path: &Path, failure: Failure) -> Self {
        Self {
            document: Document::failed(path.display().to_string(), failure),
            trials: Vec::new(),
            evidence: None,
            to_keep: None,
        }
    }
}

/// Measures the clip at `path`.
///
/// Never fails: what went wrong is the document's `error`, beside whatever was
/// known by then.
pub fn measure(path: &Path, options: &MeasureOptions, progress: &mut dyn Progress) -> Measurement {
    let mut found = match apart::measure(path, options, progress) {
        Asked::Answer(found) => *found,
        Asked::Failed(failure) => Found::failed(path, failure),
        Asked::Here(remark) => {
            let mut found = find(path, options, progress);
            found.document.warnings.extend(remark);
            found
        }
    };
    // The patch is kept here: a child may write nothing.
    if let Some(to_keep) = &found.to_keep {
        let warning = floor::keep(path, to_keep).err();
        found.document.warnings.extend(warning);
    }
    Measurement {
        usable: found.trials.iter().filter(|trial| is_usable(trial)).count(),
        document: found.document,
        evidence: found.evidence,
        trials: found.trials,
    }
}

fn is_usable(trial: &TrialRecord) -> bool {
    trial.doubts().next().is_none()
}

/// Measures the clip in this process; writes nothing.
fn find(path: &Path, options: &MeasureOptions, progress: &mut dyn Progress) -> Found {
    let mut found = Found {
        document: Document {
            schema: SCHEMA,
            clip: path.display().to_string(),
            clock: None,
            patch: None,
            jumps: Vec::new(),
            warnings: Vec::new(),
            error: None,
        },
        trials: Vec::new(),
        evidence: None,
        to_keep: None,
    };
    if let Err(error) = fill(&mut found, path, options, progress) {
        found.document.jumps.clear();
        found.document.error = Some(error);
        found.trials.clear();
    }
    found
}

/// Runs the stages and enters into `found` what each of them gives.
fn fill(
    found: &mut Found,
    path: &Path,
    options: &MeasureOptions,
    progress: &mut dyn Progress,
) -> Result<(), Failure> {
    let document = &mut found.document;
    let (clip, clock) = open(document, path, options.capture_fps)?;
    let chosen = choose_patch(document, &clip, &clock, options, progress)?;
    let Some(Chosen { patch, origin, .. }) = chosen else {
        let nothing = PatchError::NothingJumps.to_string();
        document.warnings.push(nothing);
        return Ok(());
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
        found.to_keep = Some(ToKeep::of(&clip, patch, origin));
    }
    let situation = Situation {
        clock: &clock,
        watched: &watched,
        options,
        suggested: origin == PatchOrigin::Suggested,
    };
    found.trials = enter(document, &jumps, &situation)?;
    let called = options.pictures.as_deref();
    let strips =
        called.map(|called| strips::draw(&clip, &clock, patch, document, called, options.threads));
    found.evidence = Some(Evidence {
        tags: clip.facts().tags.clone(),
        patch,
        motion: Motion {
            times_s: watched.trace.times_s,
            change: watched.trace.motion,
        },
        strips,
        basis: options.by_hand.then(|| Basis {
            clock: clock.report().clone(),
            jumps,
        }),
    });
    Ok(())
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
        Chosen::suggested(suggestion.patch)
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
