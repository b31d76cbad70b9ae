//! The log as people use it, and as disks, processes and power cuts treat it.

#[allow(dead_code)]
#[path = "cli/bench.rs"]
mod bench;
#[path = "log_program/club.rs"]
mod club;
#[path = "log_program/commands.rs"]
mod commands;
#[path = "log_program/faults.rs"]
mod faults;
#[path = "log_program/measuring.rs"]
mod measuring;
#[path = "log_program/scale.rs"]
mod scale;
mod support;
