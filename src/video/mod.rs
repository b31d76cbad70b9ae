//! Everything that sees a pixel: clip file to contact trace.

pub mod still;
