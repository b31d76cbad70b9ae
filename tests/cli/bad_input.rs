//! What cannot be measured: one line, a remedy, code 2, nothing overwritten.

use super::bench::{Bench, floor, ran};
use super::support;

#[test]
fn files_that_are_no_clips() {
    let bench = Bench::new();
    bench.write("empty.mp4", "");
    bench.write("text.mp4", "Dear coach, here is the clip.");
    support::ffmpeg(bench.path(), "-f lavfi -i sine=duration=1 {}/sound.mp4");
    let whole = support::clip(
        bench.path(),
        "whole.mp4",
        "size=160x120:rate=60:duration=1",
        "-c:v mpeg4",
    );
    let bytes = std::fs::read(&whole).unwrap();
    bench.write("no_index.mp4", &bytes[..support::find(&bytes, b"moov") - 4]);
    support::clip(
        bench.path(),
        "one.mp4",
        "size=160x120:rate=60:duration=1",
        "-c:v mpeg4 -frames:v 1",
    );
    std::fs::create_dir(bench.path().join("nothing")).unwrap();
    for (name, what) in [
        ("absent.mp4", "no such file"),
        ("empty.mp4", "the file is empty"),
        ("text.mp4", "not a video file"),
        ("sound.mp4", "no moving picture"),
        ("no_index.mp4", "breaks off before its index"),
        ("one.mp4", "1 frame"),
        ("nothing", "holds no clips"),
    ] {
        for command in ["measure --floor 20,60,60,40", "inspect"] {
            bench.run(&format!("{command} {name}")).refused(what);
        }
        let json = bench.run(&format!("measure --json --floor 20,60,60,40 {name}"));
        json.refused(what);
        let message = json.documents()[0]["error"]["message"]
            .as_str()
            .unwrap()
            .to_owned();
        assert!(message.contains(what), "{message}");
        if name != "nothing" {
            bench.run(&format!("mark {name}")).refused(what);
        }
    }
    assert!(
        bench.names("").iter().all(|name| !name.contains("floor")),
        "{:?}",
        bench.names("")
    );
}

#[test]
fn a_picture_without_pixels() {
    let bench = Bench::new();
    let whole = support::clip(
        bench.path(),
        "flat.mp4",
        "size=160x120:rate=60:duration=1",
        "-c:v mpeg4",
    );
    let mut bytes = std::fs::read(&whole).unwrap();
    // Sample entry (ISO/IEC 14496-12, 12.1.3): the height follows 26 bytes after the
    // four letters; the decoder's own header has to lose its size as well.
    let entry = support::find(&bytes, b"mp4v");
    bytes[entry + 28..entry + 32].fill(0);
    let header = support::find(&bytes, b"esds");
    bytes[header + 30..header + 60].fill(0);
    bench.write("flat.mp4", &bytes);
    let ran = bench.run("measure flat.mp4 --floor 20,60,60,40");
    assert_eq!(ran.code, 2, "{}{}", ran.out, ran.err);
    assert!(
        ran.err.contains("error: ") && ran.err.contains("hint: "),
        "{}",
        ran.err
    );
}

#[test]
fn damaged_clips_are_measured_as_far_as_they_go_with_a_warning() {
    let bench = Bench::new();
    let clip = bench.sample_as("cmj_120", "clip.mp4");
    let fast = support::remake(&clip, "fast.mp4", "", "-c copy -movflags +faststart");
    let bytes = std::fs::read(&fast).unwrap();
    bench.write("cut.mp4", &bytes[..bytes.len() * 3 / 5]);
    let mut torn = bytes.clone();
    let (from, to) = (bytes.len() * 3 / 4, bytes.len() * 3 / 4 + 1500);
    torn[from..to].fill(0x55);
    bench.write("torn.mp4", &torn);
    for name in ["cut.mp4", "torn.mp4"] {
        let ran = bench.run(&format!(
            "measure {name} --json --floor {}",
            floor("cmj_120")
        ));
        let warnings = ran.documents()[0]["warnings"].as_array().unwrap().len();
        assert!(warnings > 0, "{name}: {}", ran.out);
        assert!(
            ran.err.contains(&format!("warning: {name}: ")),
            "{}",
            ran.err
        );
        assert!(!ran.err.contains("panicked"), "{}", ran.err);
        assert!(ran.code < 2, "{name}: {}", ran.err);
    }
}

#[test]
fn patches_that_cannot_be_measured_in() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    for (patch, what) in [
        ("600,300,60,31", "leaves the picture"),
        ("4294967295,1,2,2", "leaves the picture"),
        ("300,300,3,3", "too small"),
        ("0,0,640,300", "more than half"),
        ("1,2,3", "four numbers"),
        ("a,b,c,d", "no length"),
        ("-5,0,50,50", "no length"),
        ("2,330,60,28", "nothing moves in the floor patch"),
    ] {
        let ran = bench.run(&format!("measure {clip} --floor={patch}"));
        ran.refused("");
        assert!(ran.err.contains(what), "{patch}: {}", ran.err);
    }
    assert_eq!(bench.names(""), [clip]);
}

#[test]
fn a_patch_file_that_is_not_ours_is_left_alone() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    let kept = format!("{clip}.floor.json");
    bench.write(&kept, "{\"shop\": \"parquet\"}");
    bench
        .run(&format!("measure {clip}"))
        .refused("not one of ours");
    let stated = bench.run(&format!("measure {clip} --floor {}", floor("cmj_120")));
    assert_eq!(stated.code, 0, "{}", stated.err);
    assert!(stated.err.contains("not one of ours"), "{}", stated.err);
    assert_eq!(bench.read(&kept), b"{\"shop\": \"parquet\"}");
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_read() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    let path = bench.path().join(&clip);
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o0)).unwrap();
    if std::fs::File::open(&path).is_ok() {
        eprintln!("not tested: this user may read everything");
        return;
    }
    bench
        .run(&format!("measure {clip}"))
        .refused("cannot be read");
}

#[test]
fn wrong_calls_are_told_before_any_work() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    for (options, what) in [
        ("measure", "required"),
        ("leap", "unrecognized subcommand"),
        ("measure CLIP --gravity 1.62", "9.7 to 9.9"),
        ("measure CLIP --latitude 91", "outside"),
        ("measure CLIP --altitude 10", "required"),
        (
            "measure CLIP --gravity 9.81 --latitude 50",
            "cannot be used with",
        ),
        ("measure CLIP --capture-fps 0", "not a capture rate"),
        ("measure CLIP --capture-fps nan", "not a capture rate"),
        ("measure CLIP --threads 0", "threads"),
        ("measure CLIP --json --details", "cannot be used with"),
    ] {
        let ran = bench.run(&options.replace("CLIP", &clip));
        ran.refused("");
        assert!(ran.err.contains(what), "{options}: {}", ran.err);
        assert_eq!(ran.out, "");
    }
    let ran = bench.run(&format!(
        "measure {clip} --capture-fps 10 --floor 300,300,60,31"
    ));
    ran.refused("more than the 10 said");
}

/// Linux has a device that is always full.
#[cfg(target_os = "linux")]
#[test]
fn results_that_cannot_be_written_are_a_failure() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    let program = assert_cmd::cargo::cargo_bin!("underfoot");
    let line = format!("exec {} inspect {clip} > /dev/full", program.display());
    let mut shell = assert_cmd::Command::new("sh");
    let ran = ran(shell.current_dir(bench.path()).args(["-c", &line]));
    ran.refused("the result cannot be written");
}
