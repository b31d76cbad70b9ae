//! The floor patch: what the user marks.

use serde::{Deserialize, Serialize};

/// A rectangle of floor with the feet on it, in pixels of the upright picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FloorPatch {
    /// Left edge.
    pub x: u32,
    /// Upper edge.
    pub y: u32,
    /// Width.
    pub w: u32,
    /// Height.
    pub h: u32,
}
