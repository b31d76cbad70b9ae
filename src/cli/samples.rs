//! `samples`: films the sample clips anew.

use std::fs;
use std::path::Path;

use super::args::Samples;
use super::progress::{Bar, Bars};
use super::{Outcome, output, write};
use crate::report::model::Failure;
use crate::synth;
use crate::workflow::{Progress, Stage, failure};

/// How a truth of ours says what wrote it.
const GENERATOR: &str = "underfoot synth";

/// Films all samples into a folder; each appears once it is complete.
///
/// # Errors
/// When the folder holds other people's files under these names, or cannot be
/// written.
pub(super) fn run(call: &Samples) -> Result<Outcome, Failure> {
    write::folder(&call.folder)?;
    let names: Vec<&str> = synth::samples().into_iter().map(|(name, _)| name).collect();
    if !call.force {
        for name in &names {
            refuse_others(&call.folder.join(name))?;
        }
    }
    let unfinished = call
        .folder
        .join(format!(".underfoot-samples.{}", std::process::id()));
    let done = film(call, &unfinished, &names);
    // What failed is told; that its remains could not be removed adds nothing.
    let _ = fs::remove_dir_all(&unfinished);
    done
}

fn film(call: &Samples, unfinished: &Path, names: &[&str]) -> Result<Outcome, Failure> {
    fs::create_dir(unfinished).map_err(|error| write::unwritable(unfinished, &error))?;
    let bars = Bars::new();
    let mut bar = None;
    let filmed = synth::render_samples(unfinished, &mut |name, done, of| {
        let one: &mut Bar = bar.get_or_insert_with(|| bars.clip(Path::new(name)));
        one.frames(Stage::Filming, done, of);
        if done == of {
            one.finish();
            bar = None;
        }
    });
    filmed.map_err(failure)?;
    for name in names {
        for ending in ["mp4", "json"] {
            let file = Path::new(name).with_extension(ending);
            let to = call.folder.join(&file);
            fs::rename(unfinished.join(&file), &to)
                .map_err(|error| write::unwritable(&to, &error))?;
        }
        let clip = call.folder.join(name).with_extension("mp4");
        output::say(&format!("{}\n", clip.display()))?;
    }
    Ok(Outcome::Done)
}

/// A clip or truth of this name may be replaced only where the truth is ours.
fn refuse_others(path: &Path) -> Result<(), Failure> {
    let (clip, truth) = (path.with_extension("mp4"), path.with_extension("json"));
    let is_ours = fs::read(&truth)
        .ok()
        .and_then(|bytes| serde_json::from_slice::<serde_json::Value>(&bytes).ok())
        .is_some_and(|truth| truth.get("generator").is_some_and(|made| made == GENERATOR));
    match [clip, truth].into_iter().find(|file| file.exists()) {
        Some(taken) if !is_ours => Err(Failure {
            message: format!(
                "{} is there already and is no sample of this program; it is left alone",
                taken.display()
            ),
            hint: "name an empty folder, or add --force to replace it".to_owned(),
        }),
        _ => Ok(()),
    }
}
