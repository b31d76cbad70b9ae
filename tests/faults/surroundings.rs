//! Homes, terminals, languages, clocks: what differs from machine to machine.

use std::fs;
use std::process::Command;
use std::time::{Duration, SystemTime};

use super::bench::{Bench, floor};
use super::{add_mia, ended, measuring, run};

#[test]
fn no_home_is_needed_to_measure() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_60");
    let mut program = measuring(&bench, "cmj_60", &[&clip]);
    let ran = run(program.env_clear());
    assert_eq!(ran.code, 0, "{}", ran.err);
    for home in ["/nowhere/at/all", ""] {
        let mut program = measuring(&bench, "cmj_60", &[&clip, "--athlete", "Mia"]);
        program.env_clear().env("HOME", home);
        let ran = run(&mut program);
        assert_eq!(ran.code, 2, "{}", ran.err);
        assert!(
            ran.err.contains("hint: ") && !ran.err.contains("panicked"),
            "{}",
            ran.err
        );
    }
}

#[test]
fn results_are_the_same_in_every_language() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_60");
    let said = |locale: &str| {
        let mut program = measuring(&bench, "cmj_60", &[&clip, "--details", "--no-keep"]);
        let ran = run(program
            .env("LC_ALL", locale)
            .env("LANG", locale)
            .env("TZ", locale));
        assert_eq!(ran.code, 0, "{locale}: {}", ran.err);
        ran.out
    };
    let plain = said("C");
    assert!(plain.contains("33.5 cm"), "{plain}");
    for locale in [
        "de_DE.UTF-8",
        "tr_TR.UTF-8",
        "ar_EG.UTF-8",
        "POSIX",
        "no such place",
        "",
    ] {
        assert_eq!(said(locale), plain, "{locale}");
    }
}

/// What `measure` writes to a terminal; `None` where none can be played.
fn in_terminal(bench: &Bench, clip: &str, no_colour: Option<&str>) -> Option<String> {
    let program = assert_cmd::cargo::cargo_bin!("underfoot");
    let line = format!(
        "{} measure --no-keep --floor {} {clip}",
        program.display(),
        floor("cmj_60")
    );
    let mut script = Command::new("script");
    script
        .args(["-q", "-e", "-c", &line, "/dev/null"])
        .current_dir(bench.path());
    script.env_remove("NO_COLOR").env("TERM", "xterm");
    script.envs(no_colour.map(|value| ("NO_COLOR", value)));
    match script.stdin(std::process::Stdio::null()).output() {
        Ok(output) => Some(ended(output).out),
        Err(error) => {
            eprintln!("not tested: no terminal can be played ({error})");
            None
        }
    }
}

#[test]
fn terminals_get_colour_unless_they_do_not_want_it() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_60");
    let Some(coloured) = in_terminal(&bench, &clip, None) else {
        return;
    };
    assert!(
        coloured.contains("Jump 1") && coloured.contains("\u{1b}[1m"),
        "{coloured:?}"
    );
    // The cursor is never hidden, so that it cannot stay so.
    assert!(!coloured.contains("\u{1b}[?25l"), "{coloured:?}");
    let plain = in_terminal(&bench, &clip, Some("1")).unwrap();
    assert!(
        plain.contains("Jump 1") && !plain.contains("\u{1b}[1m"),
        "{plain:?}"
    );
    let empty = in_terminal(&bench, &clip, Some("")).unwrap();
    assert!(empty.contains("\u{1b}[1m"), "{empty:?}");
}

/// The clock of the machine, or of whoever copied the clip, was wrong.
#[test]
fn clips_from_the_past_and_from_the_future() {
    let bench = Bench::new();
    add_mia(&bench, "log.sqlite");
    let clip = bench.sample("cmj_60");
    let century = Duration::from_secs(100 * 365 * 86_400);
    for changed in [
        SystemTime::UNIX_EPOCH,
        SystemTime::UNIX_EPOCH - century / 2,
        SystemTime::now() + century,
    ] {
        let file = fs::File::options()
            .write(true)
            .open(bench.path().join(&clip))
            .unwrap();
        file.set_modified(changed).unwrap();
        let arguments = ["--no-keep", "--athlete", "Mia", &clip];
        let ran = run(&mut measuring(&bench, "cmj_60", &arguments));
        assert_eq!(ran.code, 0, "{changed:?}: {}", ran.err);
        assert!(ran.err.contains("logged as trial"), "{}", ran.err);
    }
}

/// Pictures show people: whatever is made is for the owner alone.
#[test]
fn what_is_written_is_for_nobody_else() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::new();
    add_mia(&bench, "kept/log.sqlite");
    let clip = bench.sample("cmj_60");
    let arguments = ["--no-keep", "--athlete", "Mia", "--pictures", "p/q", &clip];
    let mut program = measuring(&bench, "cmj_60", &arguments);
    let ran = run(program.env("UNDERFOOT_LOG", "kept/log.sqlite"));
    assert_eq!(ran.code, 0, "{}", ran.err);
    let mode = |name: &str| {
        let data = fs::metadata(bench.path().join(name)).unwrap();
        data.permissions().mode() & 0o777
    };
    let folders = ["p", "p/q", "kept"];
    assert_eq!(folders.map(mode), [0o700; 3]);
    for folder in ["p/q", "kept"] {
        let names = bench.names(folder);
        assert!(!names.is_empty(), "{folder}");
        for name in names {
            assert_eq!(mode(&format!("{folder}/{name}")), 0o600, "{folder}/{name}");
        }
    }
}

/// Who is forgotten cannot be read out of any file that is left.
#[test]
fn who_is_forgotten_is_gone_to_the_last_byte() {
    let bench = Bench::new();
    let does = |arguments: &[&str]| {
        let mut program = bench.program();
        program
            .env("UNDERFOOT_LOG", "kept/log.sqlite")
            .args(arguments);
        program.assert().success();
    };
    let holds = |name: &str| {
        bench.names("kept").iter().any(|file| {
            let bytes = bench.read(&format!("kept/{file}"));
            bytes
                .windows(name.len())
                .any(|window| window == name.as_bytes())
        })
    };
    does(&["log", "athlete", "add", "Mia Vogel"]);
    does(&["log", "athlete", "add", "Lena Kurz"]);
    let clip = bench.sample("cmj_60");
    let arguments = [
        "--no-keep",
        "--athlete",
        "Mia Vogel",
        "--note",
        "xenolith",
        &clip,
    ];
    let mut program = measuring(&bench, "cmj_60", &arguments);
    let ran = run(program.env("UNDERFOOT_LOG", "kept/log.sqlite"));
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(holds("Mia Vogel") && holds("xenolith"));
    does(&["log", "athlete", "forget", "Mia Vogel", "--yes"]);
    assert!(holds("Lena Kurz"));
    for word in ["Mia", "mia vogel", "xenolith", "cmj_60.mp4"] {
        assert!(!holds(word), "{word} is still there");
    }
}
