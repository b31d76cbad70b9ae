//! Peak power by published regressions on height and body mass.
//!
//! Off by default. They were fitted to other people's jumps, mostly to
//! jump-and-reach heights, which are not heights from flight time. In juniors
//! all of them fell short of measured power (Duncan and others 2008), and a
//! power computed from height says little that the height does not (Knudson
//! 2009, J Strength Cond Res 23:1902; Linthorne 2021, Sports Biomech 20:3).

use serde::Serialize;

use super::error::{LoadError, within};
use super::mechanics::check_height;
use crate::units::Metres;

/// A regression: peak power in W = per_cm · h + per_kg · m + constant.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Regression {
    /// Stable key.
    pub key: &'static str,
    /// Author, year, place.
    pub source: &'static str,
    /// Watts per centimetre of height.
    pub per_cm_w: f64,
    /// Watts per kilogram of body mass.
    pub per_kg_w: f64,
    /// Watts.
    pub constant_w: f64,
    /// Standard error of the estimate in watts, where at hand.
    pub see_w: Option<f64>,
    /// Where that error comes from, or that it is not at hand.
    pub see_note: &'static str,
    /// Whom it was fitted to.
    pub population: &'static str,
}

/// The regressions on offer.
pub const REGRESSIONS: [Regression; 4] = [
    Regression {
        key: "sayers_1999",
        source: "Sayers and others 1999, Med Sci Sports Exerc 31:572",
        per_cm_w: 60.7,
        per_kg_w: 45.3,
        constant_w: -2055.0,
        see_w: Some(372.9),
        see_note: "from memory",
        population: "108 college-age men and women, squat jumps",
    },
    Regression {
        key: "sayers_1999_countermovement",
        source: "Sayers and others 1999, Med Sci Sports Exerc 31:572",
        per_cm_w: 51.9,
        per_kg_w: 48.9,
        constant_w: -2007.0,
        see_w: Some(561.5),
        see_note: "from memory, as is the constant",
        population: "108 college-age men and women, countermovement jumps",
    },
    // The 1991 print has +1822, which makes everybody twice as strong; Sayers
    // 1999, with Harman among the authors, has the sign right.
    Regression {
        key: "harman_1991",
        source: "Harman and others 1991, J Appl Sport Sci Res 5:116 (place from memory), sign after Sayers 1999",
        per_cm_w: 61.9,
        per_kg_w: 36.0,
        constant_w: -1822.0,
        see_w: None,
        see_note: "not at hand",
        population: "17 men (number from memory), squat jumps",
    },
    Regression {
        key: "amonette_2012",
        source: "Amonette and others 2012, J Strength Cond Res 26:1749",
        per_cm_w: 63.6,
        per_kg_w: 42.7,
        constant_w: -1846.5,
        see_w: Some(250.7),
        see_note: "as published",
        population: "boys and young men (from memory)",
    },
];

/// A predicted peak power.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PeakPower {
    /// The regression.
    pub regression: Regression,
    /// Peak power in watts.
    pub power_w: f64,
}

impl Regression {
    /// Peak power of an unloaded jump.
    ///
    /// # Errors
    /// [`LoadError::Impossible`] for impossible heights and masses.
    pub fn peak_power(&self, height: Metres, body_mass_kg: f64) -> Result<PeakPower, LoadError> {
        let h_cm = 100.0 * check_height(height)?;
        let mass = within("body mass", body_mass_kg, "kg", 20.0, 300.0)?;
        Ok(PeakPower {
            regression: *self,
            power_w: self.per_cm_w * h_cm + self.per_kg_w * mass + self.constant_w,
        })
    }
}
