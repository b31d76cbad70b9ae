//! `mark`: a still with a pixel ruler, and a floor patch ready to paste.

use std::path::{Path, PathBuf};

use super::args::Mark;
use super::progress::Bars;
use super::write::{self, Existing};
use super::{Outcome, output};
use crate::report::model::Failure;
use crate::units::FrameIndex;
use crate::video::kept::PatchOrigin;
use crate::workflow::{self, MarkOptions, failure, floor};

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
    let out = call.out.clone().unwrap_or_else(|| beside(&call.clip));
    let existing = match call.force {
        true => Existing::Replace,
        false => Existing::OursOnly,
    };
    if call.clip.is_file() {
        write::check(&out, existing)?;
    }
    let options = MarkOptions {
        floor: call.floor,
        suggest: true,
        frame: FrameIndex(0),
        capture_fps: call.capture_fps,
        threads: call.threads,
    };
    let bars = Bars::new();
    let mut bar = bars.clip(&call.clip);
    let marked = workflow::mark(&call.clip, &options, &mut bar);
    bar.finish();
    let marked = marked?;
    output::warn(&call.clip.display().to_string(), &marked.warnings);
    if marked.kept {
        output::murmur("this is the patch kept beside the clip\n");
    }
    write::picture(&out, &marked.png, existing)?;
    output::murmur(&format!("picture: {}\n", output::shown(&out)));
    let Some((patch, to_keep)) = marked.patch.zip(marked.to_keep) else {
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
    if call.keep || marked.origin == Some(PatchOrigin::Marked) && call.floor.is_some() {
        floor::keep(&call.clip, &to_keep).map_err(failure)?;
        output::murmur("kept beside the clip for next time\n");
    }
    Ok(Outcome::Done)
}

/// The picture's name where none was given: `jump.mp4` gets `jump.mark.png`.
fn beside(clip: &Path) -> PathBuf {
    clip.with_extension("mark.png")
}
