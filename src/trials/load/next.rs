//! What is still to be jumped before a session across loads says something.

use super::doubts::CURVE_LOADS;
use super::plan::kilograms;
use super::series::LoadedSet;

/// Loads that can be compared at all, body weight being one.
pub const LEAST_LOADS_TO_COMPARE: usize = 2;

/// Jumps at each load from which the athlete's own scatter shows; common practice.
pub const JUMPS_EACH: usize = 3;

/// Jumps that would tell more.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ToJump {
    /// Without a load, to compare with.
    Unloaded,
    /// With any load.
    Loaded,
    /// Again with a load that was jumped too seldom.
    Again {
        /// The load in kg.
        load_kg: f64,
        /// How often.
        times: usize,
    },
    /// With further loads, for a curve.
    MoreLoads {
        /// Loads jumped so far.
        loads: usize,
    },
}

impl ToJump {
    /// In words, masses written by `mass`, which is given kilograms.
    pub fn text_in(self, mass: impl Fn(f64) -> String) -> String {
        match self {
            Self::Unloaded => {
                "three jumps without a load: the loaded ones are compared with them".to_owned()
            }
            Self::Loaded => "three jumps with a load that the coach has chosen, then with the \
                             next heavier one"
                .to_owned(),
            Self::Again { load_kg, times } => {
                let with = match load_kg {
                    0.0 => "without a load".to_owned(),
                    _ => format!("with {}", mass(load_kg)),
                };
                format!("{times} more {with}: the athlete's own scatter shows from three jumps")
            }
            Self::MoreLoads { loads } => {
                let so_far = match loads {
                    1 => "1 load makes".to_owned(),
                    _ => format!("{loads} loads make"),
                };
                format!("further loads: {so_far} no curve, four or five do, body weight included")
            }
        }
    }

    /// In words, masses in kilograms.
    pub fn text(self) -> String {
        self.text_in(kilograms)
    }
}

/// What to jump next, light before heavy; empty when nothing is missing.
pub fn to_jump(sets: &[LoadedSet]) -> Vec<ToJump> {
    let mut all: Vec<&LoadedSet> = sets.iter().collect();
    all.sort_by(|a, b| a.load_kg.total_cmp(&b.load_kg));
    let mut next = Vec::new();
    if all.first().is_none_or(|set| set.load_kg > 0.0) {
        next.push(ToJump::Unloaded);
    }
    let seldom = all.iter().filter(|set| set.jumps.len() < JUMPS_EACH);
    next.extend(seldom.map(|set| ToJump::Again {
        load_kg: set.load_kg,
        times: JUMPS_EACH - set.jumps.len(),
    }));
    if all.last().is_none_or(|set| set.load_kg == 0.0) {
        next.push(ToJump::Loaded);
    } else if all.len() < CURVE_LOADS {
        next.push(ToJump::MoreLoads { loads: all.len() });
    }
    next
}

#[cfg(test)]
mod tests {
    use super::super::series::MeasuredJump;
    use super::*;
    use crate::units::{Metres, StandardUncertainty};

    fn set(load_kg: f64, jumps: usize) -> LoadedSet {
        let jump = MeasuredJump {
            height: Metres::from_metres(0.3),
            u: StandardUncertainty(Metres::from_metres(0.002)),
        };
        LoadedSet {
            load_kg,
            jumps: vec![jump; jumps],
        }
    }

    #[test]
    fn what_is_missing_is_asked_for_light_before_heavy() {
        assert_eq!(to_jump(&[]), [ToJump::Unloaded, ToJump::Loaded]);
        assert_eq!(to_jump(&[set(0.0, 3)]), [ToJump::Loaded]);
        let again = |load_kg, times| ToJump::Again { load_kg, times };
        assert_eq!(
            to_jump(&[set(20.0, 1)]),
            [
                ToJump::Unloaded,
                again(20.0, 2),
                ToJump::MoreLoads { loads: 1 }
            ]
        );
        let three = [set(20.0, 3), set(0.0, 2), set(10.0, 3)];
        assert_eq!(
            to_jump(&three),
            [again(0.0, 1), ToJump::MoreLoads { loads: 3 }]
        );
        let whole = [set(0.0, 3), set(10.0, 3), set(20.0, 4), set(30.0, 3)];
        assert_eq!(to_jump(&whole), []);
    }

    #[test]
    fn it_is_said_in_words() {
        let again = ToJump::Again {
            load_kg: 20.0,
            times: 2,
        };
        assert!(again.text().starts_with("2 more with 20"));
        let one = ToJump::MoreLoads { loads: 1 };
        assert!(one.text().contains("1 load makes no curve"));
    }
}
