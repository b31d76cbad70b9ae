//! `mark`: a still with a pixel ruler, and a floor patch ready to paste.

use std::path::{Path, PathBuf};

use super::args::Mark;
use super::progress::Bars;
use super::write::{self, Existing};
use super::{Outcome, output};
use crate::report::model::Failure;
use crate::units::FrameIndex;
use crate::video::clip::Clip;
use crate::video::kept::PatchOrigin;
use crate::video::still::ruler_picture;
use crate::video::{CaptureClock, FloorPatch};
use crate::workflow::{Progress, clock_of, failure, floor};

/// Writes the still and prints the patch as an argument of `measure`.
///
/// # Errors
/// A clip that cannot be read, a patch that does not fit, a picture that cannot
/// be written.
pub(super) fn run(call: &Mark) -> Result<Outcome, Failure> {
    marked(call).map_err(|error| Failure {
        message: format!("{}: {}", call.clip.display(), error.message),
        hint: error.hint,
    })
}

fn marked(call: &Mark) -> Result<Outcome, Failure> {
    let clip = Clip::open(&call.clip).map_err(failure)?;
    let clock = clock_of(&clip, call.capture_fps)?;
    let out = call.out.clone().unwrap_or_else(|| beside(&call.clip));
    let existing = match call.force {
        true => Existing::Replace,
        false => Existing::OursOnly,
    };
    write::check(&out, existing)?;
    let bars = Bars::new();
    let mut bar = bars.clip(&call.clip);
    let found = patch(call, &clip, &clock, &mut bar);
    bar.finish();
    let found = found?;
    let drawn = found.map(|(patch, _)| patch);
    let png = ruler_picture(&clip, &clock, drawn, FrameIndex(0), call.threads).map_err(failure)?;
    write::picture(&out, &png, existing)?;
    output::murmur(&format!("picture: {}\n", out.display()));
    let Some((patch, origin)) = found else {
        output::complain(&Failure {
            message: format!(
                "{}: nothing in the clip leaves the floor and comes back as feet do, so no \
                 patch is suggested",
                call.clip.display()
            ),
            hint: "read the pixels off the picture and state them: --floor X,Y,W,H".to_owned(),
        });
        return Ok(Outcome::NoJump);
    };
    output::say(&format!("--floor {patch}\n"))?;
    if call.keep || origin == PatchOrigin::Marked && call.floor.is_some() {
        floor::keep(&clip, patch, origin).map_err(failure)?;
        output::murmur("kept beside the clip for next time\n");
    }
    Ok(Outcome::Done)
}

/// The stated, the kept or a suggested patch.
fn patch(
    call: &Mark,
    clip: &Clip,
    clock: &CaptureClock,
    progress: &mut dyn Progress,
) -> Result<Option<(FloorPatch, PatchOrigin)>, Failure> {
    let mut warnings = Vec::new();
    let known = floor::known(clip, call.floor, &mut warnings)?;
    output::warn(&call.clip.display().to_string(), &warnings);
    if let Some(known) = known {
        if known.kept {
            output::murmur("this is the patch kept beside the clip\n");
        }
        return Ok(Some((known.patch, known.origin)));
    }
    let suggested = floor::suggested(clip, clock, call.threads, progress)?;
    Ok(suggested.map(|found| (found.patch, PatchOrigin::Suggested)))
}

/// The picture's name where none was given: `jump.mp4` gets `jump.mark.png`.
fn beside(clip: &Path) -> PathBuf {
    clip.with_extension("mark.png")
}
