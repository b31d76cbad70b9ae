//! `inspect`: what a clip is, how it keeps time, how well it could be measured.

use serde::Serialize;

use super::args::Inspect;
use super::files;
use super::{Outcome, output};
use crate::report::model::{Failure, Inspection, SCHEMA};
use crate::report::terminal::{TextOptions, inspection_text};
use crate::workflow::{self, Inspected};

/// One line of JSON for one clip.
#[derive(Serialize)]
struct Line {
    schema: u32,
    clip: String,
    inspection: Option<Inspection>,
    warnings: Vec<String>,
    error: Option<Failure>,
}

/// Inspects the clips one after another.
///
/// # Errors
/// When results cannot be written. Clips that cannot be read are results.
pub(super) fn run(call: &Inspect) -> Result<Outcome, Failure> {
    let mut outcome = Outcome::Done;
    for (at, (path, usable)) in files::clips(&call.clips).into_iter().enumerate() {
        let inspected =
            usable.and_then(|()| workflow::inspect(&path, call.capture_fps, call.threads));
        let clip = path.display().to_string();
        if let Err(failure) = &inspected {
            output::complain_of(&clip, failure);
            outcome = Outcome::Failed;
        }
        let inspected = match inspected {
            Ok(inspected) => {
                output::warn(&clip, &inspected.warnings);
                Ok(inspected)
            }
            failed => failed,
        };
        match (call.json, inspected) {
            (true, inspected) => output::say(&line(clip, inspected)?)?,
            (false, Ok(inspected)) => output::say(&text(&inspected, call, at == 0))?,
            (false, Err(_)) => {}
        }
    }
    Ok(outcome)
}

fn text(inspected: &Inspected, call: &Inspect, first: bool) -> String {
    let options = TextOptions {
        units: call.units,
        details: false,
        colour: output::wants_colour(),
    };
    let gap = if first { "" } else { "\n" };
    format!("{gap}{}", inspection_text(&inspected.inspection, options))
}

fn line(clip: String, inspected: Result<Inspected, Failure>) -> Result<String, Failure> {
    let (inspection, warnings, error) = match inspected {
        Ok(inspected) => (Some(inspected.inspection), inspected.warnings, None),
        Err(failure) => (None, Vec::new(), Some(failure)),
    };
    let line = Line {
        schema: SCHEMA,
        clip,
        inspection,
        warnings,
        error,
    };
    let text = serde_json::to_string(&line).map_err(workflow::failure)?;
    Ok(text + "\n")
}
