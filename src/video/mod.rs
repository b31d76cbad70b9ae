//! Everything that sees a pixel: clip file to contact trace.
//!
//! A [`clip::Clip`] is opened, its frames come from [`decode`] in capture
//! order, and [`clock`] turns the container's ticks into moments of the world.
//! [`contact`] watches the floor patch and keeps what moved there, without pixels.

mod agree;
mod arc;
pub mod clip;
pub mod clock;
mod colour;
pub mod contact;
pub mod decode;
mod doubt;
mod fault;
mod ffmpeg;
mod grey;
mod hinge;
mod motion;
mod orient;
pub mod packets;
pub mod patch;
// Strips and stills are read by stages that follow.
#[allow(dead_code)]
mod plane;
pub mod repeats;
mod spacing;
mod tags;
mod tiles;
mod zone;

pub use agree::FootEvent;
pub use clip::{Clip, ClipFacts};
pub use clock::{CaptureClock, ClockDoubt, ClockError, ClockReport, ClockSource};
pub use contact::{ContactTrace, Leap};
pub use fault::{ClipError, ClipWarning};
pub use ffmpeg::decoder_messages;
pub use tiles::{Path, PathPoint};

/// Private trial: raw grey file through the detector.
pub fn trial(path: &str, n: usize, size: (u32, u32), patch: patch::FloorPatch, times: &[f64]) -> contact::ContactTrace {
    let raw = std::fs::read(path).unwrap();
    let zone = zone::Zone::new(patch, size);
    let mut watch = contact::Watch::new(zone);
    let (w, h) = (size.0 as usize, size.1 as usize);
    let mut luma = Vec::new();
    for k in 0..n {
        luma.clear();
        for y in zone.y..zone.y + zone.h {
            let at = k * w * h + y as usize * w + zone.x as usize;
            luma.extend(raw[at..at + zone.w as usize].iter().map(|&v| u16::from(v)));
        }
        watch.push(times[k], &luma, 8);
    }
    watch.finish()
}
