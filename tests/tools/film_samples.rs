//! Films the shipped sample clips again: `cargo run --release --example
//! film_samples -- DIR`; with two numbers more, scenes drawn by lot instead, from the
//! first seed up to the one before the second: `-- DIR 1000 1050`. A word after them
//! disturbs every one of these scenes: `shake` (a hand that sways by 1.5 to 5 pixels),
//! `behind` or `front` (somebody walks by), `ball`, or turns them: `back`, `diagonal`.
//! `-- DIR limits` films the same plain jumps at four rates into four folders, each with
//! one source of error less than the one before: where what a picture tells ends.

use std::f64::consts::SQRT_2;
use std::path::{Path, PathBuf};
use std::time::Instant;

use anyhow::{Context, Result, bail};
use statrs::function::erf::erf_inv;
use underfoot::synth::{
    self, Ball, Jump, Landing, Noise, PasserBy, Rate, Scene, Shake, Shoe, View,
};

fn main() -> Result<()> {
    let mut arguments = std::env::args_os().skip(1);
    let dir = arguments
        .next()
        .map_or_else(|| "sample-clips-synthetic".into(), PathBuf::from);
    let words: Vec<String> = arguments
        .map(|word| word.to_string_lossy().into_owned())
        .collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words[..] {
        [] => film_samples(&dir),
        ["limits"] => film_limits(&dir),
        [first, end] => film_by_lot(&dir, (first, end), Ok),
        [first, end, trouble] => film_by_lot(&dir, (first, end), |s| disturbed(s, trouble)),
        _ => bail!("give a folder, or a folder, two seeds and perhaps a disturbance"),
    }
}

/// A scene by lot with one disturbance for certain, as strong as its seed says.
fn disturbed(scene: Scene, trouble: &str) -> Result<Scene> {
    // A golden-ratio sequence spreads the seeds evenly.
    let part = |k: u64| ((scene.seed + 7 * k) as f64 * 0.618_033_988_75).fract();
    let jump = scene.jumps.first().context("a scene has a jump")?;
    let side = if part(1) < 0.5 { -1.0 } else { 1.0 };
    let passes_s = jump.takeoff_s - 0.3 + part(2);
    let walker = |depth_m: f64| {
        vec![PasserBy {
            passes_s,
            speed_m_s: 1.3 * side,
            depth_m,
        }]
    };
    let mut disturbed = scene.clone();
    match trouble {
        "shake" => {
            disturbed.shake = Some(Shake {
                amplitude_px: 1.5 + 3.5 * part(3),
                hz: 1.0 + 3.0 * part(4),
            });
        }
        "behind" => disturbed.passers_by = walker(0.7 + 0.5 * part(3)),
        "front" => disturbed.passers_by = walker(-0.7 - 0.5 * part(3)),
        "ball" => {
            disturbed.ball = Some(Ball {
                passes_s,
                speed_m_s: 1.5 * side,
                depth_m: 0.4 + 0.6 * part(3),
            });
        }
        "back" => disturbed.view = View::Back,
        "diagonal" => disturbed.view = View::Diagonal,
        _ => bail!("{trouble} is no disturbance: shake, behind, front, ball, back, diagonal"),
    }
    Ok(disturbed)
}

fn film_samples(dir: &Path) -> Result<()> {
    let mut started = Instant::now();
    synth::render_samples(dir, &mut |name, done, of| {
        if done == of {
            let taken = started.elapsed().as_secs_f64();
            println!(
                "{name}: {of} frames in {taken:.1} s, {:.0} a second",
                of as f64 / taken
            );
            started = Instant::now();
        }
    })?;
    Ok(())
}

/// Plain jumps by lot from the side at 30, 60, 120 and 240 frames a second.
fn film_limits(dir: &Path) -> Result<()> {
    const JUMPS: u64 = 20;
    /// Toe lag as the fit expects it, and its standard deviation.
    const TOE_LAG_S: (f64, f64) = (0.006_5, 0.002_5);
    let still = Noise {
        read: 0.0,
        shot: 0.0,
    };
    for name in ["as_filmed", "no_noise", "no_blur", "one_toe_lag"] {
        let folder = dir.join(name);
        std::fs::create_dir_all(&folder)?;
        for rate in [30, 60, 120, 240] {
            for seed in 0..JUMPS {
                let mut scene = plain_jump(seed, rate);
                if name == "one_toe_lag" {
                    scene.jumps[0].toe_lag_s = TOE_LAG_S.0;
                } else {
                    // Evenly over a normal distribution.
                    let part = (seed as f64 + 0.5) / JUMPS as f64;
                    let normal = SQRT_2 * erf_inv(2.0 * part - 1.0);
                    scene.jumps[0].toe_lag_s = TOE_LAG_S.0 + TOE_LAG_S.1 * normal;
                }
                if name != "as_filmed" {
                    (scene.noise, scene.encoding.crf) = (still, 1);
                }
                if matches!(name, "no_blur" | "one_toe_lag") {
                    scene.shutter_s = 0.000_2;
                }
                film(&folder, &scene)?;
            }
        }
    }
    Ok(())
}

/// A jump without disturbance, the same for a seed at every rate but for its phase.
fn plain_jump(seed: u64, rate: u32) -> Scene {
    let drawn = Scene::random(20_000 + seed);
    let part = ((seed * 4 + u64::from(rate) / 60) as f64 * 0.618_033_988_75).fract();
    let takeoff_s = 1.2 + part / f64::from(rate);
    let jump = Jump {
        landing: Landing::default(),
        landing_shift_px: 0.0,
        ..Jump::new(takeoff_s, drawn.jumps[0].flight_s)
    };
    Scene {
        name: format!("plain_{rate}_{seed:02}"),
        seed,
        capture_rate: Rate::per_second(rate),
        duration_s: jump.landing_s() + 0.6,
        view: View::Side,
        shutter_s: 0.4 / f64::from(rate),
        rolling_readout_s: 0.0,
        shoe: Shoe::default(),
        flicker: None,
        shake: None,
        passers_by: Vec::new(),
        ball: None,
        heel_rises: Vec::new(),
        jumps: vec![jump],
        ..drawn
    }
}

/// Scenes drawn by lot and changed as wanted, each with its truth beside it.
fn film_by_lot(
    dir: &Path,
    (first, end): (&str, &str),
    change: impl Fn(Scene) -> Result<Scene>,
) -> Result<()> {
    let seed = |word: &str| word.parse::<u64>().context("a seed is a whole number");
    std::fs::create_dir_all(dir)?;
    for seed in seed(first)?..seed(end)? {
        film(dir, &change(Scene::random(seed))?)?;
    }
    Ok(())
}

/// One scene, with its truth beside it.
fn film(dir: &Path, scene: &Scene) -> Result<()> {
    let clip = dir.join(format!("{}.mp4", scene.name));
    let truth = synth::render(scene, &clip, &mut |_, _| ())?;
    std::fs::write(
        clip.with_extension("json"),
        serde_json::to_string(&truth).context("the truth as JSON")?,
    )?;
    println!("{}: {:.0} frames a second", scene.name, truth.capture_fps);
    Ok(())
}
