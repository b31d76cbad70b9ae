//! Rendered clips against the formulas they were made from, and against what
//! `ffprobe` sees in the file. The formulas are written out again here: the
//! renderer's own are what is under test.

use underfoot::synth::{
    self, Ball, Floor, HeelRise, Jump, Landing, Noise, Picture, Rate, Scene, Shoe, SynthError,
    View, Wall,
};

#[path = "synth/files.rs"]
mod files;

const G: f64 = 9.80665;

/// A place without texture, noise or shadow, for measuring edges.
fn bare() -> Scene {
    Scene {
        floor: Floor::Plain,
        wall: Wall::Plain,
        shadow: 0.0,
        noise: Noise {
            read: 0.0,
            shot: 0.0,
        },
        shoe: Shoe {
            upper: 0.1,
            sole: 0.1,
        },
        ..Scene::default()
    }
}

/// A hop with flat feet: the sole stays level and its edge is easy to measure.
fn flat_hop(takeoff_s: f64, flight_s: f64) -> Jump {
    Jump {
        takeoff_pitch_rad: 0.0,
        landing: Landing {
            foot_pitch_rad: 0.0,
            com_drop_m: 0.0,
        },
        ..Jump::new(takeoff_s, flight_s)
    }
}

/// Linear light of an 8-bit limited-range luma value (BT.709, inverted).
fn light(luma: u8) -> f64 {
    let v = (f64::from(luma) - 16.0) / 219.0;
    if v < 0.081 {
        v / 4.5
    } else {
        ((v + 0.099) / 1.099).powf(1.0 / 0.45)
    }
}

/// One frame of a scene.
fn picture(scene: &Scene, index: usize) -> Picture {
    synth::pictures(scene, [index]).unwrap().next().unwrap()
}

/// Where the dark shoe ends above the bright floor in one column: the share of
/// dark in the rows between `top` (inside the shoe) and `bottom` (floor).
fn edge_y(picture: &Picture, x: usize, top: usize, bottom: usize) -> f64 {
    let at = |y: usize| light(picture.luma[y * picture.width + x]);
    let (dark, bright) = (at(top), at(bottom - 1));
    assert!(bright > dark + 0.05, "no edge in column {x}");
    let rows = (top..bottom).map(|y| ((bright - at(y)) / (bright - dark)).clamp(0.0, 1.0));
    top as f64 + rows.sum::<f64>()
}

/// Height of the toes over the floor, written out from the physics: the body
/// leaves at g T/2, the toes take up its speed linearly over the lag and the
/// deficit of v lag/2 is made up from a quarter to three quarters of the
/// flight along 10 x³ - 15 x⁴ + 6 x⁵.
fn toe_height(jump: &Jump, time: f64) -> f64 {
    let t = time - jump.takeoff_s;
    let (flight, lag) = (jump.flight_s, jump.toe_lag_s);
    if t <= 0.0 || t >= flight {
        return 0.0;
    }
    let v = 0.5 * G * flight;
    if t < lag {
        return v * t * t / (2.0 * lag) - 0.5 * G * t * t;
    }
    let x = ((t / flight - 0.25) / 0.5).clamp(0.0, 1.0);
    let made_up = 10.0 * x.powi(3) - 15.0 * x.powi(4) + 6.0 * x.powi(5);
    v * t - 0.5 * G * t * t - 0.5 * v * lag * (1.0 - made_up)
}

/// Mean over the exposure of a row that starts at `start`.
fn exposed(jump: &Jump, start: f64, shutter: f64) -> f64 {
    let moment = |n: u32| start + shutter * (f64::from(n) + 0.5) / 200.0;
    (0..200).map(|n| toe_height(jump, moment(n))).sum::<f64>() / 200.0
}

