//! Plots into the file that was named.

use std::path::{Path, PathBuf};

use super::write::{self, Existing};
use crate::report::model::Failure;
use crate::report::plot::scatter::Scatter;
use crate::report::plot::{Plot, PlotSize};
use crate::workflow;

/// Accepts names whose ending says what is wanted.
pub(super) fn named(path: PathBuf) -> Result<PathBuf, Failure> {
    let ending = path.extension().and_then(|ending| ending.to_str());
    match ending.map(str::to_lowercase).as_deref() {
        Some("svg" | "png") => Ok(path),
        _ => Err(Failure {
            message: format!("{} does not say what kind of plot it is", path.display()),
            hint: "end the name in .svg or .png".to_owned(),
        }),
    }
}

/// Draws into a file, over an earlier plot of this program only.
pub(super) fn write(path: &Path, scatter: &Scatter) -> Result<(), Failure> {
    let plot = Plot::Scatter(scatter);
    let is_png = path
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("png"));
    let bytes = if is_png {
        plot.png(PlotSize::FINE).map_err(workflow::failure)?
    } else {
        let svg = plot.svg(PlotSize::PAGE).map_err(workflow::failure)?;
        svg.into_bytes()
    };
    write::picture(path, &bytes, Existing::OursOnly)
}
