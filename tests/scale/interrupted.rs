//! Broken off and gone on with: the same file as if nothing had happened.

use std::fs;

use underfoot::log::{Log, TrialQuery};

use super::folder::{Folder, names};

#[test]
fn a_killed_run_is_gone_on_with_and_the_file_is_the_same() {
    let folder = Folder::mixed(10);
    assert_eq!(
        folder.measure("--out whole.parquet").code,
        2,
        "one clip is none"
    );
    folder.killed("--out part.parquet", "part.jsonl", 4);
    assert!(!folder.path("part.parquet").exists(), "no half a table");
    let ran = folder.measure("--out part.parquet --resume");
    assert_eq!(ran.code, 2, "{}", ran.err);
    assert!(
        ran.err.contains(" of 12 clips were measured before"),
        "{}",
        ran.err
    );
    let read = |name| folder.bench.read(name);
    assert_eq!(read("part.jsonl"), read("whole.jsonl"));
    assert_eq!(read("part.parquet"), read("whole.parquet"));

    // Once more, when all is done: the failed clips alone are tried again.
    let ran = folder.measure("--out part.parquet --resume");
    assert!(
        ran.err.contains("10 of 12 clips were measured before"),
        "{}",
        ran.err
    );
    assert_eq!(
        (ran.code, ran.out.as_str()),
        (2, ""),
        "what was measured is not said again"
    );
    assert_eq!(read("part.jsonl"), read("whole.jsonl"));
    assert_eq!(read("part.parquet"), read("whole.parquet"));
    let names = folder.bench.names("");
    assert_eq!(
        names,
        [
            "clips",
            "part.jsonl",
            "part.parquet",
            "whole.jsonl",
            "whole.parquet"
        ]
    );
}

#[test]
fn a_torn_line_is_cut_and_measured_again() {
    let folder = Folder::of(5);
    let ran = folder.measure("--out all.jsonl");
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(
        ran.err
            .contains("all.jsonl: 5 clips, 5 with jumps that can be used"),
        "{}",
        ran.err
    );
    let whole = folder.bench.read("all.jsonl");
    let fourth = line_ends(&whole)[2];
    let zeros = [&whole[..fourth], &[0; 700][..]].concat();
    let torn = [
        &whole[..fourth + 1],
        &whole[..fourth + 40],
        &whole[..whole.len() - 1],
        &zeros,
    ];
    for (at, left) in torn.into_iter().enumerate() {
        folder.bench.write("all.jsonl", left);
        let ran = folder.measure("--out all.jsonl --resume");
        assert_eq!(ran.code, 0, "{at}: {}", ran.err);
        assert!(
            ran.err.contains("the last line was not finished"),
            "{at}: {}",
            ran.err
        );
        assert!(
            folder.bench.read("all.jsonl") == whole,
            "{at}: another file"
        );
    }
    // The first line, torn: nothing is left to go on with.
    folder.bench.write("all.jsonl", &whole[..20]);
    folder.measure("--out all.jsonl --resume");
    assert!(folder.bench.read("all.jsonl") == whole);
}

fn line_ends(bytes: &[u8]) -> Vec<usize> {
    let ends = bytes.iter().enumerate().filter(|(_, byte)| **byte == b'\n');
    ends.map(|(at, _)| at + 1).collect()
}

