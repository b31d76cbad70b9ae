//! How high was that jump? Flight time from an ordinary phone clip, with bounds.
//!
//! The modules stand in the order in which a clip passes through them:
//!
//! ```text
//! clip file -> video -> jump -> trials -> log -> report -> workflow -> page, cli
//! ```
//!
//! Dependencies run leftward only, and no pixel leaves `video`.

pub mod units;
pub mod video;

pub mod jump;

pub mod trials;

pub mod log;

pub mod report;

pub mod workflow;

pub mod page;

pub mod cli;

pub mod synth;
