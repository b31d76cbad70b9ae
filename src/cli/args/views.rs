//! Arguments of the views over several jumps.

mod checked;
mod typed;

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use jiff::civil::Date;

use super::clips::RawUnits;
use super::log::RawLogFile;
use crate::log::JumpKind;
use crate::report::model::Failure;
use crate::report::terminal::Units;
use crate::trials::plan::{Reading, USUAL_POWER};
use crate::workflow::views::{ChangeQuestion, DayRange, PlanQuestion, Sort};
use typed::{Length, date, in_order, range};

pub(in crate::cli) use checked::{
    Change, Common, Companion, Plan, PlotFormat, Sheet, Squad, Trend, Trials,
};

/// Kinds of jumps, as they are typed.
#[derive(Clone, Copy, ValueEnum)]
enum RawKind {
    /// Countermovement jump
    Cmj,
    /// Squat jump
    Squat,
    /// Drop jump
    Drop,
    /// Rebound jump
    Rebound,
}

impl From<RawKind> for JumpKind {
    fn from(raw: RawKind) -> Self {
        match raw {
            RawKind::Cmj => Self::Countermovement,
            RawKind::Squat => Self::Squat,
            RawKind::Drop => Self::Drop,
            RawKind::Rebound => Self::Rebound,
        }
    }
}

/// What sort of jumps, and from which log.
#[derive(Args)]
struct RawSort {
    /// Kind of jump
    #[arg(
        long,
        value_name = "KIND",
        default_value = "cmj",
        hide_possible_values = false
    )]
    kind: RawKind,
    /// Only jumps with this load in kg; without a load unless stated
    #[arg(long, value_name = "KG")]
    load_kg: Option<f64>,
    #[command(flatten)]
    log: RawLogFile,
}

/// How a view is shown.
#[derive(Args)]
struct RawShow {
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    /// Write a plot; its name ends in .svg or .png
    #[arg(long, value_name = "FILE")]
    plot: Option<PathBuf>,
    /// Unit of heights in text and plot
    #[arg(long, value_name = "UNIT", default_value = "cm")]
    units: RawUnits,
}

/// What every view takes: the sort of jumps, and how it is shown.
#[derive(Args)]
struct RawCommon {
    #[command(flatten)]
    sort: RawSort,
    #[command(flatten)]
    show: RawShow,
}

impl RawCommon {
    fn checked(self) -> Result<Common, Failure> {
        let (sort, log) = self.sort.checked()?;
        Ok(Common {
            sort,
            log,
            json: self.show.json,
            plot: self.show.plot.map(plot).transpose()?,
            units: self.show.units.into(),
        })
    }
}

#[derive(Args)]
#[command(after_help = "\
Example: underfoot trials \"Mia Vogel\" --date 2026-03-02
  shows the trials of that day with their error bars, mean, best and scatter.")]
pub(super) struct RawTrials {
    /// Whose trials
    athlete: String,
    /// The day; the last one unless stated
    #[arg(long, value_name = "DATE", value_parser = date)]
    date: Option<Date>,
    #[command(flatten)]
    common: RawCommon,
}

/// What is compared, as typed.
#[derive(Args)]
struct RawChange {
    /// Baseline: days or ranges of days, with commas between; unless stated the first
    /// half of the sessions in the 120 days before, from three to six
    #[arg(long, value_name = "DATE|DATE..DATE", value_delimiter = ',', value_parser = range)]
    from: Vec<DayRange>,
    /// The day to compare; the last session unless stated
    #[arg(long, value_name = "DATE", value_parser = date)]
    to: Option<Date>,
    /// Smallest change worth having, such as 1.5cm; from the log unless stated
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    smallest: Option<Length>,
    /// Known variation from day to day (standard deviation), such as 1cm
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    day_sd: Option<Length>,
    /// The later day was filmed with another phone or at another place
    #[arg(long)]
    another_phone: bool,
}

