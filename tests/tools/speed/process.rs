//! Runs a program and tells what it and the programs it starts took: `measure` decodes
//! in a child of its own, and a figure without that child would be none.

use std::fs;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};

/// How often the kernel is asked, which is also how long the end may go unnoticed.
const ASKED_EVERY: Duration = Duration::from_millis(2);

/// What one run took.
pub struct Run {
    pub wall_s: f64,
    /// Seconds of processor time of all threads, to a hundredth: what remains
    /// comparable on a machine that others use as well.
    pub cpu_s: f64,
    /// Largest sum of the resident sets of all that ran at once, each at its own largest;
    /// a little less if one grew in its last milliseconds.
    pub peak_mb: f64,
    /// Bytes asked of the kernel, from the disk, its cache or a pipe.
    pub read_mb: f64,
}

/// Runs `command` to its end.
pub fn run(mut command: Command) -> Result<Run> {
    command.stdin(Stdio::null()).stdout(Stdio::null());
    let began = Instant::now();
    let mut child = command.spawn().with_context(|| format!("{command:?}"))?;
    let (mut peak_kb, mut read, mut cpu_s) = (0, 0, 0.0_f64);
    let status = loop {
        if let Some(status) = child.try_wait()? {
            break status;
        }
        let mut all = vec![child.id()];
        family(child.id(), &mut all);
        let of_each = |file: &str, key: &str| -> Vec<u64> {
            let path = |id: &u32| format!("/proc/{id}/{file}");
            all.iter().map(|id| number(&path(id), key)).collect()
        };
        peak_kb = of_each("status", "VmHWM:").iter().sum::<u64>().max(peak_kb);
        // A program's own figure holds those of programs it started and that have ended.
        read = of_each("io", "rchar:").iter().sum::<u64>().max(read);
        cpu_s = all
            .iter()
            .map(|&id| processor_s(id))
            .sum::<f64>()
            .max(cpu_s);
        sleep(ASKED_EVERY);
    };
    let wall_s = began.elapsed().as_secs_f64();
    if !status.success() {
        bail!("{command:?} ended with {status}");
    }
    Ok(Run {
        wall_s,
        cpu_s,
        peak_mb: peak_kb as f64 / 1e3,
        read_mb: read as f64 / 1e6,
    })
}

/// The number after `key` in one of the kernel's tables; 0 where there is none.
fn number(path: &str, key: &str) -> u64 {
    let text = fs::read_to_string(path).unwrap_or_default();
    text.lines()
        .find_map(|line| line.strip_prefix(key))
        .and_then(|rest| rest.split_whitespace().next()?.parse().ok())
        .unwrap_or(0)
}

/// Adds the programs that a program has started and that still run, and theirs.
fn family(id: u32, all: &mut Vec<u32>) {
    let tasks = fs::read_dir(format!("/proc/{id}/task"))
        .into_iter()
        .flatten();
    for task in tasks.flatten() {
        let children = fs::read_to_string(task.path().join("children")).unwrap_or_default();
        for child in children.split_whitespace().filter_map(|id| id.parse().ok()) {
            all.push(child);
            family(child, all);
        }
    }
}

/// Time in the program and in the kernel, with that of programs it started and that have
/// ended (proc(5): fields 14 to 17 of `stat`, in hundredths of a second); 0 where the
/// process is gone.
fn processor_s(id: u32) -> f64 {
    let text = fs::read_to_string(format!("/proc/{id}/stat")).unwrap_or_default();
    // The name stands in brackets and may hold spaces.
    let after_name = text.rsplit_once(')').map_or("", |(_, rest)| rest);
    let ticks: u64 = after_name
        .split_whitespace()
        .skip(11)
        .take(4)
        .filter_map(|field| field.parse::<u64>().ok())
        .sum();
    ticks as f64 / 100.0
}
