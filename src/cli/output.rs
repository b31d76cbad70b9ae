//! Results to standard output, everything else to standard error.

use std::io::{self, ErrorKind, IsTerminal, Write};
use std::path::Path;

use crate::report::model::Failure;
use crate::report::terminal::{TextOptions, harmless, warning_lines};

/// Writes a result.
///
/// A reader that closes early, as `head` does, has seen enough: that is no
/// failure, and nobody is left to complain to. A full disk is one.
pub(super) fn say(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    let written = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    match written {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Failure {
            message: format!("the result cannot be written ({error})"),
            hint: "make room, or send it elsewhere".to_owned(),
        }),
        _ => Ok(()),
    }
}

/// Writes a remark; if even that fails there is nothing left to do. Names in it steer
/// no terminal.
pub(super) fn murmur(text: &str) {
    let plain = |c: char| match c {
        '\n' => '\n',
        c if c.is_control() => '\u{fffd}',
        c => c,
    };
    let text: String = text.chars().map(plain).collect();
    let _ = io::stderr().lock().write_all(text.as_bytes());
}

/// Writes an error with its remedy, a line each whatever names are in them.
pub(super) fn complain(failure: &Failure) {
    murmur(&format!(
        "error: {}\nhint: {}\n",
        harmless(&failure.message),
        harmless(&failure.hint)
    ));
}

/// A file's name as it can be shown.
pub(super) fn shown(path: &Path) -> String {
    harmless(&path.display().to_string())
}

/// Writes the error of one clip with its remedy.
pub(super) fn complain_of(clip: &str, failure: &Failure) {
    complain(&Failure {
        message: format!("{clip}: {}", failure.message),
        hint: failure.hint.clone(),
    });
}

/// A number of things: `1 trial`, `2 trials`.
pub(super) fn count(number: usize, thing: &str) -> String {
    match number {
        1 => format!("1 {thing}"),
        _ => format!("{number} {thing}s"),
    }
}

/// Writes what a person should know of a clip.
pub(super) fn warn(clip: &str, warnings: &[String]) {
    murmur(&warning_lines(clip, warnings, TextOptions::default()));
}

/// Whether the reader of standard output sees colours and wants them.
pub(super) fn wants_colour() -> bool {
    io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
}
