//! Arguments by which `measure` keeps what it measured.

use std::path::PathBuf;

use clap::Args;
use jiff::civil::Date;

use super::{RawLogFile, centimetres, day, kind};
use crate::log::{JumpKind, Stated};
use crate::report::model::Failure;

#[derive(Args)]
#[command(next_help_heading = "Keeping the jumps in the log")]
pub(in crate::cli) struct RawKeep {
    /// Keep the jumps in the log as this athlete's; without it nothing is logged
    #[arg(long, value_name = "NAME")]
    athlete: Option<String>,
    /// Kind of jump: cmj, squat, drop or rebound; cmj unless stated
    #[arg(long, value_name = "KIND", value_parser = kind, requires = "athlete")]
    kind: Option<JumpKind>,
    /// Load beyond the body, in kg
    #[arg(long, value_name = "KG", requires = "athlete")]
    load_kg: Option<f64>,
    /// Height of the box of drop jumps, in cm
    #[arg(long, value_name = "CM", requires = "athlete")]
    drop_height_cm: Option<f64>,
    /// Day of the jumps; else what the clip says, else the day of its file
    #[arg(long, value_name = "DATE", value_parser = day, requires = "athlete")]
    date: Option<Date>,
    /// Remark on these jumps
    #[arg(long, value_name = "TEXT", requires = "athlete")]
    note: Option<String>,
    #[command(flatten)]
    file: RawLogFile,
}

/// Into which log the jumps go, and as whose.
pub(in crate::cli) struct Keep {
    pub(in crate::cli) file: PathBuf,
    pub(in crate::cli) athlete: String,
    pub(in crate::cli) stated: Stated,
    pub(in crate::cli) note: String,
}

impl RawKeep {
    /// What is to be kept, if anything; `loaded` if a load was spoken of.
    pub(in crate::cli) fn checked(self, loaded: bool) -> Result<Option<Keep>, Failure> {
        let usage = |message: &str, hint: &str| Failure {
            message: message.to_owned(),
            hint: hint.to_owned(),
        };
        let Some(athlete) = self.athlete else {
            if self.file.is_stated() {
                let message = "without an athlete nothing is kept";
                return Err(usage(
                    message,
                    "say whose jumps these are with --athlete NAME",
                ));
            }
            return Ok(None);
        };
        if self
            .load_kg
            .is_some_and(|load_kg| !(0.0..=500.0).contains(&load_kg))
        {
            return Err(usage(
                "a load lies between 0 and 500 kg",
                "give it in kg, such as 20",
            ));
        }
        if loaded && self.load_kg.is_none() {
            let message = "a jump with a load is kept with the load's size";
            return Err(usage(message, "say how much it was with --load-kg"));
        }
        if self.drop_height_cm.is_some() && self.kind.is_some_and(|kind| kind != JumpKind::Drop) {
            let message = "only drop jumps have a drop height";
            return Err(usage(
                message,
                "say --kind drop, or leave --drop-height-cm out",
            ));
        }
        let dropped = self.drop_height_cm.map(|_| JumpKind::Drop);
        Ok(Some(Keep {
            file: self.file.checked()?,
            athlete,
            stated: Stated {
                date: self.date,
                kind: self.kind.or(dropped),
                load_kg: self.load_kg,
                drop_height: self.drop_height_cm.map(centimetres),
            },
            note: self.note.unwrap_or_default(),
        }))
    }
}
