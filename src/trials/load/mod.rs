//! Jumps against load: what to load, what came of it, and what can be said.
//!
//! Planning advises from common practice and never prescribes past the coach.
//! Reading a series keeps to heights first; force, velocity and power follow
//! from them by formula and carry their doubts along.

pub mod cautions;
pub mod error;
mod random;

pub mod gym;
pub mod plan;
pub mod strength;

pub mod doubts;
pub mod mechanics;
pub mod next;
pub mod profile;
pub mod regressions;
pub mod series;
pub mod since;
pub mod york;

pub mod reactive;

pub use cautions::Caution;
pub use doubts::SeriesWarning;
pub use error::LoadError;
pub use gym::{Gym, Step};
pub use plan::{LoadPlan, PlanInput, Readiness, load_plan};
pub use profile::{Profile, ProfileFailure, profile};
pub use reactive::{DropJump, DropSet, Reactive, reactive};
pub use series::{LoadSeries, LoadedSet, MeasuredJump, SeriesInput, load_series};
pub use since::{LoadChange, change_since};
pub use strength::SquatMax;
