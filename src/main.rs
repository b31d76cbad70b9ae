//! The `underfoot` program: parse, run, print the error, exit.

fn main() {}
