//! The squat maximum, tested or estimated from repetitions.

use serde::{Deserialize, Serialize};

use super::error::{LoadError, within};

/// Most repetitions for which the estimates are held to be valid.
pub const MOST_REPETITIONS: u32 = 10;

/// Repetitions that common practice recommends for training or estimating
/// maximum strength.
pub const FEW_REPETITIONS: u32 = 5;

/// Heaviest squat taken for possible, in kg.
const HEAVIEST_KG: f64 = 600.0;

/// Where the squat maximum comes from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SquatMax {
    /// One repetition, lifted.
    Tested {
        /// Load of the bar in kg.
        max_kg: f64,
    },
    /// Several repetitions to the last good one.
    FromRepetitions {
        /// Load of the bar in kg.
        load_kg: f64,
        /// Repetitions, 1 to 10.
        repetitions: u32,
    },
}

/// A squat maximum as used, with the estimates behind it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Strength {
    /// The number the plan goes by: the lifted load, or the lower estimate.
    pub used_kg: f64,
    /// Epley's estimate, if estimated.
    pub epley_kg: Option<f64>,
    /// Brzycki's estimate, if estimated.
    pub brzycki_kg: Option<f64>,
    /// Repetitions behind it; 1 for a tested maximum.
    pub repetitions: u32,
}

/// Epley's estimate of the one-repetition maximum, w (1 + r/30), in kg.
///
/// For one repetition it claims 3.3 % more than was lifted: a known defect.
///
/// # Errors
/// [`LoadError`] for an impossible load or beyond 10 repetitions.
pub fn epley(load_kg: f64, repetitions: u32) -> Result<f64, LoadError> {
    check(load_kg, repetitions)?;
    Ok(load_kg * (1.0 + f64::from(repetitions) / 30.0))
}

/// Brzycki's estimate, w · 36/(37 − r), in kg.
///
/// # Errors
/// As [`epley`].
pub fn brzycki(load_kg: f64, repetitions: u32) -> Result<f64, LoadError> {
    check(load_kg, repetitions)?;
    Ok(load_kg * 36.0 / (37.0 - f64::from(repetitions)))
}

fn check(load_kg: f64, repetitions: u32) -> Result<(), LoadError> {
    within("squat load", load_kg, "kg", 1.0, HEAVIEST_KG)?;
    if (1..=MOST_REPETITIONS).contains(&repetitions) {
        Ok(())
    } else {
        Err(LoadError::Repetitions { repetitions })
    }
}

impl SquatMax {
    /// The maximum to go by. Of two estimates the lower one, to err on the
    /// light side; a single repetition is what was lifted.
    ///
    /// # Errors
    /// [`LoadError`] for an impossible load or number of repetitions.
    pub fn strength(&self) -> Result<Strength, LoadError> {
        match *self {
            Self::Tested { max_kg } => Ok(Strength {
                used_kg: within("squat maximum", max_kg, "kg", 1.0, HEAVIEST_KG)?,
                epley_kg: None,
                brzycki_kg: None,
                repetitions: 1,
            }),
            Self::FromRepetitions {
                load_kg,
                repetitions,
            } => {
                let (e, b) = (epley(load_kg, repetitions)?, brzycki(load_kg, repetitions)?);
                Ok(Strength {
                    used_kg: if repetitions == 1 { load_kg } else { e.min(b) },
                    epley_kg: Some(e),
                    brzycki_kg: Some(b),
                    repetitions,
                })
            }
        }
    }
}
