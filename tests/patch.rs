//! The floor patch: as written, as kept beside the clip, and as found without a mark.

use std::fs;
use std::path::{Path, PathBuf};

use proptest::prelude::*;
use serde_json::Value;
use underfoot::synth::{Ball, HeelRise, Jump, PasserBy, Scene, render};
use underfoot::video::kept::{KeptError, KeptPatch, OtherSize, PatchOrigin, kept_path, load, save};
use underfoot::video::patch::{LEAST_HEIGHT_PX, LEAST_WIDTH_PX};
use underfoot::video::{
    CaptureClock, Clip, FloorPatch, PatchError, PatchSpec, Suggestion, suggest,
};

const HD: (u32, u32) = (1280, 720);

fn patch(x: u32, y: u32, w: u32, h: u32) -> FloorPatch {
    FloorPatch { x, y, w, h }
}

fn resolved(text: &str) -> Result<FloorPatch, PatchError> {
    PatchSpec::parse(text)?.resolve(HD)
}

#[test]
fn pixels_and_per_cent_may_be_mixed() {
    let cases = [
        ("590,604,108,53", patch(590, 604, 108, 53)),
        (" 590 , 604,108, 53 ", patch(590, 604, 108, 53)),
        ("45%,80%,10%,8%", patch(576, 576, 128, 58)),
        ("580,80%,12.5%,60", patch(580, 576, 160, 60)),
        // Edges are rounded, not lengths: the end is the picture's edge.
        ("93.33%,95%,6.67%,5%", patch(1195, 684, 85, 36)),
        ("0,0,12,8", patch(0, 0, 12, 8)),
    ];
    for (text, wanted) in cases {
        assert_eq!(resolved(text).expect(text), wanted, "{text}");
    }
}

#[test]
fn what_is_no_patch_is_refused_with_a_remedy() {
    let cases = [
        ("", "four numbers"),
        ("1,2,3", "four numbers"),
        ("1,2,3,4,5", "four numbers"),
        ("a,2,30,40", "\"a\" is no length"),
        ("1.5,2,30,40", "\"1.5\" is no length"),
        ("-1,2,30,40", "\"-1\" is no length"),
        ("101%,2,30,40", "\"101%\" is no length"),
        ("NaN%,2,30,40", "\"NaN%\" is no length"),
        ("99999999999,2,30,40", "is no length"),
        ("1200,600,81,50", "leaves the picture of 1280 by 720"),
        ("4294967295,0,4294967295,9", "leaves the picture"),
        ("50%,50%,51%,10%", "leaves the picture"),
        ("600,600,11,50", "too small"),
        ("600,600,50,7", "too small"),
        ("600,600,0,0", "too small"),
        ("0,0,100%,51%", "more than half of the picture"),
    ];
    for (text, part) in cases {
        let error = resolved(text).expect_err(text).to_string();
        assert!(error.contains(part), "{text}: {error}");
        assert!(error.contains(" — "), "no remedy: {error}");
    }
}

proptest! {
    #[test]
    fn any_patch_is_usable_or_refused(
        x in 0u32..5000, y in 0u32..5000, w in 0u32..5000, h in 0u32..5000,
        size in (1u32..5000, 1u32..5000),
    ) {
        let spec = PatchSpec::from(patch(x, y, w, h));
        if let Ok(found) = spec.resolve(size) {
            prop_assert_eq!(found, patch(x, y, w, h));
            prop_assert!(x + w <= size.0 && y + h <= size.1);
            prop_assert!(w >= LEAST_WIDTH_PX && h >= LEAST_HEIGHT_PX);
            prop_assert!(2 * u64::from(w) * u64::from(h) <= u64::from(size.0) * u64::from(size.1));
        }
    }

    #[test]
    fn what_is_printed_can_be_read_again(
        x in 0.0f64..=100.0, y in 0u32..2000, w in 0.0f64..=100.0, h in 0u32..2000,
    ) {
        let spec = PatchSpec::parse(&format!("{x}%,{y},{w}%,{h}")).expect("well formed");
        prop_assert_eq!(PatchSpec::parse(&spec.to_string()).expect("printed"), spec);
        if let Ok(found) = spec.resolve(HD) {
            prop_assert_eq!(resolved(&found.to_string()).expect("printed"), found);
        }
    }

    #[test]
    fn shares_that_fit_never_leave_the_picture(
        x in 0.0f64..=100.0, part in 0.0f64..=1.0, side in 100u32..8000,
    ) {
        let w = (100.0 - x) * part;
        let spec = PatchSpec::parse(&format!("{x}%,10%,{w}%,20%")).expect("well formed");
        let outside = matches!(
            spec.resolve((side, 400)),
            Err(PatchError::OutsidePicture { .. })
        );
        prop_assert!(!outside);
    }

    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,40}") {
        let _ = PatchSpec::parse(&text).map(|spec| spec.resolve(HD));
    }
}

fn kept(origin: PatchOrigin) -> KeptPatch {
    KeptPatch::new(patch(590, 604, 108, 53), HD, origin).expect("fits")
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> = entries
        .map(|e| e.expect("an entry").file_name().to_string_lossy().into())
        .collect();
    names.sort();
    names
}

