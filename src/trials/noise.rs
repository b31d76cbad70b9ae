//! What a difference of two means has to rise above.

use super::change::{ChangeOptions, DayToDay, SESSIONS_FOR_DAY_TO_DAY, SharedErrors, mean};
use super::repeat::TypicalError;
use super::trial::{Sample, pooled_variance};

/// Fewest degrees of freedom from which a single trial's scatter is borrowed.
const DOF_TO_BORROW: f64 = 2.0;

/// A share of the difference's variance, known with some degrees of freedom.
#[derive(Clone, Copy, Debug)]
struct Part {
    variance: f64,
    dof: f64,
}

/// What a difference has to rise above.
pub(super) struct Noise {
    pub(super) variance: f64,
    pub(super) dof: f64,
    /// Variance of the baseline's mean about the athlete's true height.
    pub(super) baseline_variance: f64,
    /// Standard deviation of days, where it is in.
    pub(super) day_to_day: Option<f64>,
    /// Whether a single trial's scatter comes from other sessions.
    pub(super) borrowed: bool,
}

impl Noise {
    pub(super) fn of(before: &[Sample], now: &Sample, options: &ChangeOptions) -> Option<Self> {
        let own = options.typical_error;
        let mut noise = match options.day_to_day {
            DayToDay::FromBaseline if before.len() >= SESSIONS_FOR_DAY_TO_DAY => {
                Self::with_days(before, now, own)
            }
            DayToDay::Known(days) => {
                let k = before.len() as f64;
                let days_variance = days.sd.metres().powi(2);
                let extra = Part {
                    variance: days_variance * (1.0 + 1.0 / k),
                    dof: days.dof,
                };
                let mut noise = Self::within_days(before, now, own, Some(extra))?;
                noise.day_to_day = Some(days.sd.metres());
                noise.baseline_variance += days_variance / k;
                Some(noise)
            }
            _ => Self::within_days(before, now, own, None),
        }?;
        if options.shared == SharedErrors::Differ {
            let earlier = before.iter().map(|s| s.shared_u).fold(0.0, f64::max);
            let shared = earlier.powi(2) + now.shared_u.powi(2);
            // A known part adds nothing to the doubt, only to the variance.
            let total = noise.variance + shared;
            if noise.variance > 0.0 {
                noise.dof *= (total / noise.variance).powi(2);
            }
            noise.variance = total;
        }
        (noise.variance > 0.0).then_some(noise)
    }

    /// Trial noise alone, with at most one further part.
    fn within_days(
        before: &[Sample],
        now: &Sample,
        own: Option<TypicalError>,
        extra: Option<Part>,
    ) -> Option<Self> {
        let k2 = (before.len() as f64).powi(2);
        let weights = before.iter().map(|s| (s, 1.0 / (s.n * k2)));
        let all: Vec<(&Sample, f64)> = weights.chain([(now, 1.0 / now.n)]).collect();
        let separate: Option<Vec<Part>> = all
            .iter()
            .map(|(s, weight)| {
                let variance = s.variance()? * weight;
                Some(Part {
                    variance,
                    dof: s.dof(),
                })
            })
            .collect();
        let total: f64 = all.iter().map(|(_, weight)| weight).sum();
        let in_baseline = total - 1.0 / now.n;
        let (mut parts, baseline_variance, borrowed) = match (own, separate) {
            (Some(own), _) => {
                let variance = own.sd.metres().powi(2);
                let part = Part {
                    variance: variance * total,
                    dof: own.dof,
                };
                (vec![part], variance * in_baseline, false)
            }
            (None, Some(parts)) => {
                let earlier = parts.iter().take(before.len()).map(|p| p.variance).sum();
                (parts, earlier, false)
            }
            (None, None) => {
                let samples: Vec<Sample> = all.iter().map(|(s, _)| **s).collect();
                let (variance, dof) =
                    pooled_variance(&samples).filter(|(_, dof)| *dof >= DOF_TO_BORROW)?;
                let part = Part {
                    variance: variance * total,
                    dof,
                };
                (vec![part], variance * in_baseline, true)
            }
        };
        parts.extend(extra);
        let (variance, dof) = welch_satterthwaite(&parts);
        Some(Self {
            variance,
            dof,
            baseline_variance,
            day_to_day: None,
            borrowed,
        })
    }

    /// Days and trials together, from the scatter of the baseline's means.
    ///
    /// That scatter s² already holds both. A further day varies as much, hence
    /// s² (1 + 1/k), and by so much more if it has fewer trials. (If it has
    /// more, no less is claimed: a difference of two estimates may come out
    /// anyhow.) Never less than trial noise without any variation of days.
    fn with_days(before: &[Sample], now: &Sample, own: Option<TypicalError>) -> Option<Self> {
        let k = before.len() as f64;
        let centre = mean(before.iter().map(|s| s.mean));
        let squares: f64 = before.iter().map(|s| (s.mean - centre).powi(2)).sum();
        let between = squares / (k - 1.0);
        let samples: Vec<Sample> = before.iter().copied().chain([*now]).collect();
        let (trial, trial_dof) = own
            .map(|own| (own.sd.metres().powi(2), own.dof))
            .or_else(|| pooled_variance(&samples))
            .unwrap_or((0.0, f64::INFINITY));
        let per_mean = mean(before.iter().map(|s| 1.0 / s.n));
        let fewer = (1.0 / now.n - per_mean).max(0.0);
        let parts = [
            Part {
                variance: between * (1.0 + 1.0 / k),
                dof: k - 1.0,
            },
            Part {
                variance: trial * fewer,
                dof: trial_dof,
            },
        ];
        let (variance, dof) = welch_satterthwaite(&parts);
        Some(Self {
            variance: variance.max(trial * (1.0 / now.n + per_mean / k)),
            dof,
            baseline_variance: between / k,
            day_to_day: Some((between - trial * per_mean).max(0.0).sqrt()),
            borrowed: false,
        })
    }
}

/// Sum of independent parts and its effective degrees of freedom.
fn welch_satterthwaite(parts: &[Part]) -> (f64, f64) {
    let variance: f64 = parts.iter().map(|part| part.variance).sum();
    let doubt: f64 = parts.iter().map(|p| p.variance.powi(2) / p.dof).sum();
    let dof = if doubt > 0.0 {
        variance.powi(2) / doubt
    } else {
        f64::INFINITY
    };
    (variance, dof)
}
