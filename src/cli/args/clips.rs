//! Arguments of the commands that take clips.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::log::{Keep, RawKeep};
#[cfg(not(feature = "parquet"))]
use crate::cli::measure::no_parquet;
use crate::cli::measure::{Out, Shard};
use crate::jump::Gravity;
use crate::report::model::Failure;
use crate::report::terminal::Units;
use crate::units::Metres;
use crate::video::PatchSpec;
use crate::workflow::{MeasureOptions, wording};

#[derive(Clone, Copy, ValueEnum)]
pub(super) enum RawUnits {
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
#[command(after_help = "Example: underfoot measure jumps/ --athlete \"Mia Vogel\" --load-kg 20")]
pub(super) struct RawMeasure {
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
    /// Decode every frame, even where nothing happens; slower, same result
    #[arg(long)]
    full: bool,
    /// The athlete jumped with an extra load
    #[arg(long)]
    loaded: bool,
    /// The athlete's stature in cm, to check the clip's clock by free fall
    #[arg(long, value_name = "CM")]
    stature_cm: Option<f64>,
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
    /// Keep the results in this file as well: lines of JSON (.jsonl) as they come, or a
    /// table (.parquet) made at the end from such lines beside it
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Go on with the results file of a run that broke off; clips that have not changed
    /// are not measured again
    #[arg(long, requires = "out")]
    resume: bool,
    /// Measure only part I of N of the clips, for several machines
    #[arg(long, value_name = "I/N")]
    shard: Option<Shard>,
    // Last, since its heading holds for all that follow.
    #[command(flatten)]
    keep: RawKeep,
}

/// What every command that reads clips takes.
#[derive(Args)]
pub(super) struct RawClock {
    /// The camera's setting in frames per second, for slow motion that does not say so
    #[arg(long, value_name = "FPS")]
    capture_fps: Option<f64>,
    /// Threads in all; as many as there are cores unless stated
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,
}

#[derive(Args)]
pub(super) struct RawInspect {
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
pub(super) struct RawMark {
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
pub(super) struct RawSamples {
    /// The folder; made if it is not there
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Overwrite files that this program did not make
    #[arg(long)]
    force: bool,
}

/// Everything `inspect` needs to know.
pub(in crate::cli) struct Inspect {
    pub(in crate::cli) clips: Vec<PathBuf>,
    pub(in crate::cli) capture_fps: Option<f64>,
    pub(in crate::cli) threads: usize,
    pub(in crate::cli) json: bool,
    pub(in crate::cli) units: Units,
}

/// Everything `mark` needs to know.
pub(in crate::cli) struct Mark {
    pub(in crate::cli) clip: PathBuf,
    pub(in crate::cli) floor: Option<PatchSpec>,
    pub(in crate::cli) out: Option<PathBuf>,
    pub(in crate::cli) force: bool,
    pub(in crate::cli) keep: bool,
    pub(in crate::cli) capture_fps: Option<f64>,
    pub(in crate::cli) threads: usize,
}

/// Everything `samples` needs to know.
pub(in crate::cli) struct Samples {
    pub(in crate::cli) folder: PathBuf,
    pub(in crate::cli) force: bool,
}

/// Everything `measure` needs to know.
pub(in crate::cli) struct Measure {
    pub(in crate::cli) clips: Vec<PathBuf>,
    pub(in crate::cli) options: MeasureOptions,
    pub(in crate::cli) json: bool,
    pub(in crate::cli) details: bool,
    pub(in crate::cli) units: Units,
    pub(in crate::cli) pictures: Option<PathBuf>,
    /// The results file, if there is to be one.
    pub(in crate::cli) out: Option<Out>,
    /// Which part of the clips; `None` for all.
    pub(in crate::cli) shard: Option<Shard>,
    /// Into which log, and as whose; `None` to keep nothing.
    pub(in crate::cli) keep: Option<Keep>,
    /// Threads for all clips together.
    pub(in crate::cli) threads: usize,
}

impl RawMeasure {
    pub(super) fn checked(self) -> Result<Measure, Failure> {
        let gravity = match (self.gravity, self.latitude) {
            (Some(value), _) => Gravity::stated(value),
            (None, Some(latitude)) => Gravity::at_latitude(latitude, self.altitude.unwrap_or(0.0)),
            (None, None) => Ok(Gravity::standard()),
        };
        let keep = self.keep.checked(self.loaded)?;
        let with_load = keep.as_ref().and_then(|keep| keep.stated.load_kg);
        let options = MeasureOptions {
            floor: self.floor,
            keep: !self.no_keep,
            capture_fps: capture_fps(&self.clock)?,
            gravity: gravity.map_err(wording::jump_failure)?,
            threads: 1,
            full: self.full,
            loaded: self.loaded || with_load.is_some_and(|load_kg| load_kg > 0.0),
            stature: stature(self.stature_cm)?,
            pictures: None,
            by_hand: false,
        };
        Ok(Measure {
            clips: self.clips,
            options,
            json: self.json,
            details: self.details,
            units: self.units.into(),
            pictures: self.pictures,
            out: self.out.map(|file| out(file, self.resume)).transpose()?,
            shard: self.shard,
            keep,
            threads: threads(&self.clock),
        })
    }
}

impl RawInspect {
    pub(super) fn checked(self) -> Result<Inspect, Failure> {
        Ok(Inspect {
            clips: self.clips,
            capture_fps: capture_fps(&self.clock)?,
            threads: threads(&self.clock),
            json: self.json,
            units: self.units.into(),
        })
    }
}

impl RawMark {
    pub(super) fn checked(self) -> Result<Mark, Failure> {
        Ok(Mark {
            clip: self.clip,
            floor: self.floor,
            out: self.out,
            force: self.force,
            keep: self.keep,
            capture_fps: capture_fps(&self.clock)?,
            threads: threads(&self.clock),
        })
    }
}

impl RawSamples {
    pub(super) fn checked(self) -> Samples {
        Samples {
            folder: self.folder,
            force: self.force,
        }
    }
}

/// The results file and what goes with it, by the ending of its name.
fn out(file: PathBuf, resume: bool) -> Result<Out, Failure> {
    let ending = file.extension().unwrap_or_default().to_ascii_lowercase();
    match ending.to_str() {
        Some("jsonl") => Ok(Out {
            lines: file,
            table: None,
            resume,
        }),
        #[cfg(not(feature = "parquet"))]
        Some("parquet") => Err(no_parquet(&file)),
        #[cfg(feature = "parquet")]
        Some("parquet") => Ok(Out {
            lines: file.with_extension("jsonl"),
            table: Some(file),
            resume,
        }),
        _ => Err(Failure {
            message: format!("{} is no name for results", file.display()),
            hint: "end it in .jsonl for lines of JSON, or in .parquet for a table".to_owned(),
        }),
    }
}

fn stature(cm: Option<f64>) -> Result<Option<Metres>, Failure> {
    match cm {
        Some(cm) if !(80.0..=250.0).contains(&cm) => Err(Failure {
            message: format!("nobody who jumps is {cm} cm tall"),
            hint: "give the stature in centimetres, such as --stature-cm 172".to_owned(),
        }),
        cm => Ok(cm.map(|cm| Metres::from_metres(cm / 100.0))),
    }
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