#[test]
fn a_patch_is_kept_and_comes_back() {
    let folder = tempfile::tempdir().unwrap();
    let clip = folder.path().join("jump.mp4");
    assert!(load(&clip).expect("nothing is no error").is_none());
    for origin in [PatchOrigin::Suggested, PatchOrigin::Marked] {
        let path = save(&clip, &kept(origin)).expect("a folder of our own");
        assert_eq!(path, kept_path(&clip));
        let back = load(&clip).expect("ours").expect("there");
        assert_eq!(back, kept(origin));
        assert_eq!(back.for_size(HD), Ok(patch(590, 604, 108, 53)));
    }
    assert_eq!(names(folder.path()), ["jump.mp4.floor.json"]);
}

#[test]
fn a_patch_of_another_picture_size_does_not_come_out() {
    let refused = kept(PatchOrigin::Marked).for_size((720, 1280));
    let wanted = OtherSize {
        kept: HD,
        now: (720, 1280),
    };
    assert_eq!(refused, Err(wanted));
    let text = wanted.to_string();
    assert!(
        text.contains("1280 by 720") && text.contains("--floor"),
        "{text}"
    );
}

#[test]
fn a_file_that_is_not_ours_is_neither_used_nor_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let clip = folder.path().join("jump.mp4");
    let long = format!(
        "{{\"underfoot_floor_patch\": 1, \"x\": \"{}\"}}",
        "y".repeat(20_000)
    );
    for foreign in ["", "notes\n", "{\"patch\": [1, 2, 3, 4]}", "[1]", &long] {
        fs::write(kept_path(&clip), foreign).unwrap();
        assert!(
            matches!(load(&clip), Err(KeptError::NotOurs { .. })),
            "{foreign:.30}"
        );
        let error = save(&clip, &kept(PatchOrigin::Marked)).expect_err("not ours");
        assert!(matches!(error, KeptError::NotOurs { .. }), "{error}");
        assert_eq!(fs::read_to_string(kept_path(&clip)).unwrap(), foreign);
    }
    fs::remove_file(kept_path(&clip)).unwrap();
    fs::create_dir(kept_path(&clip)).unwrap();
    assert!(load(&clip).is_err());
    assert!(save(&clip, &kept(PatchOrigin::Marked)).is_err());
    assert_eq!(names(folder.path()), ["jump.mp4.floor.json"]);
}

#[test]
fn a_later_format_is_left_alone_and_a_damaged_file_of_ours_is_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let clip = folder.path().join("jump.mp4");
    fs::write(kept_path(&clip), "{\"underfoot_floor_patch\": 2}").unwrap();
    for error in [
        load(&clip).err(),
        save(&clip, &kept(PatchOrigin::Marked)).err(),
    ] {
        assert!(matches!(
            error,
            Some(KeptError::NewerFormat { found: 2, .. })
        ));
    }
    let damaged = [
        "{\"underfoot_floor_patch\": 1}",
        "{\"underfoot_floor_patch\": 1, \"picture\": [1280, 720], \
         \"patch\": [1200, 604, 108, 53], \"origin\": \"marked\"}",
        "{\"underfoot_floor_patch\": 1, \"picture\": [1280, 720], \
         \"patch\": [590, 604, 108, -53], \"origin\": \"marked\"}",
    ];
    for text in damaged {
        fs::write(kept_path(&clip), text).unwrap();
        assert!(
            matches!(load(&clip), Err(KeptError::Damaged { .. })),
            "{text}"
        );
        save(&clip, &kept(PatchOrigin::Marked)).expect("ours to replace");
        assert!(load(&clip).expect("whole again").is_some());
    }
}

#[test]
fn a_folder_that_takes_nothing_is_told_and_left_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let clip = folder.path().join("no such folder").join("jump.mp4");
    assert!(load(&clip).expect("nothing is no error").is_none());
    let error = save(&clip, &kept(PatchOrigin::Marked)).expect_err("no folder");
    assert!(matches!(error, KeptError::NotKept { .. }), "{error}");
    // A name that is too long once our ending is added.
    let clip = folder.path().join(format!("{}.mp4", "j".repeat(248)));
    assert!(load(&clip).expect("nothing is no error").is_none());
    let error = save(&clip, &kept(PatchOrigin::Marked)).expect_err("too long");
    assert!(matches!(error, KeptError::NotKept { .. }), "{error}");
    assert!(names(folder.path()).is_empty());
}

#[cfg(unix)]
#[test]
fn a_read_only_folder_is_told() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let shut = folder.path().join("shut");
    fs::create_dir(&shut).unwrap();
    fs::set_permissions(&shut, fs::Permissions::from_mode(0o555)).unwrap();
    // The superuser writes everywhere, so there is nothing to be refused.
    if fs::write(shut.join("probe"), "").is_err() {
        let error = save(&shut.join("jump.mp4"), &kept(PatchOrigin::Marked)).expect_err("shut");
        assert!(matches!(error, KeptError::NotKept { .. }), "{error}");
        assert!(names(&shut).is_empty());
    }
    fs::set_permissions(&shut, fs::Permissions::from_mode(0o755)).unwrap();
}

