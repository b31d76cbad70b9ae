//! Results for people and programs: terminal, JSON, plots.

pub mod figures;
pub mod json;
pub mod load;
pub mod mat;
pub mod model;
pub mod plot;
pub mod results;
pub mod sheet;
pub mod terminal;
pub mod views;
