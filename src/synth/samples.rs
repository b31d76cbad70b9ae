//! The sample clips that come with the program.

use std::path::Path;

use super::scene::{Encoding, Floor, Jump, Rate, Scene, Shoe, View, Wall};
use super::{SynthError, Truth, render};

/// Names and scenes of the shipped samples, filmed in a village handball
/// club's gym: everyday frame rates, a slow-motion file, a portrait clip and
/// two jumps in one clip.
pub fn samples() -> Vec<(&'static str, Scene)> {
    vec![
        ("cmj_60", gym(60, 11, Jump::new(1.2037, 0.5214))),
        (
            "cmj_120",
            Scene {
                view: View::Front,
                floor: Floor::Tiles,
                wall: Wall::Plaster,
                ..gym(120, 12, Jump::new(1.1511, 0.4876))
            },
        ),
        ("cmj_240", gym(240, 13, Jump::new(1.1028, 0.5593))),
        (
            "slowmo_240as30",
            Scene {
                playback_slowdown: 8,
                floor: Floor::Plain,
                wall: Wall::Bricks,
                shoe: Shoe {
                    upper: 2.2,
                    sole: 0.25,
                },
                ..gym(240, 14, Jump::new(1.1296, 0.4429))
            },
        ),
        (
            "portrait_60",
            Scene {
                rotate_deg: 90,
                width_px: 360,
                height_px: 640,
                pixels_per_metre: 200.0,
                floor: Floor::Grass,
                wall: Wall::Bricks,
                ..gym(60, 15, Jump::new(1.1769, 0.5482))
            },
        ),
        (
            "two_jumps_120",
            Scene {
                duration_s: 3.9,
                jumps: vec![
                    Jump::new(0.9034, 0.4718),
                    Jump {
                        landing_shift_px: 6.0,
                        ..Jump::new(2.6517, 0.5107)
                    },
                ],
                ..gym(120, 16, Jump::new(1.0, 0.5))
            },
        ),
    ]
}

fn gym(fps: u32, seed: u64, jump: Jump) -> Scene {
    Scene {
        seed,
        capture_rate: Rate::per_second(fps),
        duration_s: jump.landing_s() + 0.75,
        wall: Wall::Bars,
        jumps: vec![jump],
        encoding: Encoding {
            crf: 20,
            ..Encoding::default()
        },
        ..Scene::default()
    }
}

/// Films the samples into the folder `dir`, which must exist; for each its
/// name and truth. `progress` is called with (name, frames done, frames in
/// all).
///
/// # Errors
/// The first [`SynthError`] met.
pub fn render_samples(
    dir: &Path,
    progress: &mut dyn FnMut(&str, usize, usize),
) -> Result<Vec<(&'static str, Truth)>, SynthError> {
    samples()
        .into_iter()
        .map(|(name, scene)| {
            let scene = Scene {
                name: name.into(),
                ..scene
            };
            let path = dir.join(name).with_extension("mp4");
            let truth = render(&scene, &path, &mut |done, of| progress(name, done, of))?;
            Ok((name, truth))
        })
        .collect()
}
