//! Every sample clip damaged in thousands of seeded ways, and what the program makes
//! of it: an answer within seconds, within its memory, with the documented code, and
//! no height that keeps quiet about frames that are missing.

#![cfg(unix)]

#[allow(dead_code)]
#[path = "cli/bench.rs"]
mod bench;
#[path = "mutated/claims.rs"]
mod claims;
#[path = "mutated/mutate.rs"]
mod mutate;
mod support;

use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use bench::{Bench, floor, ran};
use serde_json::Value;
use underfoot::video::Clip;
use underfoot::video::decode::{DecodeOptions, stamps};

const SAMPLES: [&str; 6] = [
    "cmj_60",
    "cmj_120",
    "cmj_240",
    "portrait_60",
    "slowmo_240as30",
    "two_jumps_120",
];

/// Clips that one call of the program measures.
const AT_ONCE: usize = 12;
/// Seconds of computing after which a clip counts as hanging.
const HANGS_S: u32 = 10;
/// Memory that a clip of this size may use, in KiB: six times what a sound one does.
const MEMORY_KIB: u32 = 400_000;

/// What came of the clips, counted.
#[derive(Debug, Default)]
struct Tally {
    clips: AtomicUsize,
    measured: AtomicUsize,
    refused: AtomicUsize,
    warned: AtomicUsize,
    lossy: AtomicUsize,
    starved: AtomicUsize,
}

impl Tally {
    fn add(&self, of: fn(&Self) -> &AtomicUsize) {
        of(self).fetch_add(1, Ordering::Relaxed);
    }
}

/// Damages a sample in the ways of these seeds and looks at every answer.
fn survives(name: &str, seeds: impl IntoIterator<Item = u64>, tally: &Tally) {
    let sample = Bench::new();
    let whole = std::fs::read(sample.sample_as(name, "whole.mp4")).unwrap();
    let frames = frames_of(&sample.path().join("whole.mp4")).map_or(0, |came| came.len());
    assert!(frames > 50, "{name}: {frames} frames");
    let seeds: Vec<u64> = seeds.into_iter().collect();
    for seeds in seeds.chunks(AT_ONCE) {
        let bench = Bench::new();
        for seed in seeds {
            let clip = format!("{name}-{seed:05}.mp4");
            bench.write(&clip, mutate::damaged(&whole, *seed));
        }
        let documents = measured(&bench, name, seeds.len());
        for (document, seed) in documents.iter().zip(seeds) {
            let clip = bench.path().join(document["clip"].as_str().unwrap());
            let told = Told {
                document,
                seed: *seed,
                name,
            };
            told.check(&clip, frames, tally);
        }
    }
}

/// Measures all clips of the folder, and checks the code and the way it went.
fn measured(bench: &Bench, name: &str, count: usize) -> Vec<Value> {
    let program = assert_cmd::cargo::cargo_bin!("underfoot");
    let names = bench.names("").join(" ");
    let line = format!(
        "ulimit -S -t {HANGS_S}; ulimit -S -d {MEMORY_KIB}; exec {} measure --json --no-keep \
         --floor {} {names}",
        program.display(),
        floor(name)
    );
    let mut shell = assert_cmd::Command::new("sh");
    let ran = ran(shell.current_dir(bench.path()).args(["-c", &line]));
    assert!(!ran.err.contains("panicked"), "{}", ran.err);
    for word in [
        "broke down",
        "of computing",
        "makes no sense",
        "nothing came",
    ] {
        assert!(!ran.err.contains(word), "{}", ran.err);
    }
    let documents = ran.documents();
    assert_eq!(documents.len(), count, "{}", ran.err);
    let failed = documents.iter().any(|d| !d["error"].is_null());
    let usable = documents.iter().any(usable);
    let code = match (failed, usable) {
        (true, _) => 2,
        (false, true) => 0,
        (false, false) => 1,
    };
    assert_eq!(ran.code, code, "{}", ran.err);
    documents
}

