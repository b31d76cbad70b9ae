//! The clips to be timed: drawn by our own renderer, encoded by the `ffmpeg`
//! program in several ways at once, kept for next time.

use std::io::Write;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail};
use underfoot::synth::{self, Jump, Noise, Picture, Rate, Scene, Wall};

/// Standing still is drawn so many times, each with its own noise, and shown in
/// an order that never repeats within as many pictures as encoders look back.
const IDLE_PICTURES: usize = 24;
const APART: usize = 10;

/// Seconds of the jump that are drawn picture by picture, round its take-off.
const BEFORE_S: f64 = 1.0;
const AFTER_S: f64 = 1.4;

/// One filmed jump, from which several clips are encoded.
pub struct Take {
    pub name: &'static str,
    width: u32,
    height: u32,
    fps: u32,
    pub length_s: f64,
    takeoff_s: f64,
    pub clips: Vec<Coded>,
}

/// One way to encode a take.
pub struct Coded {
    pub name: &'static str,
    /// Largest ratio to plain decoding that is wanted, and largest peak memory in MB.
    pub wanted: (f64, f64),
    options: String,
}

impl Coded {
    fn new(name: &'static str, wanted: (f64, f64), options: String) -> Self {
        Self {
            name,
            wanted,
            options,
        }
    }

    /// Where the clip is kept.
    pub fn path(&self, folder: &Path) -> PathBuf {
        folder.join(self.name).with_extension("mp4")
    }
}

/// H.264 as a phone's simple encoder makes it.
fn h264(group: u32, b_frames: u32, megabits: u32) -> String {
    format!(
        "-c:v libx264 -preset veryfast -b:v {megabits}M -bf {b_frames} -g {group} \
         -keyint_min {group} -sc_threshold 0 -pix_fmt yuv420p"
    )
}

/// HEVC of 8 or 10 bits.
fn hevc(group: u32, b_frames: u32, megabits: u32, pixels: &str) -> String {
    format!(
        "-c:v libx265 -preset ultrafast -b:v {megabits}M -tag:v hvc1 -pix_fmt {pixels} -x265-params \
         log-level=error:keyint={group}:min-keyint={group}:scenecut=0:bframes={b_frames}:open-gop=0"
    )
}

/// All takes and their clips.
pub fn takes() -> Vec<Take> {
    let (bits8, bits10) = ("yuv420p", "yuv420p10le");
    let short = (0.30, 150.0);
    let whole = (1.03, 150.0);
    let four_k = (0.40, 300.0);
    vec![
        Take {
            name: "1080p240",
            width: 1920,
            height: 1080,
            fps: 240,
            length_s: 6.0,
            takeoff_s: 2.63,
            clips: vec![
                Coded::new("h264", short, h264(240, 0, 50)),
                Coded::new("h264-b3", short, h264(240, 3, 50)),
                Coded::new("hevc8", short, hevc(240, 0, 50, bits8)),
                Coded::new("hevc8-b3", short, hevc(240, 3, 50, bits8)),
                Coded::new("hevc10", short, hevc(240, 0, 50, bits10)),
                Coded::new("hevc10-b3", short, hevc(240, 3, 50, bits10)),
                Coded::new("h264-whole", whole, h264(100_000, 0, 50)),
                Coded::new("hevc8-whole", whole, hevc(100_000, 0, 50, bits8)),
            ],
        },
        Take {
            name: "1080p240-30s",
            width: 1920,
            height: 1080,
            fps: 240,
            length_s: 30.0,
            takeoff_s: 17.4,
            clips: vec![Coded::new("h264-30s", (0.12, 150.0), h264(240, 0, 50))],
        },
        Take {
            name: "4k60",
            width: 3840,
            height: 2160,
            fps: 60,
            length_s: 10.0,
            takeoff_s: 5.21,
            clips: vec![
                Coded::new("4k-h264", four_k, h264(60, 0, 60)),
                Coded::new("4k-hevc8", four_k, hevc(60, 0, 60, bits8)),
            ],
        },
        Take {
            name: "720p120",
            width: 1280,
            height: 720,
            fps: 120,
            length_s: 6.0,
            takeoff_s: 3.37,
            clips: vec![Coded::new("720p-h264", short, h264(120, 0, 20))],
        },
    ]
}