/// Checks the sole's edge in frames around a hop; returns how many were
/// measured in the air.
fn check_soles(scene: &Scene) -> usize {
    let jump = scene.jumps[0];
    let truth = synth::truth(scene).unwrap();
    // The near shoe is the lower one.
    let standing = truth.image.feet_standing;
    let line = standing.left_sole_line[0][1].max(standing.right_sole_line[0][1]);
    // From the side, a quarter behind the toe the shoe is of one colour; from
    // the front, the middle of the sole is.
    let behind = if scene.view == View::Side { 0.25 } else { 0.5 };
    let column = standing.right[2] - behind * (standing.right[2] - standing.right[0]);
    let near = |time: f64, event: f64| (time - event).abs() <= 0.09;
    let starts: Vec<(usize, f64)> = truth
        .frame_capture_s
        .iter()
        .copied()
        .enumerate()
        .filter(|&(_, at)| near(at, jump.takeoff_s) || near(at, jump.landing_s()))
        .collect();
    let pictures = synth::pictures(scene, starts.iter().map(|(index, _)| *index)).unwrap();
    let mut airborne = 0;
    for (picture, (index, start)) in pictures.zip(&starts) {
        let guess = toe_height(&jump, start + 0.5 * scene.shutter_s);
        let row = line - guess * scene.pixels_per_metre;
        // With a rolling shutter the row tells its own time.
        let begin = start + scene.rolling_readout_s * row / f64::from(scene.height_px);
        let height = exposed(&jump, begin, scene.shutter_s);
        let expected = line - height * scene.pixels_per_metre;
        let top = expected as usize - 6;
        let seen = edge_y(&picture, column as usize, top, top + 12);
        assert!(
            (seen - expected).abs() < 0.06,
            "frame {index} at {start}: sole at {seen}, formula {expected}"
        );
        airborne += usize::from(height > 0.001);
    }
    airborne
}

#[test]
fn the_sole_is_where_the_formula_puts_it() {
    let scene = Scene {
        capture_rate: Rate::per_second(120),
        jumps: vec![flat_hop(1.0033, 0.5)],
        ..bare()
    };
    assert!(check_soles(&scene) >= 15);
}

#[test]
fn from_the_front_the_sole_is_there_too() {
    let scene = Scene {
        view: View::Front,
        capture_rate: Rate::per_second(120),
        jumps: vec![flat_hop(1.0019, 0.45)],
        ..bare()
    };
    assert!(check_soles(&scene) >= 15);
}

#[test]
fn a_long_exposure_smears_the_sole_by_its_mean() {
    let scene = Scene {
        capture_rate: Rate::per_second(60),
        shutter_s: 0.004,
        jumps: vec![flat_hop(1.0071, 0.42)],
        ..bare()
    };
    assert!(check_soles(&scene) >= 6);
}

#[test]
fn with_a_rolling_shutter_each_row_has_its_own_time() {
    let scene = Scene {
        capture_rate: Rate::per_second(60),
        rolling_readout_s: 0.015,
        shutter_s: 0.001,
        jumps: vec![flat_hop(1.0012, 0.5)],
        ..bare()
    };
    assert!(check_soles(&scene) >= 6);
}

#[test]
fn the_toe_of_a_pointed_foot_leaves_last() {
    let jump = Jump::new(1.0, 0.5);
    let scene = Scene {
        capture_rate: Rate::per_second(240),
        jumps: vec![jump],
        ..bare()
    };
    let truth = synth::truth(&scene).unwrap();
    let shoe = truth.image.feet_standing.right;
    let sole = shoe[3];
    let dark_below = |index: usize, x: f64| {
        let shot = picture(&scene, index);
        // Two rows above the sole line, dark only while the shoe is there.
        light(shot.luma[(sole as usize - 2) * shot.width + x as usize]) < 0.1
    };
    let frame = |time: f64| (time * 240.0) as usize;
    let (heel, toe) = (shoe[0] + 4.0, shoe[2] - 1.0);
    assert!(dark_below(frame(0.3), heel) && dark_below(frame(0.3), toe));
    assert!(!dark_below(frame(0.99), heel) && dark_below(frame(0.99), toe));
    assert!(!dark_below(frame(1.03), heel) && !dark_below(frame(1.03), toe));
}

#[test]
fn a_seed_fixes_the_pictures_and_another_changes_them() {
    let scene = Scene::random(7);
    let shot = |scene: &Scene| picture(scene, 20);
    assert_eq!(shot(&scene), shot(&scene));
    let other = Scene {
        seed: 8,
        ..scene.clone()
    };
    assert_ne!(shot(&scene).luma, shot(&other).luma);
}

#[test]
fn pulsing_lamps_sweep_bands_through_a_rolling_shutter() {
    let scene = Scene {
        flicker: Some(synth::Flicker {
            hz: 100.0,
            amplitude: 0.2,
            phase_rad: 0.0,
        }),
        rolling_readout_s: 0.015,
        ..bare()
    };
    let shot = picture(&scene, 0);
    let steady = picture(
        &Scene {
            flicker: None,
            ..scene.clone()
        },
        0,
    );
    // 10 ms is 240 of 360 rows; the exposure's mean of the cosine is
    // sin(0.2 pi)/(0.2 pi) = 0.9355 at 2 ms, in the middle of the exposure.
    for row in [8usize, 60, 128, 200, 248, 340] {
        let at = |p: &Picture| light(p.luma[row * p.width + 20]);
        let time = 0.015 * row as f64 / 360.0 + 0.001;
        let gain = 1.0 + 0.2 * 0.9355 * (std::f64::consts::TAU * 100.0 * time).cos();
        let seen = at(&shot) / at(&steady);
        assert!((seen - gain).abs() < 0.02, "row {row}: {seen} {gain}");
    }
}

