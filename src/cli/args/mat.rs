//! Arguments of the comparison with a jump mat.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use jiff::civil::Date;

use super::clips::RawUnits;
use super::log::{RawLogFile, day};
use crate::cli::scatter;
use crate::report::model::Failure;
use crate::report::terminal::Units;
use crate::trials::mat::{CrosscheckOptions, HeightFormula, LimitsRule};
use crate::units::{Acceleration, Metres, Span};
use crate::workflow::crosscheck::readings::{MatScale, Quantity};

const EXAMPLE: &str = "\
Example: twelve jumps on the mat, filmed and measured, the mat's times in a table
  underfoot measure --json clips/ > film.jsonl
  underfoot crosscheck film.jsonl --readings mat.csv --plot agreement.svg

Columns of the table: time_ms, height_cm or height_in; and to find the jump either
clip (and jump), or, with the log, athlete, date and order. Without those the first
row belongs to the first jump.";

#[derive(Clone, Copy, ValueEnum)]
enum RawLimits {
    /// Mean ± 1.96 standard deviations (Bland and Altman 1999)
    #[value(name = "1999")]
    Of1999,
    /// Mean ± 2 standard deviations (Bland and Altman 1986)
    #[value(name = "1986")]
    Of1986,
}

#[derive(Args)]
#[command(after_help = EXAMPLE)]
pub(super) struct RawCrosscheck {
    /// Results of `measure --json`, - for standard input; without, the jumps in the log
    #[arg(value_name = "RESULTS")]
    results: Vec<PathBuf>,
    #[command(flatten)]
    log: RawLogFile,
    /// Whose jumps from the log; or who jumped, where nothing else says
    #[arg(long, value_name = "NAME")]
    athlete: Option<String>,
    /// First day of the jumps in the log
    #[arg(long, value_name = "DATE", value_parser = day, conflicts_with = "results")]
    from: Option<Date>,
    /// Last day of the jumps in the log
    #[arg(long, value_name = "DATE", value_parser = day, conflicts_with = "results")]
    to: Option<Date>,
    /// Which mat in the log; leave it out where there is only one
    #[arg(long, value_name = "NAME")]
    mat: Option<String>,
    /// A table of what the mat showed (CSV)
    #[arg(long, value_name = "FILE", conflicts_with_all = ["mat_ms", "mat_cm", "mat_in"])]
    readings: Option<PathBuf>,
    /// The mat's flight times in milliseconds, - where it missed a jump
    #[arg(long, value_name = "MS,MS,...", allow_hyphen_values = true, conflicts_with_all = ["mat_cm", "mat_in"])]
    mat_ms: Option<String>,
    /// The mat's heights in centimetres
    #[arg(
        long,
        value_name = "CM,CM,...",
        allow_hyphen_values = true,
        conflicts_with = "mat_in"
    )]
    mat_cm: Option<String>,
    /// The mat's heights in inches
    #[arg(long, value_name = "IN,IN,...", allow_hyphen_values = true)]
    mat_in: Option<String>,
    #[command(flatten)]
    scale: RawScale,
    /// Use jumps that the film doubts or that were set aside, too
    #[arg(long)]
    with_doubtful: bool,
    /// Half-width wished for the intervals of mean and limits, for the number of jumps
    #[arg(long, value_name = "MS", default_value_t = 5.0)]
    width_ms: f64,
    /// Form of the limits of agreement
    #[arg(long, value_name = "YEAR", default_value = "1999")]
    limits: RawLimits,
    /// Gravity for heights from flight times, in m/s²; 9.80665 unless stated
    #[arg(long, value_name = "M/S2")]
    gravity: Option<f64>,
    /// Show the readings corrected, by the comparison saved in the log or by --check
    #[arg(long, conflicts_with_all = ["results", "plot"])]
    apply: bool,
    /// The comparison to correct by, as `crosscheck --json` wrote it
    #[arg(long, value_name = "FILE", requires = "apply")]
    check: Option<PathBuf>,
    /// Keep the comparison in the log, also where the film's results come from a file
    #[arg(long, conflicts_with = "apply")]
    save: bool,
    /// Keep nothing in the log
    #[arg(long, conflicts_with = "save")]
    no_save: bool,
    /// Write the plot of differences against means, as SVG or PNG
    #[arg(long, value_name = "FILE")]
    plot: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    /// Unit of heights in the text
    #[arg(long, value_name = "UNIT", default_value = "cm")]
    units: RawUnits,
}

/// What the mat's display does.
#[derive(Args)]
struct RawScale {
    /// Smallest step of the mat's times
    #[arg(long, value_name = "MS", default_value_t = 1.0)]
    step_ms: f64,
    /// Smallest step of the mat's heights
    #[arg(long, value_name = "CM", default_value_t = 0.1)]
    step_cm: f64,
    /// Gravity in the mat's own formula; 9.80665 unless stated
    #[arg(long, value_name = "M/S2")]
    mat_gravity: Option<f64>,
    /// What the mat's formula is known to add to g T²/8
    #[arg(
        long,
        value_name = "CM",
        default_value_t = 0.0,
        allow_negative_numbers = true
    )]
    mat_adds_cm: f64,
}

