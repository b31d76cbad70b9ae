//! One jump, without pixels: events, height, uncertainty, flags.
