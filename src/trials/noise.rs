//! What a difference of two means has to rise above.
//!
//! Scatter is estimated from few trials and can come out small by luck: three
//! whole-frame readings agree to the millimetre now and then. So the estimate
//! is set against what must be there anyhow (film error alone; for several
//! days, trial noise alone), and the one with the wider interval holds. This
//! errs on the careful side by a point or so of coverage.

use super::change::{ChangeOptions, DayToDay, SESSIONS_FOR_DAY_TO_DAY, SharedErrors, mean};
use super::repeat::TypicalError;
use super::student::t95;
use super::trial::{Sample, pooled_variance};

/// Fewest degrees of freedom from which a single trial's scatter is borrowed.
const DOF_TO_BORROW: f64 = 2.0;

/// A variance known with some degrees of freedom.
#[derive(Clone, Copy, Debug)]
struct Part {
    variance: f64,
    dof: f64,
}

impl Part {
    /// Sum of independent parts with Welch and Satterthwaite's degrees of
    /// freedom.
    fn sum(parts: &[Self]) -> Self {
        let variance: f64 = parts.iter().map(|part| part.variance).sum();
        let doubt: f64 = parts.iter().map(|p| p.variance.powi(2) / p.dof).sum();
        let dof = if doubt > 0.0 {
            variance.powi(2) / doubt
        } else {
            f64::INFINITY
        };
        Self { variance, dof }
    }

    /// The one whose 95 % interval is wider.
    fn wider(self, other: Self) -> Self {
        let half = |part: Self| part.variance.sqrt() * t95(part.dof);
        if half(other) > half(self) {
            other
        } else {
            self
        }
    }
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
    /// None where nothing tells how far trials scatter.
    pub(super) fn of(before: &[Sample], now: &Sample, options: &ChangeOptions) -> Option<Self> {
        let own = options.typical_error;
        let mut noise = match options.day_to_day {
            DayToDay::FromBaseline if before.len() >= SESSIONS_FOR_DAY_TO_DAY => {
                Self::with_days(before, now, own)
            }
            DayToDay::Known(days) => Self::within_days(before, now, own, Some(days))?,
            _ => Self::within_days(before, now, own, None)?,
        };
        if options.shared == SharedErrors::Differ {
            let earlier = before.iter().map(|s| s.shared_u).fold(0.0, f64::max);
            let known = Part {
                variance: earlier.powi(2) + now.shared_u.powi(2),
                dof: f64::INFINITY,
            };
            let total = Part::sum(&[noise.total(), known]);
            (noise.variance, noise.dof) = (total.variance, total.dof);
        }
        (noise.variance > 0.0).then_some(noise)
    }

    fn total(&self) -> Part {
        Part {
            variance: self.variance,
            dof: self.dof,
        }
    }

    /// Trial noise, and the scatter of days if it is known.
    fn within_days(
        before: &[Sample],
        now: &Sample,
        own: Option<TypicalError>,
        days: Option<TypicalError>,
    ) -> Option<Self> {
        let k = before.len() as f64;
        let (mut parts, borrowed) = trial_parts(before, now, own)?;
        let mut film: Vec<Part> = weighted(before, now)
            .map(|(sample, weight)| Part {
                variance: sample.film_variance * weight,
                dof: f64::INFINITY,
            })
            .collect();
        let mut baseline_variance = parts.iter().take(before.len()).map(|p| p.variance).sum();
        if let Some(days) = days {
            let one_day = days.sd.metres().powi(2);
            let part = Part {
                variance: one_day * (1.0 + 1.0 / k),
                dof: days.dof,
            };
            parts.push(part);
            film.push(part);
            baseline_variance += one_day / k;
        }
        let total = Part::sum(&parts).wider(Part::sum(&film));
        Some(Self {
            variance: total.variance,
            dof: total.dof,
            baseline_variance,
            day_to_day: days.map(|days| days.sd.metres()),
            borrowed,
        })
    }

    /// Days and trials together, from the scatter of the baseline's means.
    ///
    /// That scatter s² already holds both. A further day varies as much, hence
    /// s² (1 + 1/k), and by so much more if it has fewer trials. If it has
    /// more, nothing is taken off: the careful side.
    fn with_days(before: &[Sample], now: &Sample, own: Option<TypicalError>) -> Self {
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
        let total = Part::sum(&[
            Part {
                variance: between * (1.0 + 1.0 / k),
                dof: k - 1.0,
            },
            Part {
                variance: trial * (1.0 / now.n - per_mean).max(0.0),
                dof: trial_dof,
            },
        ]);
        let trials_alone = Part {
            variance: trial * (1.0 / now.n + per_mean / k),
            dof: trial_dof,
        };
        let film_alone = Part {
            variance: weighted(before, now)
                .map(|(s, w)| s.film_variance * w)
                .sum(),
            dof: f64::INFINITY,
        };
        let total = total.wider(trials_alone).wider(film_alone);
        Self {
            variance: total.variance,
            dof: total.dof,
            baseline_variance: between / k,
            day_to_day: Some((between - trial * per_mean).max(0.0).sqrt()),
            borrowed: false,
        }
    }
}

/// Each session with the weight of one trial's variance in that of the
/// difference, today last.
fn weighted<'a>(before: &'a [Sample], now: &'a Sample) -> impl Iterator<Item = (&'a Sample, f64)> {
    let k2 = (before.len() as f64).powi(2);
    before
        .iter()
        .map(move |sample| (sample, 1.0 / (sample.n * k2)))
        .chain([(now, 1.0 / now.n)])
}

/// Trial noise of each session, the baseline's first: as known from elsewhere,
/// or each session's own, or, where one has a single trial, borrowed from all.
/// Also whether it was borrowed.
fn trial_parts(
    before: &[Sample],
    now: &Sample,
    own: Option<TypicalError>,
) -> Option<(Vec<Part>, bool)> {
    let common = |variance: f64, dof: f64| -> Vec<Part> {
        // One estimate in every part: the parts are not independent, and only
        // degrees of freedom in proportion to their size make the sum's come
        // out as the estimate's own.
        let total: f64 = weighted(before, now).map(|(_, weight)| weight).sum();
        weighted(before, now)
            .map(|(_, weight)| Part {
                variance: variance * weight,
                dof: dof * weight / total,
            })
            .collect()
    };
    if let Some(own) = own {
        return Some((common(own.sd.metres().powi(2), own.dof), false));
    }
    let separate: Option<Vec<Part>> = weighted(before, now)
        .map(|(sample, weight)| {
            Some(Part {
                variance: sample.variance()? * weight,
                dof: sample.dof(),
            })
        })
        .collect();
    if let Some(parts) = separate {
        return Some((parts, false));
    }
    let samples: Vec<Sample> = before.iter().copied().chain([*now]).collect();
    let (variance, dof) = pooled_variance(&samples).filter(|(_, dof)| *dof >= DOF_TO_BORROW)?;
    Some((common(variance, dof), true))
}
