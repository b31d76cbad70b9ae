//! What becomes of children that break down, played by the shell.

use std::time::Instant;

use super::*;
use crate::workflow::apart::Task;

/// A child that does what the script says, and what is heard of it.
fn played(script: &str) -> Result<Received, Refusal> {
    let helper = Helper {
        program: "/bin/sh".into(),
        arguments: vec!["-c".to_owned(), script.to_owned()],
        verbose: false,
    };
    let request = Request {
        task: Task::Inspect {
            capture_fps: None,
            threads: 1,
        },
        limits: Limits {
            silence_s: 2,
            ..Limits::of(Path::new("no clip"), 1)
        },
        verbose: false,
    };
    helper.ask(Path::new("no clip"), &request, &mut |_, _, _| {})
}

fn failure(script: &str) -> Failure {
    match played(script) {
        Err(Refusal::Failed(failure)) => failure,
        other => panic!("{other:?}"),
    }
}

#[test]
fn whatever_becomes_of_a_child_is_one_clear_error() {
    for (script, message) in [
        ("kill -SEGV $$", "broke down over this clip (signal 11)"),
        ("kill -XCPU $$", "takes more than 120 s of computing"),
        ("kill -KILL $$", "want of memory"),
        ("exit 101", "broke down over this clip (it ended with 101)"),
        (
            "echo 'memory allocation of 8 bytes failed' >&2; kill -ABRT $$",
            "more memory than the 2560 MiB",
        ),
        ("printf 'nonsense, and no end'", "makes no sense"),
        ("printf 'a\\377\\377\\377\\377'", "makes no sense"),
        ("printf 'a\\001\\000\\000\\000['", "makes no sense"),
        ("cat > /dev/null; exit 3", "it ended with 3"),
    ] {
        let failure = match played(script) {
            Err(Refusal::Failed(failure)) => failure,
            Ok(received) => senseless(&received.answer::<Vec<u8>>().unwrap_err()),
            other => panic!("{script}: {other:?}"),
        };
        assert!(failure.message.contains(message), "{script}: {failure:?}");
        assert!(!failure.hint.is_empty(), "{script}");
    }
}

#[test]
fn a_child_that_says_nothing_is_not_waited_for_for_ever() {
    let since = Instant::now();
    let silent = failure("exec sleep 1000");
    assert!(
        silent
            .message
            .contains("nothing came from the decoder for 2 s")
    );
    let talking = failure("while :; do printf 'xxxxx'; sleep 1; done");
    assert!(talking.message.contains("makes no sense"), "{talking:?}");
    assert!(since.elapsed().as_secs() < 20, "{:?}", since.elapsed());
}

#[test]
fn a_flood_of_nonsense_fills_no_memory() {
    let flood = failure("exec cat /dev/zero");
    assert!(flood.message.contains("makes no sense"), "{flood:?}");
    // Pictures without end: each of them is one, all of them are too many.
    let picture = "i\\370\\377\\377\\017\\211PNG\\r\\n\\032\\n";
    let script = format!("while :; do printf '{picture}'; head -c 268435440 /dev/zero; done");
    let pictures = failure(&script);
    assert!(pictures.message.contains("makes no sense"), "{pictures:?}");
}

#[test]
fn a_program_that_is_not_there_is_told_apart() {
    let helper = Helper {
        program: "/nowhere/underfoot".into(),
        arguments: Vec::new(),
        verbose: false,
    };
    let request = Request {
        task: Task::Inspect {
            capture_fps: None,
            threads: 1,
        },
        limits: Limits::of(Path::new("no clip"), 1),
        verbose: false,
    };
    let refused = helper.ask(Path::new("no clip"), &request, &mut |_, _, _| {});
    assert!(
        matches!(refused, Err(Refusal::NotStarted(_))),
        "{refused:?}"
    );
}
