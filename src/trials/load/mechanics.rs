//! Mean force, velocity and power of a push-off from the height jumped.
//!
//! Samozino and others 2008, "A simple method for measuring force, velocity and
//! power output during squat jump", J Biomech 41:2940: work over the push-off
//! distance lifts the body by that distance and the jump height. The equations
//! are given from memory. They agreed with a force plate within 3 % in squat
//! jumps.

use serde::Serialize;

use super::error::{LoadError, within};
use crate::units::{Acceleration, Metres};

/// Means over the push-off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Push {
    /// m g (h/hpo + 1), in newtons.
    pub force_n: f64,
    /// √(g h/2), in metres per second: half the take-off speed.
    pub velocity_m_s: f64,
    /// Their product, in watts.
    pub power_w: f64,
}

pub(super) fn check_push_off(push_off: Metres) -> Result<f64, LoadError> {
    within("push-off distance", push_off.metres(), "m", 0.1, 1.0)
}

pub(super) fn check_height(height: Metres) -> Result<f64, LoadError> {
    within("jump height", height.metres(), "m", 0.01, 1.3)
}

/// Mean force, velocity and power.
///
/// `total_mass_kg` is the body and the load; `push_off` the distance the centre
/// of mass travels from the lowest point to take-off.
///
/// # Errors
/// [`LoadError::Impossible`] for numbers no jump has.
pub fn push(
    total_mass_kg: f64,
    height: Metres,
    push_off: Metres,
    gravity: Acceleration,
) -> Result<Push, LoadError> {
    let mass = within("body and load", total_mass_kg, "kg", 20.0, 600.0)?;
    let (h, hpo) = (check_height(height)?, check_push_off(push_off)?);
    let g = gravity.metres_per_second_squared();
    within("gravity", g, "m/s²", 9.0, 11.0)?;
    Ok(push_of(mass, h, hpo, g))
}

pub(super) fn push_of(mass: f64, h: f64, hpo: f64, g: f64) -> Push {
    let force_n = mass * g * (h / hpo + 1.0);
    let velocity_m_s = (g * h / 2.0).sqrt();
    Push {
        force_n,
        velocity_m_s,
        power_w: force_n * velocity_m_s,
    }
}

/// Take-off speed of a body whose mean force falls with mean velocity along
/// F = F0 + S v, all per kilogram of the mass moved:
/// hpo (√(S²/4 + 2(F0 − g)/hpo) + S/2), in m/s; None where F0 does not lift it.
///
/// Samozino and others 2012, "Optimal force–velocity profile in ballistic
/// movements — altius: citius or fortius?", Med Sci Sports Exerc 44:313.
pub fn takeoff_speed(f0_n_kg: f64, slope_n_s_kg_m: f64, push_off_m: f64, g: f64) -> Option<f64> {
    let net = f0_n_kg - g;
    if !(net > 0.0 && push_off_m > 0.0) {
        return None;
    }
    let half = slope_n_s_kg_m / 2.0;
    Some(push_off_m * ((half * half + 2.0 * net / push_off_m).sqrt() + half))
}

/// The slope S, in N·s/(kg·m), that with a given maximum power per kilogram
/// jumps highest (same paper; closed form from memory, held to a numerical
/// search in the tests). A figure for checks: no athlete is judged by it here,
/// since gains of the size of a few millimetres cannot be measured.
///
/// # Errors
/// [`LoadError::Impossible`] for powers and distances no jump has.
pub fn optimal_slope(pmax_w_kg: f64, push_off: Metres, g: f64) -> Result<f64, LoadError> {
    let p = within("maximum power", pmax_w_kg, "W/kg", 5.0, 100.0)?;
    let h = check_push_off(push_off)?;
    within("gravity", g, "m/s²", 9.0, 11.0)?;
    let under = 2.0 * g.powi(3) * h.powi(9) * p.powi(6) + 27.0 * h.powi(8) * p.powi(8);
    let z = (-g.powi(6) * h.powi(6)
        - 18.0 * g.powi(3) * h.powi(5) * p.powi(2)
        - 54.0 * h.powi(4) * p.powi(4)
        + 6.0 * 3f64.sqrt() * under.sqrt())
    .cbrt();
    Ok(-g * g / (3.0 * p)
        - (-g.powi(4) * h.powi(4) - 12.0 * g * h.powi(3) * p * p) / (3.0 * h * h * p * z)
        + z / (3.0 * h * h * p))
}
