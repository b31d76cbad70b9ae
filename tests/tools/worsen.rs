//! Makes clips of known truth worse: `cargo run --release --example worsen -- FROM TO`.
//!
//! Of each clip with a sidecar in FROM, as `accuracy` reads them, TO gets every second,
//! fourth and eighth frame from every first frame on (as long as 24 a second are left), one
//! dim and noisy, and one that is compressed hard; sidecars with them. Clips on another clock
//! than the frames' own are left out: every few frames of those would be no clip that a
//! camera films. Needs the `ffmpeg` program.

use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result, bail, ensure};
use serde_json::{Value, json};

fn main() -> Result<()> {
    let folders: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    let [from, to] = &folders[..] else {
        bail!("give the folder of the clips, and one for what is made of them");
    };
    std::fs::create_dir_all(to)?;
    let mut made = 0;
    for entry in std::fs::read_dir(from)? {
        let path = entry?.path();
        if path.extension().is_some_and(|ending| ending == "json") {
            let text = std::fs::read_to_string(&path)?;
            let sidecar: Value = serde_json::from_str(&text)?;
            if is_plain(&sidecar) {
                made += worsen(from, to, &sidecar).with_context(|| path.display().to_string())?;
            }
        }
    }
    println!("{made} clips in {}", to.display());
    Ok(())
}

/// Whether the file's times are those of a camera that films evenly.
fn is_plain(sidecar: &Value) -> bool {
    const EVEN_S: f64 = 0.001;
    let times = |key: &str| -> Option<Vec<f64>> {
        let times = sidecar[key].as_array()?;
        times.iter().map(Value::as_f64).collect()
    };
    let Some(rate) = sidecar["capture_fps"].as_f64() else {
        return false;
    };
    let own = ["file_pts_s", "frame_capture_s"]
        .into_iter()
        .filter_map(times);
    let even = |times: &Vec<f64>| {
        let at = |k: usize| times[0] + k as f64 / rate;
        (0..times.len()).all(|k| (times[k] - at(k)).abs() < EVEN_S)
    };
    own.into_iter().all(|times| even(&times))
}

/// One thing that is done to a clip.
struct Worse {
    /// What its name ends in.
    name: String,
    /// FFmpeg's filter, and how hard it is compressed.
    filter: String,
    crf: &'static str,
    /// One frame of so many is kept, from this one on.
    every: u32,
    first: u32,
}

fn worsen(from: &Path, to: &Path, sidecar: &Value) -> Result<usize> {
    let rate = sidecar["capture_fps"].as_f64().context("no frame rate")?;
    let name = sidecar["name"].as_str().context("no name")?;
    let file = sidecar["file"].as_str().context("no file")?;
    let all = ways(rate);
    for worse in &all {
        let made = format!("{name}_{}", worse.name);
        let left = rate / f64::from(worse.every);
        let done = Command::new("ffmpeg")
            .args(["-v", "error", "-y", "-i"])
            .arg(from.join(file))
            .args(["-vf", &worse.filter, "-r", &left.to_string()])
            .args(["-c:v", "libx264", "-preset", "veryfast", "-crf", worse.crf])
            .args(["-pix_fmt", "yuv420p"])
            .arg(to.join(format!("{made}.mp4")))
            .status()
            .context("the ffmpeg program is needed; `make test` installs it")?;
        ensure!(done.success(), "ffmpeg made no {made}");
        let told = retold(sidecar, &made, left, f64::from(worse.first) / rate);
        std::fs::write(to.join(format!("{made}.json")), told.to_string())?;
    }
    Ok(all.len())
}

/// All that is done to a clip of this frame rate.
fn ways(rate: f64) -> Vec<Worse> {
    const FEWEST_FPS: f64 = 24.0;
    let whole = |name: &str, filter: &str, crf| Worse {
        name: name.to_owned(),
        filter: filter.to_owned(),
        crf,
        every: 1,
        first: 0,
    };
    let mut all = vec![
        whole(
            "dim",
            "eq=contrast=0.5:brightness=-0.18,noise=alls=9:allf=t:all_seed=5",
            "12",
        ),
        whole("hard", "null", "33"),
    ];
    let left = |every: u32| rate / f64::from(every);
    for every in [2, 4, 8] {
        for first in (0..every).filter(|_| left(every) >= FEWEST_FPS) {
            all.push(Worse {
                name: format!("every{every}_from{first}"),
                filter: format!(
                    "select='eq(mod(n\\,{every})\\,{first})',setpts=N/({})/TB",
                    left(every)
                ),
                crf: "12",
                every,
                first,
            });
        }
    }
    all
}

/// The sidecar of a clip that begins `later_s` later.
fn retold(sidecar: &Value, name: &str, rate: f64, later_s: f64) -> Value {
    let mut told = sidecar.clone();
    told["name"] = json!(name);
    told["file"] = json!(format!("{name}.mp4"));
    told["capture_fps"] = json!(rate);
    for key in ["frames", "frame_capture_s", "file_pts_s"] {
        // They speak of frames that are gone.
        told.as_object_mut().map(|told| told.remove(key));
    }
    let jumps = told["truth"]["jumps"].as_array_mut();
    for jump in jumps.into_iter().flatten() {
        for event in ["takeoff", "landing"] {
            if let Some(at_s) = jump[event].as_f64() {
                jump[event] = json!(at_s - later_s);
            }
        }
    }
    told
}
