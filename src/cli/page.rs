//! `page`: the whole job in a browser.

use std::path::PathBuf;

use directories::ProjectDirs;

use super::args::Page;
use super::{Outcome, files, output};
use crate::page::{Opened, Settings, serve};
use crate::report::model::Failure;

/// Serves the page until it is ended.
///
/// # Errors
/// When a clip given by name is not there, or no port or folder can be had.
pub(super) fn run(call: &Page) -> Result<Outcome, Failure> {
    let mut clips = Vec::new();
    for (path, usable) in files::clips(&call.clips) {
        let about = |failure: Failure| Failure {
            message: format!("{}: {}", path.display(), failure.message),
            hint: failure.hint,
        };
        usable.map_err(about)?;
        if !path.exists() {
            return Err(about(Failure {
                message: "no such file".to_owned(),
                hint: "check the spelling, or choose the clip on the page".to_owned(),
            }));
        }
        clips.push(path);
    }
    let settings = Settings {
        clips,
        log: call.log.clone(),
        folder: folder()?,
        lan: call.lan,
        port: call.port,
        threads: call.threads,
        units: call.units,
        limits: call.limits,
    };
    let first = std::sync::atomic::AtomicBool::new(true);
    serve(settings, move |opened| {
        let is_first = first.swap(false, std::sync::atomic::Ordering::Relaxed);
        tell(opened, is_first);
    })?;
    output::murmur("The page is closed; clips that were brought in are gone.\n");
    Ok(Outcome::Done)
}

/// Where the page may have a folder of its own for as long as it runs.
fn folder() -> Result<PathBuf, Failure> {
    let folders = ProjectDirs::from("", "", "underfoot").ok_or_else(|| Failure {
        message: "the system names no folder for a program's passing data".to_owned(),
        hint: "set HOME to a folder of your own".to_owned(),
    })?;
    Ok(folders.cache_dir().join("page"))
}

/// Says where the page is. A reader that has gone away cannot be told.
fn tell(opened: &Opened, is_first: bool) {
    if is_first {
        let _ = output::say(&format!("Page: {}\n", opened.address));
        output::murmur(
            "Open this address in a browser on this computer. It is secret and good until\n\
             the page is closed: ctrl-C.\n",
        );
    } else {
        output::murmur("A phone came in. For another one:\n");
    }
    let (Some(invitation), Some(code)) = (&opened.invitation, &opened.code) else {
        return;
    };
    if is_first {
        output::murmur(
            "\n--lan opens the page to this network: whoever scans this code can bring clips\n\
             in, see those that are here, and read and change the log. What is sent is not\n\
             encrypted; use it in a Wi-Fi that you trust. The code lets one phone in, once.\n",
        );
    }
    output::murmur(&format!("\n{}\nPhone: {invitation}\n", dark_on_light(code)));
}

/// The code in black on white where that can be said: some phones read no other.
fn dark_on_light(code: &str) -> String {
    use std::io::IsTerminal;
    if !std::io::stderr().is_terminal() {
        return code.to_owned();
    }
    let line = |line: &str| format!("\u{1b}[30;107m{line}\u{1b}[0m\n");
    code.lines().map(line).collect()
}
