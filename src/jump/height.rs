//! From flight time to height, and what the posture at landing does to it.
//!
//! Between take-off and landing only gravity acts, so a centre of mass that
//! lands as high as it took off rises for half the flight: h = g T²/8
//! (equation of Linthorne 2001, "Analysis of standing vertical jumps using a
//! force platform", Am J Phys 69:1198). Air resistance is left out.

use serde::Serialize;

use super::error::JumpError;
use crate::units::{Acceleration, Bounds, Metres, Span, Speed, StandardUncertainty};

/// What every height of this program means.
///
/// Eythorsdottir and others 2024 (Sports Med 54:2771) found up to 15 cm
/// between four usual equations on one jump, so the definition is printed.
pub const DEFINITION: &str = "rise of the centre of mass after take-off, from flight time";

/// Height from flight time, h = g T²/8, in metres. A negative time counts as 0.
pub fn height(flight_time: Span, gravity: Acceleration) -> Metres {
    let t = flight_time.seconds().max(0.0);
    Metres::from_metres(gravity.metres_per_second_squared() * t * t / 8.0)
}

/// Flight time of a jump of a height, T = √(8h/g). A negative height counts as 0.
pub fn flight_time(height: Metres, gravity: Acceleration) -> Span {
    let h = height.metres().max(0.0);
    Span::from_seconds((8.0 * h / gravity.metres_per_second_squared()).sqrt())
}

/// Speed of the centre of mass at take-off, v = g T/2.
pub fn takeoff_speed(flight_time: Span, gravity: Acceleration) -> Speed {
    Speed::from_metres_per_second(gravity.metres_per_second_squared() * flight_time.seconds() / 2.0)
}

/// How fast the height grows with the flight time, dh/dT = g T/4, in metres
/// per second: the sensitivity by which timing errors become height errors.
///
/// Half the take-off speed.
pub fn height_per_time(flight_time: Span, gravity: Acceleration) -> Speed {
    takeoff_speed(flight_time, gravity) / 2.0
}

/// Bounds of the height from bounds of the flight time.
///
/// Height only grows with time, so the ends map onto the ends.
pub fn height_bounds(flight_time: Bounds<Span>, gravity: Acceleration) -> Bounds<Metres> {
    Bounds::between(
        height(flight_time.lo(), gravity),
        height(flight_time.hi(), gravity),
    )
}

/// What h = g T²/8 reads when the centre of mass lands `lowering` lower than
/// it took off: (√h + √(h+d))²/4.
///
/// The way up takes √(2h/g), the way down √(2(h+d)/g); T is their sum. The
/// excess is close to d/2. A negative lowering is a landing on a straighter
/// body than at take-off.
///
/// # Errors
/// [`JumpError::PostureOutOfRange`] when h or h + d is negative or no number.
pub fn read_height(true_height: Metres, lowering: Metres) -> Result<Metres, JumpError> {
    let (h, d) = (true_height.metres(), lowering.metres());
    if !(h >= 0.0 && h + d >= 0.0 && (h + d).is_finite()) {
        return Err(posture_error(true_height, lowering));
    }
    let roots = h.sqrt() + (h + d).sqrt();
    Ok(Metres::from_metres(roots * roots / 4.0))
}

/// The inverse of [`read_height`]: the true rise behind a height H from flight
/// time, given the lowering at landing, (4H − d)²/(16H).
///
/// # Errors
/// [`JumpError::PostureOutOfRange`] unless H > 0 and |d| ≤ 4H: no jump with
/// that flight time could end so much lower or higher.
pub fn true_height(read: Metres, lowering: Metres) -> Result<Metres, JumpError> {
    let (big_h, d) = (read.metres(), lowering.metres());
    if !(big_h > 0.0 && big_h.is_finite() && d.abs() <= 4.0 * big_h) {
        return Err(posture_error(read, lowering));
    }
    let root = (4.0 * big_h - d) / (4.0 * big_h.sqrt());
    Ok(Metres::from_metres(root * root))
}

fn posture_error(height: Metres, lowering: Metres) -> JumpError {
    JumpError::PostureOutOfRange {
        lowering_m: lowering.metres(),
        height_m: height.metres(),
    }
}

/// By how much the posture at landing likely makes the height read too high.
///
/// A statement of its own, on one side only. It is not in the interval: the
/// camera at the floor does not see the posture, and a guess about the body
/// must not be mixed with what the frames prove.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PostureAllowance {
    /// Height from flight time minus the likely rise.
    #[serde(rename = "likely_overstatement_m")]
    pub likely_overstatement: Metres,
    /// Its standard uncertainty.
    #[serde(rename = "u_m")]
    pub u: StandardUncertainty<Metres>,
}

impl PostureAllowance {
    /// The centre of mass stood 0.053 m lower at landing than at take-off on
    /// average over 27 athletes jumping with arm swing (Yamashita and others
    /// 2020, Appl Sci 10:776): a likely lowering where nothing else is known.
    pub const PUBLISHED_LOWERING: Metres = Metres::from_metres(0.053);

    /// The allowance for a height from flight time, given by how much lower
    /// the centre of mass likely was at landing.
    ///
    /// u = (½ − d/(8H)) u(d), from the derivative of [`true_height`].
    ///
    /// # Errors
    /// [`JumpError::PostureOutOfRange`] as for [`true_height`].
    pub fn from_lowering(
        read: Metres,
        lowering: Metres,
        u_lowering: StandardUncertainty<Metres>,
    ) -> Result<Self, JumpError> {
        let truth = true_height(read, lowering)?;
        let slope = 0.5 - lowering.metres() / (8.0 * read.metres());
        Ok(Self {
            likely_overstatement: read - truth,
            u: StandardUncertainty(u_lowering.0.abs() * slope),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn posture_formula_and_its_inverse_undo_each_other() {
        for (h, d) in [(0.4, 0.053), (0.3, -0.01), (0.05, 0.1), (0.2, 0.0)] {
            let (h, d) = (Metres::from_metres(h), Metres::from_metres(d));
            let back = true_height(read_height(h, d).unwrap(), d).unwrap();
            assert!((back - h).abs() < Metres::from_metres(1e-12), "{h:?} {d:?}");
        }
    }

    #[test]
    fn impossible_postures_are_refused() {
        let m = Metres::from_metres;
        assert!(read_height(m(0.1), m(-0.2)).is_err());
        assert!(true_height(m(0.1), m(0.5)).is_err());
        assert!(true_height(m(0.0), m(0.0)).is_err());
        assert!(true_height(m(0.3), m(f64::NAN)).is_err());
    }

    #[test]
    fn allowance_uncertainty_is_the_numerical_derivative() {
        let (read, d, u) = (0.3, 0.053, 0.03);
        let m = Metres::from_metres;
        let allowance =
            PostureAllowance::from_lowering(m(read), m(d), StandardUncertainty(m(u))).unwrap();
        let at = |d: f64| true_height(m(read), m(d)).unwrap().metres();
        let slope = (at(d + 1e-6) - at(d - 1e-6)) / 2e-6;
        assert!((allowance.u.0.metres() + slope * u).abs() < 1e-9);
    }
}
