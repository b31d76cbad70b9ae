//! Jumps against load.
