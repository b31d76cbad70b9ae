//! A jump mat against the film: do they agree, and if not, why?
//!
//! Both watch the same jump, so each pair gives one difference, always mat minus
//! film. Flight times are compared first; heights follow from them. Nothing here
//! takes the film for the truth: its known error is carried along.

pub(in crate::trials) mod basics;

pub mod error;
pub mod pair;

pub mod agree;
pub mod lines;

pub mod clock_step;
pub mod correct;
pub mod explain;

pub mod crosscheck;
mod say;

pub use agree::{Agreement, LimitsRule, agreement};
pub use clock_step::ClockStep;
pub use correct::{Corrected, Correction};
pub use crosscheck::{Crosscheck, CrosscheckOptions, crosscheck};
pub use error::MatError;
pub use explain::{Explanation, Verdict};
pub use pair::{FilmFlight, HeightFormula, MatReading, Pair};
pub use say::{HeightUnit, paragraph};