/// Flags that make a height doubtful, from docs/errors.md.
const DOUBTFUL: [&str; 4] = [
    "clock_in_doubt",
    "landing_beside",
    "improbable_height",
    "drop_landing",
];

fn codes(jump: &Value) -> Vec<&str> {
    let flags = jump["flags"].as_array().unwrap();
    flags
        .iter()
        .filter_map(|flag| flag["code"].as_str())
        .collect()
}

fn usable(document: &Value) -> bool {
    let jumps = document["jumps"].as_array().unwrap();
    jumps
        .iter()
        .any(|jump| !codes(jump).iter().any(|code| DOUBTFUL.contains(code)))
}

/// Position and soundness of each frame that comes, if any does.
fn frames_of(path: &Path) -> Option<BTreeMap<usize, bool>> {
    let clip = Clip::open(path).ok()?;
    let mut came = BTreeMap::new();
    let done = stamps(&clip, &DecodeOptions::default(), |stamp| {
        came.insert(stamp.index.0, !stamp.corrupt);
        ControlFlow::Continue(())
    });
    done.ok().map(|_| came)
}

/// Frames that the file holds and its edit list leaves out, as a trimmed clip does: they
/// are not lost, and nothing needs to be said of them.
fn left_out_by_edits(clip: &Path) -> usize {
    let listed = std::process::Command::new("ffprobe")
        .args(["-v", "error", "-select_streams", "v:0"])
        .args(["-show_entries", "packet=flags", "-of", "csv=p=0"])
        .arg(clip)
        .output()
        .expect("ffprobe");
    let listed = String::from_utf8_lossy(&listed.stdout).into_owned();
    listed.lines().filter(|flags| flags.contains('D')).count()
}

/// What the program told of one damaged clip.
struct Told<'a> {
    document: &'a Value,
    name: &'a str,
    seed: u64,
}

impl Told<'_> {
    fn check(&self, clip: &Path, frames: usize, tally: &Tally) {
        let Self {
            document,
            name,
            seed,
        } = self;
        let what = format!("{name}, seed {seed} ({}): {document}", mutate::way(*seed));
        tally.add(|t| &t.clips);
        if let Some(message) = document["error"]["message"].as_str() {
            assert!(
                !document["error"]["hint"].as_str().unwrap().is_empty(),
                "{what}"
            );
            tally.add(|t| &t.refused);
            if message.contains("memory") {
                tally.add(|t| &t.starved);
            }
            return;
        }
        let jumps = document["jumps"].as_array().unwrap();
        let warned = !document["warnings"].as_array().unwrap().is_empty();
        if warned {
            tally.add(|t| &t.warned);
        }
        if jumps.is_empty() {
            return;
        }
        tally.add(|t| &t.measured);
        let came = frames_of(clip).unwrap_or_else(|| panic!("{what}"));
        let lossy = came.len() < frames || came.values().any(|whole| !whole);
        if lossy {
            tally.add(|t| &t.lossy);
            let flagged = jumps.iter().all(|jump| {
                let codes = codes(jump);
                ["lost_frames", "corrupt_frames", "dropped_near_event"]
                    .iter()
                    .any(|code| codes.contains(code))
            });
            let sound = came.values().all(|whole| *whole);
            let left_out = || sound && came.len() + left_out_by_edits(clip) >= frames;
            assert!(
                warned || flagged || left_out(),
                "frames are lost and nothing is said: {what}"
            );
        }
        for jump in jumps {
            near_events(jump, &came, &what);
            holds_together(jump, &what);
        }
    }
}

/// A jump with a lost or damaged frame beside an event says so.
fn near_events(jump: &Value, came: &BTreeMap<usize, bool>, what: &str) {
    let last = *came.keys().next_back().unwrap();
    for event in ["takeoff", "landing"] {
        let frame = |at: usize| jump["frames"][event][at].as_u64().unwrap() as usize;
        let mut round = frame(0)..=frame(1);
        let harmed = round.any(|at| at <= last && came.get(&at) != Some(&true));
        let codes = codes(jump);
        let said = codes.contains(&"lost_frames") || codes.contains(&"corrupt_frames");
        assert!(!harmed || said, "harm at the {event} is kept quiet: {what}");
    }
}

