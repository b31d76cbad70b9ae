//! Why the mat differs: nothing, a delay, a wrong rate, an added height?
//!
//! Each explanation is a curve from true to shown flight time with one number to
//! fit. They are weighed by Akaike's criterion for small samples, AICc (Hurvich
//! and Tsai 1989, "Regression and time series model selection in small samples",
//! Biometrika 76:297; its reading after Burnham and Anderson 2002, "Model
//! selection and multimodel inference"). The film's times err too, which alone
//! would tilt an ordinary fit; so each deviation is weighed with both methods'
//! errors, as Deming's line does.
//!
//! Every jump counts as an independent witness. Where few athletes jump often,
//! the evidence is weaker than the figures say.

use serde::{Deserialize, Serialize};

/// Least number of jumps for weighing explanations.
pub const LEAST_JUMPS: usize = 6;

/// Difference in AICc from which an explanation counts as worse. Burnham and
/// Anderson call models within 2 substantially supported, 4 to 7 considerably
/// less.
pub const TOLD_APART: f64 = 4.0;

/// A pattern of the mat's error.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Explanation {
    /// Mat and film mean the same: M = T.
    NoDifference,
    /// The mat switches late or early by a constant: M = T + a.
    ConstantDelay,
    /// The mat's clock runs fast or slow: M = b T. In heights the same as a
    /// formula with a wrong factor b².
    Proportional,
    /// A constant is added to the height: M = √(T² + 8c/g). Nearly the same as a
    /// switching delay that shrinks with the speed of landing, T + a/T.
    AddedHeight,
    /// Delay and rate together: M = a + b T.
    DelayAndRate,
}

impl Explanation {
    /// All, simplest first.
    pub const ALL: [Self; 5] = [
        Self::NoDifference,
        Self::ConstantDelay,
        Self::Proportional,
        Self::AddedHeight,
        Self::DelayAndRate,
    ];

    /// Numbers to fit, the scatter included.
    fn fitted_numbers(self) -> f64 {
        match self {
            Self::NoDifference => 1.0,
            Self::DelayAndRate => 3.0,
            _ => 2.0,
        }
    }

    /// In words, for a sentence.
    pub fn words(self) -> &'static str {
        match self {
            Self::NoDifference => "no systematic difference",
            Self::ConstantDelay => "a constant switching delay",
            Self::Proportional => "a proportional error (clock rate, or a factor in the formula)",
            Self::AddedHeight => {
                "a constant added to the height (or a delay that shrinks with higher jumps)"
            }
            Self::DelayAndRate => "a delay and a proportional error together",
        }
    }
}

/// A fitted curve from true flight time T to shown flight time M, in seconds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Curve {
    /// Which pattern.
    pub explanation: Explanation,
    /// a, in seconds; 0 where the pattern has none.
    pub delay_s: f64,
    /// b; 1 where the pattern has none.
    pub factor: f64,
    /// 8c/g, in s²; 0 where the pattern has none.
    pub added_s2: f64,
}

impl Curve {
    fn new(explanation: Explanation, parameter: f64) -> Self {
        let mut curve = Self {
            explanation,
            delay_s: 0.0,
            factor: 1.0,
            added_s2: 0.0,
        };
        match explanation {
            Explanation::NoDifference => {}
            Explanation::ConstantDelay => curve.delay_s = parameter,
            Explanation::Proportional | Explanation::DelayAndRate => curve.factor = parameter,
            Explanation::AddedHeight => curve.added_s2 = parameter,
        }
        curve
    }

    /// What the mat shows for a true flight time.
    pub fn shown(&self, true_s: f64) -> f64 {
        (self.factor * self.factor * true_s * true_s + self.added_s2)
            .max(0.0)
            .sqrt()
            + self.delay_s
    }

    /// The true flight time behind a shown one.
    pub fn behind(&self, shown_s: f64) -> f64 {
        let rest = (shown_s - self.delay_s).max(0.0);
        (rest * rest - self.added_s2).max(0.0).sqrt() / self.factor
    }

    /// The constant added to the height under a gravity, in metres.
    pub fn added_height_m(&self, gravity_m_s2: f64) -> f64 {
        gravity_m_s2 * self.added_s2 / 8.0
    }

    fn slope(&self, true_s: f64) -> f64 {
        let root = self.shown(true_s) - self.delay_s;
        if root > 0.0 {
            self.factor * self.factor * true_s / root
        } else {
            1.0
        }
    }
}

/// An explanation with its evidence.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Weighed {
    /// The best curve of its kind.
    pub curve: Curve,
    /// AICc above the least of all; 0 for the best.
    pub delta_aicc: f64,
    /// Akaike weight: its share of the support, all together 1.
    pub weight: f64,
}

/// What the weighing comes to.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Nothing systematic shows; a small error may still hide in the scatter.
    NoPattern,
    /// One explanation stands out.
    Told(Explanation),
    /// Not told apart: all of these fit about equally well.
    NotToldApart(Vec<Explanation>),
}

/// All explanations weighed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Weighing {
    /// Best first.
    pub explanations: Vec<Weighed>,
    /// The outcome.
    pub verdict: Verdict,
}

/// One jump as the fits see it, in seconds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    pub film: f64,
    pub mat: f64,
    /// The film's variance of this jump.
    pub film_variance: f64,
}

