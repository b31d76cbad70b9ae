//! Several jumps: repeatability, change, agreement, load.

pub mod load;
pub mod mat;
