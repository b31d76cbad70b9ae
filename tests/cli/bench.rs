//! A folder of one test, sample clips in it, and the program run there.

use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

/// Where one test works.
pub struct Bench {
    folder: TempDir,
}

/// How a run ended.
pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Ran {
    /// The lines of standard output as JSON.
    pub fn documents(&self) -> Vec<Value> {
        let line = |line: &str| {
            serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}\n{}", self.err))
        };
        self.out.lines().map(line).collect()
    }

    /// Fails unless the run ended with `code` and said on standard error, in this
    /// order, an error that holds `what` and a hint on the next line.
    pub fn refused(&self, what: &str) {
        assert_eq!(self.code, 2, "{}\n{}", self.out, self.err);
        let mut lines = self
            .err
            .lines()
            .skip_while(|line| !line.starts_with("error: "));
        let error = lines.next().unwrap_or_default();
        assert!(error.contains(what), "wanted {what:?} in:\n{}", self.err);
        let hint = lines.next().unwrap_or_default();
        assert!(hint.starts_with("hint: "), "no hint in:\n{}", self.err);
        assert!(!self.err.contains("panicked"), "{}", self.err);
    }
}

impl Bench {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder for the test");
        Self { folder }
    }

    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Names of all that lies in the folder, sorted.
    pub fn names(&self, under: &str) -> Vec<String> {
        let entries = std::fs::read_dir(self.path().join(under)).expect("the folder");
        let name = |e: std::io::Result<std::fs::DirEntry>| e.unwrap().file_name();
        let mut names: Vec<String> = entries
            .map(|entry| name(entry).to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    /// Copies a sample clip under the name `to`.
    pub fn sample_as(&self, name: &str, to: &str) -> PathBuf {
        let path = self.path().join(to);
        std::fs::copy(samples().join(format!("{name}.mp4")), &path).expect("a sample clip");
        path
    }

    /// Copies a sample clip.
    pub fn sample(&self, name: &str) -> String {
        let file = format!("{name}.mp4");
        self.sample_as(name, &file);
        file
    }

    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) {
        std::fs::write(self.path().join(name), bytes).expect("room for a file");
    }

    pub fn read(&self, name: &str) -> Vec<u8> {
        std::fs::read(self.path().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
    }

    /// The program, about to run in the folder.
    pub fn program(&self) -> Command {
        let mut command = Command::cargo_bin("underfoot").expect("the program");
        command.current_dir(self.path());
        command
    }

    /// Runs the program with these arguments, which hold no blanks.
    pub fn run(&self, arguments: &str) -> Ran {
        ran(self.program().args(arguments.split_whitespace()))
    }
}

/// Runs a command to its end.
pub fn ran(command: &mut Command) -> Ran {
    let output = command.output().expect("the program runs");
    Ran {
        code: output.status.code().expect("an exit code, not a signal"),
        out: String::from_utf8(output.stdout).expect("UTF-8"),
        err: String::from_utf8(output.stderr).expect("UTF-8"),
    }
}

fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-clips-synthetic")
}

/// The truth beside a sample.
pub fn truth(name: &str) -> Value {
    let bytes = std::fs::read(samples().join(format!("{name}.json"))).expect("a truth");
    serde_json::from_slice(&bytes).expect("JSON")
}

/// The floor patch that goes with a sample, as an argument.
pub fn floor(name: &str) -> String {
    let truth = truth(name);
    let numbers = truth["image"]["floor_box"].as_array().expect("a patch");
    let numbers: Vec<String> = numbers.iter().map(Value::to_string).collect();
    numbers.join(",")
}
