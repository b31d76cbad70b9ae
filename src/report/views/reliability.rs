//! How well the trials of one day repeat across a squad.

use serde::Serialize;

use super::list;
use super::squad::SquadMember;
use super::words::{self, length, signed};
use crate::report::terminal::Units;
use crate::trials::reliability::{IccForm, Ratings};
use crate::units::Metres;

/// Fewest athletes for an intraclass correlation. Our own choice: with fewer its
/// interval spans nearly everything.
const ATHLETES_FOR_ICC: usize = 5;

/// How well the trials of one day repeat across the squad.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reliability {
    /// Athletes in the table.
    pub athletes: usize,
    /// Trials of each, the first of the day.
    pub trials: usize,
    /// ICC(2,1): do trials agree.
    pub icc_2_1: Option<f64>,
    /// Its 95 % interval.
    pub icc_2_1_interval95: Option<[f64; 2]>,
    /// ICC(3,1): do trials rank athletes alike.
    pub icc_3_1: Option<f64>,
    /// Its 95 % interval.
    pub icc_3_1_interval95: Option<[f64; 2]>,
    /// Typical error of one trial across the squad.
    pub typical_error_m: Metres,
    /// Its 95 % interval.
    pub typical_error_interval95_m: [Metres; 2],
    /// Typical error over the mean.
    pub cv: f64,
    /// Minimal detectable change of one trial.
    pub detectable_m: Metres,
    /// Mean of the last trial less that of the first: learning or tiring.
    pub drift_m: Metres,
}

/// The table with the most degrees of freedom that the later sessions hold.
fn ratings(members: &[SquadMember]) -> Option<Vec<Vec<f64>>> {
    let heights: Vec<Vec<f64>> = members
        .iter()
        .filter_map(|member| member.later.as_ref())
        .map(|day| day.heights().iter().map(|h| h.metres()).collect())
        .collect();
    let most = heights.iter().map(Vec::len).max().unwrap_or(0);
    let with = |k: usize| heights.iter().filter(|row| row.len() >= k).count();
    let best = (2..=most)
        .filter(|k| with(*k) >= ATHLETES_FOR_ICC)
        .max_by_key(|k| (with(*k) - 1) * (k - 1))?;
    Some(
        heights
            .iter()
            .filter_map(|row| row.get(..best).map(<[f64]>::to_vec))
            .collect(),
    )
}

pub(super) fn reliability(members: &[SquadMember]) -> Result<Reliability, String> {
    let rows = ratings(members).ok_or_else(|| {
        format!("it takes {ATHLETES_FOR_ICC} athletes with two usable trials each on the later day")
    })?;
    let (athletes, trials) = (rows.len(), rows.first().map_or(0, Vec::len));
    let table = Ratings::new(rows).map_err(|error| error.to_string())?;
    let error = table.typical_error().map_err(|error| error.to_string())?;
    let agreement = table.icc(IccForm::TwoOne).ok();
    let consistency = table.icc(IccForm::ThreeOne).ok();
    let metres = Metres::from_metres;
    Ok(Reliability {
        athletes,
        trials,
        icc_2_1: agreement.map(|icc| icc.value),
        icc_2_1_interval95: agreement.and_then(|icc| icc.interval95).map(list),
        icc_3_1: consistency.map(|icc| icc.value),
        icc_3_1_interval95: consistency.and_then(|icc| icc.interval95).map(list),
        typical_error_m: metres(error.typical_error),
        typical_error_interval95_m: list(error.interval95).map(metres),
        cv: error.cv,
        detectable_m: metres(error.detectable),
        drift_m: metres(error.drift),
    })
}

pub(super) fn reliability_facts(found: &Reliability, units: Units) -> Vec<(&'static str, String)> {
    let icc = |value: f64, interval: Option<[f64; 2]>| match interval {
        Some([lo, hi]) => format!("{value:.2}  (95 %: {lo:.2} to {hi:.2})"),
        None => format!("{value:.2}"),
    };
    let table = format!(
        "{} athletes, {} trials each, one day",
        found.athletes, found.trials
    );
    let error = format!(
        "{}  (95 %: {}), CV {}",
        length(units, found.typical_error_m),
        words::span(units, found.typical_error_interval95_m),
        words::percent(found.cv)
    );
    let mut facts = vec![
        ("Repeatability from", table),
        ("Typical error of one trial", error),
    ];
    if let Some(value) = found.icc_2_1 {
        facts.push(("ICC(2,1), agreement", icc(value, found.icc_2_1_interval95)));
    }
    if let Some(value) = found.icc_3_1 {
        facts.push(("ICC(3,1), ranking", icc(value, found.icc_3_1_interval95)));
    }
    let drift = format!("{} {}", signed(units, found.drift_m), units.symbol());
    facts.push(("Last trial less first", drift));
    facts
}