#[derive(Args)]
#[command(after_help = "\
Example: underfoot change \"Mia Vogel\" --from 2026-01-12..2026-02-09 --to 2026-03-02
  says whether the jumps of 2 March are higher than those of January, and how
  sure that is.")]
pub(super) struct RawChangeOf {
    /// Whose jumps
    athlete: String,
    #[command(flatten)]
    question: RawChange,
    #[command(flatten)]
    common: RawCommon,
}

#[derive(Args)]
#[command(after_help = "\
Example: underfoot squad --from 2026-01-12 --to 2026-03-02 --plot squad.svg
  says who rose and who fell since 12 January, and writes a plot of it.")]
pub(super) struct RawSquad {
    #[command(flatten)]
    question: RawChange,
    #[command(flatten)]
    common: RawCommon,
}

#[derive(Args)]
#[command(after_help = "\
Example: underfoot trend \"Mia Vogel\" --from 2026-01-01 --plot trend.png
  says where this year's sessions are going, and writes a plot of them.")]
pub(super) struct RawTrend {
    /// Whose jumps
    athlete: String,
    /// First day
    #[arg(long, value_name = "DATE", value_parser = date)]
    from: Option<Date>,
    /// Last day
    #[arg(long, value_name = "DATE", value_parser = date)]
    to: Option<Date>,
    #[command(flatten)]
    common: RawCommon,
}

#[derive(Args)]
#[command(after_help = "\
Example: underfoot plan \"Mia Vogel\" --change 2cm
  says how many trials on each day it takes to see a change of 2 cm at 60, 120
  and 240 frames per second, and whether the phone is good enough.")]
pub(super) struct RawPlan {
    /// For whom; anybody unless stated
    athlete: Option<String>,
    /// Change to be seen
    #[arg(long, value_name = "LENGTH", default_value = "2cm", value_parser = Length::parse)]
    change: Length,
    /// Chance of seeing it, from 0.1 to 0.999
    #[arg(long, value_name = "SHARE", default_value_t = USUAL_POWER)]
    power: f64,
    /// Frame rates, with commas between
    #[arg(long, value_name = "FPS", value_delimiter = ',', default_values_t = [60.0, 120.0, 240.0])]
    fps: Vec<f64>,
    /// Usual height; from the log unless stated
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    height: Option<Length>,
    /// The athlete's own variation from trial to trial (standard deviation); from the
    /// log unless stated
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    own_sd: Option<Length>,
    /// Variation from day to day beyond that (standard deviation); left out unless stated
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    day_sd: Option<Length>,
    /// Take events to be read by a fit with this uncertainty in frames, such as 0.2;
    /// to whole frames unless stated
    #[arg(long, value_name = "FRAMES")]
    fit: Option<f64>,
    #[command(flatten)]
    common: RawCommon,
}

#[derive(Args)]
#[command(after_help = "\
Example: underfoot companion \"Mia Vogel\" \"throw speed\" --plot both.svg
  shows jump height and throw speed over the same dates.")]
pub(super) struct RawCompanion {
    /// Whose
    athlete: String,
    /// The other measure, as it is called in the log
    measure: String,
    /// Its typical error in its own unit, if known; else from values repeated on a date
    #[arg(long, value_name = "VALUE")]
    typical_error: Option<f64>,
    #[command(flatten)]
    common: RawCommon,
}

#[derive(Args)]
#[command(after_help = "\
Example: underfoot sheet \"Mia Vogel\" --out mia.html
  writes one page to print or hand out: results, plot, what it means, cautions.")]
pub(super) struct RawSheet {
    /// Whose
    athlete: String,
    /// The page's name
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Overwrite a file that this program did not make
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    question: RawChange,
    #[command(flatten)]
    sort: RawSort,
    /// Unit of heights
    #[arg(long, value_name = "UNIT", default_value = "cm")]
    units: RawUnits,
}

impl RawTrials {
    pub(super) fn checked(self) -> Result<Trials, Failure> {
        Ok(Trials {
            athlete: self.athlete,
            date: self.date,
            common: self.common.checked()?,
        })
    }
}

