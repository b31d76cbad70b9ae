//! Runs a program and tells its wall time, peak memory and bytes read.

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
    /// Largest resident set; a little less if it grew in the last milliseconds.
    pub peak_mb: f64,
    /// Bytes asked of the kernel, from the disk or its cache.
    pub read_mb: f64,
}

/// Runs `command` to its end.
pub fn run(mut command: Command) -> Result<Run> {
    command.stdin(Stdio::null()).stdout(Stdio::null());
    let began = Instant::now();
    let mut child = command.spawn().with_context(|| format!("{command:?}"))?;
    let folder = format!("/proc/{}", child.id());
    let (mut peak_kb, mut read_bytes, mut cpu_s) = (0, 0, 0.0);
    let status = loop {
        if let Some(status) = child.try_wait()? {
            break status;
        }
        peak_kb = number(&format!("{folder}/status"), "VmHWM:").max(peak_kb);
        read_bytes = number(&format!("{folder}/io"), "rchar:").max(read_bytes);
        cpu_s = processor_s(&format!("{folder}/stat")).max(cpu_s);
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
        read_mb: read_bytes as f64 / 1e6,
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

/// Time in the program and in the kernel (proc(5): fields 14 and 15 of `stat`, in
/// hundredths of a second); 0 where the process is gone.
fn processor_s(path: &str) -> f64 {
    let text = fs::read_to_string(path).unwrap_or_default();
    // The name stands in brackets and may hold spaces.
    let after_name = text.rsplit_once(')').map_or("", |(_, rest)| rest);
    let ticks: u64 = after_name
        .split_whitespace()
        .skip(11)
        .take(2)
        .filter_map(|field| field.parse::<u64>().ok())
        .sum();
    ticks as f64 / 100.0
}
