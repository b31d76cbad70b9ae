//! A made-up handball club for whole-process tests: its log, its mats, the program.

// Every test program takes a part of this.
#![allow(dead_code)]

use std::path::PathBuf;

use jiff::civil::Date;
use serde_json::Value;
use underfoot::log::Log;
use underfoot::report::json;
use underfoot::report::model::{BudgetLine, Document, EventFrames, Jump};
use underfoot::synth::squad::squad_jumps;
use underfoot::units::{Bounds, CaptureTime, Interval95, Metres, Span, StandardUncertainty};

pub const G: f64 = 9.80665;

/// What a run of the program came to.
pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Ran {
    /// The one document on standard output.
    #[track_caller]
    pub fn json(&self) -> Value {
        assert_eq!(self.out.lines().count(), 1, "{}{}", self.out, self.err);
        serde_json::from_str(&self.out).expect("a JSON document")
    }

    /// A text for people: exit code 0, no line wider than a terminal.
    #[track_caller]
    pub fn text(&self) -> &str {
        assert_eq!(self.code, 0, "{}{}", self.out, self.err);
        for line in self.out.lines().chain(self.err.lines()) {
            assert!(line.chars().count() <= 80, "too wide: {line}");
        }
        &self.out
    }

    /// A refusal: exit code 2, nothing on standard output, and a remedy.
    #[track_caller]
    pub fn refusal(&self) -> &str {
        assert_eq!((self.code, self.out.as_str()), (2, ""), "{}", self.err);
        assert!(self.err.contains("\nhint: "), "{}", self.err);
        &self.err
    }
}

/// A folder of its own, and the program run in it.
pub struct Hall(tempfile::TempDir);

impl Hall {
    pub fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path(name), text).expect("room");
    }

    pub fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).expect("a file")
    }

    /// Runs the program with these words; the log is one of this folder.
    pub fn run(&self, words: &str) -> Ran {
        self.run_with(words, "")
    }

    /// The same with this on standard input.
    pub fn run_with(&self, words: &str, input: &str) -> Ran {
        let output = assert_cmd::Command::cargo_bin("underfoot")
            .expect("the program")
            .current_dir(self.0.path())
            .env("UNDERFOOT_LOG", self.path("log.sqlite"))
            .args(words.split_whitespace())
            .write_stdin(input)
            .output()
            .expect("it runs");
        Ran {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).expect("text"),
            err: String::from_utf8(output.stderr).expect("text"),
        }
    }
}

/// A result line of one jump as `measure --json` writes it.
pub fn film_line(clip: &str, flight_s: f64, frame_s: f64) -> String {
    let seconds = Span::from_seconds;
    let (lo, hi) = (flight_s - frame_s, flight_s + frame_s);
    let u = frame_s / 6f64.sqrt();
    let height = |t: f64| Metres::from_metres(G * t * t / 8.0);
    let moment = CaptureTime::from_seconds;
    let event = |at: f64| Bounds::between(moment(at - frame_s / 2.0), moment(at + frame_s / 2.0));
    let u_height = Metres::from_metres(G * flight_s / 4.0 * u);
    let line = |source: &str, u_m: f64| BudgetLine {
        source: source.to_owned(),
        u_m: StandardUncertainty(Metres::from_metres(u_m)),
    };
    let jump = Jump {
        number: 1,
        kind: None,
        feet: None,
        each_foot: None,
        takeoff_s: moment(1.0),
        landing_s: moment(1.0 + flight_s),
        takeoff_bounds_s: event(1.0),
        landing_bounds_s: event(1.0 + flight_s),
        frames: EventFrames {
            takeoff: [239, 240],
            landing: [360, 361],
        },
        flight_time_s: seconds(flight_s),
        flight_time_bounds_s: Bounds::between(seconds(lo), seconds(hi)),
        flight_time_u_s: StandardUncertainty(seconds(u)),
        flight_time_interval95_s: Interval95 {
            lo: seconds(flight_s - 1.9 * u),
            hi: seconds(flight_s + 1.9 * u),
        },
        height_m: height(flight_s),
        height_bounds_m: Bounds::between(height(lo), height(hi)),
        height_u_m: StandardUncertainty(u_height),
        height_interval95_m: Interval95 {
            lo: height(flight_s - 1.9 * u),
            hi: height(flight_s + 1.9 * u),
        },
        definition: "rise of the centre of mass after take-off, from flight time".to_owned(),
        gravity_m_s2: G,
        gravity_source: "standard value, CGPM 1901".to_owned(),
        takeoff_velocity_m_s: G * flight_s / 2.0,
        contact_time_s: None,
        contact_time_bounds_s: None,
        contact_time_u_s: None,
        rsi_m_s: None,
        rsi_u_m_s: None,
        flight_over_contact: None,
        flight_over_contact_u: None,
        fall_m: None,
        body: None,
        posture: None,
        budget: vec![
            line("frame spacing", u_height.metres()),
            line("clock rate", 0.0002),
        ],
        flags: Vec::new(),
    };
    let document = Document {
        schema: 1,
        clip: clip.to_owned(),
        clock: None,
        patch: None,
        jumps: vec![jump],
        warnings: Vec::new(),
        error: None,
    };
    json::to_line(&document).expect("a line") + "\n"
}

/// Writes the made-up squad's log, as `log demo` does.
pub fn log_squad(hall: &Hall) -> Log {
    let ran = hall.run("log demo log.sqlite");
    assert_eq!(ran.code, 0, "{}", ran.err);
    Log::open_read_only(&hall.path("log.sqlite")).expect("a log")
}

/// The day on which the squad's mat lay on the floor.
pub fn mat_day() -> Date {
    let jumps = squad_jumps();
    let on_mat = jumps.iter().find(|jump| jump.mat_flight_s.is_some());
    on_mat.expect("a session with the mat").date
}
