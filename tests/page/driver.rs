//! The browser's driver, which ends with the test that started it, and the browser with it.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

use fantoccini::wd::Capabilities;
use serde_json::json;
use tempfile::TempDir;

use super::keeper::Keeper;

/// What browser and what screen.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Screen {
    Laptop,
    LaptopDark,
    Phone,
    PhoneDark,
}

/// Programs, with the variables by which others can be named.
const DRIVER: (&str, &str) = ("CHROMEDRIVER", "chromedriver");
const BROWSER: (&str, &str) = ("CHROMIUM", "/usr/bin/chromium");

fn named((variable, usual): (&str, &str)) -> String {
    std::env::var(variable).unwrap_or_else(|_| usual.to_owned())
}

/// The driver, and the browser's own folder.
pub struct Driver {
    child: Child,
    pub address: String,
    /// By which all its processes are known.
    pub mark: String,
    keeper: Option<Keeper>,
    profile: TempDir,
}

impl Driver {
    pub fn start() -> Self {
        let profile = tempfile::tempdir().expect("a folder");
        let program = named(DRIVER);
        // The browser inherits this, by which the keeper knows it.
        let mark = format!("HOME={}", profile.path().display());
        let keeper = Keeper::of(&mark);
        let (child, port) = (0..TRIES)
            .find_map(|_| told_port(&program, profile.path()))
            .expect("the driver says its port");
        Self {
            child,
            address: format!("http://127.0.0.1:{port}"),
            mark,
            keeper: Some(keeper),
            profile,
        }
    }

    /// What the driver is asked to start.
    pub fn capabilities(&self, screen: Screen) -> Capabilities {
        capabilities(screen, self.profile.path())
    }
}

/// The driver asks for one port twice, of the old internet protocol and of the new; where
/// somebody else was given the second meanwhile, it ends at once, and is started again.
const TRIES: usize = 5;

/// A driver and its port; `None` where it ended before it told one.
fn told_port(program: &str, home: &Path) -> Option<(Child, u16)> {
    let mut child = Command::new(program)
        .arg("--port=0")
        .env("HOME", home)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap_or_else(|error| {
            panic!(
                "cannot run `{program}` ({error}): install the Debian packages `chromium` \
                 and `chromium-driver`, or run `sh tests/tools/prepare test`"
            )
        });
    let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines();
    let port = lines.by_ref().map_while(Result::ok).find_map(|line| {
        let (_, rest) = line.split_once("started successfully on port ")?;
        rest.trim_end_matches('.').parse::<u16>().ok()
    });
    let Some(port) = port else {
        let ended = child.wait();
        eprintln!("`{program}` ended before it told its port: {ended:?}");
        return None;
    };
    std::thread::spawn(move || lines.map_while(Result::ok).for_each(drop));
    Some((child, port))
}

impl Drop for Driver {
    fn drop(&mut self) {
        // The browser, too, which a driver that is killed leaves behind.
        drop(self.keeper.take());
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn capabilities(screen: Screen, profile: &Path) -> Capabilities {
    let mut arguments = vec![
        "--headless".to_owned(),
        "--no-sandbox".to_owned(),
        "--disable-gpu".to_owned(),
        "--disable-quic".to_owned(),
        "--no-first-run".to_owned(),
        "--disable-background-networking".to_owned(),
        "--disable-component-update".to_owned(),
        "--disable-sync".to_owned(),
        "--disable-dev-shm-usage".to_owned(),
        "--hide-scrollbars".to_owned(),
        "--window-size=1366,900".to_owned(),
        format!("--user-data-dir={}", profile.join("browser").display()),
    ];
    if matches!(screen, Screen::LaptopDark | Screen::PhoneDark) {
        arguments.push("--blink-settings=preferredColorScheme=0".to_owned());
    }
    let mut options = json!({ "binary": named(BROWSER), "args": arguments });
    if matches!(screen, Screen::Phone | Screen::PhoneDark) {
        options["mobileEmulation"] = json!({
            "deviceMetrics": { "width": 390, "height": 844, "pixelRatio": 2.0, "touch": true }
        });
    }
    let mut all = Capabilities::new();
    all.insert("browserName".to_owned(), json!("chrome"));
    all.insert("goog:chromeOptions".to_owned(), options);
    all
}
