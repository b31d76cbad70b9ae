//! A starting load and the steps towards it. Advice for the coach, no more.
//!
//! The figures are common practice without a published source: jumps at about
//! 40 % of the squat maximum, and the readiness points.

use serde::{Deserialize, Serialize};

use super::cautions::{CAUTIONS, Caution};
use super::error::{LoadError, within};
use super::gym::{Gym, Step};
use super::strength::{FEW_REPETITIONS, SquatMax, Strength};

/// Share of the squat maximum that loaded jumps commonly start at.
pub const STARTING_SHARE: f64 = 0.40;

/// Share of the squat maximum above which a jump load draws a warning.
pub const WARNING_SHARE: f64 = 0.60;

/// Comfortable body-weight squats that common practice wants first.
pub const BODY_WEIGHT_SQUATS: u32 = 20;

/// Repetitions of the front-held squat with half of body weight.
pub const FRONT_SQUATS: u32 = 10;

/// What is known of the athlete's readiness; None where nobody asked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Readiness {
    /// 20 comfortable body-weight squats.
    pub body_weight_squats: Option<bool>,
    /// Half of body weight held in front, squatted 10 times.
    pub front_squats: Option<bool>,
    /// Trains maximum strength with five or fewer repetitions.
    pub few_repetitions: Option<bool>,
}

/// What the plan starts from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlanInput {
    /// Body mass in kg.
    pub body_mass_kg: f64,
    /// Age in years, if told.
    pub age_years: Option<u32>,
    /// Squat maximum.
    pub squat: SquatMax,
    /// Iron at hand.
    pub gym: Gym,
    /// Answers so far.
    pub readiness: Readiness,
    /// A load the coach has in mind, in kg.
    pub wished_kg: Option<f64>,
}

/// A readiness point that is still open.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OpenPoint {
    /// Stable key.
    pub key: &'static str,
    /// Asked and answered with no, or never asked.
    pub answered_no: bool,
    /// The point, in words.
    pub text: String,
    /// The mass it speaks of, in kg, if it does.
    pub mass_kg: Option<f64>,
}

/// A mass as the words here give it.
pub(super) fn kilograms(mass_kg: f64) -> String {
    format!("{mass_kg:.1} kg")
}

/// A load beyond sense.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LoadWarning {
    /// Above 60 % of the squat maximum.
    AboveWarningShare {
        /// The load in kg.
        load_kg: f64,
        /// Share of the squat maximum.
        share: f64,
    },
    /// Above body mass.
    AboveBodyMass {
        /// The load in kg.
        load_kg: f64,
    },
    /// The squat maximum itself rests on many repetitions.
    ManyRepetitions {
        /// Repetitions behind it.
        repetitions: u32,
    },
    /// Under 18.
    Minor,
}

impl LoadWarning {
    /// In words, masses in kilograms.
    pub fn text(&self) -> String {
        self.text_in(kilograms)
    }

    /// In words, masses written by `mass`, which is given kilograms.
    pub fn text_in(&self, mass: impl Fn(f64) -> String) -> String {
        match self {
            Self::AboveWarningShare { load_kg, share } => format!(
                "{} is {:.0} % of the squat maximum, above the {:.0} % beyond which \
                 jumps turn into slow lifts with a hard landing",
                mass(*load_kg),
                100.0 * share,
                100.0 * WARNING_SHARE
            ),
            Self::AboveBodyMass { load_kg } => {
                format!("{} is more than the athlete weighs", mass(*load_kg))
            }
            Self::ManyRepetitions { repetitions } => format!(
                "the maximum is estimated from {repetitions} repetitions; {FEW_REPETITIONS} or \
                 fewer tell more"
            ),
            Self::Minor => {
                "under 18: technique and body-weight jumps first, loads only with a coach \
                 trained for youth and a parent's consent"
                    .to_owned()
            }
        }
    }
}

/// Advice on loads.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoadPlan {
    /// The maximum in use, with both estimates.
    pub strength: Strength,
    /// Squat maximum over body mass.
    pub squat_to_body_mass: f64,
    /// 40 % of the squat maximum, in kg, whatever the gym has.
    pub target_kg: f64,
    /// The load nearest to the target, but not above it, that the gym has.
    pub start: Step,
    /// The next heavier load the gym has, if within the warning limits.
    pub next_heavier: Option<Step>,
    /// From body weight to the start, about a quarter of the target apart.
    pub progression: Vec<Step>,
    /// What common practice wants first.
    pub open_points: Vec<OpenPoint>,
    /// What to think about.
    pub warnings: Vec<LoadWarning>,
    /// Always with a plan.
    pub cautions: &'static [Caution],
    /// In plain words.
    pub text: String,
}

/// Loads that common practice suggests, made from what the gym has.
///
/// # Errors
/// [`LoadError`] for impossible masses, ages, repetitions or iron. Loads beyond
/// sense are warnings, not errors.
pub fn load_plan(input: &PlanInput) -> Result<LoadPlan, LoadError> {
    let body_mass = within("body mass", input.body_mass_kg, "kg", 20.0, 300.0)?;
    if let Some(age) = input.age_years {
        within("age", f64::from(age), "years", 5.0, 110.0)?;
    }
    let strength = input.squat.strength()?;
    let squat = strength.used_kg;
    let target_kg = STARTING_SHARE * squat;
    let limit = (WARNING_SHARE * squat).min(body_mass);
    let steps = input.gym.steps(limit)?;
    let start = nearest_below(&steps, target_kg);
    let next_heavier = steps.iter().find(|s| s.load_kg > target_kg + 1e-9).cloned();
    let mut plan = LoadPlan {
        strength,
        squat_to_body_mass: squat / body_mass,
        target_kg,
        progression: progression(&steps, target_kg),
        start,
        next_heavier,
        open_points: open_points(input, squat / body_mass),
        warnings: warnings(input, &strength, target_kg)?,
        cautions: &CAUTIONS,
        text: String::new(),
    };
    plan.text = text(&plan);
    Ok(plan)
}

