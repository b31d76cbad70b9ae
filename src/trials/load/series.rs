//! One athlete's jumps across loads.

use serde::Serialize;

use super::doubts::{SeriesWarning, series_warnings};
use super::error::{LoadError, within};
use super::mechanics::{check_height, push_of};
use super::profile::{Body, LoadedHeight, Profile, ProfileFailure, profile};
use crate::jump::combine::coverage_factor;
use crate::trials::mat::basics::{Estimate, mean, squares, z95};
use crate::units::{Acceleration, Metres, StandardUncertainty};

/// One jump's height.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MeasuredJump {
    /// Height.
    #[serde(rename = "height_m")]
    pub height: Metres,
    /// The film's standard uncertainty.
    #[serde(rename = "u_m")]
    pub u: StandardUncertainty<Metres>,
}

/// The jumps at one load.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoadedSet {
    /// Load beyond the body, in kg; 0 without.
    pub load_kg: f64,
    /// Its jumps, at least one.
    pub jumps: Vec<MeasuredJump>,
}

/// The push-off distance: how far the centre of mass travels from the lowest
/// point to take-off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PushOff {
    /// Distance.
    #[serde(rename = "distance_m")]
    pub distance: Metres,
    /// Its standard uncertainty: about 0.01 m measured, more if guessed.
    #[serde(rename = "u_m")]
    pub u: StandardUncertainty<Metres>,
    /// Measured on this athlete, or only stated.
    pub measured: bool,
}

/// A session across loads.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SeriesInput {
    /// Body mass in kg.
    pub body_mass_kg: f64,
    /// Its standard uncertainty in kg: 0.5 with clothes and breakfast.
    pub u_body_mass_kg: f64,
    /// Squat maximum in kg, for the warnings.
    pub squat_max_kg: Option<f64>,
    /// Push-off distance, if known.
    pub push_off: Option<PushOff>,
    /// Gravity.
    #[serde(rename = "gravity_m_s2")]
    pub gravity: Acceleration,
    /// The sets, in any order.
    pub sets: Vec<LoadedSet>,
}

/// Force, velocity and power at one load, means over the push-off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PushEstimate {
    /// Newtons.
    pub force_n: Estimate<f64>,
    /// Metres per second.
    pub velocity_m_s: Estimate<f64>,
    /// Watts.
    pub power_w: Estimate<f64>,
}

/// What came of one load.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LoadPoint {
    /// Load beyond the body, in kg.
    pub load_kg: f64,
    /// Jumps.
    pub jumps: usize,
    /// Mean height.
    #[serde(rename = "mean_height_m")]
    pub mean_height: Estimate<Metres>,
    /// Standard uncertainty of the mean.
    #[serde(rename = "u_m")]
    pub u: StandardUncertainty<Metres>,
    /// Degrees of freedom behind it; None where the film's known error rules.
    pub dof: Option<u32>,
    /// Height over the unloaded height; None for the unloaded one and without.
    pub share_kept: Option<Estimate<f64>>,
    /// Only with a push-off distance.
    pub push: Option<PushEstimate>,
}

/// A series across loads, lightest first.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoadSeries {
    /// One point per load.
    pub points: Vec<LoadPoint>,
    /// Standard deviation of single jumps at one load, pooled; None with one
    /// jump per load.
    #[serde(rename = "jump_sd_m")]
    pub jump_sd: Option<Metres>,
    /// What weakens it.
    pub warnings: Vec<SeriesWarning>,
    /// Force against velocity, if the data carry it.
    pub profile: Option<Profile>,
    /// Why not, otherwise.
    pub profile_failure: Option<ProfileFailure>,
}

