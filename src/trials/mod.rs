//! Several jumps: repeatability, change, agreement, load.
