//! The decoder in a process of its own: the same results, a cage that holds, and one
//! clear error for one clip where that process breaks down.

#![cfg(unix)]

#[allow(dead_code)]
#[path = "cli/bench.rs"]
mod bench;
#[cfg(target_os = "linux")]
#[path = "apart/cage.rs"]
mod cage;
#[cfg(target_os = "linux")]
#[path = "apart/proc.rs"]
mod proc;
mod support;

use std::process::Stdio;

use bench::{Bench, Ran, floor, ran};

/// Runs the program where no process may use more than the shell's `ulimit` says.
fn cramped(bench: &Bench, limit: &str, arguments: &str) -> Ran {
    let program = assert_cmd::cargo::cargo_bin!("underfoot");
    let line = format!("ulimit {limit}; exec {} {arguments}", program.display());
    let mut shell = assert_cmd::Command::new("sh");
    ran(shell.current_dir(bench.path()).args(["-c", &line]))
}

#[test]
fn both_ways_say_the_same() {
    let bench = Bench::new();
    for name in ["cmj_60", "two_jumps_120", "portrait_60"] {
        let clip = bench.sample(name);
        for call in [
            format!("measure --json --no-keep --floor {} {clip}", floor(name)),
            format!("inspect --json {clip}"),
        ] {
            let apart = bench.run(&call);
            let here = bench.run(&format!("{call} --in-process"));
            assert_eq!((apart.code, &apart.err), (here.code, &here.err), "{call}");
            assert_eq!(apart.out, here.out, "{call}");
        }
    }
    for (out, way) in [("apart", ""), ("here", "--in-process")] {
        let patch = floor("two_jumps_120");
        let call = format!("measure two_jumps_120.mp4 --floor {patch} --pictures {out} {way}");
        assert_eq!(bench.run(&call).code, 0);
        bench.run(&format!("mark cmj_60.mp4 --out {out}/mark.png {way}"));
    }
    let names = bench.names("apart");
    assert_eq!(names, bench.names("here"));
    assert!(names.len() >= 5, "{names:?}");
    for name in names {
        let [apart, here] = ["apart", "here"].map(|way| bench.read(&format!("{way}/{name}")));
        assert!(apart == here, "{name} differs");
    }
    assert!(
        bench
            .names("")
            .contains(&"two_jumps_120.mp4.floor.json".to_owned())
    );
}

#[test]
fn errors_are_those_of_one_process() {
    let bench = Bench::new();
    bench.write("text.mp4", "Dear coach, here is the clip.");
    bench.write("empty.mp4", "");
    let clip = bench.sample("cmj_60");
    for call in [
        "measure text.mp4 empty.mp4 absent.mp4 .",
        "inspect text.mp4 empty.mp4 absent.mp4",
        "mark text.mp4",
        "measure cmj_60.mp4 --floor 1,1,2,2",
        "mark cmj_60.mp4 --floor 600,300,100,100",
    ] {
        let apart = bench.run(call);
        let here = bench.run(&format!("{call} --in-process"));
        assert_eq!(apart.code, 2, "{call}: {}", apart.err);
        assert_eq!(apart.err, here.err, "{call}");
    }
    bench.write(&format!("{clip}.floor.json"), "{\"shop\": \"parquet\"}");
    bench
        .run(&format!("measure {clip}"))
        .refused("not one of ours");
}

/// Pictures of 80 million pixels need more than the memory that is left.
#[test]
fn a_clip_that_eats_memory_is_one_error_and_the_rest_goes_on() {
    let bench = Bench::new();
    let source = "size=10000x8000:rate=60:duration=0.05";
    support::clip(
        bench.path(),
        "a_huge.avi",
        source,
        "-c:v mjpeg -q:v 20 -pix_fmt yuvj420p",
    );
    bench.sample_as("cmj_60", "b_good.mp4");
    let patch = floor("cmj_60");
    let call =
        format!("measure --json --no-keep --threads 1 --floor {patch} a_huge.avi b_good.mp4");
    let ran = cramped(&bench, "-d 90000", &call);
    let documents = ran.documents();
    assert_eq!(ran.code, 2, "{}", ran.err);
    assert!(
        ran.err
            .contains("a_huge.avi: the clip asks for more memory than the 87 MiB"),
        "{}",
        ran.err
    );
    assert!(ran.err.contains("--in-process") && !ran.err.contains("panicked"));
    assert!(documents[0]["jumps"].as_array().unwrap().is_empty());
    assert_eq!(
        documents[1]["jumps"].as_array().unwrap().len(),
        1,
        "{}",
        ran.err
    );
}

#[test]
fn a_clip_that_eats_time_is_one_error() {
    let bench = Bench::new();
    let source = "size=1280x720:rate=240:duration=4";
    support::clip(bench.path(), "long.mp4", source, "-c:v mpeg4 -q:v 20");
    let ran = cramped(&bench, "-S -t 1", "measure --full long.mp4");
    ran.refused("takes more than 1 s of computing");
}

#[test]
fn the_helper_called_by_hand_says_what_is_wrong() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_60");
    let mut program = bench.program();
    let called = ran(program
        .args(["decode-apart", &clip])
        .write_stdin("nonsense, and more"));
    assert_eq!((called.code, called.out.as_str()), (2, ""));
    assert!(called.err.starts_with("error: "), "{}", called.err);
    assert!(!called.err.contains("panicked"));
    let help = bench.run("--help");
    assert!(!help.out.contains("decode-apart"), "{}", help.out);
}

/// A clip that takes a while, measured by a program that has begun.
#[cfg(target_os = "linux")]
fn begun(bench: &Bench, clips: &[&str]) -> std::process::Child {
    std::process::Command::new(assert_cmd::cargo::cargo_bin!("underfoot"))
        .args(["measure", "--json", "--no-keep", "--full", "--threads", "1"])
        .args(["--floor", &floor("cmj_60")])
        .args(clips)
        .current_dir(bench.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program")
}
