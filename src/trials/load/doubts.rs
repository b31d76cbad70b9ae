//! What weakens a series across loads.

use serde::Serialize;

use super::error::LoadError;
use super::plan::{LoadWarning, kilograms, load_warnings};
use super::series::{LoadPoint, SeriesInput, difference};

/// Why a series says little.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SeriesWarning {
    /// No jump without load to compare with.
    NoUnloaded,
    /// One jump per load: the athlete's own scatter is unknown.
    SingleJumps,
    /// Too few loads for a curve.
    FewLoads {
        /// Loads jumped.
        loads: usize,
    },
    /// Heaviest less lightest load is a small part of body mass.
    NarrowLoads {
        /// The difference in kg.
        span_kg: f64,
    },
    /// The heights at the lightest and heaviest load are not told apart.
    HeightsNotToldApart,
    /// Force and velocity rest on a distance nobody measured.
    PushOffStated,
    /// A load beyond sense.
    Load(LoadWarning),
}

/// Least span of loads, as a share of body mass, that says something: common
/// practice; with less, heights differ by little more than their errors.
pub const LEAST_SPAN: f64 = 0.4;

/// Loads that make a curve: common practice.
pub const CURVE_LOADS: usize = 4;

impl SeriesWarning {
    /// In words, masses in kilograms.
    pub fn text(&self) -> String {
        self.text_in(kilograms)
    }

    /// In words, masses written by `mass`, which is given kilograms.
    pub fn text_in(&self, mass: impl Fn(f64) -> String) -> String {
        match self {
            Self::NoUnloaded => "no jump without load: nothing to compare with".to_owned(),
            Self::SingleJumps => "one jump at each load: the intervals hold for these jumps, not \
                                  for what the athlete can do; jump three times"
                .to_owned(),
            Self::FewLoads { loads } => {
                format!("{loads} loads make no curve; take four or five, body weight included")
            }
            Self::NarrowLoads { span_kg } => format!(
                "the loads span only {}, less than {:.0} % of body mass: too narrow for a line of \
                 force against velocity",
                mass(*span_kg),
                100.0 * LEAST_SPAN
            ),
            Self::HeightsNotToldApart => {
                "lightest and heaviest load do not differ in height by more than chance".to_owned()
            }
            Self::PushOffStated => {
                "the push-off distance is stated, not measured; forces shift with it".to_owned()
            }
            Self::Load(warning) => warning.text_in(mass),
        }
    }
}

/// The warnings of a series, lightest load first.
///
/// # Errors
/// [`LoadError::Impossible`] for a squat maximum nobody has.
pub(super) fn series_warnings(
    input: &SeriesInput,
    points: &[LoadPoint],
) -> Result<Vec<SeriesWarning>, LoadError> {
    let mut all = Vec::new();
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return Ok(all);
    };
    if first.load_kg > 0.0 {
        all.push(SeriesWarning::NoUnloaded);
    }
    if points.iter().all(|p| p.jumps == 1) {
        all.push(SeriesWarning::SingleJumps);
    }
    if points.len() < CURVE_LOADS {
        all.push(SeriesWarning::FewLoads {
            loads: points.len(),
        });
    }
    let span_kg = last.load_kg - first.load_kg;
    if span_kg < LEAST_SPAN * input.body_mass_kg {
        all.push(SeriesWarning::NarrowLoads { span_kg });
    }
    let drop = difference(first, last);
    if drop.interval95.contains(0.0) {
        all.push(SeriesWarning::HeightsNotToldApart);
    }
    if input.push_off.is_some_and(|p| !p.measured) {
        all.push(SeriesWarning::PushOffStated);
    }
    let squat = input.squat_max_kg.unwrap_or(600.0);
    for warning in load_warnings(last.load_kg, squat, input.body_mass_kg)? {
        all.push(SeriesWarning::Load(warning));
    }
    Ok(all)
}
