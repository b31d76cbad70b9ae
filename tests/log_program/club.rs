//! A folder with a log in it, and the program run on that log only.

use std::path::PathBuf;

use jiff::Timestamp;
use underfoot::log::{JumpKind, Log, TrialQuery, TrialRecord};
use underfoot::units::{Metres, StandardUncertainty};

use super::bench::{Bench, Ran, ran};

/// Where one test works.
pub struct Club {
    pub bench: Bench,
}

impl Club {
    /// No log yet.
    pub fn new() -> Self {
        Self {
            bench: Bench::new(),
        }
    }

    /// A log that knows these athletes.
    pub fn with(names: &[&str]) -> Self {
        let club = Self::new();
        for name in names {
            club.does(&["log", "athlete", "add", name]);
        }
        club
    }

    pub fn path(&self) -> PathBuf {
        self.bench.path().join("log.sqlite")
    }

    pub fn log(&self) -> Log {
        Log::open(&self.path()).unwrap()
    }

    pub fn trials(&self) -> usize {
        let log = Log::open_read_only(&self.path()).unwrap();
        log.trials(&TrialQuery::default()).unwrap().len()
    }

    /// Runs the program on this log, however the caller's own is named.
    pub fn run(&self, arguments: &[&str]) -> Ran {
        ran(self.program().args(arguments))
    }

    pub fn program(&self) -> assert_cmd::Command {
        let mut program = self.bench.program();
        program.env("UNDERFOOT_LOG", "log.sqlite");
        program
    }

    /// Runs what must be done without a fault, and gives what it prints.
    pub fn does(&self, arguments: &[&str]) -> String {
        let ran = self.run(arguments);
        assert_eq!(ran.code, 0, "{arguments:?}\n{}\n{}", ran.out, ran.err);
        ran.out
    }
}

pub fn now() -> Timestamp {
    "2026-11-25T17:00:00Z".parse().unwrap()
}

/// A jump of which only the height is known.
pub fn jump(height_m: f64) -> TrialRecord {
    let u = StandardUncertainty(Metres::from_metres(0.002));
    let height = Metres::from_metres(height_m);
    TrialRecord::of_height(JumpKind::Countermovement, height, u)
}

/// A CSV file of so many jumps of one athlete.
pub fn csv(athlete: &str, rows: usize) -> String {
    let mut file = "athlete,date,height[m],height_u[m]\r\n".to_owned();
    for row in 0..rows {
        let day = 1 + row / 500 % 28;
        let height = 0.3 + (row % 97) as f64 / 1000.0;
        file += &format!("{athlete},2026-03-{day:02},{height},0.002\r\n");
    }
    file
}