#[test]
fn scenes_that_contradict_themselves_are_refused_with_a_remedy() {
    let refused = |scene: Scene| {
        let error = synth::truth(&scene).unwrap_err();
        assert!(matches!(error, SynthError::Scene { .. }));
        assert!(error.to_string().contains("hint: "), "{error}");
    };
    let with = |jump: Jump| Scene {
        jumps: vec![jump],
        ..Scene::default()
    };
    refused(Scene {
        width_px: 641,
        ..Scene::default()
    });
    refused(Scene {
        rotate_deg: 45,
        ..Scene::default()
    });
    refused(Scene {
        shutter_s: 0.05,
        ..Scene::default()
    });
    refused(Scene {
        duration_s: f64::NAN,
        ..Scene::default()
    });
    refused(Scene {
        stance: [f64::NAN, 0.8],
        ..Scene::default()
    });
    refused(Scene {
        ball: Some(Ball {
            passes_s: 1.0,
            speed_m_s: f64::INFINITY,
            depth_m: 1.0,
        }),
        ..Scene::default()
    });
    refused(with(Jump::new(1.0, 3.0)));
    // A flat landing from the take-off height would need a longer leg.
    refused(with(Jump {
        landing: Landing {
            foot_pitch_rad: 0.0,
            com_drop_m: 0.0,
        },
        ..Jump::new(1.0, 0.5)
    }));
    refused(Scene {
        jumps: vec![Jump::new(1.0, 0.5), Jump::new(1.55, 0.5)],
        ..Scene::default()
    });
}

#[test]
fn a_bent_landing_makes_the_flight_longer_than_the_rise() {
    let scene = Scene {
        jumps: vec![Jump {
            landing: Landing::knees_bent(),
            ..Jump::new(1.0, 0.5)
        }],
        ..Scene::default()
    };
    let jump = &synth::truth(&scene).unwrap().truth.jumps[0];
    // h_FT = (sqrt h + sqrt(h + d))² / 4, from -d = v T - g T²/2.
    let h = jump.h_com;
    let from_time = (h.sqrt() + (h + jump.com_drop_m).sqrt()).powi(2) / 4.0;
    assert!((from_time - jump.h_flight).abs() < 1e-8);
    assert!(jump.h_flight > h + 0.04);
}

#[test]
fn random_scenes_can_all_be_filmed() {
    for seed in 0..200 {
        let scene = Scene::random(seed);
        let truth = synth::truth(&scene).unwrap_or_else(|error| panic!("{seed}: {error}"));
        assert!(truth.frame_capture_s.last().unwrap() > &truth.truth.jumps[0].landing);
    }
    assert_ne!(Scene::random(1), Scene::random(2));
}

#[test]
fn a_scene_in_json_states_only_what_differs() {
    let scene: Scene = serde_json::from_str(
        r#"{"capture_rate": {"num": 120, "den": 1}, "jumps": [{"takeoff_s": 1.0, "flight_s": 0.4}]}"#,
    )
    .unwrap();
    assert_eq!(scene.jumps, vec![Jump::new(1.0, 0.4)]);
    assert_eq!(scene.width_px, Scene::default().width_px);
}

#[test]
fn a_heel_rise_lifts_the_heel_and_is_no_jump() {
    let scene = Scene {
        jumps: Vec::new(),
        heel_rises: vec![HeelRise {
            start_s: 0.5,
            duration_s: 1.0,
            pitch_rad: 0.5,
        }],
        ..bare()
    };
    let truth = synth::truth(&scene).unwrap();
    assert_eq!(truth.truth.n_jumps, 0);
    let shoe = truth.image.feet_standing.right;
    let heel = |index: usize| {
        let shot = picture(&scene, index);
        light(shot.luma[(shoe[3] as usize - 2) * shot.width + shoe[0] as usize + 4])
    };
    assert!(heel(0) < 0.1 && heel(60) > 0.2 && heel(119) < 0.1);
}
