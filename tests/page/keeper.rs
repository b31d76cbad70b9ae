//! Sees that what a test started ends with it, whichever way the test ends.
//!
//! A test that panics still drops what it holds; one that is killed does not. So a shell
//! waits at a pipe whose other end only the test holds: when that closes, for whatever
//! reason, it ends the processes that carry the test's mark in their environment, by their
//! numbers. Children of children inherit the mark, wherever they were moved meanwhile.

use std::io::{BufRead, BufReader};
use std::os::unix::process::CommandExt;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use super::browser::{Screen, browse};
use super::served::Served;

/// Waits for the end of its input, then ends what carries the mark `$0`, until nothing
/// does: what is about to start another may do so between looking and ending.
const WATCH: &str = r#"
trap '' INT TERM HUP
while read -r _; do :; done
for round in 1 2 3 4 5 6 7 8 9 10; do
    found=$(grep -lzFxe "$0" /proc/[0-9]*/environ 2>/dev/null)
    [ -n "$found" ] || exit 0
    for one in $found; do
        id=${one#/proc/}
        kill -KILL "${id%/environ}" 2>/dev/null
    done
    sleep 0.05
done
"#;

/// Ends what it watches when it is dropped, and when the test's process is gone.
pub struct Keeper {
    shell: Child,
}

impl Keeper {
    /// Watches all processes whose environment has this line, such as `HOME=/tmp/x`, which
    /// must be the test's own.
    pub fn of(mark: &str) -> Self {
        let shell = Command::new("sh")
            .args(["-c", WATCH, mark])
            // Out of reach of the ctrl-C that ends the test.
            .process_group(0)
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("a shell starts");
        Self { shell }
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        drop(self.shell.stdin.take());
        let _ = self.shell.wait();
    }
}

/// Processes whose environment has this line.
pub fn carrying(mark: &str) -> Vec<u32> {
    let all = std::fs::read_dir("/proc").expect("the list of processes");
    let number = |entry: std::fs::DirEntry| entry.file_name().to_str()?.parse::<u32>().ok();
    all.filter_map(|entry| number(entry.ok()?))
        .filter(|id| {
            let environ = std::fs::read(format!("/proc/{id}/environ")).unwrap_or_default();
            environ
                .split(|byte| *byte == 0)
                .any(|line| line == mark.as_bytes())
        })
        .collect()
}

/// Says to the test program how it is to end; not set for any other.
const DOOMED: &str = "UNDERFOOT_TEST_DOOMED";
/// Longest that anything may outlive its test.
const SOON: Duration = Duration::from_secs(10);

/// Opens a page, says by which marks its processes are known, and waits for its end. A
/// part of the next test; does nothing by itself.
#[test]
fn a_doomed_test() {
    let Ok(how) = std::env::var(DOOMED) else {
        return;
    };
    let served = Served::start(&[]);
    browse(Screen::Laptop, async |page| {
        page.open(&served.address).await;
        page.find("#shelf .empty").await;
        for mark in [&page.mark, &served.mark()] {
            println!("known by {mark}");
        }
        println!("all is open");
        assert_ne!(how, "panic", "as it was told");
        std::thread::sleep(Duration::from_secs(60));
    });
}

#[test]
fn browser_and_page_end_with_the_test_that_started_them() {
    for how in ["panic", "kill"] {
        let this = std::env::current_exe().expect("this program");
        let mut doomed = Command::new(this)
            .args(["--exact", "keeper::a_doomed_test", "--nocapture"])
            .env(DOOMED, how)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("this program starts again");
        let out = BufReader::new(doomed.stdout.take().expect("piped"));
        let mut marks = Vec::new();
        for line in out.lines().map_while(Result::ok) {
            if let Some((_, mark)) = line.split_once("known by ") {
                marks.push(mark.to_owned());
            }
            if line.contains("all is open") {
                break;
            }
        }
        assert_eq!(marks.len(), 2, "{how}: not opened");
        if how == "kill" {
            for mark in &marks {
                assert!(!carrying(mark).is_empty(), "{mark}: nobody carries it");
            }
            doomed.kill().expect("it is ended");
        }
        let ended = doomed.wait().expect("it ends");
        assert!(!ended.success(), "{how}: {ended}");
        let end = Instant::now() + SOON;
        for mark in &marks {
            while !carrying(mark).is_empty() {
                let left = carrying(mark);
                assert!(Instant::now() < end, "{how}: {left:?} outlive their test");
                std::thread::sleep(Duration::from_millis(50));
            }
        }
    }
}
