//! One jump, without pixels: events, height, uncertainty, flags.

pub mod error;
pub mod events;
pub mod flight;

pub mod gravity;
pub mod height;

pub mod combine;
pub mod shape;

pub mod budget;
pub mod conditions;
pub mod quality;

pub use budget::{BudgetLine, BudgetSource, HeightResult};
pub use conditions::{ClockUncertainty, Conditions};
pub use error::JumpError;
pub use events::{EventFrames, FoundJump, find_jumps};
pub use flight::{Event, Flight};
pub use gravity::Gravity;
pub use height::PostureAllowance;
pub use quality::Flag;
