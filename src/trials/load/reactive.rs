//! Drop jumps: from which height does the athlete rebound best?
//!
//! The index is height over contact time, in metres per second; the ratio of
//! flight to contact time has no unit and is not interchangeable with it. Take-off
//! ends the contact and begins the flight, so one error of that moment lengthens
//! the one and shortens the other; it is not counted as two.

use serde::Serialize;

use super::error::{LoadError, within};
use crate::jump::combine::coverage_factor;
use crate::jump::height::height;
use crate::trials::mat::basics::{Estimate, mean, squares, z95};
use crate::units::{Acceleration, Metres, Span, StandardUncertainty};

/// Contacts shorter than this count as fast stretch–shortening (Schmidtbleicher
/// 1992, from memory).
pub const FAST_CONTACT: Span = Span::from_seconds(0.250);

/// One rebound.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DropJump {
    /// From first contact to take-off.
    #[serde(rename = "contact_time_s")]
    pub contact_time: Span,
    /// From take-off to landing.
    #[serde(rename = "flight_time_s")]
    pub flight_time: Span,
    /// Standard uncertainty of the moment of first contact.
    #[serde(rename = "u_contact_s")]
    pub u_contact: StandardUncertainty<Span>,
    /// Standard uncertainty of the moment of take-off.
    #[serde(rename = "u_takeoff_s")]
    pub u_takeoff: StandardUncertainty<Span>,
    /// Standard uncertainty of the moment of landing.
    #[serde(rename = "u_landing_s")]
    pub u_landing: StandardUncertainty<Span>,
}

/// The rebounds from one drop height.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DropSet {
    /// Height of the box. The body falls by less or more if it steps down or
    /// jumps off.
    #[serde(rename = "drop_height_m")]
    pub drop_height: Metres,
    /// Its rebounds, at least one.
    pub jumps: Vec<DropJump>,
}

/// Index and ratio of one rebound with standard uncertainties.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Rebound {
    /// Height over contact time, m/s.
    pub index_m_s: f64,
    /// Its standard uncertainty.
    pub u_index_m_s: f64,
    /// Flight over contact time, no unit.
    pub ratio: f64,
    /// Its standard uncertainty.
    pub u_ratio: f64,
}

impl DropJump {
    /// Index and ratio.
    ///
    /// # Errors
    /// [`LoadError::Impossible`] for times no rebound has.
    pub fn rebound(&self, gravity: Acceleration) -> Result<Rebound, LoadError> {
        let c = within("contact time", self.contact_time.seconds(), "s", 0.05, 2.0)?;
        let f = within("flight time", self.flight_time.seconds(), "s", 0.05, 1.0)?;
        for u in [self.u_contact, self.u_takeoff, self.u_landing] {
            within("uncertainty of a moment", u.0.seconds(), "s", 0.0, 0.1)?;
        }
        let index = height(self.flight_time, gravity).metres() / c;
        let ratio = f / c;
        // Take-off later: contact longer and flight shorter, by the same error.
        let propagate = |takeoff: f64, landing: f64, contact: f64| {
            (takeoff * self.u_takeoff.0.seconds())
                .hypot(landing * self.u_landing.0.seconds())
                .hypot(contact * self.u_contact.0.seconds())
        };
        Ok(Rebound {
            index_m_s: index,
            u_index_m_s: propagate(index * (2.0 / f + 1.0 / c), 2.0 * index / f, index / c),
            ratio,
            u_ratio: propagate(ratio * (1.0 / f + 1.0 / c), ratio / f, ratio / c),
        })
    }
}

/// What came of one drop height.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DropPoint {
    /// Height of the box.
    #[serde(rename = "drop_height_m")]
    pub drop_height: Metres,
    /// Rebounds.
    pub jumps: usize,
    /// Mean of height over contact time, m/s.
    pub index_m_s: Estimate<f64>,
    /// Mean of flight over contact time.
    pub ratio: Estimate<f64>,
    /// Mean contact time.
    #[serde(rename = "contact_time_s")]
    pub contact_time: Span,
    /// Whether that is below [`FAST_CONTACT`].
    pub fast: bool,
    /// How far the best height's index lies above this one's; 0 for the best.
    pub behind_best_m_s: Estimate<f64>,
}

/// Drop heights compared.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reactive {
    /// One point per height, lowest first.
    pub points: Vec<DropPoint>,
    /// Height with the greatest mean index.
    #[serde(rename = "best_m")]
    pub best: Metres,
    /// Heights not told apart from it, the best included, lowest first. Of
    /// these the lowest does the job.
    #[serde(rename = "standing_m")]
    pub standing: Vec<Metres>,
    /// Whether rebounds were repeated, so that the athlete's scatter is known.
    pub repeated: bool,
}