impl Take {
    /// What is drawn: the jump alone. The rest of the clip is standing still.
    fn scene(&self) -> Scene {
        Scene {
            name: self.name.to_owned(),
            seed: 41,
            capture_rate: Rate::per_second(self.fps),
            duration_s: BEFORE_S + AFTER_S + 0.5,
            width_px: self.width,
            height_px: self.height,
            pixels_per_metre: 0.375 * f64::from(self.height),
            wall: Wall::Bars,
            shutter_s: 0.4 / f64::from(self.fps),
            noise: Noise {
                read: 0.001_5,
                shot: 0.014,
            },
            jumps: vec![Jump::new(BEFORE_S + 0.5, 0.5)],
            ..Scene::default()
        }
    }

    /// The floor patch that a person would mark.
    pub fn floor(&self) -> Result<[i32; 4]> {
        Ok(synth::truth(&self.scene())?.image.floor_box)
    }

    /// Draws and encodes the clips that `folder` lacks.
    pub fn film(&self, folder: &Path) -> Result<()> {
        let missing: Vec<&Coded> = self
            .clips
            .iter()
            .filter(|clip| !clip.path(folder).exists())
            .collect();
        if missing.is_empty() {
            return Ok(());
        }
        eprintln!("filming {} ({} clips)", self.name, missing.len());
        let mut encoder = self.encoder(folder, &missing)?;
        let mut pipe = encoder.stdin.take().context("no pipe to ffmpeg")?;
        self.draw(&mut pipe)?;
        drop(pipe);
        if !encoder.wait()?.success() {
            bail!("ffmpeg could not encode {}", self.name);
        }
        for clip in missing {
            std::fs::rename(clip.path(folder).with_extension("part"), clip.path(folder))?;
        }
        Ok(())
    }

    /// One `ffmpeg` that makes all missing clips of the pictures it is sent.
    fn encoder(&self, folder: &Path, missing: &[&Coded]) -> Result<std::process::Child> {
        let size = format!("{}x{}", self.width, self.height);
        let rate = self.fps.to_string();
        let mut ffmpeg = Command::new("ffmpeg");
        ffmpeg.args(["-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "yuv420p"]);
        ffmpeg.args(["-s", &size, "-r", &rate, "-i", "-"]);
        for clip in missing {
            ffmpeg.args(clip.options.split_whitespace());
            ffmpeg.args(["-f", "mp4"]);
            ffmpeg.arg(clip.path(folder).with_extension("part"));
        }
        ffmpeg
            .stdin(Stdio::piped())
            .spawn()
            .context("the ffmpeg program is needed to make the clips")
    }

    /// Sends all pictures of the clip.
    fn draw(&self, pipe: &mut impl Write) -> Result<()> {
        let scene = self.scene();
        let frames = |seconds: f64| (seconds * f64::from(self.fps)).round() as usize;
        let idle: Vec<Picture> = synth::pictures(&scene, 0..IDLE_PICTURES)?.collect();
        let first = frames(self.takeoff_s - BEFORE_S);
        let jump: Range<usize> = frames(0.5)..frames(0.5 + BEFORE_S + AFTER_S);
        let mut order = Shuffle::default();
        for _ in 0..first {
            send(&idle[order.next(idle.len())], pipe)?;
        }
        for picture in synth::pictures(&scene, jump.clone())? {
            send(&picture, pipe)?;
        }
        for _ in first + jump.len()..frames(self.length_s) {
            send(&idle[order.next(idle.len())], pipe)?;
        }
        Ok(())
    }
}

fn send(picture: &Picture, pipe: &mut impl Write) -> Result<()> {
    pipe.write_all(&picture.luma)?;
    pipe.write_all(&picture.chroma[0])?;
    pipe.write_all(&picture.chroma[1])?;
    Ok(())
}

/// Numbers in an order without near repeats; the same each time.
#[derive(Default)]
struct Shuffle {
    state: u64,
    recent: Vec<usize>,
}

impl Shuffle {
    fn next(&mut self, of: usize) -> usize {
        loop {
            // Knuth's linear congruential generator (MMIX).
            self.state = self
                .state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let number = (self.state >> 33) as usize % of;
            if !self.recent.contains(&number) {
                self.recent.push(number);
                if self.recent.len() > APART {
                    self.recent.remove(0);
                }
                return number;
            }
        }
    }
}
