//! Names that no one expects: any bytes, any length.

use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt;

use super::bench::Bench;
use super::{measuring, run};

#[test]
fn names_of_any_bytes_are_measured_and_steer_no_terminal() {
    let bench = Bench::new();
    let clip = bench.sample_as("cmj_60", "plain.mp4");
    for name in [
        &b"-v.mp4"[..],
        b"--help.mp4",
        b"two\nlines.mp4",
        b"red\x1b[31m\x07.mp4",
        b"latin \xe4\xff.mp4",
        b"tab\tand 'quotes\" $HOME.mp4",
        b"decode-apart",
        b"http:x.mp4",
        b" .mp4",
        "kevät 🤾.mp4".as_bytes(),
    ] {
        let path = bench.path().join(OsStr::from_bytes(name));
        fs::copy(&clip, &path).unwrap();
        let mut program = measuring(&bench, "cmj_60", &["--pictures", "p", "--"]);
        let ran = run(program.arg(OsStr::from_bytes(name)));
        let shown = String::from_utf8_lossy(name);
        assert_eq!(ran.code, 0, "{shown:?}: {}", ran.err);
        assert!(
            ran.out.contains("Jump 1  33.5 cm"),
            "{shown:?}: {}",
            ran.out
        );
        for text in [&ran.out, &ran.err] {
            let steers = |c: char| c.is_control() && c != '\n';
            assert!(!text.contains(steers), "{shown:?}: {text:?}");
        }
        let mut json = measuring(&bench, "cmj_60", &["--json", "--no-keep", "--"]);
        let documents = run(json.arg(OsStr::from_bytes(name))).documents();
        assert_eq!(documents[0]["clip"].as_str(), Some(&*shown));
        fs::remove_dir_all(bench.path().join("p")).unwrap();
    }
}

#[test]
fn errors_about_odd_names_steer_no_terminal_either() {
    let bench = Bench::new();
    let name = OsStr::from_bytes(b"red\x1b[31m\nerror: \xff.mp4");
    fs::write(bench.path().join(name), "no clip").unwrap();
    for command in ["measure", "inspect", "mark"] {
        let mut program = std::process::Command::new(assert_cmd::cargo::cargo_bin!("underfoot"));
        let ran = run(program
            .args([command, "--"])
            .arg(name)
            .current_dir(bench.path()));
        assert_eq!(ran.code, 2, "{}", ran.err);
        assert!(!ran.err.contains('\u{1b}'), "{command}: {:?}", ran.err);
        let errors = ran.err.lines().filter(|line| line.starts_with("error: "));
        assert_eq!(errors.count(), 1, "{command}: {:?}", ran.err);
    }
}

#[test]
fn names_that_are_too_long() {
    let bench = Bench::new();
    let clip = bench.sample_as("cmj_60", "plain.mp4");
    // The longest name there can be: nothing can be kept beside it.
    let longest = format!("{}.mp4", "n".repeat(251));
    fs::copy(&clip, bench.path().join(&longest)).unwrap();
    let ran = run(&mut measuring(&bench, "cmj_60", &[&longest]));
    assert_eq!(ran.code, 0, "{}", ran.err);
    let said: Vec<&str> = ran.err.split_whitespace().collect();
    let said = said.join(" ");
    assert!(said.contains("cannot be kept beside the clip"), "{said}");
    // Ten thousand characters, in names that are each allowed.
    let path = format!("{}x.mp4", "folder.of.the.club/".repeat(530));
    assert!(path.len() > 10_000);
    let ran = run(&mut measuring(&bench, "cmj_60", &[&path, "plain.mp4"]));
    ran.refused("cannot be read");
    assert!(ran.out.contains("Jump 1"), "{}", ran.out);
    let ran = run(&mut measuring(
        &bench,
        "cmj_60",
        &["plain.mp4", "--pictures", &path],
    ));
    ran.refused("cannot be written");
    let ran = run(&mut measuring(
        &bench,
        "cmj_60",
        &["plain.mp4", "--athlete", &path],
    ));
    ran.refused("");
}
