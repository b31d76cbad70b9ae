//! Arguments of planning loads, and of jumps under load.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};
use jiff::civil::Date;

use super::clips::RawUnits;
use super::log::{RawLogFile, day};
use super::mat::gravity;
use super::quantity::{length, mass, mass_times};
use crate::cli::scatter;
use crate::log::JumpKind;
use crate::report::model::Failure;
use crate::report::terminal::Units;
use crate::trials::load::gym::Plate;
use crate::trials::load::series::PushOff;
use crate::trials::load::{Gym, Readiness, SquatMax};
use crate::units::{Acceleration, Metres, Span, StandardUncertainty};

const PLAN_EXAMPLE: &str = "\
Example: 62 kg, a squat of 75 kg five times, one bar and a few pairs of plates
  underfoot load plan --body 62 --squat-reps 75x5 --bars 20 --plates 10x1,5x2,2.5x1

Masses are kilograms; 137lb or 62kg say so themselves. Plates are mass x pairs.
Without bars, plates and dumbbells a usual set is taken, and said so.";

const SERIES_EXAMPLE: &str = "\
Example: a table with the columns load_kg, height_cm and u_cm, one line a jump
  underfoot load series mia.csv --body 62 --push-off 38 --plot mia.svg

Columns: load_kg or load_lb, height_cm or height_in; u_cm is the film's standard
uncertainty (or --u-cm for all); athlete, date and body_kg where there are several.";

const DROPS_EXAMPLE: &str = "\
Example: a table with the columns drop_cm, contact_ms and flight_ms, at 240 frames/s
  underfoot load drops drops.csv --fps 240

Columns: drop_cm or drop_in, contact_ms, flight_ms; u_ms is the standard uncertainty
of each moment (or --fps, --u-ms for all); athlete and date where there are several.";

#[derive(Args)]
pub(super) struct RawLoad {
    #[command(subcommand)]
    command: RawLoadCommand,
}

#[derive(Subcommand)]
enum RawLoadCommand {
    /// What to load: a starting load and steps that the gym has
    Plan(RawPlan),
    /// One athlete's jumps across loads
    Series(RawSeries),
    /// Drop jumps: from which height the athlete rebounds best
    Drops(RawDrops),
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum RawReady {
    /// 20 comfortable body-weight squats
    BodyWeightSquats,
    /// 10 squats with half of body weight held in front
    FrontSquats,
    /// Maximum strength trained with five or fewer repetitions
    FewRepetitions,
}

#[derive(Args)]
#[command(after_help = PLAN_EXAMPLE)]
struct RawPlan {
    /// Body mass; the log's where the athlete is named
    #[arg(
        long,
        alias = "body-kg",
        value_name = "MASS",
        value_parser = mass,
        required_unless_present = "athlete"
    )]
    body: Option<f64>,
    /// Whose plan: body mass and age come from the log
    #[arg(long, value_name = "NAME")]
    athlete: Option<String>,
    #[command(flatten)]
    log: RawLogFile,
    /// Squat maximum, tested: one repetition
    #[arg(long, alias = "squat-kg", value_name = "MASS", value_parser = mass)]
    squat: Option<f64>,
    /// Or a squat to the last good repetition, 1 to 10 of them
    #[arg(
        long,
        value_name = "MASSxREPS",
        conflicts_with = "squat",
        required_unless_present = "squat"
    )]
    squat_reps: Option<String>,
    /// Age in years
    #[arg(long, value_name = "YEARS")]
    age: Option<u32>,
    /// Bars at hand
    #[arg(long, value_name = "MASS,...", value_delimiter = ',', value_parser = mass)]
    bars: Vec<f64>,
    /// Plates at hand: mass x pairs
    #[arg(long, value_name = "MASSxPAIRS,...", value_delimiter = ',')]
    plates: Vec<String>,
    /// Dumbbells at hand, two of each
    #[arg(long, value_name = "MASS,...", value_delimiter = ',', value_parser = mass)]
    dumbbells: Vec<f64>,
    /// Readiness points that are met
    #[arg(long, value_name = "POINT,...", value_delimiter = ',')]
    ready: Vec<RawReady>,
    /// Readiness points that are not met
    #[arg(long, value_name = "POINT,...", value_delimiter = ',')]
    not_ready: Vec<RawReady>,
    /// A load that the coach has in mind, to be looked at
    #[arg(long, value_name = "MASS", value_parser = mass)]
    wish: Option<f64>,
    #[command(flatten)]
    out: RawOut,
}

#[derive(Args)]
struct RawOut {
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    /// Unit of lengths in the text, and of masses: cm with kg, in with lb
    #[arg(long, value_name = "UNIT", default_value = "cm")]
    units: RawUnits,
}

