//! Everything that sees a pixel: clip file to contact trace.
//!
//! A [`clip::Clip`] is opened, its frames come from [`decode`] in capture
//! order, and [`clock`] turns the container's ticks into moments of the world.

pub mod clip;
pub mod clock;
mod colour;
pub mod decode;
mod doubt;
mod fault;
mod ffmpeg;
mod orient;
pub mod packets;
// Strips and stills are read by stages that follow.
#[allow(dead_code)]
mod plane;
pub mod repeats;
mod spacing;
mod tags;

pub use clip::{Clip, ClipFacts};
pub use clock::{CaptureClock, ClockDoubt, ClockError, ClockReport, ClockSource};
pub use fault::{ClipError, ClipWarning};
pub use ffmpeg::decoder_messages;