/// Weighs the explanations; None below [`LEAST_JUMPS`] jumps.
///
/// `mat_variance` is the mat's own error variance, above 0.
pub(super) fn weigh(points: &[Point], mat_variance: f64) -> Option<Weighing> {
    if points.len() < LEAST_JUMPS {
        return None;
    }
    let n = points.len() as f64;
    let mut explanations: Vec<Weighed> = Explanation::ALL
        .into_iter()
        .map(|explanation| {
            let (curve, misfit) = fit(explanation, points, mat_variance);
            let k = explanation.fitted_numbers();
            let aicc = n * (misfit / n).ln() + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0);
            Weighed {
                curve,
                delta_aicc: aicc,
                weight: 0.0,
            }
        })
        .collect();
    explanations.sort_by(|a, b| a.delta_aicc.total_cmp(&b.delta_aicc));
    let least = explanations.first()?.delta_aicc;
    let mut total = 0.0;
    for e in &mut explanations {
        e.delta_aicc -= least;
        e.weight = (-0.5 * e.delta_aicc).exp();
        total += e.weight;
    }
    for e in &mut explanations {
        e.weight /= total;
    }
    let verdict = verdict(&explanations)?;
    Some(Weighing {
        explanations,
        verdict,
    })
}

fn verdict(sorted: &[Weighed]) -> Option<Verdict> {
    let best = sorted.first()?.curve.explanation;
    if best == Explanation::NoDifference {
        return Some(Verdict::NoPattern);
    }
    let mut standing: Vec<Explanation> = sorted
        .iter()
        .filter(|e| e.delta_aicc < TOLD_APART)
        .map(|e| e.curve.explanation)
        .collect();
    // Delay and rate together bend to nearly everything. They are believed only
    // where no single cause fits nearly as well.
    if standing.len() > 1 {
        standing.retain(|e| *e != Explanation::DelayAndRate);
    }
    // A cause of size nought fits a faultless mat as well as none does: where
    // "no difference" is the only one left beside a richer one, it is the answer.
    Some(match standing.as_slice() {
        [Explanation::NoDifference] => Verdict::NoPattern,
        [one] => Verdict::Told(*one),
        _ => Verdict::NotToldApart(standing),
    })
}

/// Best curve of its kind and its weighted sum of squares.
fn fit(explanation: Explanation, points: &[Point], mat_variance: f64) -> (Curve, f64) {
    let shortest = points.iter().map(|p| p.film).fold(f64::INFINITY, f64::min);
    let range = match explanation {
        Explanation::NoDifference => {
            let curve = Curve::new(explanation, 0.0);
            return (curve, misfit(&curve, points, mat_variance));
        }
        Explanation::ConstantDelay => (-0.5 * shortest, shortest),
        Explanation::AddedHeight => (-0.75 * shortest * shortest, 3.0 * shortest * shortest),
        Explanation::Proportional | Explanation::DelayAndRate => (0.5, 2.0),
    };
    let curve_at = |parameter: f64| {
        let mut curve = Curve::new(explanation, parameter);
        if explanation == Explanation::DelayAndRate {
            let weight = |p: &Point| 1.0 / (mat_variance + curve.factor.powi(2) * p.film_variance);
            let total: f64 = points.iter().map(weight).sum();
            let sum: f64 = points
                .iter()
                .map(|p| weight(p) * (p.mat - curve.factor * p.film))
                .sum();
            curve.delay_s = sum / total;
        }
        curve
    };
    let parameter = least_of(range, |p| misfit(&curve_at(p), points, mat_variance));
    let curve = curve_at(parameter);
    (curve, misfit(&curve, points, mat_variance))
}

/// Squared deviations over the variance that both methods' errors give them.
fn misfit(curve: &Curve, points: &[Point], mat_variance: f64) -> f64 {
    points
        .iter()
        .map(|p| {
            let deviation = p.mat - curve.shown(p.film);
            let variance = mat_variance + curve.slope(p.film).powi(2) * p.film_variance;
            deviation * deviation / variance
        })
        .sum()
}

/// Golden-section search for the least value (Kiefer 1953, "Sequential minimax
/// search for a maximum", Proc Am Math Soc 4:502).
fn least_of((mut lo, mut hi): (f64, f64), value: impl Fn(f64) -> f64) -> f64 {
    let ratio = (5f64.sqrt() - 1.0) / 2.0;
    let (mut a, mut b) = (hi - ratio * (hi - lo), lo + ratio * (hi - lo));
    let (mut at_a, mut at_b) = (value(a), value(b));
    for _ in 0..100 {
        if at_a < at_b {
            (hi, b, at_b) = (b, a, at_a);
            a = hi - ratio * (hi - lo);
            at_a = value(a);
        } else {
            (lo, a, at_a) = (a, b, at_b);
            b = lo + ratio * (hi - lo);
            at_b = value(b);
        }
    }
    0.5 * (lo + hi)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_curve_undoes_itself() {
        for (explanation, parameter) in [
            (Explanation::NoDifference, 0.0),
            (Explanation::ConstantDelay, 0.02),
            (Explanation::Proportional, 0.97),
            (Explanation::AddedHeight, 0.04),
            (Explanation::DelayAndRate, 1.03),
        ] {
            let curve = Curve {
                delay_s: if explanation == Explanation::DelayAndRate {
                    -0.01
                } else {
                    0.0
                },
                ..Curve::new(explanation, parameter)
            };
            for t in [0.3, 0.5, 0.7] {
                assert!((curve.behind(curve.shown(t)) - t).abs() < 1e-12);
                let step = 1e-6;
                let slope = (curve.shown(t + step) - curve.shown(t - step)) / (2.0 * step);
                assert!((curve.slope(t) - slope).abs() < 1e-7, "{explanation:?}");
            }
        }
    }

    #[test]
    fn the_search_finds_the_lowest_point() {
        let found = least_of((-3.0, 5.0), |x| (x - 1.25).powi(2));
        assert!((found - 1.25).abs() < 1e-7);
    }
}
