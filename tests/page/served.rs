//! The program serving its page, in a folder of its own, until the test is over.

use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use super::keeper::Keeper;

/// A page that is being served.
pub struct Served {
    child: Child,
    /// Address that the terminal shows.
    pub address: String,
    /// Lines on standard error so far.
    murmurs: mpsc::Receiver<String>,
    keeper: Option<Keeper>,
    /// Cache and log are in here.
    pub folder: TempDir,
}

/// Line of the environment by which the page and its children are known.
fn mark_of(folder: &TempDir) -> String {
    format!("XDG_CACHE_HOME={}", folder.path().join("cache").display())
}

/// One of the repository's sample clips.
pub fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-clips-synthetic")
        .join(name)
}

impl Served {
    /// Starts `underfoot page` with further arguments.
    pub fn start(arguments: &[&str]) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let keeper = Keeper::of(&mark_of(&folder));
        let mut child = Command::new(env!("CARGO_BIN_EXE_underfoot"))
            .arg("page")
            .args(arguments)
            .env("XDG_CACHE_HOME", folder.path().join("cache"))
            .env("UNDERFOOT_LOG", folder.path().join("log.sqlite"))
            .env("TZ", "UTC")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let mut out = BufReader::new(child.stdout.take().expect("piped"));
        let mut first = String::new();
        out.read_line(&mut first).expect("a line");
        let address = first.trim().strip_prefix("Page: ").map(str::to_owned);
        let stderr = child.stderr.take().expect("piped");
        let (sender, murmurs) = mpsc::channel();
        std::thread::spawn(move || {
            for line in BufReader::new(stderr).lines().map_while(Result::ok) {
                if sender.send(line).is_err() {
                    return;
                }
            }
        });
        // What else comes is nobody's business; the pipe must not fill up.
        std::thread::spawn(move || out.read_to_end(&mut Vec::new()));
        Self {
            address: address.unwrap_or_else(|| panic!("no address in {first:?}")),
            child,
            murmurs,
            keeper: Some(keeper),
            folder,
        }
    }

    /// The program's number among processes.
    #[cfg(target_os = "linux")]
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// Line of the environment by which the page's processes are known.
    pub fn mark(&self) -> String {
        mark_of(&self.folder)
    }

    /// `host:port`.
    pub fn host(&self) -> &str {
        let rest = self.address.strip_prefix("http://").expect("an address");
        rest.split('/').next().expect("a host")
    }

    /// The secret first part of all paths.
    pub fn secret(&self) -> &str {
        self.address.split('/').nth(3).expect("a secret")
    }

    /// Waits for a line on standard error that holds this text.
    pub fn heard(&self, text: &str) -> String {
        let end = Instant::now() + Duration::from_secs(10);
        loop {
            let left = end.saturating_duration_since(Instant::now());
            match self.murmurs.recv_timeout(left) {
                Ok(line) if line.contains(text) => return line,
                Ok(_) => {}
                Err(_) => panic!("the program never said {text:?}"),
            }
        }
    }

    /// Folders that pages hold in the cache.
    pub fn private_folders(&self) -> Vec<PathBuf> {
        let base = self.folder.path().join("cache/underfoot/page");
        let entries = std::fs::read_dir(base).expect("the folder of pages");
        entries
            .map(|entry| entry.expect("an entry").path())
            .collect()
    }

    pub fn log(&self) -> PathBuf {
        self.folder.path().join("log.sqlite")
    }

    /// Asks the program to end, as ctrl-C does, and waits until it has.
    #[cfg(unix)]
    pub fn interrupt(&mut self) -> std::process::ExitStatus {
        let sent = Command::new("kill")
            .args(["-INT", &self.child.id().to_string()])
            .status()
            .expect("kill runs");
        assert!(sent.success());
        let end = Instant::now() + Duration::from_secs(10);
        loop {
            if let Some(status) = self.child.try_wait().expect("a child") {
                return status;
            }
            assert!(Instant::now() < end, "the page does not close");
            std::thread::sleep(Duration::from_millis(30));
        }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        drop(self.keeper.take());
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Runs another command of the program with the page's log.
pub fn also(served: &Served, arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_underfoot"))
        .args(arguments)
        .env("UNDERFOOT_LOG", served.log())
        .output()
        .expect("the program runs");
    assert!(
        output.status.success(),
        "{arguments:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).expect("text")
}
