//! A folder with what the pages speak of, in the village handball club: clips, a jump mat's
//! readings, tables of jumps, a log. All numbers are made up.

use std::fmt::Write as _;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;
use tempfile::TempDir;

const PROGRAM: &str = env!("CARGO_BIN_EXE_underfoot");

pub struct Stage {
    folder: TempDir,
    variables: Vec<(String, String)>,
}

impl Stage {
    /// Sample clips in `jumps`, `clips` and their own folder, and tables.
    pub fn new() -> Self {
        let stage = Self {
            folder: tempfile::tempdir().expect("a folder"),
            variables: Vec::new(),
        };
        let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-clips-synthetic");
        let mut readings = "clip,jump,time_ms\n".to_owned();
        for folder in ["sample-clips-synthetic", "clips", "jumps", "stick"] {
            std::fs::create_dir(stage.path(folder)).expect("a folder");
        }
        for entry in std::fs::read_dir(&samples).expect("samples") {
            let path = entry.expect("a file").path();
            let name = path
                .file_name()
                .expect("a name")
                .to_string_lossy()
                .into_owned();
            let copy = |folder: &str| {
                std::fs::copy(&path, stage.path(folder).join(&name)).expect("a copy")
            };
            copy("sample-clips-synthetic");
            if name.ends_with(".mp4") {
                copy("clips");
                if name.starts_with("cmj") {
                    copy("jumps");
                }
            } else {
                add_readings(&path, &mut readings);
            }
        }
        stage.write("mat.csv", &readings);
        stage.write("later.csv", "time_ms\n512\n498\n");
        stage.write("mia.csv", &loads_table());
        stage.write("drops.csv", &drops_table());
        stage
    }

    /// Someone in the log with jumps under load and from boxes.
    pub fn with_season_of(mut self, name: &str) -> Self {
        self.write("season.csv", &season(name));
        let known = format!("\"{name}\" --mass-kg 62 --push-off-cm 38 --date 2026-03-01");
        self.run(&format!("underfoot log athlete add {known}"));
        self.run("underfoot log import season.csv");
        self
    }

    /// Each clip twice, as a correction takes ten jumps at the least, and a mat's readings of
    /// Mia's first day, 6 ms too long.
    pub fn with_mat(mut self) -> Self {
        let mut readings = std::fs::read_to_string(self.path("mat.csv")).expect("a table");
        for line in readings.clone().lines().skip(1) {
            let clip = line.split(',').next().expect("a clip");
            let clips = self.path("clips");
            std::fs::copy(clips.join(clip), clips.join(format!("again-{clip}"))).expect("a copy");
            writeln!(readings, "again-{line}").expect("text");
        }
        self.write("mat.csv", &readings);
        let shown: Vec<String> = first_day()
            .map(|(_, height_m)| format!("{:.0}", 1e3 * flight_s(height_m) + 6.0))
            .collect();
        self.run(&format!(
            "underfoot log mat add --athlete 'Mia Vogel' --date 2026-03-09 --time-ms {}",
            shown.join(" ")
        ));
        self
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path(name), text).expect("a file");
    }

    /// Sets a variable, from `NAME=VALUE`, for all that follows.
    pub fn export(&mut self, told: &str) {
        let told = told.split('#').next().unwrap_or(told).trim();
        let (name, value) = told.split_once('=').expect("NAME=VALUE");
        self.variables.push((name.to_owned(), value.to_owned()));
    }

    fn shell(&self, command: &str) -> Command {
        let programs = Path::new(PROGRAM).parent().expect("a folder").to_owned();
        let others = std::env::var_os("PATH").unwrap_or_default();
        let path = [programs].into_iter().chain(std::env::split_paths(&others));
        // What a person has at hand there is a folder here.
        let command = command.replace("/media/stick", "stick");
        let mut shell = Command::new("sh");
        shell
            .args(["-c", &command])
            .current_dir(self.folder.path())
            .env("PATH", std::env::join_paths(path).expect("a path"))
            .env("HOME", self.folder.path())
            .env("XDG_DATA_HOME", self.path("data"))
            .env_remove("UNDERFOOT_LOG")
            .envs(self.variables.iter().map(|(name, value)| (name, value)))
            .stdin(Stdio::null());
        shell
    }

    /// Runs a command that must succeed; what it prints.
    pub fn run(&mut self, command: &str) -> String {
        let output = self.shell(command).output().expect("a shell");
        assert!(
            output.status.success(),
            "{command}: {}\n{}",
            output.status,
            String::from_utf8_lossy(&output.stderr)
        );
        String::from_utf8(output.stdout).expect("UTF-8")
    }

    /// Runs a server until it has said where it is.
    pub fn opens_a_page(&self, command: &str) {
        let command = command.split('#').next().unwrap_or(command).trim();
        let mut server = self
            .shell(&format!("exec {command} --port 0"))
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("a server");
        let said = BufReader::new(server.stdout.take().expect("its output"))
            .lines()
            .map_while(Result::ok)
            .find(|line| line.contains("http://"));
        server.kill().expect("a server that runs");
        server.wait().expect("a server that ends");
        assert!(said.is_some(), "{command}: no address");
    }
}

