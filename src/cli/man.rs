//! `man`: a manual page for each command.

use clap::Command;
use clap_mangen::Man;

use super::args::{self, Manual};
use super::write::{self, Existing, TEXT_MARK};
use super::{Outcome, output};
use crate::report::model::Failure;

/// Writes all manual pages into a folder.
///
/// # Errors
/// When the folder holds other people's files under these names, or cannot be written.
pub(super) fn run(call: &Manual) -> Result<Outcome, Failure> {
    write::folder(&call.folder)?;
    let mut root = args::command();
    // Gives commands below others their full names.
    root.build();
    pages(&root, call)?;
    Ok(Outcome::Done)
}

/// The page of a command, then those of the commands below it.
fn pages(command: &Command, call: &Manual) -> Result<(), Failure> {
    let name = command.get_display_name().unwrap_or(command.get_name());
    let path = call.folder.join(format!("{name}.1"));
    let mut page = format!(".\\\" {TEXT_MARK}\n").into_bytes();
    let version = concat!("underfoot ", env!("CARGO_PKG_VERSION"));
    Man::new(command.clone())
        .source(version)
        .render(&mut page)
        .map_err(|error| write::unwritable(&path, &error))?;
    write::text(&path, &String::from_utf8_lossy(&page), Existing::OursOnly)?;
    output::say(&format!("{}\n", path.display()))?;
    let visible = command.get_subcommands().filter(|sub| !sub.is_hide_set());
    visible.into_iter().try_for_each(|sub| pages(sub, call))
}
