//! A folder of many little clips, and what a run over it leaves.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use serde_json::Value;

use super::bench::{Bench, Ran, ran};
use super::support;

/// A jump, filmed small: what is tried here does not hang on the picture.
fn tiny() -> &'static [u8] {
    static TINY: OnceLock<Vec<u8>> = OnceLock::new();
    TINY.get_or_init(|| {
        let bench = Bench::new();
        let sample = bench.path().join(bench.sample("cmj_60"));
        let small = "-vf scale=160:-2 -c:v mpeg4 -q:v 2 -bf 0 -g 30";
        let tiny = support::remake(&sample, "tiny.mp4", "", small);
        fs::read(tiny).expect("the clip just made")
    })
}

/// Where the feet stand in it: the sample's patch, a quarter of its size.
pub const FLOOR: &str = "74,74,14,8";

/// A folder with clips in it, and the program run beside it.
pub struct Folder {
    pub bench: Bench,
    pub clips: usize,
}

impl Folder {
    /// So many clips of a jump, each with a content of its own.
    pub fn of(clips: usize) -> Self {
        let bench = Bench::new();
        fs::create_dir(bench.path().join("clips")).expect("a folder");
        for at in 0..clips {
            // A box of free space (ISO/IEC 14496-12, 8.1.2), which readers skip.
            let mut bytes = tiny().to_vec();
            bytes.extend(12_u32.to_be_bytes());
            bytes.extend(b"free");
            bytes.extend((at as u32).to_be_bytes());
            bench.write(&format!("clips/{at:04}.mp4"), bytes);
        }
        Self { bench, clips }
    }

    /// The same, with a clip that is none and one in which nothing moves.
    pub fn mixed(jumps: usize) -> Self {
        let mut folder = Self::of(jumps);
        folder
            .bench
            .write("clips/0000_text.mp4", "Dear coach, here is the clip.");
        let still = "color=gray:size=160x90:rate=60:duration=1";
        support::ffmpeg(
            folder.bench.path(),
            &format!("-f lavfi -i {still} -c:v mpeg4 {{}}/clips/0002_still.mp4"),
        );
        folder.clips += 2;
        folder
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.bench.path().join(name)
    }

    /// `measure` over the folder with these arguments, kept for as long as it takes.
    pub fn measure(&self, more: &str) -> Ran {
        self.bench.run(&call(more))
    }

    /// Begins `measure`, and kills it once so many lines stand in the file.
    pub fn killed(&self, more: &str, lines: &str, after: usize) {
        let mut child = self.begun(more);
        let begun = Instant::now();
        while count(&self.path(lines)) < after {
            assert!(
                begun.elapsed() < Duration::from_secs(120),
                "it does not come to {after} lines"
            );
            assert!(
                child.try_wait().expect("a child").is_none(),
                "it ended by itself"
            );
            std::thread::sleep(Duration::from_millis(3));
        }
        // On Unix this is signal 9, which nothing can catch.
        child.kill().expect("it runs");
        child.wait().expect("it ends");
        let count = count(&self.path(lines));
        assert!(
            (after..self.clips).contains(&count),
            "{count} lines at the end"
        );
    }

    pub fn begun(&self, more: &str) -> Child {
        Command::new(assert_cmd::cargo::cargo_bin("underfoot"))
            .current_dir(self.bench.path())
            .env("UNDERFOOT_LOG", self.path("log.sqlite"))
            .args(call(more).split_whitespace())
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program runs")
    }

    /// Runs any command of the program, with the folder's own log.
    pub fn run(&self, words: &[&str]) -> Ran {
        let log = self.path("log.sqlite");
        ran(self.bench.program().env("UNDERFOOT_LOG", log).args(words))
    }

    /// A file of lines, each as JSON.
    pub fn lines(&self, name: &str) -> Vec<Value> {
        let text = String::from_utf8(self.bench.read(name)).expect("text");
        assert!(
            text.is_empty() || text.ends_with('\n'),
            "{name} ends in the middle of a line"
        );
        text.lines()
            .map(|line| serde_json::from_str(line).expect("a line of JSON"))
            .collect()
    }
}

pub fn call(more: &str) -> String {
    format!("measure clips --no-keep --floor {FLOOR} {more}")
}

fn count(lines: &Path) -> usize {
    let bytes = fs::read(lines).unwrap_or_default();
    bytes.iter().filter(|byte| **byte == b'\n').count()
}

/// Names of the clips of these lines, without the folder.
pub fn names(lines: &[Value]) -> Vec<String> {
    let name = |line: &Value| line["clip"].as_str().expect("a name").to_owned();
    lines
        .iter()
        .map(name)
        .map(|name| name.replace("clips/", ""))
        .collect()
}
