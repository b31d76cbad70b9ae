//! Everything that sees a pixel: clip file to contact trace.
//!
//! A [`clip::Clip`] is opened, its frames come from [`decode`] in capture
//! order, and [`clock`] turns the container's ticks into moments of the world.

pub mod clip;
pub mod decode;
mod ffmpeg;
mod orient;
pub mod packets;
mod plane;
mod tags;

pub use clip::{Clip, ClipError, ClipFacts, ClipWarning};
pub use ffmpeg::decoder_messages;
