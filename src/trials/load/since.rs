//! What changed between two sessions across loads.

use serde::Serialize;

use super::series::{LoadPoint, LoadSeries, difference};
use crate::trials::mat::basics::Estimate;
use crate::units::Metres;

/// What changed at one load since another session.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LoadChange {
    /// The load, in kg.
    pub load_kg: f64,
    /// Height now minus then.
    #[serde(rename = "height_m")]
    pub height: Estimate<Metres>,
    /// Share kept now minus then, where both are known.
    pub share_kept: Option<Estimate<f64>>,
    /// Whether the height changed by more than these sessions' own scatter. Form
    /// of the day is not in it: small changes may still be chance.
    pub beyond_scatter: bool,
}

/// Changes at the loads that both sessions have, within 0.25 kg.
pub fn change_since(now: &LoadSeries, then: &LoadSeries) -> Vec<LoadChange> {
    now.points
        .iter()
        .filter_map(|new| {
            let same = |old: &&LoadPoint| (old.load_kg - new.load_kg).abs() <= 0.25;
            let old = then.points.iter().find(same)?;
            let lower = difference(old, new);
            let height =
                Estimate::from_ends(-lower.value, -lower.interval95.hi, -lower.interval95.lo);
            Some(LoadChange {
                load_kg: new.load_kg,
                beyond_scatter: !height.interval95.contains(0.0),
                height: height.map(Metres::from_metres),
                share_kept: share_change(new, old),
            })
        })
        .collect()
}

/// Half-widths of the two intervals added in quadrature.
fn share_change(new: &LoadPoint, old: &LoadPoint) -> Option<Estimate<f64>> {
    let (new, old) = (new.share_kept?, old.share_kept?);
    let half = |e: Estimate<f64>| e.interval95.hi - e.value;
    Some(Estimate::around(
        new.value - old.value,
        half(new).hypot(half(old)),
    ))
}
