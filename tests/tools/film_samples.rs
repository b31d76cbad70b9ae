//! Films the shipped sample clips again: `cargo run --release --example
//! film_samples -- DIR`; with two numbers more, scenes drawn by lot instead, from the
//! first seed up to the one before the second: `-- DIR 1000 1050`.

use std::path::{Path, PathBuf};
use std::time::Instant;

use anyhow::{Context, Result, bail};
use underfoot::synth::{self, Scene};

fn main() -> Result<()> {
    let mut arguments = std::env::args_os().skip(1);
    let dir = arguments
        .next()
        .map_or_else(|| "sample-clips-synthetic".into(), PathBuf::from);
    let seeds: Vec<u64> = arguments
        .map(|seed| Ok(seed.to_string_lossy().parse()?))
        .collect::<Result<_>>()
        .context("a seed is a whole number")?;
    match seeds[..] {
        [] => film_samples(&dir),
        [first, end] => (first..end).try_for_each(|seed| film_by_lot(&dir, seed)),
        _ => bail!("give a folder, or a folder and two seeds"),
    }
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

/// A scene drawn by lot, and its truth beside it.
fn film_by_lot(dir: &Path, seed: u64) -> Result<()> {
    std::fs::create_dir_all(dir)?;
    let scene = Scene::random(seed);
    let clip = dir.join(format!("{}.mp4", scene.name));
    let truth = synth::render(&scene, &clip, &mut |_, _| ())?;
    std::fs::write(
        clip.with_extension("json"),
        serde_json::to_string(&truth).context("the truth as JSON")?,
    )?;
    println!("{}: {:.0} frames a second", scene.name, truth.capture_fps);
    Ok(())
}