impl RawChangeOf {
    pub(super) fn checked(self) -> Result<Change, Failure> {
        Ok(Change {
            athlete: self.athlete,
            question: self.question.checked(self.common.show.units.into()),
            common: self.common.checked()?,
        })
    }
}

impl RawSquad {
    pub(super) fn checked(self) -> Result<Squad, Failure> {
        Ok(Squad {
            question: self.question.checked(self.common.show.units.into()),
            common: self.common.checked()?,
        })
    }
}

impl RawTrend {
    pub(super) fn checked(self) -> Result<Trend, Failure> {
        let range = match (self.from, self.to) {
            (None, None) => None,
            (from, to) => Some(in_order(
                from.unwrap_or(Date::MIN),
                to.unwrap_or(Date::MAX),
            )?),
        };
        Ok(Trend {
            athlete: self.athlete,
            range,
            common: self.common.checked()?,
        })
    }
}

impl RawPlan {
    pub(super) fn checked(self) -> Result<Plan, Failure> {
        let units = self.common.show.units.into();
        if let Some(rate) = self
            .fps
            .iter()
            .find(|rate| !(1.0..=100_000.0).contains(*rate))
        {
            return Err(Failure {
                message: format!("{rate} frames a second is not a frame rate"),
                hint: "give rates such as --fps 60,120,240".to_owned(),
            });
        }
        let metres = |length: Option<Length>| length.map(|length| length.metres(units));
        Ok(Plan {
            question: PlanQuestion {
                athlete: self.athlete,
                change: self.change.metres(units),
                power: self.power,
                rates: self.fps,
                height: metres(self.height),
                own_sd: metres(self.own_sd),
                day_sd: metres(self.day_sd),
                reading: self.fit.map_or(Reading::WholeFrames, Reading::FittedFrames),
            },
            common: self.common.checked()?,
        })
    }
}

impl RawCompanion {
    pub(super) fn checked(self) -> Result<Companion, Failure> {
        Ok(Companion {
            athlete: self.athlete,
            measure: self.measure,
            typical_error: self.typical_error,
            common: self.common.checked()?,
        })
    }
}

impl RawSheet {
    pub(super) fn checked(self) -> Result<Sheet, Failure> {
        let units = self.units.into();
        let (sort, log) = self.sort.checked()?;
        Ok(Sheet {
            athlete: self.athlete,
            out: self.out,
            force: self.force,
            question: self.question.checked(units),
            sort,
            log,
            units,
        })
    }
}

impl RawChange {
    fn checked(self, units: Units) -> ChangeQuestion {
        ChangeQuestion {
            from: self.from,
            to: self.to,
            smallest: self.smallest.map(|length| length.metres(units)),
            day_sd: self.day_sd.map(|length| length.metres(units)),
            another_phone: self.another_phone,
        }
    }
}

impl RawSort {
    fn checked(self) -> Result<(Sort, PathBuf), Failure> {
        let load_kg = self.load_kg.unwrap_or(0.0);
        if !(0.0..=500.0).contains(&load_kg) {
            return Err(Failure {
                message: format!("{load_kg} kg is not a load anybody jumps with"),
                hint: "give the load beyond the body, from 0 to 500 kg".to_owned(),
            });
        }
        let sort = Sort {
            kind: self.kind.into(),
            load_kg,
        };
        Ok((sort, self.log.checked()?))
    }
}

/// The format that a plot's name asks for.
fn plot(path: PathBuf) -> Result<(PathBuf, PlotFormat), Failure> {
    let ending = path.extension().and_then(|ending| ending.to_str());
    match ending.map(str::to_ascii_lowercase).as_deref() {
        Some("svg") => Ok((path, PlotFormat::Svg)),
        Some("png") => Ok((path, PlotFormat::Png)),
        _ => Err(Failure {
            message: format!("{} is not a name for a plot", path.display()),
            hint: "let it end in .svg or .png".to_owned(),
        }),
    }
}