/// What a mat shows of a sample's jumps: 6 ms more than the truth.
fn add_readings(sidecar: &Path, readings: &mut String) {
    let text = std::fs::read_to_string(sidecar).expect("a sidecar");
    let truth: Value = serde_json::from_str(&text).expect("JSON");
    let clip = truth["file"].as_str().expect("a name");
    for (at, jump) in truth["truth"]["jumps"]
        .as_array()
        .expect("jumps")
        .iter()
        .enumerate()
    {
        let time_s = jump["flight_time"].as_f64().expect("a number");
        let shown_ms = 1e3 * time_s + 6.0;
        writeln!(readings, "{clip},{},{shown_ms:.0}", at + 1).expect("text");
    }
}

fn flight_s(height_m: f64) -> f64 {
    (8.0 * height_m / 9.806_65).sqrt()
}

/// Load in kg and height in m of the first day's jumps.
fn first_day() -> impl Iterator<Item = (f64, f64)> {
    [(0.0, 0.30), (10.0, 0.25), (20.0, 0.21), (30.0, 0.175)]
        .into_iter()
        .flat_map(|(load, height)| [-0.004, 0.0, 0.004].map(|off| (load, height + off)))
}

/// Trials of two days under load and one from boxes, as the log imports them.
fn season(name: &str) -> String {
    let mut table = "athlete,date,kind,load[kg],drop_height[m],height[m],height_u[m],\
                     flight_time[s],flight_time_u[s],flight_time_lo[s],flight_time_hi[s],\
                     contact_time[s]\n"
        .to_owned();
    let mut add = |date: &str, kind: &str, load: f64, drop: &str, height: f64, contact: &str| {
        let time = flight_s(height);
        let (lo, hi) = (time - 0.004, time + 0.004);
        writeln!(
            table,
            "{name},{date},{kind},{load},{drop},{height:.4},0.002,{time:.4},0.0017,{lo:.4},\
             {hi:.4},{contact}"
        )
        .expect("text");
    };
    for (date, more) in [("2026-03-09", 0.0), ("2026-03-30", 0.01)] {
        for (load, height) in first_day() {
            add(date, "cmj", load, "", height + more, "");
        }
    }
    for drop in ["0.2", "0.3", "0.4"] {
        for off in [-0.004, 0.0, 0.004] {
            add("2026-03-31", "drop", 0.0, drop, 0.24 + off, "0.2");
        }
    }
    table
}

fn loads_table() -> String {
    let mut table = "load_kg,height_cm,u_cm,date\n".to_owned();
    for (date, more) in [("2026-03-02", 0.0), ("2026-03-30", 1.0)] {
        for (load, height_m) in first_day() {
            let height = 1e2 * height_m + more;
            writeln!(table, "{load},{height:.1},0.3,{date}").expect("text");
        }
    }
    table
}

fn drops_table() -> String {
    let mut table = "drop_cm,contact_ms,flight_ms\n".to_owned();
    for (drop, flight) in [(20, 430), (30, 450), (40, 440)] {
        for off in [-5, 0, 5] {
            writeln!(table, "{drop},{},{}", 200 + off, flight + off).expect("text");
        }
    }
    table
}
