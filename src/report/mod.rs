//! Results for people and programs: terminal, JSON, plots.