#[test]
fn what_has_changed_is_measured_again_and_the_rest_is_not() {
    let folder = Folder::of(4);
    assert_eq!(folder.measure("--out all.jsonl").code, 0);
    let before = folder.lines("all.jsonl");
    let changed = folder.path("clips/0001.mp4");
    let clip = fs::read(&changed).unwrap();
    fs::write(&changed, "no longer a clip").unwrap();
    fs::remove_file(folder.path("clips/0003.mp4")).unwrap();
    folder.bench.write("clips/0000_new.mp4", &clip);
    let ran = folder.measure("--out all.jsonl --resume");
    assert_eq!(ran.code, 2, "{}", ran.err);
    assert!(
        ran.err.contains("2 of 4 clips were measured before"),
        "{}",
        ran.err
    );
    let after = folder.lines("all.jsonl");
    // That of the clip which is gone is kept, before those that were asked for.
    assert_eq!(
        names(&after),
        [
            "0003.mp4",
            "0000.mp4",
            "0000_new.mp4",
            "0001.mp4",
            "0002.mp4"
        ]
    );
    assert_eq!((&after[1], &after[4]), (&before[0], &before[2]));
    assert!(after[3]["error"]["message"].is_string(), "{}", after[3]);

    // A clip of the same length and a later date is another clip.
    fs::write(&changed, &clip).unwrap();
    let ran = folder.measure("--out all.jsonl --resume");
    assert!(ran.err.contains("3 of 4"), "{}", ran.err);
    let file = fs::File::options().write(true).open(&changed).unwrap();
    let later =
        file.metadata().unwrap().modified().unwrap() + std::time::Duration::from_nanos(1000);
    file.set_modified(later).unwrap();
    let ran = folder.measure("--out all.jsonl --resume");
    assert!(ran.err.contains("3 of 4"), "{}", ran.err);
    let ran = folder.measure("--out all.jsonl --resume");
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(
        ran.err
            .contains("4 of 4 clips were measured before and have not changed; 0 to go")
    );
}

/// A patch that a person marks between two runs is a reason to measure again.
#[test]
fn a_patch_that_was_marked_since_is_heeded() {
    let folder = Folder::of(2);
    let plain = |more: &str| {
        folder
            .bench
            .run(&format!("measure clips --out all.jsonl {more}"))
    };
    plain("");
    let floor = super::folder::FLOOR;
    let ran = folder
        .bench
        .run(&format!("mark clips/0001.mp4 --floor {floor}"));
    assert_eq!(ran.code, 0, "{}", ran.err);
    plain("--resume");
    let lines = folder.lines("all.jsonl");
    assert_eq!(lines[1]["patch"].to_string(), format!("[{floor}]"));
    assert_ne!(lines[0]["patch"], lines[1]["patch"]);
}

#[test]
fn nothing_is_logged_twice() {
    let folder = Folder::of(8);
    for command in [
        &["log", "athlete", "add", "Mia"][..],
        &["log", "athlete", "add", "Jana"],
    ] {
        assert_eq!(folder.run(command).code, 0);
    }
    folder.killed(
        "--out all.jsonl --date 2026-03-01 --athlete Mia",
        "all.jsonl",
        3,
    );
    let floor = super::folder::FLOOR;
    let measure = |athlete: &str| {
        let call = [
            "measure",
            "clips",
            "--no-keep",
            "--floor",
            floor,
            "--out",
            "all.jsonl",
        ];
        folder.run(
            &[
                &call[..],
                &["--resume", "--date", "2026-03-01", "--athlete", athlete],
            ]
            .concat(),
        )
    };
    let trials = || {
        let log = Log::open_read_only(&folder.path("log.sqlite")).unwrap();
        log.trials(&TrialQuery::default()).unwrap()
    };
    let ran = measure("Mia");
    assert_eq!(ran.code, 0, "{}", ran.err);
    let once = trials();
    assert_eq!(once.len(), 8);
    let ran = measure("Mia");
    assert!(
        ran.err.contains("8 of 8 clips were measured before"),
        "{}",
        ran.err
    );
    assert_eq!(trials(), once);

    // Broken off between log and line: the line goes, the log knows the clip.
    let text = String::from_utf8(folder.bench.read("all.jsonl")).unwrap();
    let five: String = text.split_inclusive('\n').take(5).collect();
    folder.bench.write("all.jsonl", five);
    let ran = measure("Mia");
    assert!(
        ran.err.contains("5 of 8 clips were measured before"),
        "{}",
        ran.err
    );
    let again = trials();
    let numbers = |trials: &[underfoot::log::Trial]| -> Vec<_> {
        trials.iter().map(|trial| (trial.id, trial.order)).collect()
    };
    assert_eq!(numbers(&again), numbers(&once));

    // Kept for one athlete is not kept for another: the log itself refuses.
    let ran = measure("Jana");
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("Mia"), "{}", ran.err);
    assert_eq!(numbers(&trials()), numbers(&once));
}
