//! Times `underfoot measure` against plain decoding by the `ffmpeg` program, by
//! turns, on clips that it films once and keeps.
//!
//! `make speed`, or `cargo run --release --example speed -- --rounds 7`
//!
//! Ends with 1 if a ratio or a peak is above what is wanted, with 0 if none is.

mod clips;
mod process;

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use anyhow::Result;
use clap::Parser;
use underfoot::video::{CaptureClock, Clip, PatchSpec, watch_where_needed};

use clips::{Coded, Take};
use process::{Run, run};

/// Times the program against plain decoding.
#[derive(Parser)]
struct Arguments {
    /// Where the clips are kept.
    #[arg(long, default_value = "target/speed")]
    folder: PathBuf,
    /// The program to time.
    #[arg(long, default_value = "target/release/underfoot")]
    program: PathBuf,
    /// How often each clip is measured and decoded.
    #[arg(long, default_value_t = 5)]
    rounds: usize,
    /// Only clips whose name holds this.
    #[arg(long, default_value = "")]
    only: String,
    /// Decode every frame.
    #[arg(long)]
    full: bool,
    /// Make the clips and stop.
    #[arg(long)]
    film_only: bool,
}

fn main() -> Result<ExitCode> {
    let arguments = Arguments::parse();
    std::fs::create_dir_all(&arguments.folder)?;
    let takes = clips::takes();
    let wanted = |clip: &&Coded| clip.name.contains(&arguments.only);
    for take in takes.iter().filter(|t| t.clips.iter().any(|c| wanted(&c))) {
        take.film(&arguments.folder)?;
    }
    if arguments.film_only {
        return Ok(ExitCode::SUCCESS);
    }
    println!("{HEADING}");
    let mut all_good = true;
    for take in &takes {
        for clip in take.clips.iter().filter(wanted) {
            all_good &= report(take, clip, &arguments)?;
        }
    }
    Ok(if all_good {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(1)
    })
}

const HEADING: &str = "\
clip          measure s  decode s  ratio  wanted  cpu s  cpu ratio  peak MB  read MB  decoded of frames";

/// Times one clip and prints its line; whether it is as fast and small as wanted.
fn report(take: &Take, clip: &Coded, arguments: &Arguments) -> Result<bool> {
    let path = clip.path(&arguments.folder);
    let [x, y, w, h] = take.floor()?;
    let floor = format!("{x},{y},{w},{h}");
    let (mut measured, mut decoded) = (Vec::new(), Vec::new());
    for _ in 0..arguments.rounds {
        measured.push(run(measure(&path, &floor, arguments))?);
        decoded.push(run(decode(&path))?);
    }
    let (measure_s, decode_s) = (median(&measured, wall), median(&decoded, wall));
    let (measure_cpu_s, decode_cpu_s) = (median(&measured, cpu), median(&decoded, cpu));
    let peak_mb = measured.iter().map(|run| run.peak_mb).fold(0.0, f64::max);
    let read_mb = measured.iter().map(|run| run.read_mb).fold(0.0, f64::max);
    let ratio = measure_s / decode_s;
    let (frames, held) = decoded_frames(&path, &floor)?;
    println!(
        "{:12} {:10.3} {:9.3} {:6.2} {:7.2} {:6.2} {:10.2} {:8.0} {:8.1} {:8} of {}",
        clip.name,
        measure_s,
        decode_s,
        ratio,
        clip.wanted.0,
        measure_cpu_s,
        measure_cpu_s / decode_cpu_s,
        peak_mb,
        read_mb,
        frames,
        held,
    );
    Ok(ratio <= clip.wanted.0 && peak_mb <= clip.wanted.1)
}

fn measure(clip: &Path, floor: &str, arguments: &Arguments) -> Command {
    let mut command = Command::new(&arguments.program);
    command.args(["measure", "--no-keep", "--json", "--floor", floor]);
    if arguments.full {
        command.arg("--full");
    }
    command.arg(clip);
    command
}

fn decode(clip: &Path) -> Command {
    let mut command = Command::new("ffmpeg");
    command
        .args(["-threads", "2", "-v", "error", "-i"])
        .arg(clip);
    command.args(["-f", "null", "-"]);
    command
}

/// How many frames are decoded of how many held, asked of the library.
fn decoded_frames(path: &Path, floor: &str) -> Result<(usize, usize)> {
    let clip = Clip::open(path)?;
    let ticks = clip.packets()?.presented();
    let clock = CaptureClock::new(clip.facts(), ticks, None)?;
    let patch = PatchSpec::parse(floor)?.resolve(clip.facts().size)?;
    let watched = watch_where_needed(&clip, &clock, patch, 2, &mut |_| {})?;
    Ok((watched.summary.frames, ticks.len()))
}

fn wall(run: &Run) -> f64 {
    run.wall_s
}

fn cpu(run: &Run) -> f64 {
    run.cpu_s
}

fn median(runs: &[Run], of: fn(&Run) -> f64) -> f64 {
    let mut seconds: Vec<f64> = runs.iter().map(of).collect();
    seconds.sort_by(f64::total_cmp);
    seconds.get(seconds.len() / 2).copied().unwrap_or(f64::NAN)
}
