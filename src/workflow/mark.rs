//! A still with a pixel ruler, and a floor patch to mark or to confirm.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::report::model::Failure;
use crate::units::FrameIndex;
use crate::video::clip::Clip;
use crate::video::kept::PatchOrigin;
use crate::video::still::ruler_picture;
use crate::video::{CaptureClock, FloorPatch, PatchSpec};

use super::apart::{self, Asked};
use super::floor::{self, ToKeep};
use super::{Progress, clock_of, failure};

/// What is wanted of a still.
#[derive(Clone, Copy, Debug, Default, Serialize, Deserialize)]
pub struct MarkOptions {
    /// The patch to draw; `None` for the kept one, or a suggestion.
    pub floor: Option<PatchSpec>,
    /// Whether a patch is suggested where none is stated or kept; that takes time.
    pub suggest: bool,
    /// The frame that is shown.
    pub frame: FrameIndex,
    /// The camera's setting in frames per second; `None` to go by the file.
    pub capture_fps: Option<f64>,
    /// Decoding threads; 0 for as many as there are cores.
    pub threads: usize,
}

/// A still and the patch drawn in it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Marked {
    /// The picture as PNG bytes, of the size of the clip's upright picture.
    #[serde(skip)]
    pub png: Vec<u8>,
    /// The patch, `None` where there is none.
    pub patch: Option<FloorPatch>,
    /// How the patch came about.
    pub origin: Option<PatchOrigin>,
    /// Whether it was read from beside the clip.
    pub kept: bool,
    /// What [`floor::keep`] needs to keep the patch.
    pub to_keep: Option<ToKeep>,
    /// What a person should know of the patch.
    pub warnings: Vec<String>,
}

/// Draws the still of the clip at `path`.
///
/// # Errors
/// A clip that cannot be read, a patch that does not fit, a frame that cannot be drawn.
pub fn mark(
    path: &Path,
    options: &MarkOptions,
    progress: &mut dyn Progress,
) -> Result<Marked, Failure> {
    match apart::mark(path, options, progress) {
        Asked::Answer(marked) => Ok(*marked),
        Asked::Failed(failure) => Err(failure),
        Asked::Here(remark) => {
            let mut marked = draw(path, options, progress)?;
            marked.warnings.extend(remark);
            Ok(marked)
        }
    }
}

/// Draws it in this process.
pub(super) fn draw(
    path: &Path,
    options: &MarkOptions,
    progress: &mut dyn Progress,
) -> Result<Marked, Failure> {
    let clip = Clip::open(path).map_err(failure)?;
    let clock = clock_of(&clip, options.capture_fps)?;
    let mut warnings = Vec::new();
    let chosen = choose(&clip, &clock, options, &mut warnings, progress)?;
    let patch = chosen.map(|chosen| chosen.patch);
    let png =
        ruler_picture(&clip, &clock, patch, options.frame, options.threads).map_err(failure)?;
    Ok(Marked {
        png,
        patch,
        origin: chosen.map(|chosen| chosen.origin),
        kept: chosen.is_some_and(|chosen| chosen.kept),
        to_keep: chosen.map(|chosen| ToKeep::of(&clip, chosen.patch, chosen.origin)),
        warnings,
    })
}

/// The stated, the kept or a suggested patch.
fn choose(
    clip: &Clip,
    clock: &CaptureClock,
    options: &MarkOptions,
    warnings: &mut Vec<String>,
    progress: &mut dyn Progress,
) -> Result<Option<floor::Chosen>, Failure> {
    if let Some(known) = floor::known(clip, options.floor, warnings)? {
        return Ok(Some(known));
    }
    if !options.suggest {
        return Ok(None);
    }
    let suggested = floor::suggested(clip, clock, options.threads, progress)?;
    Ok(suggested.map(|found| floor::Chosen::suggested(found.patch)))
}