fn suggestion(path: &Path) -> Result<Suggestion, PatchError> {
    let clip = Clip::open(path).expect("a sound clip");
    let ticks = clip.packets().expect("packets").presented();
    let clock = CaptureClock::new(clip.facts(), ticks, None).expect("a clock");
    let mut told = 0;
    let found = suggest(&clip, &clock, 2, &mut |done| told = done);
    assert_eq!(told, ticks.len(), "every frame is told");
    found
}

/// Where the truth beside a clip says the feet stand.
struct Stand {
    left: f64,
    right: f64,
    sole: f64,
    px_per_m: f64,
}

fn stand(clip: &Path) -> Stand {
    let text = fs::read(clip.with_extension("json")).expect("a truth beside the clip");
    let truth: Value = serde_json::from_slice(&text).expect("JSON");
    let image = &truth["image"];
    let side = |foot: &str, i: usize| image["feet_standing"][foot][i].as_f64().expect("a number");
    Stand {
        left: side("left", 0).min(side("right", 0)),
        right: side("left", 2).max(side("right", 2)),
        sole: side("left", 3).max(side("right", 3)),
        px_per_m: image["pixels_per_metre_at_feet"]
            .as_f64()
            .expect("a number"),
    }
}

/// The nearer sole in the lower half of the patch or at its end, the feet in its
/// width, and a size that a person would mark.
fn assert_on_feet(path: &Path) {
    let name = path.display();
    let found = suggestion(path).unwrap_or_else(|error| panic!("{name}: {error}"));
    let truth = stand(path);
    let FloorPatch { x, y, w, h } = found.patch;
    let [x, y, w, h] = [x, y, w, h].map(f64::from);
    let sole = (truth.sole - y) / h;
    assert!(
        (0.5..=0.95).contains(&sole),
        "{name}: sole at {sole:.2} of {:?}",
        found.patch
    );
    let (feet_w, m) = (truth.right - truth.left, truth.px_per_m);
    let shared = (x + w).min(truth.right) - x.max(truth.left);
    assert!(
        shared >= 0.6 * feet_w,
        "{name}: {shared:.0} of {feet_w:.0} px"
    );
    assert!(w <= feet_w + 0.35 * m, "{name}: {w} px wide");
    assert!(
        (0.09..0.28).contains(&(h / m)),
        "{name}: {:.3} m high",
        h / m
    );
    assert!(found.certainty > 0.5 && found.certainty <= 1.0);
}

#[test]
fn the_feet_of_the_sample_clips_are_found() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-clips-synthetic");
    let mut clips: Vec<PathBuf> = fs::read_dir(folder)
        .expect("sample clips")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "mp4"))
        .collect();
    clips.sort();
    assert!(clips.len() >= 6);
    clips.iter().for_each(|clip| assert_on_feet(clip));
}

fn film(folder: &Path, name: &str, scene: &Scene) -> PathBuf {
    let path = folder.join(format!("{name}.mp4"));
    render(scene, &path, &mut |_, _| {}).expect("a scene that can be filmed");
    path
}

#[test]
fn a_low_jump_beside_a_walker_and_a_ball_is_found() {
    let folder = tempfile::tempdir().unwrap();
    let scene = Scene {
        jumps: vec![Jump::new(1.15, 0.286)], // 10 cm
        passers_by: vec![WALKER],
        ball: Some(BALL),
        ..Scene::default()
    };
    assert_on_feet(&film(folder.path(), "low", &scene));
}

const WALKER: PasserBy = PasserBy {
    passes_s: 0.9,
    speed_m_s: 1.3,
    depth_m: 0.8,
};
const BALL: Ball = Ball {
    passes_s: 1.6,
    speed_m_s: -1.5,
    depth_m: 0.6,
};

#[test]
fn where_nobody_jumps_nothing_is_suggested() {
    let folder = tempfile::tempdir().unwrap();
    let nobody = Scene {
        jumps: Vec::new(),
        duration_s: 2.2,
        ..Scene::default()
    };
    let rise = HeelRise {
        start_s: 0.6,
        duration_s: 1.0,
        pitch_rad: 0.5,
    };
    let scenes = [
        ("still", nobody.clone()),
        (
            "heel rise",
            Scene {
                heel_rises: vec![rise],
                ..nobody.clone()
            },
        ),
        (
            "walker",
            Scene {
                passers_by: vec![WALKER],
                ..nobody.clone()
            },
        ),
        (
            "ball",
            Scene {
                ball: Some(BALL),
                ..nobody
            },
        ),
    ];
    for (name, scene) in scenes {
        match suggestion(&film(folder.path(), name, &scene)) {
            Err(error @ PatchError::NothingJumps) => {
                let text = error.to_string();
                assert!(
                    text.contains("`mark`") && text.contains("--floor"),
                    "{text}"
                );
            }
            other => panic!("{name}: {other:?}"),
        }
    }
}
