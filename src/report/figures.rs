//! The figures of a jump in words: the same in the terminal and on the page.

use super::model::Jump;
use super::terminal::numbers::{decimals, fixed, outward, range};
use super::terminal::{Units, body};
use crate::units::{Bounds, CaptureTime};

/// Height and times with as many decimals as they are worth, each with its unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JumpFigures {
    /// The height.
    pub height: String,
    /// Its 95 % interval.
    pub height_interval95: String,
    /// Between what it must lie.
    pub height_bounds: String,
    /// Time in the air.
    pub flight_time: String,
    /// Its 95 % interval.
    pub flight_time_interval95: String,
    /// When the feet left the floor.
    pub takeoff: String,
    /// When they met it again.
    pub landing: String,
}

impl JumpFigures {
    /// The figures of a jump.
    pub fn of(jump: &Jump, units: Units) -> Self {
        let unit = units.symbol();
        let places = decimals(units.of(jump.height_u_m.0), 0, 2);
        let (interval, bounds) = (jump.height_interval95_m, jump.height_bounds_m);
        let time_places = decimals(jump.flight_time_u_s.0.seconds(), 2, 4);
        let times = jump.flight_time_interval95_s;
        Self {
            height: format!("{} {unit}", fixed(units.of(jump.height_m), places)),
            height_interval95: format!(
                "{} {unit}",
                range(units.of(interval.lo), units.of(interval.hi), places)
            ),
            height_bounds: format!(
                "{} {unit}",
                outward(units.of(bounds.lo()), units.of(bounds.hi()), places)
            ),
            flight_time: format!("{} s", fixed(jump.flight_time_s.seconds(), time_places)),
            flight_time_interval95: format!(
                "{} s",
                range(times.lo.seconds(), times.hi.seconds(), time_places)
            ),
            takeoff: moment(jump.takeoff_s, jump.takeoff_bounds_s),
            landing: moment(jump.landing_s, jump.landing_bounds_s),
        }
    }
}

fn moment(time: CaptureTime, bounds: Bounds<CaptureTime>) -> String {
    // Half the bounds' width stands in for the uncertainty of one event.
    let places = decimals(0.5 * bounds.width().seconds(), 2, 4);
    format!("{} s", fixed(time.seconds(), places))
}

/// Where the uncertainty of a height comes from, line by line, the whole last.
pub fn budget(jump: &Jump, units: Units) -> Vec<(String, String)> {
    let unit = units.symbol();
    let places = decimals(units.of(jump.height_u_m.0), 0, 2) + 1;
    let lines = jump
        .budget
        .iter()
        .map(|line| (line.source.as_str(), line.u_m));
    lines
        .chain([("together", jump.height_u_m)])
        .map(|(source, u)| {
            let share = format!("{} {unit}", fixed(units.of(u.0), places));
            (source.to_owned(), share)
        })
        .collect()
}

/// How far apart the feet left the floor and landed; `None` unless both were seen.
pub fn each_foot(jump: &Jump) -> Option<String> {
    body::each_foot(jump)
}

/// The contact before take-off in a sentence; empty where there is none.
pub fn contact(jump: &Jump, units: Units) -> String {
    let text = body::contact(jump, units);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
