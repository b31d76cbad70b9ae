//! Films the scene: when each frame and row is exposed, and what it sees.

use std::f64::consts::{PI, TAU};
use std::sync::OnceLock;

use super::backdrop::{Backdrop, MARGIN, Projection};
use super::bystanders;
use super::figure::{Figure, Outfit};
use super::motion::Motion;
use super::outline::{Colour, Part};
use super::picture::{Picture, Transfer, turned};
use super::random::Rng;
use super::raster::Rect;
use super::scene::{Flicker, Scene, Shake};
use super::stage::Stage;
use super::{G, SynthError};

/// Ticks of the file's clock in a second. Whole for 24, 25, 30, 50, 60, 120 and
/// 240 frames per second and for 30000/1001 and 60000/1001, and below the 65535
/// that MPEG-4 part 2 allows.
pub(super) const TICKS_PER_SECOND: u32 = 60_000;
/// Fewest moments averaged into an exposure.
const FEWEST_MOMENTS: usize = 8;
/// Most moments: an exposure of 33 ms needs no more.
const MOST_MOMENTS: usize = 48;
/// Rows of one rolling-shutter band are exposed within this time.
const BAND_S: f64 = 0.0002;
/// Values in the table of noise.
const NOISE_TABLE: usize = 1 << 16;

/// When a frame was captured and what the file says of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct FrameTime {
    pub(super) number: usize,
    pub(super) capture_s: f64,
    pub(super) ticks: i64,
}

/// A scene made ready to be filmed.
pub(super) struct Camera {
    pub(super) scene: Scene,
    pub(super) motion: Motion,
    pub(super) projection: Projection,
    /// Drawn when the first frame is filmed: the truth needs no picture.
    backdrop: OnceLock<Backdrop>,
    outfit: Outfit,
    frames: Vec<FrameTime>,
    dropped_s: Vec<f64>,
    noise: OnceLock<Vec<f32>>,
    transfer: Transfer,
    sway: [[f64; 2]; 6],
}

impl Camera {
    pub(super) fn new(scene: &Scene) -> Result<Self, SynthError> {
        scene.check()?;
        let (frames, dropped_s) = schedule(scene);
        let mut rng = Rng::new(scene.seed, 0x5EA);
        let mut sway = [[0.0; 2]; 6];
        for (index, wave) in sway.iter_mut().enumerate() {
            *wave = [
                [0.6, 1.0, 1.7][index % 3] * rng.between(0.9, 1.1),
                rng.between(0.0, TAU),
            ];
        }
        Ok(Self {
            motion: Motion::new(scene),
            projection: Projection::new(scene),
            backdrop: OnceLock::new(),
            outfit: Outfit::athlete(scene),
            frames,
            dropped_s,
            noise: OnceLock::new(),
            transfer: Transfer::bt709(),
            sway,
            scene: scene.clone(),
        })
    }

    /// The frames that reach the file.
    pub(super) fn frames(&self) -> &[FrameTime] {
        &self.frames
    }

    /// Capture times of the frames that do not.
    pub(super) fn dropped_s(&self) -> &[f64] {
        &self.dropped_s
    }

    /// Whether the sensor's rows are columns of the upright picture.
    fn scans_sideways(&self) -> bool {
        self.scene.rotate_deg % 180 == 90
    }

    pub(super) fn size(&self) -> (usize, usize) {
        (self.scene.width_px as usize, self.scene.height_px as usize)
    }

    /// Place of an upright row (or column, if the sensor lies sideways) in the
    /// sensor's order, from 0 (first) to 1.
    fn scan_part(&self, line: f64) -> f64 {
        let (width, height) = self.size();
        let lines = if self.scans_sideways() { width } else { height } as f64;
        if matches!(self.scene.rotate_deg, 90 | 180) {
            (lines - 1.0 - line) / lines
        } else {
            line / lines
        }
    }

    /// Shift of the picture by the hand, constant within a frame.
    fn shake(&self, time: f64) -> [f64; 2] {
        let Some(Shake { amplitude_px, hz }) = self.scene.shake else {
            return [0.0; 2];
        };
        let most = MARGIN as f64 - 4.0;
        [0, 3].map(|first| {
            let waves = &self.sway[first..first + 3];
            let sum: f64 = waves
                .iter()
                .map(|[ratio, phase]| (TAU * hz * ratio * time + phase).sin())
                .sum();
            (amplitude_px * sum * (2.0f64 / 3.0).sqrt()).clamp(-most, most)
        })
    }

    /// Films one frame.
    pub(super) fn expose(&self, index: usize) -> Picture {
        let frame = self.frames[index];
        let (width, height) = self.size();
        let middle = frame.capture_s + 0.5 * (self.scene.shutter_s + self.scene.rolling_readout_s);
        let shake = self.shake(middle);
        let backdrop = self.backdrop.get_or_init(|| Backdrop::draw(&self.scene));
        let mut light = backdrop.shifted(shake, width, height);
        let mut stage = Stage::new(self, shake);
        let lines = if self.scans_sideways() { width } else { height };
        let bands = ((self.scene.rolling_readout_s / BAND_S).ceil() as usize).clamp(1, lines);
        for band in 0..bands {
            let (from, to) = (band * lines / bands, (band + 1) * lines / bands);
            let (from_px, to_px) = (from as i32, to as i32);
            let clip = if self.scans_sideways() {
                Rect {
                    x0: from_px,
                    y0: 0,
                    x1: to_px,
                    y1: height as i32,
                }
            } else {
                Rect {
                    x0: 0,
                    y0: from_px,
                    x1: width as i32,
                    y1: to_px,
                }
            };
            let part = self.scan_part(0.5 * (from + to - 1) as f64);
            let start = frame.capture_s + self.scene.rolling_readout_s * part;
            stage.expose_band(&mut light, &clip, start);
        }
        self.read_out(light, &frame)
    }

