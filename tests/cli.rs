//! The program as a whole: what is typed, what comes out, which code it exits with.

#[path = "cli/bad_input.rs"]
mod bad_input;
#[path = "cli/bench.rs"]
mod bench;
#[path = "cli/first_guesses.rs"]
mod first_guesses;
#[path = "cli/measuring.rs"]
mod measuring;
#[path = "cli/other_commands.rs"]
mod other_commands;
#[path = "cli/pictures.rs"]
mod pictures;
mod support;
