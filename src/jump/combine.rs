//! Combining uncertainties: the law of propagation of JCGM 100:2008 (the GUM).
//!
//! Every input has a value, a standard uncertainty, degrees of freedom and a
//! sensitivity (how much the result moves per unit of the input). The budget
//! of a jump is combined here, and so are the worked examples of the GUM by
//! which this file is checked.

use statrs::distribution::{ContinuousCDF, StudentsT};
use statrs::function::erf::erf_inv;

use super::error::JumpError;

/// Above this many degrees of freedom Student's t is normal to 1e-6.
const NORMAL_FROM_DOF: f64 = 1e6;

/// One input of a measurement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Input {
    /// Best estimate, in the input's own unit.
    pub value: f64,
    /// Standard uncertainty, in the same unit.
    pub u: f64,
    /// Degrees of freedom of `u`; infinite where `u` is taken as known.
    pub dof: f64,
    /// Change of the result per unit of the input.
    pub sensitivity: f64,
}

impl Input {
    /// An input whose uncertainty is taken as known.
    pub fn known(value: f64, u: f64, sensitivity: f64) -> Self {
        Self {
            value,
            u,
            dof: f64::INFINITY,
            sensitivity,
        }
    }

    /// What the input contributes to the result: sensitivity times u, with sign.
    pub fn contribution(&self) -> f64 {
        self.sensitivity * self.u
    }
}

/// Correlation coefficients between inputs; those not named are 0.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Correlations {
    pairs: Vec<(usize, usize, f64)>,
}

impl Correlations {
    /// All inputs independent.
    pub fn none() -> Self {
        Self::default()
    }

    /// Adds the correlation between the inputs at positions `a` and `b`, which
    /// must be two different ones; positions without an input have no effect.
    ///
    /// # Errors
    /// [`JumpError::BadCorrelation`] for a coefficient outside −1 to 1.
    pub fn with(mut self, a: usize, b: usize, coefficient: f64) -> Result<Self, JumpError> {
        if !(-1.0..=1.0).contains(&coefficient) || (a == b && coefficient != 1.0) {
            return Err(JumpError::BadCorrelation { value: coefficient });
        }
        if a != b {
            self.pairs
                .retain(|(i, j, _)| (*i, *j) != (a, b) && (*i, *j) != (b, a));
            self.pairs.push((a, b, coefficient));
        }
        Ok(self)
    }

    fn any(&self) -> bool {
        self.pairs.iter().any(|(_, _, r)| *r != 0.0)
    }
}

/// A combined standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Combined {
    /// Combined standard uncertainty, in the result's unit.
    pub u: f64,
    /// Effective degrees of freedom by Welch and Satterthwaite (JCGM 100,
    /// G.4.1); none where inputs are correlated, for which the formula is not
    /// valid.
    pub effective_dof: Option<f64>,
}

/// Combines inputs by the law of propagation (JCGM 100, 5.1.2 and 5.2.2):
/// u² = Σᵢ Σⱼ cᵢ cⱼ uᵢ uⱼ rᵢⱼ.
pub fn combine(inputs: &[Input], correlations: &Correlations) -> Combined {
    let u = covariance(inputs, inputs, correlations).max(0.0).sqrt();
    Combined {
        u,
        effective_dof: (!correlations.any()).then(|| welch_satterthwaite(inputs, u)),
    }
}

/// Covariance of two results that depend on the same inputs: the inputs come
/// twice, in the same order, with each result's own sensitivities. Inputs
/// beyond the shorter list count as insensitive.
pub fn covariance(first: &[Input], second: &[Input], correlations: &Correlations) -> f64 {
    let own: f64 = first
        .iter()
        .zip(second)
        .map(|(a, b)| a.contribution() * b.contribution())
        .sum();
    let term = |i: usize, j: usize| match (first.get(i), second.get(j)) {
        (Some(a), Some(b)) => a.contribution() * b.contribution(),
        _ => 0.0,
    };
    let crossed: f64 = correlations
        .pairs
        .iter()
        .map(|(i, j, r)| r * (term(*i, *j) + term(*j, *i)))
        .sum();
    own + crossed
}

/// νeff = u⁴ / Σ (cᵢuᵢ)⁴/νᵢ, infinite when every input's uncertainty is known.
fn welch_satterthwaite(inputs: &[Input], u: f64) -> f64 {
    let doubt: f64 = inputs
        .iter()
        .map(|input| input.contribution().powi(4) / input.dof)
        .sum();
    if doubt == 0.0 {
        f64::INFINITY
    } else {
        u.powi(4) / doubt
    }
}

/// The factor k by which a standard uncertainty is widened so that ± k u holds
/// the value with probability `p`: the two-sided quantile of Student's t, or of
/// the normal distribution for infinite `dof`.
///
/// Only for results that are close to normal; a sum of few rectangles has its
/// own quantile (see [`super::shape`]). NaN unless 0 < p < 1 and `dof` > 0.
pub fn coverage_factor(p: f64, dof: f64) -> f64 {
    if !(p > 0.0 && p < 1.0) || dof.is_nan() || dof <= 0.0 {
        return f64::NAN;
    }
    if dof >= NORMAL_FROM_DOF {
        return std::f64::consts::SQRT_2 * erf_inv(p);
    }
    StudentsT::new(0.0, 1.0, dof).map_or(f64::NAN, |t| t.inverse_cdf(0.5 + p / 2.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn full_correlation_adds_or_cancels() {
        let inputs = [Input::known(0.0, 3.0, 1.0), Input::known(0.0, 4.0, -1.0)];
        let u = |r: f64| {
            let correlations = Correlations::none().with(1, 0, r).unwrap();
            combine(&inputs, &correlations).u
        };
        assert!((u(0.0) - 5.0).abs() < 1e-12);
        assert!((u(1.0) - 1.0).abs() < 1e-12);
        assert!((u(-1.0) - 7.0).abs() < 1e-12);
    }

    #[test]
    fn a_correlation_named_twice_counts_once() {
        let inputs = [Input::known(0.0, 1.0, 1.0); 2];
        let twice = Correlations::none()
            .with(0, 1, 0.2)
            .and_then(|c| c.with(1, 0, 0.5))
            .unwrap();
        assert!((combine(&inputs, &twice).u - 3f64.sqrt()).abs() < 1e-12);
        assert_eq!(combine(&inputs, &twice).effective_dof, None);
    }

    #[test]
    fn impossible_requests_are_refused() {
        assert!(Correlations::none().with(0, 1, 1.01).is_err());
        assert!(Correlations::none().with(0, 1, f64::NAN).is_err());
        assert!(coverage_factor(1.0, 5.0).is_nan());
        assert!(coverage_factor(0.95, 0.0).is_nan());
    }
}
