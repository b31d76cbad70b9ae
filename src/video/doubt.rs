//! What can be wrong with a clip's clock, and what leaves it in doubt.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Why a clip's times cannot be used, and what to do about it.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ClockError {
    /// Nothing to measure between.
    #[error("the clip has {0} frame(s) — a jump needs many: give the whole clip")]
    TooFewFrames(usize),
    /// All frames at one moment.
    #[error("all frames carry the same time — export the clip again, keeping its times")]
    TimeStandsStill,
    /// Fewer pictures were taken than are shown.
    #[error(
        "the tag {tag} says {tagged_fps:.3} frames a second were taken and the file shows \
         {measured_fps:.3}: this is time lapse — record at normal or slow-motion speed"
    )]
    TimeLapse {
        /// Name of the tag.
        tag: String,
        /// Rate it names.
        tagged_fps: f64,
        /// Rate of the file's own stamps.
        measured_fps: f64,
    },
    /// A capture rate given by hand that is no rate.
    #[error("{0} frames a second is not a capture rate — give the camera's setting, such as 240")]
    NoRate(f64),
    /// A capture rate given by hand below what the file holds.
    #[error(
        "the file holds {measured_fps:.3} frames a second, more than the {stated_fps} said to \
         have been taken — leave the rate out, or give the camera's setting"
    )]
    BelowPlayback {
        /// What was given by hand.
        stated_fps: f64,
        /// Rate of the file's own stamps.
        measured_fps: f64,
    },
}

/// Why the speed of the clock is in doubt, though a clip can be measured.
#[derive(Clone, Debug, PartialEq, Error, Serialize, Deserialize)]
pub enum ClockDoubt {
    /// The tag names a rate that is neither the file's nor a stretched one.
    #[error(
        "the tag {tag} says {tagged_fps:.3} frames a second, the file's times {measured_fps:.3}; \
         the file's times are used — state the capture rate if the clip plays in slow motion"
    )]
    TagDisagrees {
        /// Name of the tag.
        tag: String,
        /// Rate it names.
        tagged_fps: f64,
        /// Rate of the file's own stamps.
        measured_fps: f64,
    },
    /// A stretch that poor light would explain just as well.
    #[error(
        "the clip is taken as slowed {stretch:.2} times by its tag of {tagged_fps:.3} frames a \
         second; a camera short of light may have lowered its rate instead — look whether it \
         plays slowly, and state the capture rate"
    )]
    MayBePoorLight {
        /// Rate that the tag names.
        tagged_fps: f64,
        /// Stretch that is used.
        stretch: f64,
    },
    /// A stretch that is not made of two usual rates.
    #[error(
        "the clip is taken as slowed {stretch:.3} times, an odd factor — state the capture rate \
         if you know it"
    )]
    OddStretch {
        /// Stretch that is used.
        stretch: f64,
    },
    /// A person and a tag say different things.
    #[error(
        "the capture rate stated by hand, {stated_fps}, contradicts the tag {tag} with \
         {tagged_fps:.3}; the stated one is used — check the camera's setting"
    )]
    StatedContradictsTag {
        /// What was stated.
        stated_fps: f64,
        /// Name of the tag.
        tag: String,
        /// Rate it names.
        tagged_fps: f64,
    },
    /// A tag that holds no number.
    #[error(
        "the tag {tag} holds no usable number ({value:?}) — state the capture rate if the clip \
         plays in slow motion"
    )]
    TagUnreadable {
        /// Name of the tag.
        tag: String,
        /// What it holds.
        value: String,
    },
}
