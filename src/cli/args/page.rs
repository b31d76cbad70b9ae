//! Arguments of the local page.

use std::path::PathBuf;

use clap::Args;

use super::clips::RawUnits;
use super::log::RawLogFile;
use crate::page::Limits;
use crate::report::model::Failure;
use crate::report::terminal::Units;

#[derive(Args)]
#[command(after_help = "\
Example: underfoot page jumps/ --lan
  opens the page on this computer with the clips of a folder, and lets phones on
  the same Wi-Fi in that scan the code in the terminal.")]
pub(in crate::cli) struct RawPage {
    /// Clips, or folders of clips, that are on the page from the start
    #[arg(value_name = "CLIP")]
    clips: Vec<PathBuf>,
    /// Let phones on the same network in that scan the code in the terminal
    #[arg(long)]
    lan: bool,
    /// Port; one that is free unless stated
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    port: u16,
    /// Largest clip that may come in, in MB
    #[arg(long, value_name = "MB", default_value_t = 8192, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    largest_mb: u64,
    /// Most clips that may come in, until some are thrown away
    #[arg(long, value_name = "N", default_value_t = 60, value_parser = clap::value_parser!(u16).range(1..=1000))]
    most_clips: u16,
    /// Threads for measuring; as many as there are cores unless stated
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,
    /// Unit of heights
    #[arg(long, value_name = "UNIT", default_value = "cm")]
    units: RawUnits,
    #[command(flatten)]
    log: RawLogFile,
}

/// Everything `page` needs to know.
pub(in crate::cli) struct Page {
    pub(in crate::cli) clips: Vec<PathBuf>,
    pub(in crate::cli) lan: bool,
    pub(in crate::cli) port: u16,
    pub(in crate::cli) limits: Limits,
    pub(in crate::cli) threads: usize,
    pub(in crate::cli) units: Units,
    pub(in crate::cli) log: PathBuf,
}

impl RawPage {
    pub(super) fn checked(self) -> Result<Page, Failure> {
        let cores = || std::thread::available_parallelism().map_or(1, usize::from);
        let clip_bytes = self.largest_mb.saturating_mul(1_000_000);
        Ok(Page {
            clips: self.clips,
            lan: self.lan,
            port: self.port,
            limits: Limits {
                clip_bytes,
                all_bytes: clip_bytes.saturating_mul(4),
                clips: usize::from(self.most_clips),
            },
            threads: self.threads.map_or_else(cores, usize::from),
            units: self.units.into(),
            log: self.log.checked()?,
        })
    }
}