    pub(super) fn moments(&self) -> usize {
        let fastest = self
            .scene
            .jumps
            .iter()
            .map(|jump| 0.5 * G * jump.flight_s)
            .fold(0.5, f64::max);
        let smear = fastest * self.scene.shutter_s * self.scene.pixels_per_metre;
        ((smear / 0.3).ceil() as usize).clamp(FEWEST_MOMENTS, MOST_MOMENTS)
    }

    /// Everything that moves, back to front.
    pub(super) fn cast(&self, time: f64) -> Vec<Part> {
        let scene = &self.scene;
        let mut others: Vec<(f64, Vec<Part>)> = Vec::new();
        for (index, passer) in scene.passers_by.iter().enumerate() {
            let lot = Rng::new(scene.seed, 0xAB + index as u64).bits();
            others.push((passer.depth_m, bystanders::passer_by(passer, time, lot)));
        }
        if let Some(ball) = &scene.ball {
            others.push((ball.depth_m, bystanders::ball(ball, time)));
        }
        others.push((0.0, Figure::athlete(scene, &self.motion, self.outfit, time)));
        others.sort_by(|a, b| b.0.total_cmp(&a.0));
        others.into_iter().flat_map(|(_, parts)| parts).collect()
    }

    /// Light of the lamps over a row's exposure, against its mean.
    fn lamp_light(&self, start: f64) -> f32 {
        let Some(Flicker {
            hz,
            amplitude,
            phase_rad,
        }) = self.scene.flicker
        else {
            return 1.0;
        };
        // The mean of a cosine over the exposure.
        let half = PI * hz * self.scene.shutter_s;
        let middle = start + 0.5 * self.scene.shutter_s;
        (1.0 + amplitude * half.sin() / half * (TAU * hz * middle + phase_rad).cos()) as f32
    }

    /// Lamps, noise, transfer curve, 8 bits, the sensor's own orientation.
    fn read_out(&self, mut light: Vec<Colour>, frame: &FrameTime) -> Picture {
        let (width, height) = self.size();
        let sideways = self.scans_sideways();
        let lines = if sideways { width } else { height };
        let gains: Vec<f32> = (0..lines)
            .map(|line| {
                let part = self.scan_part(line as f64);
                self.lamp_light(frame.capture_s + self.scene.rolling_readout_s * part)
            })
            .collect();
        let noise_table = self.noise.get_or_init(|| {
            let mut rng = Rng::new(self.scene.seed, 0x4015D);
            (0..NOISE_TABLE).map(|_| rng.normal() as f32).collect()
        });
        let mut rng = Rng::new(self.scene.seed, 0x4015E + frame.number as u64);
        let (read, shot) = (self.scene.noise.read as f32, self.scene.noise.shot as f32);
        for (y, row) in light.chunks_exact_mut(width).enumerate() {
            let start = rng.bits() as usize;
            for (x, pixel) in row.iter_mut().enumerate() {
                let gain = gains[if sideways { x } else { y }];
                let bright = pixel[1] * gain;
                let noise = (read * read + shot * shot * bright).sqrt()
                    * noise_table[(start + x) % NOISE_TABLE];
                *pixel = pixel.map(|c| self.transfer.at(c * gain + noise));
            }
        }
        Picture::of(&turned(light, width, height, self.scene.rotate_deg))
    }
}

/// Capture times and file stamps, and the capture times of dropped frames.
fn schedule(scene: &Scene) -> (Vec<FrameTime>, Vec<f64>) {
    let fps = scene.capture_rate.fps();
    let count = (scene.duration_s * fps + 1e-6) as usize;
    let mut rng = Rng::new(scene.seed, 0x71C5);
    let mut frames = Vec::with_capacity(count);
    let mut dropped_s = Vec::new();
    for number in 0..count {
        let nudge = |rng: &mut Rng, most: f64| {
            if number == 0 {
                0.0
            } else {
                rng.between(-most, most)
            }
        };
        let capture_s = number as f64 / fps + nudge(&mut rng, scene.timing.capture_jitter_s);
        let stamp = capture_s + nudge(&mut rng, scene.timing.stamp_jitter_s);
        let file = stamp * f64::from(scene.playback_slowdown);
        // The clip's clock starts with its first frame, so that one stays.
        if number > 0 && scene.timing.dropped.contains(&number) {
            dropped_s.push(capture_s);
            continue;
        }
        frames.push(FrameTime {
            number,
            capture_s,
            ticks: (file * f64::from(TICKS_PER_SECOND)).round() as i64,
        });
    }
    (frames, dropped_s)
}
