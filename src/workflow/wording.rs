//! Warnings and errors of the stages in words for people.

use std::fmt::Display;

use crate::jump::JumpError;
use crate::report::model::Failure;
use crate::video::{BodyFlight, ClipFacts, ClockReport, Watched};

/// An error that says what is wrong and, after a dash or the like, what to do.
pub fn failure(error: impl Display) -> Failure {
    let text = error.to_string();
    let parts = ["\nhint: ", " — ", "; "]
        .into_iter()
        .find_map(|between| text.split_once(between));
    let (message, hint) = parts.unwrap_or((&text, "look whether the clip plays elsewhere"));
    Failure {
        message: message.to_owned(),
        hint: hint.to_owned(),
    }
}

pub fn jump_failure(error: JumpError) -> Failure {
    Failure {
        message: error.to_string(),
        hint: error.remedy().to_owned(),
    }
}

pub(super) fn of_clip(facts: &ClipFacts) -> Vec<String> {
    facts.warnings.iter().map(|w| w.to_string()).collect()
}

pub(super) fn of_clock(report: &ClockReport) -> Vec<String> {
    let mut warnings = Vec::new();
    if let Some(doubt) = &report.doubt {
        warnings.push(doubt.to_string());
    }
    let dropped = report.dropped_count();
    if dropped > 0 {
        let places = report.dropped.len();
        warnings.push(format!(
            "the camera left out {} in {}; times are kept, bounds there are wider",
            counted(dropped, "frame"),
            counted(places as u64, "place")
        ));
    }
    if !report.repeated.is_empty() {
        let count = report.repeated.len() as u64;
        warnings.push(format!(
            "{} no later than the one before; the clip was cut or converted — use the \
             original file",
            if count == 1 {
                "1 frame is stamped".to_owned()
            } else {
                format!("{count} frames are stamped")
            }
        ));
    }
    warnings
}

pub(super) fn of_decoding(watched: &Watched) -> Vec<String> {
    let (summary, repeats) = (&watched.summary, &watched.repeats);
    let mut warnings = Vec::new();
    if let Some(short_s) = summary.ends_early_s {
        warnings.push(format!(
            "the clip ends {short_s:.1} s before its stated end: the copy was cut short — copy \
             it from the phone again"
        ));
    }
    if !summary.corrupt.is_empty() {
        warnings.push(format!(
            "{} damaged — copy the clip from the phone again",
            is_are(summary.corrupt.len() as u64)
        ));
    }
    if summary.missing > 0 {
        warnings.push(format!(
            "{} listed in the file and could not be decoded — copy the clip from the phone again",
            is_are(summary.missing)
        ));
    }
    if summary.errors > 0 && summary.corrupt.is_empty() && summary.missing == 0 {
        warnings.push(format!(
            "the decoder met {} — copy the clip from the phone again",
            counted(summary.errors, "damaged place")
        ));
    }
    if let Some(period) = repeats.period() {
        warnings.push(format!(
            "every {period:.0}th frame shows the picture before it: the clip was converted from \
             another frame rate — use the original file"
        ));
    }
    warnings
}

/// Where a body flew and no feet could be followed; `None` where none clearly did.
pub(super) fn of_unseen_feet(flights: &[BodyFlight]) -> Option<String> {
    const LEAST_S: f64 = 0.25;
    let clear = |flight: &&BodyFlight| flight.is_clear() && flight.length_s() >= LEAST_S;
    let flight = flights
        .iter()
        .filter(clear)
        .max_by(|a, b| a.straight.total_cmp(&b.straight))?;
    Some(format!(
        "a body was in the air for about {:.1} s from {:.1} s on, but the feet could not be \
         followed there — mark the patch on the shoes, or film again with shoes unlike the floor",
        flight.length_s(),
        flight.takeoff_s(),
    ))
}

fn counted(count: u64, noun: &str) -> String {
    match count {
        1 => format!("1 {noun}"),
        _ => format!("{count} {noun}s"),
    }
}

fn is_are(frames: u64) -> String {
    match frames {
        1 => "1 frame is".to_owned(),
        _ => format!("{frames} frames are"),
    }
}
