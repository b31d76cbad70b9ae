//! Arguments of what is entered by hand.

use clap::{ArgGroup, Args, Subcommand};
use jiff::civil::Date;

use super::{LogCommand, centimetres, day, today};
use crate::report::model::Failure;
use crate::trials::load::series::PushOff;
use crate::trials::mat::{HeightFormula, MatReading};
use crate::units::{Acceleration, Metres, Span, StandardUncertainty};

#[derive(Subcommand)]
pub(super) enum RawAthlete {
    /// Add an athlete
    #[command(
        after_help = "Example: underfoot log athlete add \"Mia Vogel\" --mass-kg 62 \
                            --birth-year 2009"
    )]
    Add(RawNamed),
    /// Change what is known of an athlete; what is not stated stays
    #[command(
        after_help = "Example: underfoot log athlete set \"Mia Vogel\" --mass-kg 63.5 \
                            --date 2026-05-04"
    )]
    Set(RawSet),
    /// Delete an athlete and everything that is kept of her or him
    #[command(after_help = "Example: underfoot log athlete forget \"Mia Vogel\" --yes")]
    Forget(RawForget),
}

#[derive(Args)]
pub(super) struct RawNamed {
    /// Name or initials
    name: String,
    /// Body mass in kg, on the day that --date states
    #[arg(long, value_name = "KG")]
    mass_kg: Option<f64>,
    /// Day of the body mass; today unless stated
    #[arg(long, value_name = "DATE", value_parser = day, requires = "mass_kg")]
    date: Option<Date>,
    /// Body height in cm
    #[arg(long, value_name = "CM")]
    stature_cm: Option<f64>,
    /// Push-off distance in cm: from the lowest point of the hip to take-off
    #[arg(long, value_name = "CM")]
    push_off_cm: Option<f64>,
    /// How far off the push-off distance may be, as a standard uncertainty in cm
    #[arg(long, value_name = "CM", default_value = "1", requires = "push_off_cm")]
    push_off_u_cm: f64,
    /// The push-off distance was guessed, not measured
    #[arg(long, requires = "push_off_cm")]
    push_off_guessed: bool,
    /// Year of birth
    #[arg(long, value_name = "YEAR")]
    birth_year: Option<i16>,
    /// Remark
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

#[derive(Args)]
pub(super) struct RawSet {
    #[command(flatten)]
    named: RawNamed,
    /// Call the athlete by this name from now on
    #[arg(long, value_name = "NAME")]
    rename: Option<String>,
}

#[derive(Args)]
pub(super) struct RawForget {
    /// Name or initials
    name: String,
    /// Delete without asking
    #[arg(long)]
    yes: bool,
}

/// What is stated of an athlete; `None` where nothing is.
pub(in crate::cli) struct AthleteFacts {
    pub(in crate::cli) rename: Option<String>,
    pub(in crate::cli) mass: Option<(Date, f64)>,
    pub(in crate::cli) stature: Option<Metres>,
    pub(in crate::cli) push_off: Option<PushOff>,
    pub(in crate::cli) birth_year: Option<i16>,
    pub(in crate::cli) note: Option<String>,
}

impl RawAthlete {
    pub(super) fn checked(self) -> LogCommand {
        match self {
            Self::Add(raw) => {
                let (name, facts) = raw.checked();
                LogCommand::AddAthlete(name, facts)
            }
            Self::Set(raw) => {
                let (name, mut facts) = raw.named.checked();
                facts.rename = raw.rename;
                LogCommand::SetAthlete(name, facts)
            }
            Self::Forget(raw) => LogCommand::ForgetAthlete {
                name: raw.name,
                sure: raw.yes,
            },
        }
    }
}

impl RawNamed {
    fn checked(self) -> (String, Box<AthleteFacts>) {
        let date = self.date.unwrap_or_else(today);
        let facts = AthleteFacts {
            rename: None,
            mass: self.mass_kg.map(|mass_kg| (date, mass_kg)),
            stature: self.stature_cm.map(centimetres),
            push_off: self.push_off_cm.map(|distance| PushOff {
                distance: centimetres(distance),
                u: StandardUncertainty(centimetres(self.push_off_u_cm)),
                measured: !self.push_off_guessed,
            }),
            birth_year: self.birth_year,
            note: self.note,
        };
        (self.name, Box::new(facts))
    }
}

#[derive(Subcommand)]
pub(super) enum RawMat {
    /// Enter readings of one athlete and day, in the order of the jumps
    #[command(after_help = "Example: underfoot log mat add --athlete \"Mia Vogel\" \
                            --date 2026-03-02 --time-ms 512 498 505")]
    Add(RawMatAdd),
}

#[derive(Args)]
#[command(group = ArgGroup::new("shown").required(true).args(["time_ms", "height_cm"]))]
pub(super) struct RawMatAdd {
    /// Who jumped
    #[arg(long, value_name = "NAME")]
    athlete: String,
    /// The day; today unless stated
    #[arg(long, value_name = "DATE", value_parser = day)]
    date: Option<Date>,
    /// Place of the first of these jumps in the athlete's day; the next one unless stated
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    order: Option<u32>,
    /// Which mat, if there are several
    #[arg(long, value_name = "NAME", default_value = "")]
    mat: String,
    /// Flight times as shown, in ms
    #[arg(long, value_name = "MS", num_args = 1..)]
    time_ms: Vec<f64>,
    /// Smallest step of the times shown, in ms
    #[arg(long, value_name = "MS", default_value = "1")]
    step_ms: f64,
    /// Heights as shown, in cm
    #[arg(long, value_name = "CM", num_args = 1..)]
    height_cm: Vec<f64>,
    /// Smallest step of the heights shown, in cm
    #[arg(long, value_name = "CM", default_value = "0.1")]
    step_cm: f64,
    /// Gravity in the mat's formula, in m/s²; 9.80665 unless stated
    #[arg(long, value_name = "M/S2", requires = "height_cm")]
    mat_gravity: Option<f64>,
    /// What the mat adds to each height, in cm
    #[arg(
        long,
        value_name = "CM",
        requires = "height_cm",
        allow_negative_numbers = true
    )]
    added_cm: Option<f64>,
    /// Remark
    #[arg(long, value_name = "TEXT", default_value = "")]
    note: String,
}