/// Bounds hold the best value, and nobody jumps for minutes.
fn holds_together(jump: &Value, what: &str) {
    let number = |value: &Value| value.as_f64().unwrap();
    for (best, bounds) in [
        ("height_m", "height_bounds_m"),
        ("flight_time_s", "flight_time_bounds_s"),
        ("takeoff_s", "takeoff_bounds_s"),
        ("landing_s", "landing_bounds_s"),
    ] {
        let best = number(&jump[best]);
        let bounds = (number(&jump[bounds][0]), number(&jump[bounds][1]));
        assert!(bounds.0 <= best && best <= bounds.1, "{what}");
    }
    assert!((0.0..1.6).contains(&number(&jump["height_m"])), "{what}");
}

fn all(samples: &[&str], ways: u64, first: u64) {
    let (tally, since) = (Tally::default(), Instant::now());
    for name in samples {
        survives(name, first..first + ways, &tally);
        println!(
            "{name}: {tally:?} in {:.0} s",
            since.elapsed().as_secs_f64()
        );
    }
    assert_eq!(tally.clips.into_inner() as u64, ways * samples.len() as u64);
    // The damage must neither be harmless nor always the end.
    assert!(tally.refused.into_inner() > 0 && tally.measured.into_inner() > 0);
}

#[test]
fn a_slice_of_damaged_clips() {
    all(&SAMPLES, 12, 0);
}

/// `make soak`. UNDERFOOT_WAYS=200 takes so many ways for each clip instead of 2,000,
/// and UNDERFOOT_SAMPLES="cmj_60 cmj_120" only those clips.
#[test]
#[ignore = "takes an hour or more"]
fn every_damaged_clip() {
    let ways = std::env::var("UNDERFOOT_WAYS")
        .ok()
        .and_then(|ways| ways.parse().ok());
    let chosen = std::env::var("UNDERFOOT_SAMPLES").ok();
    let samples: Vec<&str> = match &chosen {
        Some(chosen) => chosen.split_whitespace().collect(),
        None => SAMPLES.to_vec(),
    };
    all(&samples, ways.unwrap_or(2000), 0);
}

/// `make soak`: the program under a tool that sees every use of memory that is none.
#[test]
#[ignore = "takes many minutes"]
fn memory_is_used_as_it_should_be() {
    let ways: u64 = 3;
    for name in ["cmj_60", "portrait_60"] {
        let bench = Bench::new();
        let whole = std::fs::read(bench.sample_as(name, "whole.mp4")).unwrap();
        for seed in 0..12 * ways {
            let clip = format!("{seed:03}.mp4");
            bench.write(&clip, mutate::damaged(&whole, 5000 + seed));
        }
        let program = assert_cmd::cargo::cargo_bin!("underfoot");
        let patch = floor(name);
        for clip in bench.names("") {
            // Frames are enough for the decoder; children are not followed.
            let output = std::process::Command::new("valgrind")
                .args(["--quiet", "--error-exitcode=99", "--leak-check=full"])
                .args(["--errors-for-leak-kinds=definite", "--num-callers=30"])
                .arg(program)
                .args([
                    "measure",
                    "--in-process",
                    "--no-keep",
                    "--json",
                    "--threads",
                    "1",
                ])
                .args(["--floor", &patch, &clip])
                .current_dir(bench.path())
                .output()
                .expect("valgrind");
            let err = String::from_utf8_lossy(&output.stderr).into_owned();
            let code = output.status.code();
            assert!(
                code.is_some_and(|code| code <= 2),
                "{name}, {clip}: {code:?}\n{err}"
            );
        }
        println!("{name}: {} clips without a fault", 12 * ways + 1);
    }
}