/// Where the jumps come from.
#[derive(Args)]
struct RawSource {
    /// A table of jumps (CSV), - for standard input; without, the jumps in the log
    #[arg(value_name = "TABLE")]
    table: Option<PathBuf>,
    #[command(flatten)]
    log: RawLogFile,
    /// Whose jumps
    #[arg(long, value_name = "NAME")]
    athlete: Option<String>,
    /// Which session; the last unless stated
    #[arg(long, value_name = "DATE", value_parser = day)]
    date: Option<Date>,
    /// Gravity in m/s²; 9.80665 unless stated
    #[arg(long, value_name = "M/S2")]
    gravity: Option<f64>,
    /// Write the plot, as SVG or PNG
    #[arg(long, value_name = "FILE")]
    plot: Option<PathBuf>,
}

#[derive(Args)]
#[command(after_help = SERIES_EXAMPLE)]
struct RawSeries {
    #[command(flatten)]
    source: RawSource,
    /// Session to compare with; the one before unless stated
    #[arg(long, value_name = "DATE", value_parser = day)]
    since: Option<Date>,
    /// Kind of jumps in the log: cmj or squat
    #[arg(long, value_name = "KIND", value_parser = kind, default_value = "cmj")]
    kind: JumpKind,
    /// Body mass
    #[arg(long, alias = "body-kg", value_name = "MASS", value_parser = mass)]
    body: Option<f64>,
    /// Squat maximum, for the warnings
    #[arg(long, alias = "squat-kg", value_name = "MASS", value_parser = mass)]
    squat: Option<f64>,
    /// Push-off distance, lowest point to take-off: 38, 38cm, 15in
    #[arg(long, alias = "push-off-cm", value_name = "LENGTH", value_parser = length)]
    push_off: Option<Metres>,
    /// Its standard uncertainty; 1 cm if measured, 3 cm if guessed
    #[arg(long, value_name = "LENGTH", value_parser = length, requires = "push_off")]
    push_off_u: Option<Metres>,
    /// The push-off distance was guessed, not measured
    #[arg(long, requires = "push_off")]
    push_off_guessed: bool,
    /// The film's standard uncertainty of a height, where the table has none
    #[arg(long, value_name = "CM")]
    u_cm: Option<f64>,
    /// Show peak power by published regressions, with their errors and their people
    #[arg(long)]
    peak_power: bool,
    /// Write the line of force against velocity with its band, as SVG or PNG
    #[arg(long, value_name = "FILE")]
    plot_line: Option<PathBuf>,
    #[command(flatten)]
    out: RawOut,
}

#[derive(Args)]
#[command(after_help = DROPS_EXAMPLE)]
struct RawDrops {
    #[command(flatten)]
    source: RawSource,
    /// Frames per second, where the table has no uncertainties
    #[arg(long, value_name = "FPS", conflicts_with = "u_ms")]
    fps: Option<f64>,
    /// Standard uncertainty of each moment, where the table has none
    #[arg(long, value_name = "MS")]
    u_ms: Option<f64>,
    #[command(flatten)]
    out: RawOut,
}

fn kind(text: &str) -> Result<JumpKind, String> {
    match text.parse() {
        Ok(kind @ (JumpKind::Countermovement | JumpKind::Squat)) => Ok(kind),
        _ => Err("it is cmj or squat".to_owned()),
    }
}

/// What `load` is to do.
pub(in crate::cli) enum Load {
    Plan(Plan),
    Series(Box<Series>),
    Drops(Drops),
}

/// Everything `load plan` needs to know.
pub(in crate::cli) struct Plan {
    /// `None` only where an athlete is named.
    pub(in crate::cli) body_mass_kg: Option<f64>,
    pub(in crate::cli) athlete: Option<String>,
    pub(in crate::cli) log: PathBuf,
    pub(in crate::cli) age_years: Option<u32>,
    pub(in crate::cli) squat: SquatMax,
    /// `None` where nobody said what the gym has.
    pub(in crate::cli) gym: Option<Gym>,
    pub(in crate::cli) readiness: Readiness,
    pub(in crate::cli) wished_kg: Option<f64>,
    pub(in crate::cli) json: bool,
    pub(in crate::cli) units: Units,
}

/// Where the jumps come from and where the plot goes.
pub(in crate::cli) struct Source {
    pub(in crate::cli) table: Option<PathBuf>,
    pub(in crate::cli) log: PathBuf,
    pub(in crate::cli) athlete: Option<String>,
    pub(in crate::cli) date: Option<Date>,
    pub(in crate::cli) gravity: Acceleration,
    pub(in crate::cli) plot: Option<PathBuf>,
}

