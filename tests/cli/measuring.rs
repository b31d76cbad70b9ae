//! `measure` on clips whose truth is known.

use serde_json::Value;

use super::bench::{Bench, floor, ran, truth};
use super::support;

/// A jump's number under a key, or both ends of a range.
fn numbers(jump: &Value, key: &str) -> Vec<f64> {
    match &jump[key] {
        Value::Array(values) => values.iter().filter_map(Value::as_f64).collect(),
        value => value.as_f64().into_iter().collect(),
    }
}

#[test]
fn heights_are_near_the_truth_and_inside_their_bounds() {
    let bench = Bench::new();
    for name in ["cmj_120", "cmj_240", "slowmo_240as30", "portrait_60"] {
        let clip = bench.sample(name);
        let ran = bench.run(&format!("measure {clip} --json --floor {}", floor(name)));
        assert_eq!(ran.code, 0, "{name}: {}", ran.err);
        let [document] = &ran.documents()[..] else {
            panic!("one line, not {}", ran.out)
        };
        let jumps = document["jumps"].as_array().expect("a list");
        assert_eq!(jumps.len(), 1, "{name}: {document}");
        let truth = &truth(name)["truth"]["jumps"][0];
        for (key, bounds, wanted) in [
            ("height_m", "height_bounds_m", "h_flight"),
            ("flight_time_s", "flight_time_bounds_s", "flight_time"),
            ("takeoff_s", "takeoff_bounds_s", "takeoff"),
            ("landing_s", "landing_bounds_s", "landing"),
        ] {
            let wanted = truth[wanted].as_f64().expect("a number");
            let got = numbers(&jumps[0], key)[0];
            assert!(
                (got - wanted).abs() < 0.02,
                "{name} {key}: {got}, truth {wanted}"
            );
            let range = numbers(&jumps[0], bounds);
            assert!(
                range[0] <= wanted && wanted <= range[1],
                "{name} {bounds}: {range:?}"
            );
        }
    }
}

#[test]
fn a_document_has_the_promised_keys() {
    let bench = Bench::new();
    let clip = bench.sample("slowmo_240as30");
    let call = format!("measure {clip} --json --floor {}", floor("slowmo_240as30"));
    let document = &bench.run(&call).documents()[0];
    for key in [
        "schema", "clip", "clock", "patch", "jumps", "warnings", "error",
    ] {
        assert!(document.get(key).is_some(), "{key} in {document}");
    }
    assert_eq!(
        (document["schema"].as_u64(), &document["error"]),
        (Some(1), &Value::Null)
    );
    assert_eq!(
        document["patch"].to_string(),
        format!("[{}]", floor("slowmo_240as30"))
    );
    let clock = &document["clock"];
    assert_eq!(clock["nominal_fps"].as_f64(), Some(30.0));
    assert_eq!(clock["capture_fps"].as_f64().map(f64::round), Some(240.0));
    assert!(
        clock["source"]
            .as_str()
            .is_some_and(|s| s.contains("com.android.capture.fps"))
    );
    assert!(clock["dropped"].is_u64() && clock["repeated"].is_u64());
    let jump = &document["jumps"][0];
    for (key, count) in [
        ("takeoff_s", 1),
        ("landing_s", 1),
        ("takeoff_bounds_s", 2),
        ("landing_bounds_s", 2),
        ("flight_time_s", 1),
        ("flight_time_bounds_s", 2),
        ("height_m", 1),
        ("height_bounds_m", 2),
        ("height_u_m", 1),
        ("height_interval95_m", 2),
    ] {
        assert_eq!(numbers(jump, key).len(), count, "{key}");
    }
    let budget = jump["budget"].as_array().expect("a list");
    let sum: f64 = budget
        .iter()
        .map(|line| line["u_m"].as_f64().unwrap().powi(2))
        .sum();
    let u = numbers(jump, "height_u_m")[0];
    assert!(
        (sum.sqrt() - u).abs() < 1e-6,
        "budget {} is not {u}",
        sum.sqrt()
    );
    assert!(jump["flags"].is_array());
}

#[test]
fn text_says_height_bounds_and_what_is_meant() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    let patch = floor("cmj_120");
    let ran = bench.run(&format!("measure {clip} --details --floor {patch}"));
    assert_eq!(ran.code, 0, "{}", ran.err);
    for wanted in [
        "Jump 1",
        " cm",
        "95 %",
        "cannot be outside",
        "Height means: rise of the centre of mass",
        "clock rate",
        "gravity",
        "CGPM 1901",
    ] {
        assert!(ran.out.contains(wanted), "{wanted:?} in\n{}", ran.out);
    }
    assert!(!ran.err.contains('\u{1b}') && !ran.out.contains('\u{1b}'));
    assert_eq!(
        ran.err, "",
        "nothing to say on standard error, progress least of all"
    );
    let inches = bench.run(&format!("measure {clip} --units in --floor {patch}"));
    assert!(inches.out.contains(" in ") && !inches.out.contains(" cm"));
}

#[test]
fn gravity_is_that_of_the_place() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    let height = |options: &str| {
        let patch = floor("cmj_120");
        let ran = bench.run(&format!("measure {clip} --json --floor {patch} {options}"));
        assert_eq!(ran.code, 0, "{}", ran.err);
        let jump = ran.documents()[0]["jumps"][0].clone();
        (
            numbers(&jump, "height_m")[0],
            numbers(&jump, "gravity_m_s2")[0],
        )
    };
    let (h, g) = height("");
    assert_eq!(g, 9.80665);
    let (h_stated, g_stated) = height("--gravity 9.81");
    assert!((h_stated / h - 9.81 / 9.80665).abs() < 1e-9 && g_stated == 9.81);
    // WGS84 at the equator, 9.780 325 m/s², less 3.086e-6 a metre (Moritz 2000,
    // Geodetic Reference System 1980, for the form; free air as common practice).
    let (_, g_high) = height("--latitude 0 --altitude 2000");
    assert!((g_high - (9.780_325_3 - 3.086e-6 * 2000.0)).abs() < 1e-6);
}

