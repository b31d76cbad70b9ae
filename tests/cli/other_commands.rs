//! `inspect`, `mark`, `samples`, help, and FFmpeg's own messages.

use super::bench::{Bench, floor, truth};
use super::support;

#[test]
fn without_arguments_the_next_step_is_told() {
    let ran = Bench::new().run("");
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    insta::assert_snapshot!("welcome", ran.err);
}

#[test]
fn help_and_version_are_results() {
    let bench = Bench::new();
    for call in [
        "--help",
        "measure --help",
        "inspect --help",
        "mark --help",
        "samples --help",
    ] {
        let ran = bench.run(call);
        assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{call}");
        assert!(ran.out.contains("Usage:"), "{}", ran.out);
    }
    assert_eq!(
        bench.run("--version").out,
        format!("underfoot {}\n", env!("CARGO_PKG_VERSION"))
    );
}

#[test]
fn inspect_tells_clock_and_precision() {
    let bench = Bench::new();
    let clip = bench.sample("slowmo_240as30");
    let text = bench.run(&format!("inspect {clip}"));
    assert_eq!((text.code, text.err.as_str()), (0, ""));
    for wanted in [
        "H.264",
        "640 x 360 px",
        "240.00 frames per second",
        "com.android.capture.fps",
        "A 30 cm jump",
    ] {
        assert!(text.out.contains(wanted), "{wanted:?} in\n{}", text.out);
    }
    let line = bench
        .run(&format!("inspect {clip} --json"))
        .documents()
        .remove(0);
    let found = &line["inspection"];
    assert_eq!(
        (line["schema"].as_u64(), found["width_px"].as_u64()),
        (Some(1), Some(640))
    );
    assert_eq!(
        found["clock"]["capture_fps"].as_f64().map(f64::round),
        Some(240.0)
    );
    // Two frames of 1/240 s around each event: g T/4 times one spacing either way.
    let slope = 9.80665 * (8.0 * 0.3 / 9.80665_f64).sqrt() / 4.0;
    let bound = found["reference_bound_m"].as_f64().unwrap();
    assert!((bound - slope / 240.0).abs() < 1e-4, "{bound}");
    let u = found["reference_u_m"].as_f64().unwrap();
    assert!((u - slope / 240.0 / 6_f64.sqrt()).abs() < 2e-4, "{u}");
    let portrait = bench.sample("portrait_60");
    let turned = bench.run(&format!("inspect {portrait}"));
    assert!(
        turned.out.contains("360 x 640 px, stored turned"),
        "{}",
        turned.out
    );
}

#[test]
fn mark_draws_the_stated_patch_and_keeps_it() {
    let bench = Bench::new();
    let clip = bench.sample("portrait_60");
    let patch = floor("portrait_60");
    let ran = bench.run(&format!("mark {clip} --floor {patch}"));
    assert_eq!((ran.code, ran.out), (0, format!("--floor {patch}\n")));
    assert_eq!(
        bench.names(""),
        [
            "portrait_60.mark.png",
            "portrait_60.mp4",
            "portrait_60.mp4.floor.json"
        ]
    );
    let picture = image::load_from_memory(&bench.read("portrait_60.mark.png")).expect("a PNG");
    let size = &truth("portrait_60")["size_displayed"];
    assert_eq!(u64::from(picture.width()), size[0].as_u64().unwrap());
    assert_eq!(u64::from(picture.height()), size[1].as_u64().unwrap());
    // Its own picture may be drawn again; the kept patch is the one to draw.
    let again = bench.run(&format!("mark {clip}"));
    assert_eq!((again.code, again.out), (0, format!("--floor {patch}\n")));
}

#[test]
fn mark_suggests_a_patch_that_can_be_pasted() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    let ran = bench.run(&format!("mark {clip} --out still.png"));
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(bench.names(""), [clip.as_str(), "still.png"]);
    let measured = bench.run(&format!("measure {clip} --json {}", ran.out.trim()));
    assert!(measured.code < 2, "{}", measured.err);
    let patch = ran.out.trim().trim_start_matches("--floor ");
    assert_eq!(
        measured.documents()[0]["patch"].to_string(),
        format!("[{patch}]")
    );
}

#[test]
fn mark_leaves_pictures_of_others_alone() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    bench.write("holiday.png", "not ours");
    let call = format!("mark {clip} --out holiday.png --floor {}", floor("cmj_120"));
    bench.run(&call).refused("was not made by this program");
    assert_eq!(bench.read("holiday.png"), b"not ours");
    assert_eq!(bench.run(&format!("{call} --force")).code, 0);
    assert!(image::load_from_memory(&bench.read("holiday.png")).is_ok());
}

#[test]
fn measuring_by_a_suggestion_says_so() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    let ran = bench.run(&format!("measure {clip} --json"));
    let document = ran.documents().remove(0);
    let [x, y, w, h] = [0, 1, 2, 3].map(|i| document["patch"][i].as_u64().expect("a patch"));
    let said = format!("--floor {x},{y},{w},{h}");
    assert!(
        ran.err.replace("\n         ", " ").contains(&said),
        "{}",
        ran.err
    );
    for jump in document["jumps"].as_array().unwrap() {
        let flags = jump["flags"].as_array().unwrap();
        assert!(flags.iter().any(|flag| flag["code"] == "patch_suggested"));
    }
}

#[test]
fn samples_are_refused_over_files_of_others() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path().join("films")).unwrap();
    bench.write("films/cmj_60.mp4", "a film of the village");
    bench
        .run("samples films")
        .refused("no sample of this program");
    assert_eq!(bench.names("films"), ["cmj_60.mp4"]);
    bench.write("file", "");
    bench.run("samples file").refused("cannot be written");
}

/// Films all samples, which takes a minute or two: `cargo test -- --ignored`.
#[test]
#[ignore = "films for minutes; the films themselves are tested frame by frame elsewhere"]
fn samples_are_filmed_whole_with_their_truth() {
    let bench = Bench::new();
    let ran = bench.run("samples films");
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(ran.out.lines().count(), 6);
    assert_eq!(bench.names("films").len(), 12);
    assert_eq!(
        bench.run("samples films").code,
        0,
        "our own films may be filmed again"
    );
}

#[test]
fn the_decoder_is_silent_unless_asked() {
    let bench = Bench::new();
    let clip = bench.sample_as("cmj_120", "clip.mp4");
    let fast = support::remake(&clip, "fast.mp4", "", "-c copy -movflags +faststart");
    let mut bytes = std::fs::read(&fast).unwrap();
    let from = bytes.len() / 2;
    bytes[from..from + 3000].fill(0x55);
    bench.write("torn.mp4", &bytes);
    let (quiet, loud) = (
        bench.run("inspect torn.mp4"),
        bench.run("inspect torn.mp4 -v"),
    );
    assert!(!quiet.err.contains("h264"), "{}", quiet.err);
    assert!(loud.err.contains("h264"), "{}", loud.err);
    assert_eq!(quiet.out, loud.out);
}
