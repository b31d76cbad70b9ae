//! Paints what moves over the empty place, moment by moment.

use super::camera::Camera;
use super::outline::{Colour, Part, Point};
use super::raster::{Filler, Rect};

/// Directions from which the lamps shine, per moment.
const LAMPS: usize = 3;
type Polygon = Vec<[f32; 2]>;

/// One moment, projected: shadows of each lamp and the things themselves.
struct Moment {
    shadows: Vec<Vec<Polygon>>,
    things: Vec<(Polygon, Colour)>,
}

/// The working memory of one frame.
pub(super) struct Stage<'a> {
    camera: &'a Camera,
    shake: [f64; 2],
    filler: Filler,
    work: Vec<Colour>,
    sum: Vec<Colour>,
    shade: Vec<f32>,
    lamp: Vec<f32>,
}

impl<'a> Stage<'a> {
    pub(super) fn new(camera: &'a Camera, shake: [f64; 2]) -> Self {
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
    pub(super) fn expose_band(&mut self, light: &mut [Colour], clip: &Rect, start: f64) {
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
        if floor.is_empty() {
            return;
        }
        let place =
            |x: i32, y: i32| (y - floor.y0) as usize * floor.width() + (x - floor.x0) as usize;
        let area = floor.width() * floor.height();
        self.shade.clear();
        self.shade.resize(area, 0.0);
        for polygons in lamps {
            self.lamp.clear();
            self.lamp.resize(area, 0.0);
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
        let above = self.work.len() - area;
        for (pixel, shade) in self.work[above..].iter_mut().zip(&self.shade) {
            let left = 1.0 - strength * shade;
            *pixel = pixel.map(|c| c * left);
        }
    }
}