/// Compares drop heights by height over contact time.
///
/// The interval of each difference from the best stands alone; over many
/// heights one in twenty may mislead.
///
/// # Errors
/// [`LoadError`] for impossible numbers, an empty set, or a height given twice.
pub fn reactive(sets: &[DropSet], gravity: Acceleration) -> Result<Reactive, LoadError> {
    let g = gravity.metres_per_second_squared();
    within("gravity", g, "m/s²", 9.0, 11.0)?;
    let sets = sorted(sets)?;
    let mut rebounds = Vec::with_capacity(sets.len());
    for set in &sets {
        let all: Result<Vec<Rebound>, LoadError> =
            set.jumps.iter().map(|j| j.rebound(gravity)).collect();
        rebounds.push(all?);
    }
    let index = pooled(&rebounds, |r| (r.index_m_s, r.u_index_m_s));
    let ratio = pooled(&rebounds, |r| (r.ratio, r.u_ratio));
    let Some((best_at, best)) = index
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.value.total_cmp(&b.1.value))
    else {
        return Err(LoadError::Empty);
    };
    let points: Vec<DropPoint> = sets
        .iter()
        .zip(index.iter().zip(&ratio))
        .enumerate()
        .map(|(i, (set, (own, ratio)))| {
            let contacts: Vec<f64> = set.jumps.iter().map(|j| j.contact_time.seconds()).collect();
            let contact_time = Span::from_seconds(mean(&contacts));
            let margin = if i == best_at {
                0.0
            } else {
                best.k.max(own.k) * best.u.hypot(own.u)
            };
            DropPoint {
                drop_height: set.drop_height,
                jumps: set.jumps.len(),
                index_m_s: Estimate::around(own.value, own.k * own.u),
                ratio: Estimate::around(ratio.value, ratio.k * ratio.u),
                fast: contact_time < FAST_CONTACT,
                contact_time,
                behind_best_m_s: Estimate::around(best.value - own.value, margin),
            }
        })
        .collect();
    let standing = points
        .iter()
        .filter(|p| p.behind_best_m_s.interval95.lo <= 0.0)
        .map(|p| p.drop_height)
        .collect();
    let best = points
        .get(best_at)
        .map_or(Metres::default(), |p| p.drop_height);
    Ok(Reactive {
        points,
        best,
        standing,
        repeated: rebounds.iter().any(|r| r.len() > 1),
    })
}

fn sorted(sets: &[DropSet]) -> Result<Vec<&DropSet>, LoadError> {
    let mut sets: Vec<&DropSet> = sets.iter().collect();
    for set in &sets {
        let value = within("drop height", set.drop_height.metres(), "m", 0.05, 1.5)?;
        if set.jumps.is_empty() {
            return Err(LoadError::NoJump { value, unit: "m" });
        }
    }
    sets.sort_by(|a, b| a.drop_height.metres().total_cmp(&b.drop_height.metres()));
    for (a, b) in sets.iter().zip(sets.iter().skip(1)) {
        if (a.drop_height - b.drop_height).abs() < Metres::from_metres(0.005) {
            return Err(LoadError::Twice {
                value: a.drop_height.metres(),
                unit: "m",
            });
        }
    }
    Ok(sets)
}

/// A mean with its standard uncertainty and 95 % factor.
struct Mean {
    value: f64,
    u: f64,
    k: f64,
}

/// Means per height. The scatter is pooled over the heights; where the film's
/// error is larger, that rules.
fn pooled(rebounds: &[Vec<Rebound>], of: fn(&Rebound) -> (f64, f64)) -> Vec<Mean> {
    let values = |set: &[Rebound]| -> Vec<f64> { set.iter().map(|r| of(r).0).collect() };
    let dof: usize = rebounds.iter().map(|set| set.len() - 1).sum();
    let sum: f64 = rebounds.iter().map(|set| squares(&values(set))).sum();
    rebounds
        .iter()
        .map(|set| {
            let n = set.len() as f64;
            let film = set.iter().map(|r| of(r).1.powi(2)).sum::<f64>().sqrt() / n;
            let shown = if dof > 0 {
                (sum / dof as f64 / n).sqrt()
            } else {
                0.0
            };
            Mean {
                value: mean(&values(set)),
                u: film.max(shown),
                k: if shown > film {
                    coverage_factor(0.95, dof as f64)
                } else {
                    z95()
                },
            }
        })
        .collect()
}
