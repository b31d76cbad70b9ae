//! A thousand clips: time grows with their number, memory does not.

use std::time::{Duration, Instant};

use super::folder::Folder;

/// What a run over a folder took.
struct Took {
    /// Seconds of all cores, which other programs hardly change.
    cpu_s: f64,
    most_mb: f64,
}

/// Ticks in a second of `/proc`'s times, on every Linux that Rust knows (proc(5)).
const TICKS: f64 = 100.0;

fn measured(clips: usize) -> Took {
    let folder = Folder::of(clips);
    let begun = Instant::now();
    let mut child = folder.begun("--out all.parquet --in-process");
    let about = format!("/proc/{}", child.id());
    let read = |name: &str| std::fs::read_to_string(format!("{about}/{name}")).unwrap_or_default();
    let (mut most_kb, mut cpu_s) = (0.0_f64, 0.0_f64);
    let code = loop {
        let status = read("status");
        let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let kb = line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok());
        most_kb = most_kb.max(kb.unwrap_or(0.0));
        // After the name in brackets come the fields from the third on; times of user
        // and system are the 14th and 15th.
        let stat = read("stat");
        let fields = stat.rsplit_once(") ").map_or("", |(_, fields)| fields);
        let ticks = fields.split(' ').skip(11).take(2);
        cpu_s = cpu_s.max(ticks.filter_map(|t| t.parse::<f64>().ok()).sum::<f64>() / TICKS);
        match child.try_wait().expect("a child") {
            Some(code) => break code,
            None => std::thread::sleep(Duration::from_millis(20)),
        }
    };
    let wall_s = begun.elapsed().as_secs_f64();
    assert!(code.success(), "{code}");
    assert_eq!(folder.lines("all.jsonl").len(), clips);
    let most_mb = most_kb / 1000.0;
    let each = clips as f64;
    eprintln!(
        "{clips} clips: {wall_s:.1} s wall, {:.3} s each; {cpu_s:.1} s of all cores, {:.3} s \
         each; {most_mb:.1} MB at most",
        wall_s / each,
        cpu_s / each
    );
    Took { cpu_s, most_mb }
}

fn linear(few: usize, many: usize) {
    let (some, all) = (measured(few), measured(many));
    let times = many as f64 / few as f64;
    assert!(some.cpu_s > 0.1, "{} s is no time", some.cpu_s);
    assert!(
        all.cpu_s < 1.3 * times * some.cpu_s,
        "{} s after {} s",
        all.cpu_s,
        some.cpu_s
    );
    assert!(
        all.most_mb < 1.1 * some.most_mb + 4.0,
        "{} MB after {} MB",
        all.most_mb,
        some.most_mb
    );
}

#[cfg(target_os = "linux")]
#[test]
fn time_grows_with_the_clips_and_memory_does_not() {
    linear(5, 15);
}

#[cfg(target_os = "linux")]
#[test]
#[ignore = "takes minutes: cargo test --release --test scale thousand -- --ignored --nocapture"]
fn a_thousand_clips_take_ten_times_as_long_as_a_hundred_and_no_more_memory() {
    linear(100, 1000);
}
