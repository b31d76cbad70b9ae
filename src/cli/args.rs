//! Arguments: what was typed becomes what is meant, before any work begins.

use std::ffi::OsString;
use std::path::PathBuf;

use clap::error::ErrorKind;
use clap::{Args, Parser, Subcommand, ValueEnum};

use super::floor::FloorSpec;
use super::workflow::{MeasureOptions, wording};
use super::{Outcome, output};
use crate::jump::Gravity;
use crate::report::model::Failure;
use crate::report::terminal::Units;

#[derive(Parser)]
#[command(name = "underfoot", version, about, long_about = None, propagate_version = false)]
#[command(disable_help_subcommand = true, after_help = AFTER_HELP)]
struct Raw {
    #[command(subcommand)]
    command: RawCommand,
    /// Let FFmpeg's own messages through
    #[arg(short, long, global = true)]
    verbose: bool,
}

const AFTER_HELP: &str = "\
Exit status: 0 done, at least one jump can be used; 1 no jump that can be used; \
2 wrong call or failure.";

#[derive(Subcommand)]
enum RawCommand {
    /// Measure the jumps in clips
    Measure(RawMeasure),
}

#[derive(Clone, Copy, ValueEnum)]
enum RawUnits {
    Cm,
    In,
}

#[derive(Args)]
struct RawMeasure {
    /// Clips, or folders of clips
    #[arg(value_name = "CLIP", required = true)]
    clips: Vec<PathBuf>,
    /// Where the feet stand, in pixels of the upright picture
    #[arg(long, value_name = "X,Y,W,H", value_parser = FloorSpec::parse)]
    floor: Option<FloorSpec>,
    #[command(flatten)]
    clock: RawClock,
    /// Gravity at the place of the jump, in m/s²; 9.80665 unless stated
    #[arg(long, value_name = "M/S2", conflicts_with = "latitude")]
    gravity: Option<f64>,
    /// Latitude in degrees, south negative, to work gravity out from
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true)]
    latitude: Option<f64>,
    /// Altitude above sea level in metres, beside the latitude
    #[arg(
        long,
        value_name = "M",
        requires = "latitude",
        allow_negative_numbers = true
    )]
    altitude: Option<f64>,
    /// The athlete jumped with an extra load
    #[arg(long)]
    loaded: bool,
    /// Print one line of JSON for each clip
    #[arg(long)]
    json: bool,
    /// Take the uncertainty apart, source by source
    #[arg(long, conflicts_with = "json")]
    details: bool,
    /// Write pictures of each jump and of the contact trace into this folder
    #[arg(long, value_name = "DIR")]
    pictures: Option<PathBuf>,
    /// Unit of heights in the text
    #[arg(long, value_name = "UNIT", default_value = "cm")]
    units: RawUnits,
}

/// What every command that reads clips takes.
#[derive(Args)]
struct RawClock {
    /// The camera's setting in frames per second, for slow motion that does not say so
    #[arg(long, value_name = "FPS")]
    capture_fps: Option<f64>,
    /// Threads in all; as many as there are cores unless stated
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,
}

/// A command that can be carried out.
pub(super) enum Command {
    /// Measure clips.
    Measure(Measure),
}

/// Everything `measure` needs to know.
pub(super) struct Measure {
    pub(super) clips: Vec<PathBuf>,
    pub(super) options: MeasureOptions,
    pub(super) json: bool,
    pub(super) details: bool,
    pub(super) units: Units,
    pub(super) pictures: Option<PathBuf>,
    /// Threads for all clips together.
    pub(super) threads: usize,
}

/// Reads the arguments; what cannot be used is complained of here.
pub(super) fn parse(arguments: impl IntoIterator<Item = OsString>) -> Result<Command, Outcome> {
    let raw = Raw::try_parse_from(arguments).map_err(explain)?;
    crate::video::decoder_messages(raw.verbose);
    checked(raw.command).map_err(|failure| {
        output::complain(&failure);
        Outcome::Failed
    })
}

/// Help and version go to standard output, complaints with a hint to standard error.
fn explain(error: clap::Error) -> Outcome {
    match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
            match output::say(&error.render().to_string()) {
                Ok(()) => Outcome::Done,
                Err(_) => Outcome::Failed,
            }
        }
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            output::murmur(&error.render().to_string());
            Outcome::Failed
        }
        _ => {
            let text = error.render().to_string();
            let text = text.split("\nFor more information").next().unwrap_or(&text);
            output::murmur(&format!(
                "{}\nhint: see `underfoot --help`\n",
                text.trim_end()
            ));
            Outcome::Failed
        }
    }
}

fn checked(raw: RawCommand) -> Result<Command, Failure> {
    match raw {
        RawCommand::Measure(raw) => measure(raw).map(Command::Measure),
    }
}

fn measure(raw: RawMeasure) -> Result<Measure, Failure> {
    let gravity = match (raw.gravity, raw.latitude) {
        (Some(value), _) => Gravity::stated(value),
        (None, Some(latitude)) => Gravity::at_latitude(latitude, raw.altitude.unwrap_or(0.0)),
        (None, None) => Ok(Gravity::standard()),
    };
    let options = MeasureOptions {
        floor: raw.floor,
        capture_fps: capture_fps(&raw.clock)?,
        gravity: gravity.map_err(wording::jump_failure)?,
        threads: 1,
        loaded: raw.loaded,
    };
    Ok(Measure {
        clips: raw.clips,
        options,
        json: raw.json,
        details: raw.details,
        units: match raw.units {
            RawUnits::Cm => Units::Metric,
            RawUnits::In => Units::Imperial,
        },
        pictures: raw.pictures,
        threads: threads(&raw.clock),
    })
}

fn capture_fps(raw: &RawClock) -> Result<Option<f64>, Failure> {
    match raw.capture_fps {
        Some(fps) if !(1.0..=100_000.0).contains(&fps) => Err(Failure {
            message: format!("{fps} frames a second is not a capture rate"),
            hint: "give the camera's setting, such as --capture-fps 240".to_owned(),
        }),
        fps => Ok(fps),
    }
}

fn threads(raw: &RawClock) -> usize {
    raw.threads.map_or_else(
        || std::thread::available_parallelism().map_or(1, usize::from),
        usize::from,
    )
}
