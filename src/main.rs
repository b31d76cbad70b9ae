//! The `underfoot` program: parse, run, print the error, exit.

use std::process::ExitCode;

fn main() -> ExitCode {
    underfoot::cli::run(std::env::args_os())
}