/// Where the mat's readings come from.
pub(in crate::cli) enum Readings {
    /// A table.
    Table(PathBuf),
    /// Typed.
    Typed(String, Quantity),
    /// The log.
    Log,
}

/// What to do with the readings.
pub(in crate::cli) enum Task {
    /// Compare them with the film.
    Compare {
        /// Results of `measure --json`; empty for the log.
        results: Vec<PathBuf>,
        /// Settings.
        options: CrosscheckOptions,
        /// Whether to keep the comparison in the log.
        save: bool,
        /// Where the plot goes.
        plot: Option<PathBuf>,
        /// Use doubtful jumps too.
        with_doubtful: bool,
    },
    /// Show them corrected by this comparison, or by the one in the log.
    Apply(Option<PathBuf>),
}

/// Everything `crosscheck` needs to know.
pub(in crate::cli) struct Crosscheck {
    pub(in crate::cli) task: Task,
    pub(in crate::cli) readings: Readings,
    pub(in crate::cli) scale: MatScale,
    pub(in crate::cli) log: PathBuf,
    pub(in crate::cli) athlete: Option<String>,
    pub(in crate::cli) from: Option<Date>,
    pub(in crate::cli) to: Option<Date>,
    /// Which mat, where somebody said so.
    pub(in crate::cli) mat: Option<String>,
    pub(in crate::cli) json: bool,
    pub(in crate::cli) units: Units,
}

impl RawCrosscheck {
    pub(super) fn checked(self) -> Result<Crosscheck, Failure> {
        let readings = match (self.readings, self.mat_ms, self.mat_cm, self.mat_in) {
            (Some(path), ..) => Readings::Table(path),
            (_, Some(list), ..) => Readings::Typed(list, Quantity::Millis),
            (_, _, Some(list), _) => Readings::Typed(list, Quantity::Centimetres),
            (.., Some(list)) => Readings::Typed(list, Quantity::Inches),
            _ if self.results.is_empty() => Readings::Log,
            _ => {
                return Err(Failure {
                    message: "what the mat showed is missing".to_owned(),
                    hint: "add --readings TABLE.csv, or type the times: --mat-ms 512,498,530"
                        .to_owned(),
                });
            }
        };
        let rule = match self.limits {
            RawLimits::Of1999 => LimitsRule::default(),
            RawLimits::Of1986 => LimitsRule::OF_1986,
        };
        let options = CrosscheckOptions {
            rule,
            gravity: gravity(self.gravity, "--gravity")?,
            wanted_half_width: Span::from_millis(positive(self.width_ms, "--width-ms", 1000.0)?),
        };
        let from_log = self.results.is_empty();
        Ok(Crosscheck {
            task: if self.apply {
                Task::Apply(self.check)
            } else {
                Task::Compare {
                    save: self.save || from_log && !self.no_save,
                    results: self.results,
                    options,
                    plot: self.plot.map(scatter::named).transpose()?,
                    with_doubtful: self.with_doubtful,
                }
            },
            readings,
            scale: self.scale.checked()?,
            log: self.log.checked()?,
            athlete: self.athlete,
            from: self.from,
            to: self.to,
            mat: self.mat,
            json: self.json,
            units: self.units.into(),
        })
    }
}

impl RawScale {
    fn checked(self) -> Result<MatScale, Failure> {
        let added = self.mat_adds_cm;
        if !(-50.0..=50.0).contains(&added) {
            return Err(Failure {
                message: format!("{added} cm is nothing a mat adds (--mat-adds-cm)"),
                hint: "leave it out unless the mat's manual names a constant".to_owned(),
            });
        }
        Ok(MatScale {
            time_step: Span::from_millis(positive(self.step_ms, "--step-ms", 100.0)?),
            height_step: Metres::from_metres(positive(self.step_cm, "--step-cm", 10.0)? / 100.0),
            formula: HeightFormula {
                gravity: gravity(self.mat_gravity, "--mat-gravity")?,
                added: Metres::from_metres(added / 100.0),
            },
        })
    }
}

fn positive(value: f64, option: &str, most: f64) -> Result<f64, Failure> {
    if value > 0.0 && value <= most {
        return Ok(value);
    }
    Err(Failure {
        message: format!("{option} cannot be {value}"),
        hint: format!("state a number above 0 and up to {most}"),
    })
}

pub(super) fn gravity(stated: Option<f64>, option: &str) -> Result<Acceleration, Failure> {
    match stated {
        None => Ok(crate::jump::gravity::STANDARD_GRAVITY),
        Some(value) if (9.7..=9.9).contains(&value) => {
            Ok(Acceleration::from_metres_per_second_squared(value))
        }
        Some(value) => Err(Failure {
            message: format!("{option} cannot be {value} m/s²"),
            hint: "on the ground gravity lies between 9.76 and 9.84 m/s²".to_owned(),
        }),
    }
}