#[test]
fn a_marked_patch_is_kept_and_used_next_time() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    let patch = floor("cmj_120");
    assert_eq!(
        bench
            .run(&format!("measure {clip} --no-keep --floor {patch}"))
            .code,
        0
    );
    assert_eq!(bench.names(""), [clip.as_str()]);
    let first = bench.run(&format!("measure {clip} --json --floor {patch}"));
    assert_eq!(bench.names("").len(), 2);
    let second = bench.run(&format!("measure {clip} --json"));
    assert_eq!((second.code, second.out), (0, first.out));
}

#[test]
fn a_kept_patch_of_another_picture_size_is_not_used_silently() {
    let bench = Bench::new();
    bench.sample_as("cmj_120", "jump.mp4");
    let patch = floor("cmj_120");
    assert_eq!(
        bench.run(&format!("measure jump.mp4 --floor {patch}")).code,
        0
    );
    bench.sample_as("portrait_60", "jump.mp4");
    let ran = bench.run("measure jump.mp4 --json");
    assert!(ran.err.contains("640 by 360"), "{}", ran.err);
    assert_ne!(
        ran.documents()[0]["patch"].to_string(),
        format!("[{patch}]")
    );
}

#[test]
fn slow_motion_that_does_not_say_so_gets_no_height() {
    let bench = Bench::new();
    let tagged = bench.sample_as("slowmo_240as30", "tagged.mp4");
    support::remake(
        &tagged,
        "untold.mp4",
        "",
        "-c copy -map_metadata -1 -movflags -use_metadata_tags",
    );
    let patch = floor("slowmo_240as30");
    let ran = bench.run(&format!(
        "measure untold.mp4 --json --no-keep --floor {patch}"
    ));
    ran.refused("clock in doubt");
    assert!(ran.err.contains("--capture-fps 240"), "{}", ran.err);
    assert_eq!(
        ran.documents()[0]["jumps"].as_array().map(Vec::len),
        Some(0)
    );
    let told = bench.run(&format!(
        "measure untold.mp4 --json --no-keep --capture-fps 240 --floor {patch}"
    ));
    let straight = bench.run(&format!(
        "measure tagged.mp4 --json --no-keep --floor {patch}"
    ));
    assert_eq!(told.code, 0, "{}", told.err);
    assert_eq!(
        told.documents()[0]["jumps"][0]["height_m"],
        straight.documents()[0]["jumps"][0]["height_m"]
    );
}

#[test]
fn a_folder_is_its_clips_and_one_bad_clip_stops_no_other() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path().join("club")).unwrap();
    bench.sample_as("cmj_120", "club/a.mp4");
    bench.write("club/b.MOV", "no film");
    bench.sample_as("cmj_120", "club/c.mp4");
    bench.write("club/notes.txt", "Tuesday");
    bench.write("club/._a.mp4", "a shadow that some systems leave");
    let ran = bench.run(&format!("measure club --json --floor {}", floor("cmj_120")));
    ran.refused("club/b.MOV: this is not a video file");
    let documents = ran.documents();
    let clips: Vec<_> = documents
        .iter()
        .map(|d| d["clip"].as_str().unwrap())
        .collect();
    assert_eq!(clips, ["club/a.mp4", "club/b.MOV", "club/c.mp4"]);
    let counts: Vec<_> = documents
        .iter()
        .map(|d| d["jumps"].as_array().unwrap().len())
        .collect();
    assert_eq!(counts, [1, 0, 1]);
    assert!(documents[1]["error"]["hint"].is_string());
}

#[test]
fn without_a_jump_the_code_is_one() {
    let bench = Bench::new();
    // Bars in motion: something moves, nobody jumps.
    support::clip(
        bench.path(),
        "bars.mp4",
        "size=320x240:rate=60:duration=1.5",
        "-c:v mpeg4 -q:v 3",
    );
    let ran = bench.run("measure bars.mp4 --json --floor 100,150,60,40");
    assert_eq!(ran.code, 1, "{}{}", ran.out, ran.err);
    assert_eq!(ran.documents()[0]["error"], Value::Null);
    let kept = bench.run("measure bars.mp4");
    assert!(kept.out.contains("No jump found"), "{}", kept.out);
    std::fs::remove_file(bench.path().join("bars.mp4.floor.json")).unwrap();
    let unmarked = bench.run("measure bars.mp4");
    assert_eq!(unmarked.code, 1, "{}{}", unmarked.out, unmarked.err);
}

#[test]
fn a_reader_that_leaves_early_is_no_failure() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    let mut shell = assert_cmd::Command::new("sh");
    let program = assert_cmd::cargo::cargo_bin!("underfoot");
    let line = format!(
        "{{ {} inspect {clip} {clip} {clip} --json; echo \"code $?\" >&2; }} | head -c 1",
        program.display()
    );
    let ran = ran(shell.current_dir(bench.path()).args(["-c", &line]));
    assert_eq!((ran.out.as_str(), ran.err.as_str()), ("{", "code 0\n"));
}
