//! Measures every clip of a folder that has a truth beside it and reports how
//! far the results are from it, per frame rate and in all.
//!
//! `cargo run --release --example accuracy -- FOLDER...`

fn main() {}
