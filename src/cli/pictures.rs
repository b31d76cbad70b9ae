//! Pictures of a measurement: the frames round the events, and the trace.

use std::path::{Path, PathBuf};

use super::write::{self, Existing};
use crate::report::model::Failure;
use crate::report::plot::{Plot, PlotSize};
use crate::workflow::looking::trace_plot;
use crate::workflow::{Measurement, failure};

/// Where the pictures of one clip go.
pub(super) struct Place<'a> {
    /// The folder.
    pub(super) folder: &'a Path,
    /// What their names begin with.
    pub(super) stem: &'a str,
}

impl Place<'_> {
    fn named(&self, ending: &str) -> PathBuf {
        self.folder.join(format!("{}-{ending}", self.stem))
    }
}

/// Writes all pictures of a measurement and returns their paths.
///
/// # Errors
/// The first picture that cannot be drawn or written.
pub(super) fn write(measured: &Measurement, place: &Place) -> Result<Vec<PathBuf>, Failure> {
    let Some(evidence) = &measured.evidence else {
        return Ok(Vec::new());
    };
    let mut written = Vec::new();
    let mut add = |path: PathBuf, bytes: &[u8]| -> Result<(), Failure> {
        write::picture(&path, bytes, Existing::OursOnly)?;
        written.push(path);
        Ok(())
    };
    let jumps = &measured.document.jumps;
    let strips = match &evidence.strips {
        Some(Ok(strips)) => strips.as_slice(),
        Some(Err(failure)) => return Err(failure.clone()),
        None => &[],
    };
    for (jump, png) in jumps.iter().zip(strips) {
        add(place.named(&format!("jump{}.png", jump.number)), png)?;
    }
    if evidence.motion.times_s.len() > 1 {
        let plot = trace_plot(&evidence.motion, jumps, place.stem);
        let plot = Plot::Trace(&plot);
        let svg = plot.svg(PlotSize::PAGE).map_err(failure)?;
        add(place.named("trace.svg"), svg.as_bytes())?;
        let png = plot.png(PlotSize::FINE).map_err(failure)?;
        add(place.named("trace.png"), &png)?;
    }
    // An earlier run may have found more jumps; its pictures would mislead.
    let stale = jumps.len() + 1..;
    write::remove_ours(stale.map(|number| place.named(&format!("jump{number}.png"))));
    Ok(written)
}

/// What names of pictures begin with: the clip's name without its ending, made
/// different where two clips share it.
pub(super) fn stems<'a>(clips: impl IntoIterator<Item = &'a Path>) -> Vec<String> {
    let mut taken: Vec<String> = Vec::new();
    for clip in clips {
        let name = clip.file_stem().unwrap_or(clip.as_os_str());
        let name = name.to_string_lossy().into_owned();
        let mut stem = name.clone();
        let mut number = 1;
        while taken.contains(&stem) {
            number += 1;
            stem = format!("{name}-{number}");
        }
        taken.push(stem);
    }
    taken
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clips_of_the_same_name_get_pictures_of_different_names() {
        let clips = ["a/x.mp4", "b/x.mov", "x-2.mp4", "y.mp4"].map(Path::new);
        assert_eq!(stems(clips), ["x", "x-2", "x-2-2", "y"]);
    }
}
