//! `completions`: what a shell needs in order to complete commands.

use super::args::{self, Completions};
use super::{Outcome, output};
use crate::report::model::Failure;

/// Prints a completion script.
///
/// # Errors
/// When it cannot be written.
pub(super) fn run(call: &Completions) -> Result<Outcome, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(call.shell, &mut args::command(), "underfoot", &mut script);
    output::say(&String::from_utf8_lossy(&script))?;
    Ok(Outcome::Done)
}
