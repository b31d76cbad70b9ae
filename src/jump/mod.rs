//! One jump, without pixels: events, height, uncertainty, flags.

pub mod error;
pub mod events;
pub mod flight;

pub mod body;
pub mod ground;
pub mod kind;

pub mod gravity;
pub mod height;

pub mod by_hand;

pub mod combine;
pub mod shape;
mod sight;

pub mod budget;
pub mod conditions;
pub mod quality;

pub use body::{BodyLength, ClockCheck, Lowering};
pub use budget::{BudgetLine, BudgetSource, HeightResult};
pub use by_hand::HandSet;
pub use conditions::{ClockUncertainty, Conditions};
pub use error::JumpError;
pub use events::{EventFrames, FoundJump, find_jumps};
pub use flight::{Event, Flight};
pub use gravity::Gravity;
pub use ground::GroundContact;
pub use height::PostureAllowance;
pub use kind::JumpKind;
pub use quality::Flag;

/// A leap with clear ends for tests.
#[cfg(test)]
fn test_leap(takeoff_s: f64, landing_s: f64) -> crate::trace::Leap {
    let event = |t_s: f64| crate::trace::FootEvent {
        t_s,
        spread_s: 0.001,
        weight: 10.0,
        paths: 24,
        share: 1.0,
        votes: 10,
        speed_px_s: 0.5 * 9.807 * (landing_s - takeoff_s) * 300.0,
        run_up_s: 0.0,
        rms_px: 0.2,
        floor_px: 100.0,
    };
    crate::trace::Leap {
        takeoff: event(takeoff_s),
        landing: event(landing_s),
        px_per_m: 300.0,
        evidence: 1.0,
        takeoff_paths: Vec::new(),
        landing_paths: Vec::new(),
        backed: false,
        body: None,
        touchdown: None,
        feet: None,
        sight: crate::trace::Sight::default(),
    }
}
