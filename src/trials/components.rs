//! Film error and the athlete's own variation, told apart.
//!
//! Trials scatter because the athlete does not jump the same twice and because
//! the film reads each jump a little wrong. The film's share is known, trial by
//! trial, from the budget; what is left is the athlete's:
//!
//! hᵢ = μ + aᵢ + eᵢ,   var aᵢ = σ² (wanted),   var eᵢ = uᵢ² (known).
//!
//! This is the random-effects model of meta-analysis, and its tools serve: the
//! estimate is the σ² at which the weighted sum of squares
//! Q(σ²) = Σ (hᵢ − μ̂)²/(σ² + uᵢ²) equals its expectation, n − 1 (Paule and
//! Mandel 1982, "Consensus values and weighting factors", J Res Natl Bur Stand
//! 87:377); the interval's ends are where it equals chi-square's quantiles
//! (Viechtbauer 2007, "Confidence intervals for the amount of heterogeneity in
//! meta-analysis", Stat Med 26:37). For equal uᵢ the estimate is the plain
//! s² − u². Over several sessions each has its own μ, and the Q add up.

use serde::Serialize;

use super::error::TrialsError;
use super::repeat::metres_interval;
use super::student::chi2_quantile;
use super::trial::{Session, usable};
use crate::units::{Interval95, Metres, StandardUncertainty};

/// Halvings of the search for a root.
const HALVINGS: usize = 200;

/// What is the athlete's and what is the film's.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Components {
    /// Trials used.
    pub trials: usize,
    /// Degrees of freedom: trials less sessions.
    pub dof: f64,
    /// Standard deviation of the trials as they stand, sessions' means removed.
    #[serde(rename = "observed_sd_m")]
    pub observed_sd: Metres,
    /// Root mean square of the film's errors.
    #[serde(rename = "film_u_m")]
    pub film_u: StandardUncertainty<Metres>,
    /// The athlete's own standard deviation; 0 when the film alone explains
    /// the scatter.
    #[serde(rename = "athlete_sd_m")]
    pub athlete_sd: Metres,
    /// 95 % interval of the athlete's own standard deviation. Both ends are 0
    /// when the trials agree better than film error alone would let them in 39
    /// of 40 cases: the stated film errors are then probably too large.
    #[serde(rename = "athlete_sd_interval95_m")]
    pub athlete_sd_interval95: Interval95<Metres>,
    /// Film's share of one trial's variance, 0 to 1.
    pub film_share: f64,
}

impl Components {
    /// Whether the trials agree suspiciously well for the stated film errors.
    pub fn agrees_too_well(&self) -> bool {
        self.athlete_sd_interval95.hi.metres() == 0.0
            && self.observed_sd.metres() < self.film_u.0.metres()
    }
}

/// One trial: height and film variance.
type Reading = (f64, f64);

/// Tells film error and athlete apart from the trials of one or more sessions
/// of one athlete.
///
/// Sessions with fewer than two usable trials say nothing of scatter and are
/// passed over. The interval rests on normal errors; whole-frame errors are
/// triangular, which makes it a little too wide.
///
/// # Errors
/// [`TrialsError::TooFew`] when no session has two usable trials, and
/// [`TrialsError::BadTrial`] for figures that are no numbers.
pub fn separate(sessions: &[Session]) -> Result<Components, TrialsError> {
    let mut groups: Vec<Vec<Reading>> = Vec::new();
    let mut most = 0;
    for session in sessions {
        let group: Vec<Reading> = usable(session.trials)?
            .iter()
            .map(|t| (t.height.metres(), t.film_u.0.metres().powi(2)))
            .collect();
        most = most.max(group.len());
        if group.len() > 1 {
            groups.push(group);
        }
    }
    let trials: usize = groups.iter().map(Vec::len).sum();
    if trials == 0 {
        return Err(TrialsError::TooFew {
            what: "usable trials in one session",
            found: most,
            needed: 2,
        });
    }
    let dof = (trials - groups.len()) as f64;
    let observed = groups.iter().map(|group| squares(group)).sum::<f64>() / dof;
    let film = groups.iter().flatten().map(|(_, v)| v).sum::<f64>() / trials as f64;
    let athlete = variance_at(&groups, dof);
    let sd = |level: f64| variance_at(&groups, level).sqrt();
    let total = athlete + film;
    Ok(Components {
        trials,
        dof,
        observed_sd: Metres::from_metres(observed.sqrt()),
        film_u: StandardUncertainty(Metres::from_metres(film.sqrt())),
        athlete_sd: Metres::from_metres(athlete.sqrt()),
        athlete_sd_interval95: metres_interval(
            sd(chi2_quantile(0.975, dof)),
            sd(chi2_quantile(0.025, dof)),
        ),
        film_share: if total > 0.0 { film / total } else { 0.0 },
    })
}

