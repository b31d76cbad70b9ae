//! A view on its way out: JSON or text, and its plot.

use std::path::Path;

use serde::Serialize;

use super::args::{Common, PlotFormat};
use super::output;
use super::write::{self, Existing};
use crate::report::model::Failure;
use crate::report::terminal::TextOptions;
use crate::report::views::ViewPlot;
use crate::workflow::failure;

/// Prints a view, after its plot is written: a plot that cannot be is a failure.
///
/// # Errors
/// When the plot or the result cannot be written.
pub(super) fn view<V: Serialize>(
    common: &Common,
    view: &V,
    text: impl FnOnce(TextOptions) -> String,
    plot: impl FnOnce() -> Result<ViewPlot, Failure>,
) -> Result<(), Failure> {
    if let Some((path, format)) = &common.plot {
        write_plot(path, *format, &plot()?)?;
    }
    if common.json {
        let line = serde_json::to_string(view).map_err(failure)?;
        return output::say(&(line + "\n"));
    }
    let options = TextOptions {
        units: common.units,
        details: false,
        colour: output::wants_colour(),
    };
    let mut result = text(options);
    if let Some((path, _)) = &common.plot {
        result += &format!("Plot: {}\n", path.display());
    }
    output::say(&result)
}

fn write_plot(path: &Path, format: PlotFormat, plot: &ViewPlot) -> Result<(), Failure> {
    let bytes = match format {
        PlotFormat::Svg => plot.svg().map(String::into_bytes),
        PlotFormat::Png => plot.png(),
    };
    write::picture(path, &bytes.map_err(failure)?, Existing::OursOnly)
}
