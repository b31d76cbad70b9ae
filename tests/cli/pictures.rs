//! `measure --pictures`.

use super::bench::{Bench, floor};

fn measure(bench: &Bench, clip: &str, options: &str) -> super::bench::Ran {
    let patch = floor("cmj_120");
    bench.run(&format!(
        "measure {clip} --no-keep --floor {patch} {options}"
    ))
}

#[test]
fn each_jump_gets_its_frames_and_each_clip_its_trace() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    let ran = measure(&bench, &clip, "--pictures new/pics");
    assert_eq!(ran.code, 0, "{}", ran.err);
    let names = [
        "cmj_120-jump1.png",
        "cmj_120-trace.png",
        "cmj_120-trace.svg",
    ];
    assert_eq!(bench.names("new/pics"), names);
    for name in names {
        assert!(ran.out.contains(&format!("new/pics/{name}")), "{}", ran.out);
    }
    let strip = image::load_from_memory(&bench.read("new/pics/cmj_120-jump1.png"));
    let strip = strip.expect("a PNG").to_rgb8();
    let (width, height) = strip.dimensions();
    assert!(width > height && width > 1000, "{width} x {height}");
    // Frames of the gym differ from white paper; a strip without any would not.
    let dark = strip
        .pixels()
        .filter(|p| p.0.iter().all(|&v| v < 200))
        .count();
    assert!(dark > 100_000, "{dark} dark pixels");
    let trace = image::load_from_memory(&bench.read("new/pics/cmj_120-trace.png"));
    assert_eq!(trace.expect("a PNG").to_rgb8().dimensions(), (1920, 960));
    let svg = String::from_utf8(bench.read("new/pics/cmj_120-trace.svg")).unwrap();
    assert!(svg.contains("Jump 1: ") && svg.trim_end().ends_with("</svg>"));
}

#[test]
fn our_own_pictures_are_replaced_and_stale_ones_go() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    assert_eq!(measure(&bench, &clip, "--pictures pics").code, 0);
    let first = bench.read("pics/cmj_120-jump1.png");
    bench.write("pics/cmj_120-jump2.png", &first);
    assert_eq!(measure(&bench, &clip, "--pictures pics").code, 0);
    assert_eq!(bench.names("pics").len(), 3);
    assert_eq!(bench.read("pics/cmj_120-jump1.png"), first);
}

#[test]
fn pictures_of_others_are_left_alone() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    std::fs::create_dir(bench.path().join("pics")).unwrap();
    image::RgbImage::new(2, 2)
        .save(bench.path().join("pics/cmj_120-jump1.png"))
        .unwrap();
    let theirs = bench.read("pics/cmj_120-jump1.png");
    let ran = measure(&bench, &clip, "--json --pictures pics");
    ran.refused("is there already and was not made by this program");
    assert_eq!(bench.read("pics/cmj_120-jump1.png"), theirs);
    // The measurement itself stands.
    assert_eq!(
        ran.documents()[0]["jumps"].as_array().map(Vec::len),
        Some(1)
    );
}

#[test]
fn a_folder_that_takes_no_files_is_told_before_measuring() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    bench.write("file", "");
    for folder in ["file", "file/pics", "/proc/underfoot"] {
        let ran = measure(&bench, &clip, &format!("--pictures {folder}"));
        ran.refused("cannot be written");
        assert_eq!(ran.out, "", "nothing is measured for nothing");
    }
}

/// A limit on the size of files stands in for a full disk: the first bytes go
/// through, the rest is refused.
#[cfg(unix)]
#[test]
fn a_full_disk_leaves_no_half_picture() {
    let bench = Bench::new();
    let clip = bench.sample("cmj_120");
    let program = assert_cmd::cargo::cargo_bin!("underfoot");
    let line = format!(
        "trap '' XFSZ; ulimit -f 1; exec {} measure {clip} --no-keep --floor {} --pictures pics",
        program.display(),
        floor("cmj_120")
    );
    let mut shell = assert_cmd::Command::new("sh");
    let ran = super::bench::ran(shell.current_dir(bench.path()).args(["-c", &line]));
    ran.refused("cannot be written");
    assert!(
        ran.out.contains("Jump 1"),
        "the result is still told: {}",
        ran.out
    );
    assert!(bench.names("pics").is_empty(), "{:?}", bench.names("pics"));
}
