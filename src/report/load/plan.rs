//! A plan of loads.

use serde::Serialize;

use super::{cautions, mass};
use crate::report::json::{JsonError, ends_as_lists};
use crate::report::model::SCHEMA;
use crate::report::terminal::wrap::wrapped;
use crate::report::terminal::{TextOptions, Units};
use crate::trials::load::gym::Means;
use crate::trials::load::plan::{OpenPoint, STARTING_SHARE};
use crate::trials::load::{LoadPlan, PlanInput, Step};

/// Everything that a plan shows.
#[derive(Clone, Copy, Debug)]
pub struct PlanView<'a> {
    /// What it starts from.
    pub input: &'a PlanInput,
    /// The plan.
    pub plan: &'a LoadPlan,
    /// Whether the gym's iron was assumed, since nobody stated it.
    pub gym_is_assumed: bool,
}

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    input: &'a PlanInput,
    gym_is_assumed: bool,
    plan: &'a LoadPlan,
}

/// The plan as one JSON document.
///
/// # Errors
/// [`JsonError`] if it cannot be written.
pub fn plan_json(view: &PlanView<'_>) -> Result<String, JsonError> {
    let document = Document {
        schema: SCHEMA,
        input: view.input,
        gym_is_assumed: view.gym_is_assumed,
        plan: view.plan,
    };
    Ok(ends_as_lists(serde_json::to_value(document)?).to_string())
}

/// The plan for a person. It advises; the coach decides.
pub fn plan_text(view: &PlanView<'_>, options: TextOptions) -> String {
    let (plan, units) = (view.plan, options.units);
    let mut text = options.bold("Loads for jumps: advice, the coach decides") + "\n";
    text += &strength(view, units);
    let target = format!(
        "{} is {:.0} % of the squat maximum, where common practice (no published source) starts \
         loaded countermovement jumps.",
        mass(plan.target_kg, units),
        100.0 * STARTING_SHARE
    );
    text += &wrapped("  Aim           ", &target);
    text += &format!("  Start with    {}\n", step(&plan.start, units));
    if let Some(next) = &plan.next_heavier {
        text += &format!("  Next heavier  {}\n", step(next, units));
    }
    if view.gym_is_assumed {
        text += &wrapped(
            "                ",
            "(taken: a 20 kg bar, pairs of 1.25 to 20 kg plates, pairs of dumbbells; say what \
             the gym has with --bars, --plates, --dumbbells)",
        );
    }
    text += "\nSteps from body weight upwards, as far as the landing stays clean\n";
    for (position, one) in plan.progression.iter().enumerate() {
        text += &format!("  {}. {}\n", position + 1, step(one, units));
    }
    text += &open_points(&plan.open_points, units);
    for warning in &plan.warnings {
        text += &options.alert("warning: ");
        text += &crate::report::terminal::wrap::hanging(9, &warning.text_in(|kg| mass(kg, units)));
    }
    text + "\n" + &cautions(options)
}

fn strength(view: &PlanView<'_>, units: Units) -> String {
    let plan = view.plan;
    let strength = &plan.strength;
    let from = match (strength.epley_kg, strength.brzycki_kg) {
        (Some(epley), Some(brzycki)) => format!(
            "; from {} repetitions by Epley {}, by Brzycki {}, the lower counts",
            strength.repetitions,
            mass(epley, units),
            mass(brzycki, units)
        ),
        _ => ", tested".to_owned(),
    };
    wrapped(
        "  Squat         ",
        &format!("{}{from}", mass(strength.used_kg, units)),
    ) + &wrapped("  To body mass  ", &ratio(plan.squat_to_body_mass))
}

/// What the ratio says, by common practice.
fn ratio(ratio: f64) -> String {
    let said = if ratio >= 1.0 {
        "at or above body mass, which common practice wants before loaded jumps"
    } else {
        "below body mass: common practice builds the squat first and jumps without a load, or \
         with a light one"
    };
    format!("{ratio:.2} times: {said}.")
}

fn step(step: &Step, units: Units) -> String {
    let each = |kg: f64| {
        let text = format!("{:.2}", units.of_mass(kg));
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    let symbol = units.mass_symbol();
    let made_of = match &step.means {
        Means::BodyWeight => return "body weight".to_owned(),
        Means::Dumbbells { each_kg } => format!("dumbbells of {} {symbol}", each(*each_kg)),
        Means::Barbell {
            bar_kg,
            per_side_kg,
        } if per_side_kg.is_empty() => format!("the {} {symbol} bar", each(*bar_kg)),
        Means::Barbell {
            bar_kg,
            per_side_kg,
        } => {
            let plates: Vec<String> = per_side_kg.iter().map(|kg| each(*kg)).collect();
            format!(
                "the {} {symbol} bar with {} on each side",
                each(*bar_kg),
                plates.join(" + ")
            )
        }
    };
    format!("{}: {made_of}", mass(step.load_kg, units))
}

fn open_points(points: &[OpenPoint], units: Units) -> String {
    if points.is_empty() {
        return "\nNo readiness point is open.\n".to_owned();
    }
    let mut text = "\nStill open before loading (common practice)\n".to_owned();
    for point in points {
        let answer = if point.answered_no {
            "not met: "
        } else {
            "ask: "
        };
        let with = point.mass_kg.map(|kg| format!(" ({})", mass(kg, units)));
        let with = with.unwrap_or_default();
        text += &wrapped("  - ", &format!("{answer}{}{with}", point.text));
    }
    text
}
