//! Which floor patch to watch: the stated one, the kept one, or a suggestion.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::report::model::Failure;
use crate::video::clip::Clip;
use crate::video::kept::{self, KeptPatch, PatchOrigin};
use crate::video::{CaptureClock, FloorPatch, PatchError, PatchSpec, Suggestion, suggest};

use super::interrupt::whole;
use super::{Progress, Stage, failure};

/// A patch and how it came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Chosen {
    /// The patch.
    pub patch: FloorPatch,
    /// Whether a person marked it, now or earlier.
    pub origin: PatchOrigin,
    /// Whether it was read from beside the clip.
    pub kept: bool,
}

impl Chosen {
    /// A patch that nobody marked.
    pub(super) fn suggested(patch: FloorPatch) -> Self {
        Self {
            patch,
            origin: PatchOrigin::Suggested,
            kept: false,
        }
    }
}

/// The patch that is stated or kept; `None` where there is neither. A kept one
/// that does not fit leaves a warning.
///
/// # Errors
/// A stated patch that cannot be measured in, a kept file that is not ours.
pub fn known(
    clip: &Clip,
    stated: Option<PatchSpec>,
    warnings: &mut Vec<String>,
) -> Result<Option<Chosen>, Failure> {
    let size = clip.facts().size;
    if let Some(stated) = stated {
        return Ok(Some(Chosen {
            patch: stated.resolve(size).map_err(failure)?,
            origin: PatchOrigin::Marked,
            kept: false,
        }));
    }
    let Some(kept) = kept::load(clip.path()).map_err(failure)? else {
        return Ok(None);
    };
    match kept.for_size(size) {
        Ok(patch) => Ok(Some(Chosen {
            patch,
            origin: kept.origin(),
            kept: true,
        })),
        Err(other_size) => {
            warnings.push(other_size.to_string());
            Ok(None)
        }
    }
}

/// A suggestion; `Ok(None)` when nothing in the clip flies like a foot.
///
/// # Errors
/// When the clip cannot be decoded.
pub fn suggested(
    clip: &Clip,
    clock: &CaptureClock,
    threads: usize,
    progress: &mut dyn Progress,
) -> Result<Option<Suggestion>, Failure> {
    let of = clip.packets().map_err(failure)?.presented().len();
    let found = suggest(clip, clock, threads, &mut |done| {
        progress.frames(Stage::Suggesting, done, of);
    });
    match found {
        Ok(suggestion) => Ok(Some(suggestion)),
        Err(PatchError::NothingJumps) => Ok(None),
        Err(error) => Err(failure(error)),
    }
}

/// What a person is told of a suggestion that was used.
pub(super) fn remark(patch: FloorPatch) -> String {
    format!(
        "nobody marked the floor; the patch {patch} is this program's suggestion — look at it \
         with `underfoot mark`, and confirm it with `--floor {patch}`"
    )
}

/// A patch to be kept beside its clip, and the picture it is meant for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ToKeep {
    patch: FloorPatch,
    /// Width and height of the upright picture, in pixels.
    picture: (u32, u32),
    origin: PatchOrigin,
}

impl ToKeep {
    /// Keeps `patch` as one for the pictures of `clip`.
    pub fn of(clip: &Clip, patch: FloorPatch, origin: PatchOrigin) -> Self {
        Self {
            patch,
            picture: clip.facts().size,
            origin,
        }
    }
}

/// Keeps a patch beside the clip at `path` for next time; a sentence where that
/// fails.
///
/// One that is kept already is left as it is.
pub fn keep(path: &Path, to_keep: &ToKeep) -> Result<(), String> {
    let wanted = KeptPatch::new(to_keep.patch, to_keep.picture, to_keep.origin)
        .map_err(|error| error.to_string())?;
    if matches!(kept::load(path), Ok(Some(kept)) if kept == wanted) {
        return Ok(());
    }
    match whole(|| kept::save(path, &wanted)) {
        Ok(_) => Ok(()),
        Err(error) => Err(error.to_string()),
    }
}