/// Everything `load series` needs to know.
pub(in crate::cli) struct Series {
    pub(in crate::cli) source: Source,
    pub(in crate::cli) since: Option<Date>,
    pub(in crate::cli) kind: JumpKind,
    pub(in crate::cli) body_mass_kg: Option<f64>,
    pub(in crate::cli) squat_max_kg: Option<f64>,
    pub(in crate::cli) push_off: Option<PushOff>,
    pub(in crate::cli) film_u: Option<Metres>,
    pub(in crate::cli) peak_power: bool,
    pub(in crate::cli) plot_line: Option<PathBuf>,
    pub(in crate::cli) json: bool,
    pub(in crate::cli) units: Units,
}

/// Everything `load drops` needs to know.
pub(in crate::cli) struct Drops {
    pub(in crate::cli) source: Source,
    /// Standard uncertainty of each moment.
    pub(in crate::cli) moment_u: Option<Span>,
    pub(in crate::cli) json: bool,
    pub(in crate::cli) units: Units,
}

impl RawLoad {
    pub(super) fn checked(self) -> Result<Load, Failure> {
        Ok(match self.command {
            RawLoadCommand::Plan(raw) => Load::Plan(raw.checked()?),
            RawLoadCommand::Series(raw) => Load::Series(Box::new(raw.checked()?)),
            RawLoadCommand::Drops(raw) => Load::Drops(raw.checked()?),
        })
    }
}

impl RawPlan {
    fn checked(self) -> Result<Plan, Failure> {
        let squat = match (self.squat, self.squat_reps) {
            (Some(max_kg), _) => SquatMax::Tested { max_kg },
            (None, typed) => {
                let (load_kg, repetitions) = mass_times(&typed.unwrap_or_default())?;
                SquatMax::FromRepetitions {
                    load_kg,
                    repetitions,
                }
            }
        };
        let plates: Result<Vec<Plate>, Failure> = self
            .plates
            .iter()
            .map(|text| mass_times(text).map(|(each_kg, pairs)| Plate { each_kg, pairs }))
            .collect();
        let gym = Gym {
            bars_kg: self.bars,
            plates: plates?,
            dumbbells_kg: self.dumbbells,
        };
        let answer = |point| match (self.ready.contains(&point), self.not_ready.contains(&point)) {
            (_, true) => Some(false),
            (true, false) => Some(true),
            (false, false) => None,
        };
        Ok(Plan {
            body_mass_kg: self.body,
            athlete: self.athlete,
            log: self.log.checked()?,
            age_years: self.age,
            squat,
            gym: (gym != Gym::default()).then_some(gym),
            readiness: Readiness {
                body_weight_squats: answer(RawReady::BodyWeightSquats),
                front_squats: answer(RawReady::FrontSquats),
                few_repetitions: answer(RawReady::FewRepetitions),
            },
            wished_kg: self.wish,
            json: self.out.json,
            units: self.out.units.into(),
        })
    }
}

impl RawSource {
    fn checked(self) -> Result<Source, Failure> {
        Ok(Source {
            table: self.table,
            log: self.log.checked()?,
            athlete: self.athlete,
            date: self.date,
            gravity: gravity(self.gravity, "--gravity")?,
            plot: self.plot.map(scatter::named).transpose()?,
        })
    }
}

impl RawSeries {
    fn checked(self) -> Result<Series, Failure> {
        let measured = !self.push_off_guessed;
        let usual_u = Metres::from_metres(if measured { 0.01 } else { 0.03 });
        Ok(Series {
            source: self.source.checked()?,
            since: self.since,
            kind: self.kind,
            body_mass_kg: self.body,
            squat_max_kg: self.squat,
            push_off: self.push_off.map(|distance| PushOff {
                distance,
                u: StandardUncertainty(self.push_off_u.unwrap_or(usual_u)),
                measured,
            }),
            film_u: self.u_cm.map(|u| Metres::from_metres(u / 100.0)),
            peak_power: self.peak_power,
            plot_line: self.plot_line.map(scatter::named).transpose()?,
            json: self.out.json,
            units: self.out.units.into(),
        })
    }
}

impl RawDrops {
    fn checked(self) -> Result<Drops, Failure> {
        let moment_u = match (self.fps, self.u_ms) {
            (Some(fps), _) if !(10.0..=100_000.0).contains(&fps) => {
                return Err(Failure {
                    message: format!("{fps} frames a second is not a capture rate"),
                    hint: "give the camera's setting, such as --fps 240".to_owned(),
                });
            }
            (Some(fps), _) => Some(crate::workflow::loads::moment_u(fps)),
            (None, u_ms) => u_ms.map(Span::from_millis),
        };
        Ok(Drops {
            source: self.source.checked()?,
            moment_u,
            json: self.out.json,
            units: self.out.units.into(),
        })
    }
}
