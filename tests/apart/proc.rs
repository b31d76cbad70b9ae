//! Children of a program, as Linux lists them.

use std::fs;
use std::process::{Child, Command};
use std::time::{Duration, Instant};

/// The decoder that `program` has started for the clip with this in its name; waits
/// for it.
pub fn helper_of(program: &Child, clip: &str) -> u32 {
    let since = Instant::now();
    while since.elapsed() < Duration::from_secs(30) {
        if let Some(id) = helpers(program.id(), clip).first() {
            return *id;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    panic!("no process was started for {clip}");
}

/// Processes of the decoder whose parent is `parent`.
fn helpers(parent: u32, clip: &str) -> Vec<u32> {
    let ids = fs::read_dir("/proc").expect("/proc").filter_map(|entry| {
        let name = entry.ok()?.file_name();
        name.to_str()?.parse::<u32>().ok()
    });
    ids.filter(|id| {
        let arguments = fs::read(format!("/proc/{id}/cmdline")).unwrap_or_default();
        let arguments = String::from_utf8_lossy(&arguments).into_owned();
        field(*id, "PPid") == Some(parent.to_string())
            && arguments.contains("decode-apart")
            && arguments.contains(clip)
    })
    .collect()
}

/// A line of a process's status.
pub fn field(id: u32, name: &str) -> Option<String> {
    let status = fs::read_to_string(format!("/proc/{id}/status")).ok()?;
    let line = status
        .lines()
        .find(|line| line.starts_with(&format!("{name}:")))?;
    Some(line.split_once(':')?.1.trim().to_owned())
}

/// Whether a process is there and has not ended.
pub fn lives(id: u32) -> bool {
    field(id, "State").is_some_and(|state| !state.starts_with('Z'))
}

/// Sends a signal by name.
pub fn signal(name: &str, id: &str) {
    let sent = Command::new("kill")
        .args([&format!("-{name}"), "--", id])
        .status();
    assert!(sent.expect("kill").success(), "kill -{name} {id}");
}

/// Waits for something, for ten seconds at most.
pub fn wait_for(what: &str, holds: impl Fn() -> bool) {
    let since = Instant::now();
    while !holds() {
        assert!(since.elapsed() < Duration::from_secs(10), "{what}");
        std::thread::sleep(Duration::from_millis(5));
    }
}
