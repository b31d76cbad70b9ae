//! How high was that jump? Flight time from an ordinary phone clip, with bounds.
//!
//! The modules stand in the order in which a clip passes through them:
//!
//! ```text
//! clip file -> video -> (trace) -> jump -> trials -> log -> report -> workflow -> page, cli
//! ```
//!
//! Dependencies run leftward only, and no pixel leaves `video`.
//!
//! What needs no picture (`units`, `trace`, `jump`, `trials`) is there without the feature
//! `video`, and then without FFmpeg.

pub mod units;

pub mod trace;

#[cfg(feature = "video")]
pub mod video;

pub mod jump;

pub mod trials;

#[cfg(feature = "video")]
pub mod log;

#[cfg(feature = "video")]
pub mod report;

#[cfg(feature = "video")]
pub mod workflow;

#[cfg(feature = "video")]
pub mod page;

#[cfg(feature = "video")]
pub mod cli;

#[cfg(feature = "video")]
pub mod synth;
