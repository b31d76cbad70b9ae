//! Arguments of what sets the program up: completions and manual pages.

use std::path::PathBuf;

use clap::Args;
use clap_complete::Shell;

/// Which shell.
#[derive(Args)]
#[command(after_help = "\
Example: underfoot completions bash > ~/.local/share/bash-completion/completions/underfoot")]
pub(in crate::cli) struct Completions {
    /// The shell
    pub(in crate::cli) shell: Shell,
}

/// Where manual pages go.
#[derive(Args)]
#[command(after_help = "\
Example: underfoot man ~/.local/share/man/man1
  then `man underfoot-change` shows the page.")]
pub(in crate::cli) struct Manual {
    /// The folder; made if it is not there
    #[arg(value_name = "DIR")]
    pub(in crate::cli) folder: PathBuf,
}
