//! Files that cannot be written, or must not be touched.

use std::fs::File;

use super::bench::ran;
use super::folder::{Folder, call};

#[test]
fn somebody_elses_files_are_left_alone() {
    let folder = Folder::of(1);
    for (name, text) in [
        ("list.jsonl", "{\"athlete\": \"Mia\"}\n"),
        ("letter.jsonl", "Dear coach,"),
        ("plain.jsonl", "{\"schema\":1,\"clip\":\"a.mp4\"}\n"),
        ("zeros.jsonl", "\0\0\0\0"),
    ] {
        folder.bench.write(name, text);
        let ran = folder.measure(&format!("--out {name}"));
        ran.refused("is there already; it is left alone");
        let ran = folder.measure(&format!("--out {name} --resume"));
        ran.refused("is no results file of this program");
        assert_eq!(folder.bench.read(name), text.as_bytes(), "{name}");
    }
    folder.bench.write("table.parquet", "somebody's");
    for more in ["", "--resume"] {
        let ran = folder.measure(&format!("--out table.parquet {more}"));
        ran.refused("table.parquet is there already");
    }
    assert_eq!(folder.bench.read("table.parquet"), b"somebody's");
    assert!(!folder.path("table.jsonl").exists());
    folder
        .measure("--out results.csv")
        .refused("results.csv is no name for results");
    folder.measure("--resume").refused("--out");
}

#[test]
fn results_of_other_options_are_not_mixed() {
    let folder = Folder::of(2);
    assert_eq!(folder.measure("--out all.jsonl --gravity 9.81").code, 0);
    let before = folder.bench.read("all.jsonl");
    let ran = folder.measure("--out all.jsonl --resume");
    ran.refused("all.jsonl holds results measured with other options: gravity was");
    assert!(
        ran.err.contains("9.81") && ran.err.contains("9.80665"),
        "{}",
        ran.err
    );
    let old = String::from_utf8(before.clone()).unwrap();
    let old = old.replace(env!("CARGO_PKG_VERSION"), "0.0.1");
    folder.bench.write("all.jsonl", old);
    let ran = folder.measure("--out all.jsonl --resume --gravity 9.81");
    ran.refused("measured by version 0.0.1");
    folder.bench.write("all.jsonl", &before);
    assert_eq!(
        folder
            .measure("--out all.jsonl --resume --gravity 9.81")
            .code,
        0
    );
    // A line in the middle that is no line: nobody can say what else is missing.
    let mut damaged = before.clone();
    damaged[5] = b'\n';
    folder.bench.write("all.jsonl", &damaged);
    let ran = folder.measure("--out all.jsonl --resume --gravity 9.81");
    ran.refused("its line 1 is no result");
    assert_eq!(folder.bench.read("all.jsonl"), damaged);
}

#[test]
fn two_runs_do_not_write_one_file() {
    let folder = Folder::of(1);
    assert_eq!(folder.measure("--out all.jsonl").code, 0);
    let other = File::open(folder.path("all.jsonl")).unwrap();
    other.lock().unwrap();
    let ran = folder.measure("--out all.jsonl --resume");
    ran.refused("another run is writing all.jsonl");
    other.unlock().unwrap();
    assert_eq!(folder.measure("--out all.jsonl --resume").code, 0);
}

#[test]
fn folders_that_take_no_files() {
    let folder = Folder::of(1);
    for out in [
        "/proc/all.jsonl",
        "absent/all.jsonl",
        "clips/0000.mp4/all.jsonl",
    ] {
        folder
            .measure(&format!("--out {out}"))
            .refused("cannot be written");
    }
    std::fs::create_dir(folder.path("folder.jsonl")).unwrap();
    let ran = folder.measure("--out folder.jsonl --resume");
    ran.refused("folder.jsonl");
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("/dev/full", folder.path("full.jsonl")).unwrap();
        let ran = folder.measure("--out full.jsonl --resume");
        ran.refused("it is no file");
    }
}

/// Files of a few kilobytes at most: as a disk that is full after some clips.
#[cfg(unix)]
#[test]
fn a_full_disk_leaves_whole_lines_to_go_on_with() {
    let folder = Folder::of(6);
    assert_eq!(folder.measure("--out whole.parquet").code, 0);
    let program = assert_cmd::cargo::cargo_bin("underfoot");
    let line = folder.bench.read("whole.jsonl").len() / 6;
    // Blocks of 512 bytes: room for two lines and a half.
    let blocks = line * 5 / 2 / 512;
    let limited = format!(
        "trap '' XFSZ; ulimit -f {blocks}; exec {} {}",
        program.display(),
        call("--out part.parquet")
    );
    let mut shell = assert_cmd::Command::new("sh");
    let told = ran(shell
        .current_dir(folder.bench.path())
        .args(["-c", &limited]));
    assert_eq!(told.code, 2);
    assert!(
        told.err.contains("part.jsonl cannot be written"),
        "{}",
        told.err
    );
    assert!(
        told.err
            .contains("hint: choose a disk that takes files of this size"),
        "{}",
        told.err
    );
    assert_eq!(folder.lines("part.jsonl").len(), 2, "whole lines");
    assert!(!folder.path("part.parquet").exists());
    let ran = folder.measure("--out part.parquet --resume");
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(
        ran.err.contains("2 of 6 clips were measured before"),
        "{}",
        ran.err
    );
    assert_eq!(
        folder.bench.read("part.jsonl"),
        folder.bench.read("whole.jsonl")
    );
    assert_eq!(
        folder.bench.read("part.parquet"),
        folder.bench.read("whole.parquet")
    );
}