fn squares(group: &[Reading]) -> f64 {
    let mean = group.iter().map(|(h, _)| h).sum::<f64>() / group.len() as f64;
    group.iter().map(|(h, _)| (h - mean).powi(2)).sum()
}

/// Weighted sum of squares about each group's weighted mean.
fn weighted_squares(groups: &[Vec<Reading>], athlete: f64) -> f64 {
    groups
        .iter()
        .map(|group| {
            let weight = |v: f64| 1.0 / (athlete + v);
            let total: f64 = group.iter().map(|(_, v)| weight(*v)).sum();
            let mean = group.iter().map(|(h, v)| weight(*v) * h).sum::<f64>() / total;
            group
                .iter()
                .map(|(h, v)| weight(*v) * (h - mean).powi(2))
                .sum::<f64>()
        })
        .sum()
}

/// The athlete's variance at which the weighted squares come down to `level`;
/// 0 where they start below it.
fn variance_at(groups: &[Vec<Reading>], level: f64) -> f64 {
    let top = groups.iter().map(|group| squares(group)).sum::<f64>() / level;
    if top == 0.0 {
        return 0.0;
    }
    // Unweighted squares over the variance bound the weighted ones from above,
    // so `top` is never too low. A tiny start avoids dividing by 0 film error.
    let (mut lo, mut hi) = (top * 1e-14, top);
    if weighted_squares(groups, lo) <= level {
        return 0.0;
    }
    for _ in 0..HALVINGS {
        let middle = 0.5 * (lo + hi);
        if middle <= lo || middle >= hi {
            break;
        }
        if weighted_squares(groups, middle) > level {
            lo = middle;
        } else {
            hi = middle;
        }
    }
    0.5 * (lo + hi)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trials::TrialHeight;

    fn day(readings: &[(f64, f64)]) -> Vec<TrialHeight> {
        readings
            .iter()
            .enumerate()
            .map(|(i, (h, u))| {
                let u = StandardUncertainty(Metres::from_metres(*u));
                TrialHeight::new(i, Metres::from_metres(*h), u)
            })
            .collect()
    }

    fn of(readings: &[(f64, f64)]) -> Components {
        let trials = day(readings);
        separate(&[Session {
            day: 0.0,
            trials: &trials,
        }])
        .unwrap()
    }

    #[test]
    fn equal_film_errors_leave_the_plain_difference() {
        let parts = of(&[(0.30, 0.01), (0.34, 0.01), (0.29, 0.01), (0.35, 0.01)]);
        let s2: f64 = (0.02f64.powi(2) * 2.0 + 0.03f64.powi(2) * 2.0) / 3.0;
        assert!((parts.athlete_sd.metres() - (s2 - 1e-4).sqrt()).abs() < 1e-9);
        assert!((parts.observed_sd.metres() - s2.sqrt()).abs() < 1e-12);
        assert!((parts.film_share - 1e-4 / s2).abs() < 1e-6);
    }

    #[test]
    fn film_alone_may_explain_it_all() {
        let parts = of(&[(0.300, 0.01), (0.305, 0.01), (0.298, 0.01)]);
        assert_eq!(parts.athlete_sd.metres(), 0.0);
        assert_eq!(parts.athlete_sd_interval95.lo.metres(), 0.0);
        assert!(parts.athlete_sd_interval95.hi.metres() > 0.0 && !parts.agrees_too_well());
        let same = of(&[(0.3, 0.01); 4]);
        assert_eq!(same.athlete_sd_interval95.hi.metres(), 0.0);
        assert!(same.agrees_too_well());
    }

    #[test]
    fn exact_film_leaves_all_to_the_athlete() {
        let parts = of(&[(0.30, 0.0), (0.34, 0.0), (0.32, 0.0)]);
        assert!((parts.athlete_sd.metres() - 0.02).abs() < 1e-9);
        assert_eq!(parts.film_share, 0.0);
        assert_eq!(of(&[(0.3, 0.0), (0.3, 0.0)]).film_share, 0.0);
    }
}
