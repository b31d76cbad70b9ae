//! Everything that sees a pixel: clip file to contact trace.
//!
//! A [`clip::Clip`] is opened, its frames come from [`decode`] in capture
//! order, and [`clock`] turns the container's ticks into moments of the world.
//! [`contact`] watches the floor patch and keeps what moved there, without pixels.

mod agree;
mod arc;
mod body;
pub mod clip;
pub mod clock;
mod coarse;
mod colour;
pub mod contact;
mod container;
pub mod decode;
mod doubt;
mod fault;
mod ffmpeg;
mod film;
mod grey;
mod hinge;
pub mod kept;
mod keys;
mod likeness;
mod linear;
mod motion;
mod orient;
pub mod packets;
pub mod patch;
mod pick;
mod pieces;
// Strips and stills are read by stages that follow.
#[allow(dead_code)]
mod plane;
pub mod repeats;
mod rest;
mod sight;
mod spacing;
mod stance;
pub mod still;
pub mod suggest;
mod tags;
mod template;
mod tiles;
#[doc(hidden)]
pub mod timed;
mod tracker;
mod trail;
mod watch;
mod zone;

pub(crate) use crate::trace::FREE_FALL;
pub use agree::FootEvent;
pub use body::{BodyFlight, BodyPath};
pub use clip::{Clip, ClipFacts};
pub use clock::{CaptureClock, ClockDoubt, ClockError, ClockReport, ClockSource};
pub use contact::{ContactTrace, FootFlight, Leap};
pub use fault::{ClipError, ClipWarning};
pub use ffmpeg::decoder_messages;
pub use patch::{FloorPatch, PatchError, PatchSpec};
pub use sight::Sight;
pub use suggest::{Suggestion, suggest};
pub use tiles::{Path, PathPoint};
pub use watch::{Watched, watch, watch_everything, watch_where_needed};
