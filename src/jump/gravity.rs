//! How hard the Earth pulls where the jump took place.
//!
//! From equator to pole the height behind half a second of flight differs by
//! 1.6 mm, so a constant serves; it is stated with its uncertainty so that the
//! reader need not take this on trust.

use serde::{Deserialize, Serialize};

use super::error::JumpError;
use super::shape::Component;
use crate::units::{Acceleration, StandardUncertainty};

/// Standard gravity, exact by definition: 3rd CGPM 1901, resolution 2.
pub const STANDARD_GRAVITY: Acceleration = Acceleration::from_metres_per_second_squared(9.80665);

/// Greatest distance, in m/s², between [`STANDARD_GRAVITY`] and gravity at sea
/// level by the WGS84 formula: 9.780325 at the equator, 9.832185 at the pole.
const STANDARD_HALF_WIDTH: f64 = 0.0264;

/// A stated value is taken as right to two decimals, the way gravity is
/// usually quoted: half a unit of the second decimal, in m/s². For a jump of
/// 0.3 m this is 0.15 mm, too little to ask for more.
const STATED_HALF_WIDTH: f64 = 0.005;

/// Standard uncertainty in m/s² where latitude and altitude are given: the
/// formula is for a smooth ellipsoid, and true gravity departs from it by some
/// tens of milligals (1 mGal = 1e-5 m/s²), more in high mountains (textbook
/// knowledge, from memory); 50 mGal also covers an altitude wrong by 160 m.
const AT_LATITUDE_U: f64 = 5e-4;

/// WGS84 normal gravity at the equator, in m/s².
const WGS84_EQUATOR: f64 = 9.780_325_335_9;
/// WGS84 constant k of Somigliana's formula.
const WGS84_K: f64 = 0.001_931_852_652_41;
/// WGS84 first eccentricity, squared.
const WGS84_E2: f64 = 0.006_694_379_990_14;
/// Change of gravity with height above the ellipsoid (free air), in s⁻².
const FREE_AIR: f64 = -3.086e-6;

/// Where a value of gravity comes from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "source")]
pub enum GravitySource {
    /// The standard constant, used anywhere on Earth.
    Standard,
    /// A value that the user stated.
    Stated,
    /// Computed from latitude and altitude.
    AtLatitude {
        /// Latitude in degrees, south negative.
        latitude_deg: f64,
        /// Altitude above sea level in metres.
        altitude_m: f64,
    },
}

/// Gravity with its origin and uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Gravity {
    #[serde(rename = "value_m_s2")]
    value: Acceleration,
    #[serde(rename = "u_m_s2")]
    u: StandardUncertainty<Acceleration>,
    #[serde(flatten)]
    source: GravitySource,
}

impl Gravity {
    /// Standard gravity, 9.80665 m/s², wherever the jump took place.
    ///
    /// Its uncertainty is that of the place, not of the constant: rectangular
    /// with half-width 0.0264 m/s², the range over the Earth at sea level.
    pub fn standard() -> Self {
        Self {
            value: STANDARD_GRAVITY,
            u: rectangular(STANDARD_HALF_WIDTH),
            source: GravitySource::Standard,
        }
    }

    /// A value in m/s² that the user stated, taken as right to ±0.005.
    ///
    /// # Errors
    /// [`JumpError::GravityOutOfRange`] outside 9.7 to 9.9: no place on the
    /// ground has such gravity.
    pub fn stated(value_m_s2: f64) -> Result<Self, JumpError> {
        if !(9.7..=9.9).contains(&value_m_s2) {
            return Err(JumpError::GravityOutOfRange { value_m_s2 });
        }
        Ok(Self {
            value: Acceleration::from_metres_per_second_squared(value_m_s2),
            u: rectangular(STATED_HALF_WIDTH),
            source: GravitySource::Stated,
        })
    }

    /// Gravity by Somigliana's formula on the WGS84 ellipsoid,
    /// γ = γe (1 + k sin²φ)/√(1 − e² sin²φ), less 3.086e-6 s⁻² of altitude.
    ///
    /// # Errors
    /// [`JumpError::PlaceOutOfRange`] unless the latitude is within ±90° and
    /// the altitude from −500 to 9000 m.
    pub fn at_latitude(latitude_deg: f64, altitude_m: f64) -> Result<Self, JumpError> {
        let known = (-90.0..=90.0).contains(&latitude_deg);
        if !(known && (-500.0..=9000.0).contains(&altitude_m)) {
            return Err(JumpError::PlaceOutOfRange {
                latitude_deg,
                altitude_m,
            });
        }
        let value = somigliana(latitude_deg) + FREE_AIR * altitude_m;
        Ok(Self {
            value: Acceleration::from_metres_per_second_squared(value),
            u: StandardUncertainty(Acceleration::from_metres_per_second_squared(AT_LATITUDE_U)),
            source: GravitySource::AtLatitude {
                latitude_deg,
                altitude_m,
            },
        })
    }

    /// The value.
    pub fn value(&self) -> Acceleration {
        self.value
    }

    /// Its standard uncertainty.
    pub fn u(&self) -> StandardUncertainty<Acceleration> {
        self.u
    }

    /// Where it comes from.
    pub fn source(&self) -> GravitySource {
        self.source
    }

    /// How its error is distributed, in m/s².
    pub(super) fn component(&self) -> Component {
        match self.source {
            GravitySource::Standard => Component::Uniform {
                half_width: STANDARD_HALF_WIDTH,
            },
            GravitySource::Stated => Component::Uniform {
                half_width: STATED_HALF_WIDTH,
            },
            GravitySource::AtLatitude { .. } => Component::Normal { u: AT_LATITUDE_U },
        }
    }
}

impl Default for Gravity {
    fn default() -> Self {
        Self::standard()
    }
}

/// WGS84 normal gravity at sea level, in m/s².
fn somigliana(latitude_deg: f64) -> f64 {
    let s2 = latitude_deg.to_radians().sin().powi(2);
    WGS84_EQUATOR * (1.0 + WGS84_K * s2) / (1.0 - WGS84_E2 * s2).sqrt()
}

fn rectangular(half_width: f64) -> StandardUncertainty<Acceleration> {
    StandardUncertainty(Acceleration::from_metres_per_second_squared(
        half_width / 3f64.sqrt(),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_standard_range_spans_the_earth() {
        for latitude_deg in [0.0, 90.0] {
            let off = somigliana(latitude_deg) - STANDARD_GRAVITY.metres_per_second_squared();
            assert!(off.abs() < STANDARD_HALF_WIDTH);
            assert!(off.abs() > STANDARD_HALF_WIDTH - 0.001);
        }
    }

    #[test]
    fn places_off_the_earth_are_refused() {
        assert!(Gravity::at_latitude(90.1, 0.0).is_err());
        assert!(Gravity::at_latitude(f64::NAN, 0.0).is_err());
        assert!(Gravity::at_latitude(0.0, 9001.0).is_err());
        assert!(Gravity::stated(1.62).is_err());
        assert!(Gravity::stated(f64::NAN).is_err());
    }

    #[test]
    fn uncertainty_agrees_with_its_shape() {
        for gravity in [
            Gravity::standard(),
            Gravity::stated(9.81).unwrap(),
            Gravity::at_latitude(50.0, 200.0).unwrap(),
        ] {
            let u = gravity.u().0.metres_per_second_squared();
            assert!((gravity.component().u() - u).abs() < 1e-12);
        }
    }
}
