//! Arguments: what was typed becomes what is meant, before any work begins.

use std::ffi::OsString;
use std::path::PathBuf;

use clap::error::ErrorKind;
use clap::{Args, Parser, Subcommand, ValueEnum};

use super::workflow::{MeasureOptions, wording};
use super::{Outcome, output};
use crate::jump::Gravity;
use crate::report::model::Failure;
use crate::report::terminal::Units;
use crate::video::PatchSpec;

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

/// Shown to a person who typed nothing but the program's name.
const WELCOME: &str = "\
underfoot measures how high a person jumped, from an ordinary clip.

  underfoot measure jump.mp4     how high, with bounds
  underfoot mark jump.mp4        show the floor with a ruler, to mark the feet by
  underfoot inspect jump.mp4     what the clip is, how well it can be measured
  underfoot samples DIR          film sample clips to try it with

hint: begin with `underfoot measure` and a clip; `underfoot --help` tells more
";

#[derive(Subcommand)]
enum RawCommand {
    /// Measure the jumps in clips
    Measure(RawMeasure),
    /// Show what a clip is, how it keeps time and how well it can be measured
    Inspect(RawInspect),
    /// Write a still with a pixel ruler and suggest a floor patch
    Mark(RawMark),
    /// Film the sample clips, whose truth is known
    Samples(RawSamples),
}

#[derive(Clone, Copy, ValueEnum)]
enum RawUnits {
    Cm,
    In,
}

impl From<RawUnits> for Units {
    fn from(raw: RawUnits) -> Self {
        match raw {
            RawUnits::Cm => Units::Metric,
            RawUnits::In => Units::Imperial,
        }
    }
}

#[derive(Args)]
struct RawMeasure {
    /// Clips, or folders of clips
    #[arg(value_name = "CLIP", required = true)]
    clips: Vec<PathBuf>,
    /// Where the feet stand, in pixels of the upright picture or per cent of it;
    /// kept beside the clip for next time
    #[arg(long, value_name = "X,Y,W,H", value_parser = PatchSpec::parse)]
    floor: Option<PatchSpec>,
    /// Keep nothing beside the clips
    #[arg(long)]
    no_keep: bool,
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

#[derive(Args)]
struct RawInspect {
    /// Clips, or folders of clips
    #[arg(value_name = "CLIP", required = true)]
    clips: Vec<PathBuf>,
    #[command(flatten)]
    clock: RawClock,
    /// Print one line of JSON for each clip
    #[arg(long)]
    json: bool,
    /// Unit of heights in the text
    #[arg(long, value_name = "UNIT", default_value = "cm")]
    units: RawUnits,
}

#[derive(Args)]
struct RawMark {
    /// The clip
    clip: PathBuf,
    /// Draw this patch, and keep it beside the clip, instead of suggesting one
    #[arg(long, value_name = "X,Y,W,H", value_parser = PatchSpec::parse)]
    floor: Option<PatchSpec>,
    /// The picture's name; CLIP with the ending .mark.png unless stated
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Overwrite a picture that this program did not make
    #[arg(long)]
    force: bool,
    /// Keep the suggestion beside the clip, as if it had been looked at
    #[arg(long)]
    keep: bool,
    #[command(flatten)]
    clock: RawClock,
}

#[derive(Args)]
struct RawSamples {
    /// The folder; made if it is not there
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Overwrite files that this program did not make
    #[arg(long)]
    force: bool,
}

/// A command that can be carried out.
pub(super) enum Command {
    /// Measure clips.
    Measure(Measure),
    /// Say what clips are.
    Inspect(Inspect),
    /// Write a still and suggest a patch.
    Mark(Mark),
    /// Film the samples.
    Samples(Samples),
}

/// Everything `inspect` needs to know.
pub(super) struct Inspect {
    pub(super) clips: Vec<PathBuf>,
    pub(super) capture_fps: Option<f64>,
    pub(super) threads: usize,
    pub(super) json: bool,
    pub(super) units: Units,
}

/// Everything `mark` needs to know.
pub(super) struct Mark {
    pub(super) clip: PathBuf,
    pub(super) floor: Option<PatchSpec>,
    pub(super) out: Option<PathBuf>,
    pub(super) force: bool,
    pub(super) keep: bool,
    pub(super) capture_fps: Option<f64>,
    pub(super) threads: usize,
}

/// Everything `samples` needs to know.
pub(super) struct Samples {
    pub(super) folder: PathBuf,
    pub(super) force: bool,
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
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    if arguments.len() < 2 {
        output::murmur(WELCOME);
        return Err(Outcome::Failed);
    }
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
        _ => {
            output::complain(&one_line(&error.render().to_string()));
            Outcome::Failed
        }
    }
}

/// What the parser says, without its usage and over one line.
fn one_line(text: &str) -> Failure {
    let parts: Vec<String> = text
        .split("\n\n")
        .map(|part| part.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    let tip = parts.iter().find_map(|part| part.strip_prefix("tip: "));
    let message = parts.first().map_or("", String::as_str);
    Failure {
        message: message.trim_start_matches("error: ").to_owned(),
        hint: match tip {
            Some(tip) => format!("{tip}; `underfoot --help` tells more"),
            None => "see `underfoot --help`".to_owned(),
        },
    }
}

fn checked(raw: RawCommand) -> Result<Command, Failure> {
    Ok(match raw {
        RawCommand::Measure(raw) => Command::Measure(measure(raw)?),
        RawCommand::Inspect(raw) => Command::Inspect(Inspect {
            clips: raw.clips,
            capture_fps: capture_fps(&raw.clock)?,
            threads: threads(&raw.clock),
            json: raw.json,
            units: raw.units.into(),
        }),
        RawCommand::Mark(raw) => Command::Mark(Mark {
            clip: raw.clip,
            floor: raw.floor,
            out: raw.out,
            force: raw.force,
            keep: raw.keep,
            capture_fps: capture_fps(&raw.clock)?,
            threads: threads(&raw.clock),
        }),
        RawCommand::Samples(raw) => Command::Samples(Samples {
            folder: raw.folder,
            force: raw.force,
        }),
    })
}

fn measure(raw: RawMeasure) -> Result<Measure, Failure> {
    let gravity = match (raw.gravity, raw.latitude) {
        (Some(value), _) => Gravity::stated(value),
        (None, Some(latitude)) => Gravity::at_latitude(latitude, raw.altitude.unwrap_or(0.0)),
        (None, None) => Ok(Gravity::standard()),
    };
    let options = MeasureOptions {
        floor: raw.floor,
        keep: !raw.no_keep,
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
        units: raw.units.into(),
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
