//! The cage as the kernel sees it, and what happens when the process in it ends.

use std::collections::BTreeMap;
use std::os::unix::process::ExitStatusExt;
use std::process::Command;

use seccompiler::{SeccompAction, SeccompFilter, TargetArch};

use super::bench::{Bench, floor};
use super::proc::{field, helper_of, lives, signal, wait_for};
use super::{begun, support};

/// A folder with a clip of some seconds and a good one.
fn bench() -> Bench {
    let bench = Bench::new();
    let source = "size=1280x720:rate=240:duration=3";
    support::clip(bench.path(), "a_long.mp4", source, "-c:v mpeg4 -q:v 20");
    bench.sample_as("cmj_60", "b_good.mp4");
    bench
}

#[test]
fn the_decoder_is_caged_while_it_reads() {
    let bench = bench();
    let mut program = begun(&bench, &["a_long.mp4"]);
    let id = helper_of(&program, "a_long");
    wait_for("calls are filtered", || {
        field(id, "Seccomp").as_deref() == Some("2")
    });
    assert_eq!(field(id, "NoNewPrivs").as_deref(), Some("1"));
    let limits = std::fs::read_to_string(format!("/proc/{id}/limits")).unwrap();
    let limit = |name: &str| {
        let line = limits.lines().find(|line| line.starts_with(name)).unwrap();
        line[name.len()..]
            .split_whitespace()
            .next()
            .unwrap()
            .to_owned()
    };
    assert_eq!(limit("Max file size"), "0");
    assert_eq!(limit("Max core file size"), "0");
    assert_eq!(limit("Max open files"), "68");
    assert_eq!(limit("Max data size"), (2560_u64 << 20).to_string());
    let seconds: u64 = limit("Max cpu time").parse().unwrap();
    assert!((120..1000).contains(&seconds), "{seconds}");
    program.kill().unwrap();
    program.wait().unwrap();
    wait_for("the decoder ends with the program", || !lives(id));
}

#[test]
fn a_decoder_that_crashes_is_one_error_and_the_rest_goes_on() {
    for (name, message) in [
        (
            "SEGV",
            "broke down over this clip (signal 11); nothing else is harmed",
        ),
        ("ABRT", "broke down over this clip (signal 6)"),
        ("KILL", "ended from outside"),
    ] {
        let bench = bench();
        let program = begun(&bench, &["a_long.mp4", "b_good.mp4"]);
        let id = helper_of(&program, "a_long");
        wait_for("it is caged", || {
            field(id, "Seccomp").as_deref() == Some("2")
        });
        signal(name, &id.to_string());
        if name == "SEGV" {
            // The first is taken for a stack that is full, and not believed.
            std::thread::sleep(std::time::Duration::from_millis(50));
            signal(name, &id.to_string());
        }
        let output = program.wait_with_output().unwrap();
        let err = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{err}");
        assert!(
            err.contains(&format!("a_long.mp4: the decoder {message}")) || err.contains(message),
            "{name}: {err}"
        );
        assert!(err.contains("hint: ") && !err.contains("panicked"), "{err}");
        let out = String::from_utf8(output.stdout).unwrap();
        let lines: Vec<&str> = out.lines().collect();
        assert_eq!(lines.len(), 2, "{out}");
        assert!(lines[1].contains("\"height_m\""), "{out}");
    }
}

/// Two minutes of silence: `make soak`.
#[test]
#[ignore = "takes two minutes"]
fn a_decoder_that_hangs_is_one_error() {
    let bench = bench();
    let program = begun(&bench, &["a_long.mp4", "b_good.mp4"]);
    let id = helper_of(&program, "a_long");
    signal("STOP", &id.to_string());
    let output = program.wait_with_output().unwrap();
    let err = String::from_utf8(output.stderr).unwrap();
    assert!(
        err.contains("nothing came from the decoder for 120 s"),
        "{err}"
    );
    assert_eq!(output.status.code(), Some(2));
    assert!(
        String::from_utf8(output.stdout)
            .unwrap()
            .contains("\"height_m\"")
    );
}

/// Runs a command that ends at once, by signal, should it or what it starts ever make
/// a socket or use one.
fn without_sockets(command: &mut Command) -> std::process::Output {
    let calls = [
        libc::SYS_socket,
        libc::SYS_socketpair,
        libc::SYS_connect,
        libc::SYS_bind,
        libc::SYS_listen,
        libc::SYS_sendmsg,
        libc::SYS_recvmsg,
    ];
    let rules: BTreeMap<i64, _> = calls.iter().map(|&call| (call, Vec::new())).collect();
    let arch = TargetArch::try_from(std::env::consts::ARCH).unwrap();
    let filter: seccompiler::BpfProgram = SeccompFilter::new(
        rules,
        SeccompAction::Allow,
        SeccompAction::KillProcess,
        arch,
    )
    .and_then(TryInto::try_into)
    .unwrap();
    // A filter holds for one thread and what it starts.
    std::thread::scope(|scope| {
        let thread = scope.spawn(move || {
            seccompiler::apply_filter(&filter).unwrap();
            command.output().unwrap()
        });
        thread.join().unwrap()
    })
}

#[test]
fn measuring_opens_no_socket() {
    let mut control = Command::new("ffmpeg");
    control.args(["-v", "quiet", "-i", "http://127.0.0.1:9/x.mp4"]);
    let killed = without_sockets(&mut control).status;
    assert_eq!(
        killed.signal(),
        Some(31),
        "the trap does not work: {killed}"
    );
    let bench = Bench::new();
    let clip = bench.sample("cmj_60");
    let patch = floor("cmj_60");
    let does = |arguments: &[&str]| {
        let mut program = Command::new(assert_cmd::cargo::cargo_bin!("underfoot"));
        program.args(arguments).current_dir(bench.path());
        let output = without_sockets(program.env("UNDERFOOT_LOG", "log.sqlite"));
        let err = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {err}");
    };
    does(&["log", "athlete", "add", "Mia"]);
    let measure = [
        "measure",
        &clip,
        "--floor",
        &patch,
        "--pictures",
        "p",
        "--athlete",
        "Mia",
    ];
    does(&measure);
    does(&[&measure[..], &["--in-process"]].concat());
    does(&["inspect", &clip]);
    does(&["mark", &clip]);
    does(&["log", "show"]);
    does(&["trials", "Mia"]);
}
