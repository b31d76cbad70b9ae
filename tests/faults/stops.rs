//! Ctrl-C and sudden death, at any time.

use std::fs;
use std::os::unix::process::CommandExt;
use std::process::{Child, Command};
use std::time::{Duration, Instant};

use super::bench::Bench;
use super::{add_mia, ended, measuring, pictures_are_whole, run, unfinished};
use underfoot::log::{Log, TrialQuery};

/// Sends a signal by name to a whole group, as a terminal does.
fn signal(name: &str, group: &Child) {
    let target = format!("-{}", group.id());
    // A group that has ended already is no fault.
    let _ = Command::new("kill")
        .args([&format!("-{name}"), "--", &target])
        .output();
}

/// A folder with two clips and a log that knows an athlete.
fn club() -> Bench {
    let bench = Bench::new();
    bench.sample_as("cmj_60", "a.mp4");
    bench.sample_as("cmj_60", "b.mp4");
    add_mia(&bench, "log.sqlite");
    bench
}

const MEASURE: [&str; 7] = [
    "--pictures",
    "p",
    "--athlete",
    "Mia",
    "a.mp4",
    "b.mp4",
    "--json",
];

fn begin(bench: &Bench) -> Child {
    measuring(bench, "cmj_60", &MEASURE)
        .process_group(0)
        .spawn()
        .unwrap()
}

/// Moments spread over a whole run, the same each time.
fn moments(bench: &Bench, count: u32) -> Vec<Duration> {
    let since = Instant::now();
    let ran = run(&mut measuring(bench, "cmj_60", &MEASURE));
    assert_eq!(ran.code, 0, "{}", ran.err);
    let whole = since.elapsed();
    (0..count).map(|at| whole * at / count).collect()
}

/// What is on the disk after a run that was stopped: whole or not there.
fn leaves_nothing_half_done(bench: &Bench) {
    assert_eq!(unfinished(bench.path()), [""; 0]);
    assert_eq!(unfinished(&bench.path().join("p")), [""; 0]);
    pictures_are_whole(&bench.path().join("p"));
    for clip in ["a.mp4", "b.mp4"] {
        if let Ok(kept) = fs::read(bench.path().join(format!("{clip}.floor.json"))) {
            serde_json::from_slice::<serde_json::Value>(&kept).unwrap();
        }
    }
}

/// The log is whole, and each clip's jump is in it once or not at all.
fn log_is_whole(bench: &Bench) -> usize {
    let log = Log::open(&bench.path().join("log.sqlite")).unwrap();
    log.check().unwrap();
    let trials = log.trials(&TrialQuery::default()).unwrap().len();
    // Both files hold the same clip, which the log knows by its check sum.
    assert!(trials <= 1, "{trials} trials of one clip");
    trials
}

#[test]
fn ctrl_c_at_any_time_leaves_nothing_half_done() {
    let mut stopped = 0;
    for moment in moments(&club(), 10) {
        let bench = club();
        let child = begin(&bench);
        std::thread::sleep(moment);
        signal("INT", &child);
        let since = Instant::now();
        let ran = ended(child.wait_with_output().unwrap());
        assert!(
            since.elapsed() < Duration::from_secs(5),
            "{:?}",
            since.elapsed()
        );
        assert!([0, 130].contains(&ran.code), "{}: {}", ran.code, ran.err);
        assert!(
            !ran.err.contains("broke down") && !ran.err.contains("panicked"),
            "{}",
            ran.err
        );
        stopped += usize::from(ran.code == 130);
        leaves_nothing_half_done(&bench);
        log_is_whole(&bench);
    }
    assert!(stopped >= 5, "only {stopped} of 10 were stopped");
}

#[test]
fn a_request_to_end_is_followed_like_ctrl_c() {
    let bench = club();
    let child = begin(&bench);
    std::thread::sleep(Duration::from_millis(150));
    signal("TERM", &child);
    let ran = ended(child.wait_with_output().unwrap());
    assert!([0, 143].contains(&ran.code), "{}: {}", ran.code, ran.err);
    leaves_nothing_half_done(&bench);
}

#[test]
fn sudden_death_while_logging_leaves_the_log_whole() {
    let bench = club();
    let mut died = 0;
    for moment in moments(&bench, 8) {
        let mut child = begin(&bench);
        std::thread::sleep(moment);
        // The program alone: what it started has to notice.
        child.kill().unwrap();
        died += usize::from(!child.wait().unwrap().success());
        // A run before has logged it; this one puts the same in its place, or nothing.
        assert_eq!(log_is_whole(&bench), 1);
        pictures_are_whole_but_for_parts(&bench);
    }
    assert!(died >= 4, "only {died} of 8 died");
    let ran = run(&mut measuring(&bench, "cmj_60", &MEASURE));
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(log_is_whole(&bench), 1);
}

/// Nobody can tidy up after `kill -9`; what bears a picture's name is whole even so.
fn pictures_are_whole_but_for_parts(bench: &Bench) {
    for part in unfinished(&bench.path().join("p")) {
        fs::remove_file(bench.path().join("p").join(part)).unwrap();
    }
    pictures_are_whole(&bench.path().join("p"));
}

#[test]
fn two_programs_on_one_log_at_once() {
    let bench = club();
    let both = [begin(&bench), begin(&bench)];
    for child in both {
        let ran = ended(child.wait_with_output().unwrap());
        assert_eq!(ran.code, 0, "{}", ran.err);
    }
    assert_eq!(log_is_whole(&bench), 1);
    leaves_nothing_half_done(&bench);
}
