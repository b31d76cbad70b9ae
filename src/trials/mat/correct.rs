//! A correction for the mat, where the data carry one, and never beyond them.

use serde::Serialize;

use super::error::MatError;
use super::explain::{Curve, Explanation, Verdict, Weighing};
use crate::units::{Bounds, Span, StandardUncertainty};

/// Least number of jumps for a correction: common practice, no published limit.
pub const LEAST_JUMPS: usize = 10;

/// How to get from the mat's time to the true one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Correction {
    /// The curve that is undone.
    pub curve: Curve,
    /// Shortest and longest mat time of the set; beyond them nothing is known.
    #[serde(rename = "valid_s")]
    pub valid: Bounds<Span>,
    /// Standard uncertainty of a corrected time: the mat's own scatter and the
    /// doubt in the correction.
    #[serde(rename = "u_s")]
    pub u: StandardUncertainty<Span>,
}

/// A corrected mat time. It is marked so that nobody takes it for a reading.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Corrected {
    /// What the mat showed.
    #[serde(rename = "shown_s")]
    pub shown: Span,
    /// The time behind it.
    #[serde(rename = "corrected_s")]
    pub corrected: Span,
    /// Its standard uncertainty.
    #[serde(rename = "u_s")]
    pub u: StandardUncertainty<Span>,
}

impl Correction {
    /// The true flight time behind a mat's.
    ///
    /// # Errors
    /// [`MatError::OutsideCorrection`] beyond the range of the set.
    pub fn apply(&self, shown: Span) -> Result<Corrected, MatError> {
        if !self.valid.contains(shown) {
            return Err(MatError::OutsideCorrection {
                time_s: shown.seconds(),
                lo_s: self.valid.lo().seconds(),
                hi_s: self.valid.hi().seconds(),
            });
        }
        Ok(Corrected {
            shown,
            corrected: Span::from_seconds(self.curve.behind(shown.seconds())),
            u: self.u,
        })
    }
}

/// The correction the data carry, if they do: enough jumps, a difference told
/// apart from none, and either one explanation that stands out or several that
/// correct every reading of the set alike, within `tolerance`.
pub(super) fn carried(
    weighing: &Weighing,
    mat_times: &[Span],
    tolerance: Span,
    u: StandardUncertainty<Span>,
) -> Option<Correction> {
    if mat_times.len() < LEAST_JUMPS {
        return None;
    }
    let standing = match &weighing.verdict {
        Verdict::NoPattern => return None,
        Verdict::Told(one) => vec![*one],
        Verdict::NotToldApart(several) => several.clone(),
    };
    if standing.contains(&Explanation::NoDifference) {
        return None;
    }
    let curves: Vec<Curve> = weighing
        .explanations
        .iter()
        .map(|e| e.curve)
        .filter(|c| standing.contains(&c.explanation))
        .collect();
    let curve = *curves.first()?;
    for time in mat_times {
        for other in &curves {
            let apart = curve.behind(time.seconds()) - other.behind(time.seconds());
            if apart.abs() > tolerance.seconds() {
                return None;
            }
        }
    }
    let first = *mat_times.first()?;
    let shortest = mat_times
        .iter()
        .copied()
        .fold(first, |a, b| if b < a { b } else { a });
    let longest = mat_times
        .iter()
        .copied()
        .fold(first, |a, b| if b > a { b } else { a });
    Some(Correction {
        curve,
        valid: Bounds::between(shortest, longest),
        u,
    })
}