/// Readings of one athlete and day.
pub(in crate::cli) struct MatAdd {
    pub(in crate::cli) athlete: String,
    pub(in crate::cli) date: Date,
    pub(in crate::cli) order: Option<u32>,
    pub(in crate::cli) mat: String,
    pub(in crate::cli) readings: Vec<MatReading>,
    pub(in crate::cli) note: String,
}

impl RawMat {
    pub(super) fn checked(self) -> Result<MatAdd, Failure> {
        let Self::Add(raw) = self;
        let usual = HeightFormula::default();
        let formula = HeightFormula {
            gravity: raw
                .mat_gravity
                .map_or(usual.gravity, Acceleration::from_metres_per_second_squared),
            added: raw.added_cm.map_or(usual.added, centimetres),
        };
        let times = raw.time_ms.iter().map(|time| MatReading::Time {
            time: Span::from_millis(*time),
            step: Span::from_millis(raw.step_ms),
        });
        let heights = raw.height_cm.iter().map(|height| MatReading::Height {
            height: centimetres(*height),
            step: centimetres(raw.step_cm),
            formula,
        });
        Ok(MatAdd {
            readings: times.chain(heights).collect(),
            athlete: raw.athlete,
            date: raw.date.unwrap_or_else(today),
            order: raw.order,
            mat: raw.mat,
            note: raw.note,
        })
    }
}

#[derive(Subcommand)]
pub(super) enum RawCompanion {
    /// Enter values of one athlete and day
    #[command(
        after_help = "Example: underfoot log companion add --athlete \"Mia Vogel\" \
                            --measure \"throw speed\" --unit km/h --value 71.2 70.4"
    )]
    Add(RawCompanionAdd),
}

#[derive(Args)]
pub(super) struct RawCompanionAdd {
    /// Whose
    #[arg(long, value_name = "NAME")]
    athlete: String,
    /// What was measured, always in the same words
    #[arg(long, value_name = "TEXT")]
    measure: String,
    /// Unit as UCUM writes it: m/s, km/h, s, kg, cm, 1 for a count
    #[arg(long, value_name = "UNIT")]
    unit: String,
    /// The values, in that unit
    #[arg(long, value_name = "NUMBER", num_args = 1.., required = true, allow_negative_numbers = true)]
    value: Vec<f64>,
    /// The day; today unless stated
    #[arg(long, value_name = "DATE", value_parser = day)]
    date: Option<Date>,
    /// Remark
    #[arg(long, value_name = "TEXT", default_value = "")]
    note: String,
}

/// Values of one athlete and day.
pub(in crate::cli) struct CompanionAdd {
    pub(in crate::cli) athlete: String,
    pub(in crate::cli) measure: String,
    pub(in crate::cli) unit: String,
    pub(in crate::cli) values: Vec<f64>,
    pub(in crate::cli) date: Date,
    pub(in crate::cli) note: String,
}

impl RawCompanion {
    pub(super) fn checked(self) -> Result<CompanionAdd, Failure> {
        let Self::Add(raw) = self;
        Ok(CompanionAdd {
            athlete: raw.athlete,
            measure: raw.measure,
            unit: raw.unit,
            values: raw.value,
            date: raw.date.unwrap_or_else(today),
            note: raw.note,
        })
    }
}