/// Evaluates a session across loads.
///
/// # Errors
/// [`LoadError`] for impossible numbers, an empty set, or a load given twice.
pub fn load_series(input: &SeriesInput) -> Result<LoadSeries, LoadError> {
    let sets = checked(input)?;
    let scatter = Scatter::of(&sets);
    let body = input.push_off.map(|push_off| Body {
        mass_kg: input.body_mass_kg,
        u_mass_kg: input.u_body_mass_kg,
        push_off: push_off.distance,
        u_push_off: push_off.u,
        gravity: input.gravity,
    });
    let means: Vec<MeanHeight> = sets.iter().map(|s| scatter.mean_height(s)).collect();
    let unloaded = sets
        .iter()
        .zip(&means)
        .find_map(|(s, m)| (s.load_kg == 0.0).then_some(*m));
    let points: Vec<LoadPoint> = sets
        .iter()
        .zip(&means)
        .map(|(set, m)| LoadPoint {
            load_kg: set.load_kg,
            jumps: set.jumps.len(),
            mean_height: Estimate::around(m.height, m.k() * m.u).map(Metres::from_metres),
            u: StandardUncertainty(Metres::from_metres(m.u)),
            dof: m.dof,
            share_kept: unloaded
                .filter(|_| set.load_kg > 0.0)
                .map(|base| share(m, &base)),
            push: body.as_ref().map(|b| push_estimate(set.load_kg, m, b)),
        })
        .collect();
    let line = match &body {
        None => Err(ProfileFailure::NoPushOff),
        Some(body) => {
            let heights: Vec<LoadedHeight> = points.iter().map(LoadPoint::loaded_height).collect();
            profile(&heights, body, scatter.rules(&means))?
        }
    };
    Ok(LoadSeries {
        warnings: series_warnings(input, &points)?,
        points,
        jump_sd: scatter.sd_m.map(Metres::from_metres),
        profile_failure: line.as_ref().err().copied(),
        profile: line.ok(),
    })
}

fn checked(input: &SeriesInput) -> Result<Vec<&LoadedSet>, LoadError> {
    within("body mass", input.body_mass_kg, "kg", 20.0, 300.0)?;
    within(
        "uncertainty of body mass",
        input.u_body_mass_kg,
        "kg",
        0.0,
        10.0,
    )?;
    let g = input.gravity.metres_per_second_squared();
    within("gravity", g, "m/s²", 9.0, 11.0)?;
    let mut sets: Vec<&LoadedSet> = input.sets.iter().collect();
    if sets.is_empty() {
        return Err(LoadError::Empty);
    }
    for set in &sets {
        within("jump load", set.load_kg, "kg", 0.0, 300.0)?;
        if set.jumps.is_empty() {
            return Err(LoadError::NoJump {
                value: set.load_kg,
                unit: "kg",
            });
        }
        for jump in &set.jumps {
            check_height(jump.height)?;
            let u = jump.u.0.metres();
            within("uncertainty of a height", u, "m", 1e-6, 0.3)?;
        }
    }
    sets.sort_by(|a, b| a.load_kg.total_cmp(&b.load_kg));
    for (a, b) in sets.iter().zip(sets.iter().skip(1)) {
        if (a.load_kg - b.load_kg).abs() < 0.01 {
            return Err(LoadError::Twice {
                value: a.load_kg,
                unit: "kg",
            });
        }
    }
    Ok(sets)
}

/// The athlete's scatter from jump to jump, pooled over the loads. It holds the
/// film's error too, since both scatter together.
struct Scatter {
    sd_m: Option<f64>,
    dof: u32,
}

/// A mean height with its uncertainty, in metres.
#[derive(Clone, Copy)]
struct MeanHeight {
    height: f64,
    u: f64,
    dof: Option<u32>,
}

impl MeanHeight {
    fn k(&self) -> f64 {
        self.dof
            .map_or(z95(), |dof| coverage_factor(0.95, f64::from(dof)))
    }
}