/// Warnings for a load, in kg, against squat maximum and body mass.
///
/// # Errors
/// [`LoadError::Impossible`] for a negative load or one nobody can jump with.
pub fn load_warnings(
    load_kg: f64,
    squat_kg: f64,
    body_mass_kg: f64,
) -> Result<Vec<LoadWarning>, LoadError> {
    within("jump load", load_kg, "kg", 0.0, 300.0)?;
    within("squat maximum", squat_kg, "kg", 1.0, 600.0)?;
    within("body mass", body_mass_kg, "kg", 20.0, 300.0)?;
    let mut all = Vec::new();
    let share = load_kg / squat_kg;
    if share > WARNING_SHARE {
        all.push(LoadWarning::AboveWarningShare { load_kg, share });
    }
    if load_kg > body_mass_kg {
        all.push(LoadWarning::AboveBodyMass { load_kg });
    }
    Ok(all)
}

fn warnings(
    input: &PlanInput,
    strength: &Strength,
    target_kg: f64,
) -> Result<Vec<LoadWarning>, LoadError> {
    let load_kg = input.wished_kg.unwrap_or(target_kg);
    let mut all = load_warnings(load_kg, strength.used_kg, input.body_mass_kg)?;
    if strength.repetitions > FEW_REPETITIONS {
        all.push(LoadWarning::ManyRepetitions {
            repetitions: strength.repetitions,
        });
    }
    if input.age_years.is_some_and(|age| age < 18) {
        all.push(LoadWarning::Minor);
    }
    Ok(all)
}

fn nearest_below(steps: &[Step], target_kg: f64) -> Step {
    let below = steps.iter().rfind(|s| s.load_kg <= target_kg + 1e-9);
    below.cloned().unwrap_or(Step {
        load_kg: 0.0,
        means: super::gym::Means::BodyWeight,
    })
}

/// Body weight, then quarters of the target as far as the gym has them.
fn progression(steps: &[Step], target_kg: f64) -> Vec<Step> {
    let mut chosen: Vec<Step> = Vec::new();
    for quarter in 0..=4 {
        let step = nearest_below(steps, target_kg * f64::from(quarter) / 4.0);
        if chosen.last().is_none_or(|last| step.load_kg > last.load_kg) {
            chosen.push(step);
        }
    }
    chosen
}

fn open_points(input: &PlanInput, ratio: f64) -> Vec<OpenPoint> {
    let half_kg = input.body_mass_kg / 2.0;
    let asked = [
        (
            "body_weight_squats",
            input.readiness.body_weight_squats,
            format!("{BODY_WEIGHT_SQUATS} comfortable body-weight squats"),
            None,
        ),
        (
            "front_squats",
            input.readiness.front_squats,
            format!("{FRONT_SQUATS} squats with half of body weight held in front"),
            Some(half_kg),
        ),
        (
            "few_repetitions",
            input.readiness.few_repetitions,
            format!("maximum strength trained with {FEW_REPETITIONS} or fewer repetitions"),
            None,
        ),
        (
            "squat_body_mass",
            Some(ratio >= 1.0),
            format!(
                "a squat of one's own body weight before jumps at that ratio (now {ratio:.2} times)"
            ),
            None,
        ),
    ];
    asked
        .into_iter()
        .filter(|(_, answer, ..)| *answer != Some(true))
        .map(|(key, answer, text, mass_kg)| OpenPoint {
            key,
            answered_no: answer == Some(false),
            text,
            mass_kg,
        })
        .collect()
}

fn open_text(point: &OpenPoint) -> String {
    match point.mass_kg {
        Some(mass_kg) => format!("{} ({mass_kg:.0} kg)", point.text),
        None => point.text.clone(),
    }
}

fn text(plan: &LoadPlan) -> String {
    let mut said = Vec::new();
    if let (Some(epley), Some(brzycki)) = (plan.strength.epley_kg, plan.strength.brzycki_kg) {
        said.push(format!(
            "From {} repetitions the squat maximum is about {epley:.0} kg by Epley and \
             {brzycki:.0} kg by Brzycki; {:.0} kg is used.",
            plan.strength.repetitions, plan.strength.used_kg
        ));
    }
    said.push(format!(
        "Common practice (no published source) starts loaded jumps at about {:.0} % of the squat \
         maximum: {:.1} kg. The gym has {:.1} kg. The squat is {:.2} times body mass.",
        100.0 * STARTING_SHARE,
        plan.target_kg,
        plan.start.load_kg,
        plan.squat_to_body_mass
    ));
    if plan.open_points.is_empty() {
        said.push("No readiness point is open.".to_owned());
    } else {
        let open: Vec<String> = plan.open_points.iter().map(open_text).collect();
        said.push(format!(
            "Still open before loading, by common practice: {}.",
            open.join("; ")
        ));
    }
    for warning in &plan.warnings {
        said.push(format!("Warning: {}.", warning.text()));
    }
    said.push("This is advice; the coach decides.".to_owned());
    said.join(" ")
}
