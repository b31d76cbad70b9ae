//! `measure` on many clips: order, interruption, parts, tables, memory.

#[path = "scale/agreement.rs"]
mod agreement;
#[path = "cli/bench.rs"]
mod bench;
#[path = "scale/faults.rs"]
mod faults;
#[path = "scale/folder.rs"]
mod folder;
#[path = "scale/interrupted.rs"]
mod interrupted;
#[path = "scale/parts.rs"]
mod parts;
mod support;
#[path = "scale/thousand.rs"]
mod thousand;
