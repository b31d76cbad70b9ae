//! Films the scene: when each frame and row is exposed, and what it sees.

use std::f64::consts::{PI, TAU};

use super::backdrop::{Backdrop, MARGIN, Projection, TILT};
use super::figure::{self, Colour, Figure, Outfit, Part, Point};
use super::motion::Motion;
use super::random::Rng;
use super::raster::{Filler, Rect};
use super::scene::{Flicker, Scene, Shake};
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
/// Directions from which the lamps shine, per moment.
const LAMPS: usize = 3;
/// Values in the table of noise.
const NOISE_TABLE: usize = 1 << 16;

/// One frame as the sensor stores it: planar Y'CbCr 4:2:0 of BT.709, limited
/// range.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Stored width.
    pub width: usize,
    /// Stored height.
    pub height: usize,
    /// Luma, one byte a pixel, row by row.
    pub luma: Vec<u8>,
    /// Blue and red difference, a quarter of the size each.
    pub chroma: [Vec<u8>; 2],
}

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
    backdrop: Backdrop,
    outfit: Outfit,
    frames: Vec<FrameTime>,
    dropped_s: Vec<f64>,
    noise: Vec<f32>,
    gamma: Vec<f32>,
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
            backdrop: Backdrop::draw(scene),
            outfit: Outfit::athlete(scene),
            frames,
            dropped_s,
            noise: (0..NOISE_TABLE).map(|_| rng.normal() as f32).collect(),
            gamma: (0..=GAMMA_STEPS)
                .map(|step| transfer(step as f32 / GAMMA_STEPS as f32))
                .collect(),
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

    fn size(&self) -> (usize, usize) {
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
        let mut light = self.backdrop.shifted(shake, width, height);
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

    fn moments(&self) -> usize {
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
    fn cast(&self, time: f64) -> Vec<Part> {
        let scene = &self.scene;
        let mut others: Vec<(f64, Vec<Part>)> = Vec::new();
        for (index, passer) in scene.passers_by.iter().enumerate() {
            let lot = Rng::new(scene.seed, 0xAB + index as u64).bits();
            others.push((passer.depth_m, figure::passer_by(passer, time, lot)));
        }
        if let Some(ball) = &scene.ball {
            others.push((ball.depth_m, figure::ball(ball, time)));
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
        let mut rng = Rng::new(self.scene.seed, 0x4015E + frame.number as u64);
        let (read, shot) = (self.scene.noise.read as f32, self.scene.noise.shot as f32);
        for (y, row) in light.chunks_exact_mut(width).enumerate() {
            let start = rng.bits() as usize;
            for (x, pixel) in row.iter_mut().enumerate() {
                let gain = gains[if sideways { x } else { y }];
                let bright = pixel[1] * gain;
                let noise = (read * read + shot * shot * bright).sqrt()
                    * self.noise[(start + x) % NOISE_TABLE];
                *pixel = pixel.map(|c| self.curve(c * gain + noise));
            }
        }
        to_picture(&turned(light, width, height, self.scene.rotate_deg))
    }

    fn curve(&self, light: f32) -> f32 {
        let at = light.clamp(0.0, 1.0) * GAMMA_STEPS as f32;
        let step = (at as usize).min(GAMMA_STEPS - 1);
        let (low, high) = (self.gamma[step], self.gamma[step + 1]);
        low + (at - step as f32) * (high - low)
    }
}

const GAMMA_STEPS: usize = 4096;

/// Transfer curve of ITU-R BT.709, item 1.2.
fn transfer(light: f32) -> f32 {
    if light < 0.018 {
        4.5 * light
    } else {
        1.099 * light.powf(0.45) - 0.099
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

type Polygon = Vec<[f32; 2]>;

/// One moment, projected: shadows of each lamp and the things themselves.
struct Moment {
    shadows: Vec<Vec<Polygon>>,
    things: Vec<(Polygon, Colour)>,
}

/// The working memory of one frame.
struct Stage<'a> {
    camera: &'a Camera,
    shake: [f64; 2],
    filler: Filler,
    work: Vec<Colour>,
    sum: Vec<Colour>,
    shade: Vec<f32>,
    lamp: Vec<f32>,
}

impl<'a> Stage<'a> {
    fn new(camera: &'a Camera, shake: [f64; 2]) -> Self {
        Self {
            camera,
            shake,
            filler: Filler::default(),
            work: Vec::new(),
            sum: Vec::new(),
            shade: Vec::new(),
            lamp: Vec::new(),
        }
    }

    fn project(&self, outline: impl Iterator<Item = Point>) -> Polygon {
        outline
            .map(|point| {
                let [x, y] = self.camera.projection.see(point);
                [(x + self.shake[0]) as f32, (y + self.shake[1]) as f32]
            })
            .collect()
    }

    fn moment(&self, time: f64, turn: usize) -> Moment {
        let parts = self.camera.cast(time);
        let shadows = if self.camera.scene.shadow > 0.0 {
            (0..LAMPS)
                .map(|lamp| self.shadow(&parts, turn * LAMPS + lamp))
                .collect()
        } else {
            Vec::new()
        };
        let things = parts
            .into_iter()
            .map(|part| (self.project(part.outline.into_iter()), part.colour))
            .collect();
        Moment { shadows, things }
    }

    /// Where the light of one lamp throws the parts' outlines onto the floor.
    /// The lamps are spread, which softens the shadow of what is high up.
    fn shadow(&self, parts: &[Part], lamp: usize) -> Vec<Polygon> {
        // A golden-ratio sequence spreads any number of lamps evenly.
        let spread = |ratio: f64| (lamp as f64 * ratio).fract() - 0.5;
        let aside = -0.42 + 0.22 * spread(0.618_034);
        let back = 0.3 + 0.5 * spread(0.754_878);
        let fall = |[right, depth, up]: Point| [right + aside * up, depth + back * up, 0.0];
        parts
            .iter()
            .filter(|part| part.casts)
            .map(|part| self.project(part.outline.iter().map(|&point| fall(point))))
            .collect()
    }

    /// Averages the moments of one band's exposure into `light`.
    fn expose_band(&mut self, light: &mut [Colour], clip: &Rect, start: f64) {
        let count = self.camera.moments();
        let step = self.camera.scene.shutter_s / count as f64;
        // Lamps in another order than the moments, or the shadow would drift.
        let moments: Vec<Moment> = (0..count)
            .map(|n| self.moment(start + (n as f64 + 0.5) * step, (n * 5) % count))
            .collect();
        let touched = moments
            .iter()
            .flat_map(|moment| {
                let things = moment.things.iter().map(|(polygon, _)| polygon);
                things.chain(moment.shadows.iter().flatten())
            })
            .fold(Rect::EMPTY, |all, polygon| {
                all.join(&Rect::around(polygon).meet(clip))
            })
            .meet(clip);
        if touched.is_empty() {
            return;
        }
        let width = self.camera.size().0;
        self.sum.clear();
        self.sum
            .resize(touched.width() * touched.height(), [0.0; 3]);
        for moment in &moments {
            self.paint(light, width, &touched, moment);
            for (sum, pixel) in self.sum.iter_mut().zip(&self.work) {
                for axis in 0..3 {
                    sum[axis] += pixel[axis];
                }
            }
        }
        let share = 1.0 / count as f32;
        for (row, sums) in self.sum.chunks_exact(touched.width()).enumerate() {
            let at = (touched.y0 as usize + row) * width + touched.x0 as usize;
            for (pixel, sum) in light[at..at + touched.width()].iter_mut().zip(sums) {
                *pixel = sum.map(|s| s * share);
            }
        }
    }

    /// One moment over the empty place, into `work`.
    fn paint(&mut self, light: &[Colour], width: usize, rect: &Rect, moment: &Moment) {
        self.work.clear();
        for y in rect.y0 as usize..rect.y1 as usize {
            let row = &light[y * width..(y + 1) * width];
            self.work
                .extend_from_slice(&row[rect.x0 as usize..rect.x1 as usize]);
        }
        self.paint_shadows(rect, &moment.shadows);
        let place = |x: i32, y: i32| (y - rect.y0) as usize * rect.width() + (x - rect.x0) as usize;
        let work = &mut self.work;
        for (polygon, colour) in &moment.things {
            self.filler.fill(polygon, rect, |x, y, coverage| {
                let pixel = &mut work[place(x, y)];
                for axis in 0..3 {
                    pixel[axis] += coverage * (colour[axis] - pixel[axis]);
                }
            });
        }
    }

    fn paint_shadows(&mut self, rect: &Rect, lamps: &[Vec<Polygon>]) {
        if lamps.is_empty() {
            return;
        }
        let foot = self.camera.projection.wall_foot_y() + self.shake[1];
        let floor = Rect {
            y0: rect.y0.max(foot.ceil() as i32),
            ..*rect
        };
        let place = |x: i32, y: i32| (y - rect.y0) as usize * rect.width() + (x - rect.x0) as usize;
        self.shade.clear();
        self.shade.resize(self.work.len(), 0.0);
        for polygons in lamps {
            self.lamp.clear();
            self.lamp.resize(self.work.len(), 0.0);
            let lamp = &mut self.lamp;
            for polygon in polygons {
                self.filler.fill(polygon, &floor, |x, y, coverage| {
                    let dark = &mut lamp[place(x, y)];
                    *dark += coverage * (1.0 - *dark);
                });
            }
            for (shade, dark) in self.shade.iter_mut().zip(&self.lamp) {
                *shade += dark;
            }
        }
        let strength = self.camera.scene.shadow as f32 / lamps.len() as f32;
        for (pixel, shade) in self.work.iter_mut().zip(&self.shade) {
            let left = 1.0 - strength * shade;
            *pixel = pixel.map(|c| c * left);
        }
    }
}

/// Pixels with their width, in the sensor's orientation.
struct Stored {
    width: usize,
    height: usize,
    pixels: Vec<Colour>,
}

/// Turns the upright picture back to how the sensor stores it.
fn turned(pixels: Vec<Colour>, width: usize, height: usize, rotate_deg: u32) -> Stored {
    let (stored_w, stored_h) = if rotate_deg % 180 == 90 {
        (height, width)
    } else {
        (width, height)
    };
    if rotate_deg == 0 {
        return Stored {
            width,
            height,
            pixels,
        };
    }
    let mut out = Vec::with_capacity(pixels.len());
    for row in 0..stored_h {
        for column in 0..stored_w {
            let (x, y) = match rotate_deg {
                90 => (width - 1 - row, column),
                180 => (width - 1 - column, height - 1 - row),
                _ => (row, height - 1 - column),
            };
            out.push(pixels[y * width + x]);
        }
    }
    Stored {
        width: stored_w,
        height: stored_h,
        pixels: out,
    }
}

/// Y'CbCr of ITU-R BT.709, items 3.2 to 3.4, 8 bits, from R'G'B'.
fn to_picture(stored: &Stored) -> Picture {
    let Stored {
        width,
        height,
        pixels,
    } = stored;
    let grey = |[r, g, b]: Colour| 0.2126 * r + 0.7152 * g + 0.0722 * b;
    let byte = |value: f32| (value + 0.5).clamp(0.0, 255.0) as u8;
    let luma = pixels
        .iter()
        .map(|&p| byte(16.0 + 219.0 * grey(p)))
        .collect();
    let mut chroma = [Vec::new(), Vec::new()];
    for rows in pixels.chunks_exact(2 * width) {
        let (upper, lower) = rows.split_at(*width);
        for (a, b) in upper.chunks_exact(2).zip(lower.chunks_exact(2)) {
            let mean =
                [0, 1, 2].map(|axis| 0.25 * (a[0][axis] + a[1][axis] + b[0][axis] + b[1][axis]));
            let y = grey(mean);
            chroma[0].push(byte(128.0 + 224.0 * (mean[2] - y) / 1.8556));
            chroma[1].push(byte(128.0 + 224.0 * (mean[0] - y) / 1.5748));
        }
    }
    Picture {
        width: *width,
        height: *height,
        luma,
        chroma,
    }
}

/// Height in the picture of a point of the floor at some depth.
pub(super) fn floor_y(projection: &Projection, depth: f64) -> f64 {
    projection.floor_y - projection.scale * TILT * depth
}
