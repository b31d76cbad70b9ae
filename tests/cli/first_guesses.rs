//! What people try first, wrongly: each gets advice that helps.

use super::bench::{Bench, ran};
use super::support;

/// Measures a clip: the program ends with this code, and its document says this.
fn says(bench: &Bench, clip: &str, code: i32, what: &str) {
    let ran = bench.run(&format!("measure --no-keep --json {clip}"));
    let document = &ran.documents()[0];
    let said = ["warnings", "error", "jumps"].map(|key| document[key].to_string());
    let said = said.concat();
    assert_eq!(ran.code, code, "{said}");
    assert!(said.contains(what), "{said}");
}

#[test]
fn a_photo_is_no_clip() {
    let bench = Bench::new();
    let clip = bench.path().join(bench.sample("cmj_120"));
    for name in ["photo.jpg", "photo.png"] {
        support::remake(&clip, name, "", "-frames:v 1");
        bench
            .run(&format!("measure {name}"))
            .refused("not a video file");
    }
    let told = bench.run("measure photo.jpg").err;
    assert!(told.contains("as the phone saved it"), "{told}");
}

#[test]
fn feet_that_are_cut_off_are_to_be_in_view() {
    let bench = Bench::new();
    let clip = bench.path().join(bench.sample("cmj_120"));
    support::remake(
        &clip,
        "cut.mp4",
        "",
        "-vf crop=640:270:0:0 -c:v mpeg4 -q:v 2",
    );
    says(
        &bench,
        "cut.mp4",
        1,
        "film again with feet and floor in view",
    );
}

#[test]
fn a_screen_that_was_filmed_holds_no_jump() {
    let bench = Bench::new();
    support::clip(
        bench.path(),
        "screen.mp4",
        "size=390x844:rate=60:duration=2",
        "-c:v mpeg4 -q:v 3",
    );
    says(
        &bench,
        "screen.mp4",
        1,
        "nothing in the clip leaves the floor",
    );
}

/// What a chat program makes of a clip: a quarter of the frames, half the size.
#[test]
fn a_clip_that_was_sent_is_said_to_be_coarse() {
    let bench = Bench::new();
    let clip = bench.path().join(bench.sample("cmj_120"));
    let sent = "-r 30 -vf scale=320:-2 -c:v libx264 -b:v 120k";
    support::remake(&clip, "sent.mp4", "", sent);
    says(&bench, "sent.mp4", 0, "few_frames");
}

#[test]
fn folders_and_clips_are_called_as_people_call_them() {
    let bench = Bench::new();
    let folder = "Übung am Dienstag";
    std::fs::create_dir(bench.path().join(folder)).expect("a folder");
    bench.sample_as("cmj_60", &format!("{folder}/Jürgens Sprung 1.mp4"));
    let ran = ran(bench.program().args(["measure", "--no-keep", folder]));
    assert!(
        ran.out.contains("Jürgens Sprung 1.mp4\nJump 1 "),
        "{}",
        ran.out
    );
}
