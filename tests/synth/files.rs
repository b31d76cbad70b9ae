//! What `ffprobe` and `ffmpeg` see in the files.

use std::path::Path;
use std::process::Command;

use serde_json::Value;
use underfoot::synth::{self, Codec, Encoding, Jump, Rate, Scene, Shake, Timing, Truth, View};

fn probe(path: &Path, what: &[&str]) -> Value {
    let out = Command::new("ffprobe")
        .args(["-v", "error", "-of", "json"])
        .args(what)
        .arg(path)
        .output()
        .expect("ffprobe comes with FFmpeg");
    assert!(
        out.status.success(),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    serde_json::from_slice(&out.stdout).unwrap()
}

fn render(scene: &Scene, dir: &Path, name: &str) -> (std::path::PathBuf, Truth) {
    let path = dir.join(name).with_extension("mp4");
    let mut calls = 0;
    let truth = synth::render(scene, &path, &mut |done, of| {
        calls += 1;
        assert_eq!(done, calls);
        assert!(done <= of);
    })
    .unwrap();
    assert_eq!(calls, truth.frames);
    (path, truth)
}

/// Presentation times of the decoded frames.
fn stamps(path: &Path) -> Vec<f64> {
    let frames = probe(path, &["-show_entries", "frame=pts_time"]);
    let stamp = |frame: &Value| frame["pts_time"].as_str().unwrap().parse().unwrap();
    frames["frames"]
        .as_array()
        .unwrap()
        .iter()
        .map(stamp)
        .collect()
}

fn check_stamps(path: &Path, truth: &Truth) {
    let seen = stamps(path);
    assert_eq!(seen.len(), truth.frames);
    for (seen, stated) in seen.iter().zip(&truth.file_pts_s) {
        assert!((seen - stated).abs() < 1.5e-6, "{seen} {stated}");
    }
}

/// Short and small, so that the encoder is quick.
fn small() -> Scene {
    Scene {
        width_px: 320,
        height_px: 180,
        pixels_per_metre: 70.0,
        duration_s: 0.5,
        jumps: vec![Jump::new(0.1, 0.3)],
        ..Scene::default()
    }
}

#[test]
fn plain_rates_have_exact_stamps_in_either_coding() {
    let dir = tempfile::tempdir().unwrap();
    for (num, den) in [(30, 1), (60_000, 1001), (240, 1)] {
        for codec in [Codec::Auto, Codec::Mpeg4] {
            let scene = Scene {
                capture_rate: Rate { num, den },
                encoding: Encoding {
                    codec,
                    b_frames: 2,
                    ..Encoding::default()
                },
                ..small()
            };
            let (path, truth) = render(&scene, dir.path(), "rate");
            check_stamps(&path, &truth);
            let step = truth.file_pts_s[7] - truth.file_pts_s[6];
            assert!((step - f64::from(den) / f64::from(num)).abs() < 1e-8);
            let streams = probe(&path, &["-show_streams"]);
            assert_eq!(streams["streams"][0]["codec_name"], truth.codec.as_str());
        }
    }
}

#[test]
fn uneven_and_missing_frames_are_stated_truly() {
    let dir = tempfile::tempdir().unwrap();
    let scene = Scene {
        timing: Timing {
            capture_jitter_s: 0.003,
            stamp_jitter_s: 0.0,
            dropped: vec![5, 6, 20],
        },
        ..small()
    };
    let (path, truth) = render(&scene, dir.path(), "uneven");
    assert_eq!((truth.frames, truth.dropped_capture_s.len()), (27, 3));
    check_stamps(&path, &truth);
    for (capture, file) in truth.frame_capture_s.iter().zip(&truth.file_pts_s) {
        assert!((capture - file).abs() < 1e-5);
    }
    let misstated = Scene {
        timing: Timing {
            stamp_jitter_s: 0.003,
            ..Timing::default()
        },
        ..small()
    };
    let truth = synth::truth(&misstated).unwrap();
    assert!((truth.frame_capture_s[9] - 0.15).abs() < 1e-9);
    assert!((truth.file_pts_s[9] - 0.15).abs() > 1e-5);
}

#[test]
fn slow_motion_is_stretched_and_tagged() {
    let dir = tempfile::tempdir().unwrap();
    let scene = Scene {
        capture_rate: Rate::per_second(240),
        playback_slowdown: 8,
        ..small()
    };
    let (path, truth) = render(&scene, dir.path(), "slow");
    check_stamps(&path, &truth);
    assert!((truth.file_pts_s[30] - 1.0).abs() < 1e-9);
    assert!((truth.frame_capture_s[30] - 0.125).abs() < 1e-9);
    let format = probe(&path, &["-show_format"]);
    let tag = format["format"]["tags"]["com.android.capture.fps"].as_str();
    assert_eq!(tag.map(|tag| tag.parse::<f64>().unwrap()), Some(240.0));
    let streams = probe(&path, &["-show_streams"]);
    assert_eq!(streams["streams"][0]["avg_frame_rate"], "30/1");
}

/// Frame `number` as planar 4:2:0 bytes: upright, or as it is stored.
fn decoded(path: &Path, number: usize, upright: bool) -> Vec<u8> {
    let select = format!("select=eq(n\\,{number})");
    let turn: &[&str] = if upright { &[] } else { &["-noautorotate"] };
    let out = Command::new("ffmpeg")
        .args(["-v", "error"])
        .args(turn)
        .arg("-i")
        .arg(path)
        .args(["-vf", &select, "-frames:v", "1", "-f", "rawvideo"])
        .args(["-pix_fmt", "yuv420p", "-"])
        .output()
        .expect("ffmpeg comes with FFmpeg");
    assert!(out.status.success());
    out.stdout
}

fn mean_difference(expected: &[u8], seen: &[u8]) -> f64 {
    let seen = seen.get(..expected.len()).expect("a whole frame");
    let off = expected
        .iter()
        .zip(seen)
        .map(|(a, b)| f64::from(a.abs_diff(*b)));
    off.sum::<f64>() / expected.len() as f64
}

#[test]
fn the_same_scene_gives_the_same_file() {
    let dir = tempfile::tempdir().unwrap();
    let bytes = |name: &str| std::fs::read(render(&small(), dir.path(), name).0).unwrap();
    assert_eq!(bytes("once"), bytes("again"));
}

#[test]
fn a_turned_clip_shows_upright_again() {
    let dir = tempfile::tempdir().unwrap();
    // ffprobe states the counter-clockwise angle.
    for (turn, angle) in [(90, -90), (180, -180), (270, 90)] {
        let scene = Scene {
            rotate_deg: turn,
            width_px: if turn == 180 { 320 } else { 180 },
            height_px: if turn == 180 { 180 } else { 320 },
            ..small()
        };
        let (path, truth) = render(&scene, dir.path(), "turned");
        let streams = probe(&path, &["-show_streams"]);
        let stream = &streams["streams"][0];
        let seen = stream["side_data_list"][0]["rotation"].as_i64().unwrap();
        assert_eq!(
            seen.rem_euclid(360),
            i64::from(angle).rem_euclid(360),
            "{turn}"
        );
        assert_eq!(stream["width"], truth.size_stored[0]);
        // FFmpeg's own turning must give back the upright picture.
        let upright = Scene {
            rotate_deg: 0,
            ..scene.clone()
        };
        let expected = super::picture(&upright, 0);
        let shown = decoded(&path, 0, true);
        let mean = mean_difference(&expected.luma, &shown);
        assert!(mean < 4.0, "{turn}: mean difference {mean}");
    }
}

#[test]
fn the_truth_survives_its_file() {
    let dir = tempfile::tempdir().unwrap();
    let scene = Scene {
        duration_s: 0.3,
        view: View::Front,
        shake: Some(Shake {
            amplitude_px: 1.0,
            hz: 2.0,
        }),
        ..Scene::random(3)
    };
    let (path, truth) = render(&scene, dir.path(), "truth");
    let json = std::fs::read(path.with_extension("json")).unwrap();
    assert_eq!(serde_json::from_slice::<Truth>(&json).unwrap(), truth);
    assert_eq!(truth.scene, scene);
    assert_eq!(truth.file, "truth.mp4");
    // The scene in the truth is enough to state it again.
    let again = synth::truth(&truth.scene).unwrap();
    assert_eq!(again.truth, truth.truth);
    assert_eq!(again.file_pts_s, truth.file_pts_s);
}

#[test]
fn the_shipped_samples_are_what_their_scenes_say() {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-clips-synthetic");
    for (name, scene) in synth::samples() {
        let json = std::fs::read(dir.join(name).with_extension("json")).expect(name);
        let shipped: Truth = serde_json::from_slice(&json).unwrap();
        let scene = Scene {
            name: name.into(),
            ..scene
        };
        assert_eq!(shipped.scene, scene, "{name}: film the samples again");
        let fresh = synth::truth(&scene).unwrap();
        assert_eq!(shipped.truth, fresh.truth, "{name}");
        assert_eq!(shipped.image, fresh.image, "{name}");
        let clip = dir.join(&shipped.file);
        check_stamps(&clip, &shipped);
        // A frame in the air: what the coding lost is little, a wrong moment
        // would move the whole athlete.
        let jump = &fresh.truth.jumps[0];
        let number = (0.5 * (jump.takeoff + jump.landing) * fresh.capture_fps) as usize;
        let drawn = super::picture(&scene, number);
        let shown = decoded(&clip, number, false);
        let off = mean_difference(&drawn.luma, &shown);
        let beside = super::picture(&scene, number - 12);
        let off_beside = mean_difference(&beside.luma, &shown);
        assert!(
            off < 2.5 && off < 0.9 * off_beside,
            "{name}: {off} {off_beside}"
        );
    }
}