impl Scatter {
    fn of(sets: &[&LoadedSet]) -> Self {
        let (mut sum, mut dof) = (0.0, 0);
        for set in sets {
            sum += squares(&heights(set));
            dof += set.jumps.len() as u32 - 1;
        }
        Self {
            sd_m: (dof > 0).then(|| (sum / f64::from(dof)).sqrt()),
            dof,
        }
    }

    /// The larger of what the jumps show and what the film's error makes
    /// certain: few jumps may agree by luck.
    fn mean_height(&self, set: &LoadedSet) -> MeanHeight {
        let n = set.jumps.len() as f64;
        let film: f64 = set.jumps.iter().map(|j| j.u.0.metres().powi(2)).sum();
        let film = film.sqrt() / n;
        let shown = self.sd_m.map_or(0.0, |sd| sd / n.sqrt());
        MeanHeight {
            height: mean(&heights(set)),
            u: film.max(shown),
            dof: (shown > film).then_some(self.dof),
        }
    }

    /// Degrees of freedom for the line: those of the scatter if it rules anywhere.
    fn rules(&self, means: &[MeanHeight]) -> Option<u32> {
        means.iter().any(|m| m.dof.is_some()).then_some(self.dof)
    }
}

fn heights(set: &LoadedSet) -> Vec<f64> {
    set.jumps.iter().map(|j| j.height.metres()).collect()
}

impl LoadPoint {
    fn loaded_height(&self) -> LoadedHeight {
        LoadedHeight {
            load_kg: self.load_kg,
            height: self.mean_height.value,
            u: self.u,
        }
    }
}

/// h/h₀ with first-order propagation.
fn share(loaded: &MeanHeight, base: &MeanHeight) -> Estimate<f64> {
    let value = loaded.height / base.height;
    let relative = (loaded.u / loaded.height).hypot(base.u / base.height);
    Estimate::around(value, loaded.k().max(base.k()) * value * relative)
}

/// Force, velocity and power with height, distance and mass propagated.
fn push_estimate(load_kg: f64, mean: &MeanHeight, body: &Body) -> PushEstimate {
    let g = body.gravity.metres_per_second_squared();
    let (m, hpo) = (body.mass_kg + load_kg, body.push_off.metres());
    let push = push_of(m, mean.height, hpo, g);
    let (f, v) = (push.force_n, push.velocity_m_s);
    let (df_dh, dv_dh) = (m * g / hpo, g / (4.0 * v));
    let df_dhpo = m * g * mean.height / (hpo * hpo) * body.u_push_off.0.metres();
    let df_dm = f / m * body.u_mass_kg;
    let shared = df_dhpo.hypot(df_dm);
    let k = mean.k();
    PushEstimate {
        force_n: Estimate::around(f, k * (df_dh * mean.u).hypot(shared)),
        velocity_m_s: Estimate::around(v, k * dv_dh * mean.u),
        power_w: Estimate::around(
            push.power_w,
            k * ((df_dh * v + f * dv_dh) * mean.u).hypot(v * shared),
        ),
    }
}

/// How much lower `after` is than `before`, in metres; negative where higher.
pub(super) fn difference(before: &LoadPoint, after: &LoadPoint) -> Estimate<f64> {
    let value = (before.mean_height.value - after.mean_height.value).metres();
    let (a, b) = (before.u.0.metres(), after.u.0.metres());
    Estimate::around(value, welch(a, before.dof, b, after.dof) * a.hypot(b))
}

/// 95 % factor for the difference of two means: Welch 1947, "The generalization
/// of 'Student's' problem when several different population variances are
/// involved", Biometrika 34:28.
fn welch(a: f64, dof_a: Option<u32>, b: f64, dof_b: Option<u32>) -> f64 {
    let part = |u: f64, dof: Option<u32>| dof.map_or(0.0, |dof| u.powi(4) / f64::from(dof));
    let doubt = part(a, dof_a) + part(b, dof_b);
    if doubt > 0.0 {
        coverage_factor(0.95, (a * a + b * b).powi(2) / doubt)
    } else {
        z95()
    }
}
