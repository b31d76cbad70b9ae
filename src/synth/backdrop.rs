//! Wall and floor, drawn once for a clip in linear light.

use super::outline::{Colour, dim};
use super::random::{Rng, mix};
use super::scene::{Floor, Scene, Wall};

/// How far the picture rises for a metre of depth, against a metre of height.
pub(super) const TILT: f64 = 0.15;
/// Distance of the wall behind the athlete.
pub(super) const WALL_DEPTH_M: f64 = 1.6;
/// Rows and columns drawn beyond the picture, for hand shake.
pub(super) const MARGIN: usize = 24;
/// Samples across a pixel in each direction.
const FINE: usize = 3;

/// The empty place.
pub(super) struct Backdrop {
    width: usize,
    pixels: Vec<Colour>,
}

/// Maps between world and picture.
#[derive(Clone, Copy)]
pub(super) struct Projection {
    pub(super) centre_x: f64,
    pub(super) floor_y: f64,
    pub(super) scale: f64,
}

impl Projection {
    pub(super) fn new(scene: &Scene) -> Self {
        Self {
            centre_x: scene.stance[0] * f64::from(scene.width_px),
            floor_y: scene.stance[1] * f64::from(scene.height_px),
            scale: scene.pixels_per_metre,
        }
    }

    /// Picture position of a world point, pixel corners at whole numbers.
    pub(super) fn see(&self, [right, depth, up]: [f64; 3]) -> [f64; 2] {
        [
            self.centre_x + self.scale * right,
            self.floor_y - self.scale * (up + TILT * depth),
        ]
    }

    /// First row of the floor under the wall.
    pub(super) fn wall_foot_y(&self) -> f64 {
        self.see([0.0, WALL_DEPTH_M, 0.0])[1]
    }
}

impl Backdrop {
    pub(super) fn draw(scene: &Scene) -> Self {
        let width = scene.width_px as usize + 2 * MARGIN;
        let height = scene.height_px as usize + 2 * MARGIN;
        let texture = Texture::new(scene);
        let mut pixels = Vec::with_capacity(width * height);
        for row in 0..height {
            for column in 0..width {
                let mut sum = [0.0f32; 3];
                for fine in 0..FINE * FINE {
                    let part = |n: usize| (n as f64 + 0.5) / FINE as f64 - MARGIN as f64;
                    let x = column as f64 + part(fine % FINE);
                    let y = row as f64 + part(fine / FINE);
                    let colour = texture.at(x, y);
                    for axis in 0..3 {
                        sum[axis] += colour[axis];
                    }
                }
                pixels.push(sum.map(|s| s / (FINE * FINE) as f32));
            }
        }
        Self { width, pixels }
    }

    /// The picture shifted by a fraction of a pixel, `width` x `height`.
    pub(super) fn shifted(&self, [dx, dy]: [f64; 2], width: usize, height: usize) -> Vec<Colour> {
        let clamp = |d: f64| d.clamp(3.0 - MARGIN as f64, MARGIN as f64 - 3.0);
        let (x0, wx) = taps(MARGIN as f64 - clamp(dx));
        let (y0, wy) = taps(MARGIN as f64 - clamp(dy));
        let rows = self.pixels.chunks_exact(self.width);
        if wx[1] == 1.0 && wy[1] == 1.0 {
            return rows
                .skip(y0 + 1)
                .take(height)
                .flat_map(|row| row.iter().skip(x0 + 1).take(width).copied())
                .collect();
        }
        let rows: Vec<&[Colour]> = rows.collect();
        let mut out = Vec::with_capacity(width * height);
        let mut column_sums = vec![[0.0f32; 3]; width + 3];
        for y in 0..height {
            column_sums.fill([0.0; 3]);
            for (row, weight) in rows[y + y0..y + y0 + 4].iter().zip(wy) {
                for (sum, pixel) in column_sums.iter_mut().zip(&row[x0..]) {
                    for axis in 0..3 {
                        sum[axis] += weight * pixel[axis];
                    }
                }
            }
            out.extend(column_sums.windows(4).map(|four| {
                [0, 1, 2].map(|axis| {
                    let sum: f32 = four.iter().zip(wx).map(|(p, w)| p[axis] * w).sum();
                    sum.max(0.0)
                })
            }));
        }
        out
    }
}

/// First of four neighbours and their weights (Keys 1981, "Cubic convolution
/// interpolation", a = -1/2), for a position that is a whole pixel when it has
/// no fraction.
fn taps(at: f64) -> (usize, [f32; 4]) {
    let whole = at.floor();
    let t = (at - whole) as f32;
    let weights = [
        t * (-0.5 + t * (1.0 - 0.5 * t)),
        1.0 + t * t * (1.5 * t - 2.5),
        t * (0.5 + t * (2.0 - 1.5 * t)),
        t * t * (0.5 * t - 0.5),
    ];
    (whole as usize - 1, weights)
}

struct Texture {
    projection: Projection,
    floor: Floor,
    wall: Wall,
    light: f32,
    seed: u64,
    wall_light: f32,
}

impl Texture {
    fn new(scene: &Scene) -> Self {
        let mut rng = Rng::new(scene.seed, 0xBACC);
        Self {
            projection: Projection::new(scene),
            floor: scene.floor,
            wall: scene.wall,
            light: scene.floor_luminance as f32,
            seed: rng.bits(),
            wall_light: rng.between(0.3, 0.5) as f32,
        }
    }

    fn at(&self, x: f64, y: f64) -> Colour {
        let Projection {
            centre_x,
            floor_y,
            scale,
        } = self.projection;
        let right = (x - centre_x) / scale;
        let foot = self.projection.wall_foot_y();
        if y < foot {
            self.wall_at(right, (foot - y) / scale)
        } else {
            self.floor_at(right, (floor_y - y) / (scale * TILT))
        }
    }

    fn floor_at(&self, right: f64, depth: f64) -> Colour {
        let grain = |size: f64, stretch: f64| {
            self.noise(right / size + 40.0, depth / (size * stretch) + 40.0)
        };
        match self.floor {
            Floor::Plain => dim([1.0, 1.0, 0.97], self.light),
            Floor::Boards => self.boards(right, depth),
            Floor::Grass => {
                let tone = 0.55 + 0.55 * grain(0.012, 5.0) + 0.35 * grain(0.3, 3.0);
                dim([0.75, 1.18, 0.35], self.light * tone)
            }
            Floor::Tiles => {
                let joint = |at: f64, size: f64| {
                    (at.rem_euclid(size) - 0.5 * size).abs() > 0.5 * size - 0.006
                };
                let cell = self.cell((right / 0.3).floor() as i64, (depth / 0.3).floor() as i64);
                // A joint lying across the view covers hardly a pixel row.
                let seam = joint(right, 0.3) || joint(depth - 0.1, 0.3);
                let tone = if seam {
                    1.35
                } else {
                    0.93 + 0.1 * cell + 0.06 * grain(0.05, 3.0)
                };
                dim([1.05, 0.99, 0.93], self.light * tone)
            }
        }
    }

    /// Boards that run towards the wall, and a painted line across them.
    fn boards(&self, right: f64, depth: f64) -> Colour {
        let board = (right / 0.11).floor();
        let tone = 0.9 + 0.16 * self.cell(board as i64, (depth / 1.9 + 7.0 * board).floor() as i64);
        let fibre = self.noise(right / 0.006, depth / 0.5 + 31.0 * board);
        let seam = right.rem_euclid(0.11) < 0.004;
        let light = self.light * (tone + 0.07 * fibre - 0.03) * if seam { 0.6 } else { 1.0 };
        if (0.62..0.95).contains(&depth) {
            return dim([0.35, 0.75, 1.9], light);
        }
        dim([1.32, 0.96, 0.55], light)
    }

    fn wall_at(&self, right: f64, up: f64) -> Colour {
        // Lamps above: the wall grows a little darker towards the floor.
        let light = self.wall_light * (0.85 + 0.08 * up as f32).min(1.1);
        if up < 0.09 {
            return dim([0.55, 0.53, 0.5], light);
        }
        match self.wall {
            Wall::Plain => dim([1.0, 0.98, 0.92], light),
            Wall::Plaster => {
                let rough = 0.1 * self.noise(right / 0.03, up / 0.03)
                    + 0.12 * self.noise(right / 0.4, up / 0.4);
                dim([1.0, 0.97, 0.88], light * (0.9 + rough))
            }
            Wall::Bricks => self.bricks(right, up, light),
            Wall::Bars => {
                let post = right.rem_euclid(0.95) < 0.06;
                let bar = up.rem_euclid(0.16) < 0.04 && up > 0.2;
                match (post, bar) {
                    (true, _) => dim([0.85, 0.6, 0.33], light),
                    (_, true) => dim([1.05, 0.75, 0.42], light),
                    _ => dim([1.0, 0.99, 0.95], 0.85 * light),
                }
            }
        }
    }

    fn bricks(&self, right: f64, up: f64, light: f32) -> Colour {
        let course = (up / 0.083).floor();
        let along = right
            + if course.rem_euclid(2.0) > 0.5 {
                0.125
            } else {
                0.0
            };
        if up.rem_euclid(0.083) < 0.012 || along.rem_euclid(0.25) < 0.012 {
            return dim([0.9, 0.87, 0.8], light);
        }
        let tone = 0.7 + 0.35 * self.cell((along / 0.25).floor() as i64, course as i64);
        let rough = 0.1 * self.noise(right / 0.012, up / 0.012);
        dim([0.95, 0.5, 0.36], light * (tone + rough))
    }

    /// A value from 0 to 1 for a cell of a grid.
    fn cell(&self, column: i64, row: i64) -> f32 {
        let key = (column as u64).wrapping_mul(0x1F35_0F37)
            ^ (row as u64).wrapping_mul(0xA24B_AED4_963E_E407);
        (mix(self.seed ^ key) >> 40) as f32 / (1u64 << 24) as f32
    }

    /// Smooth value noise from 0 to 1 with one lattice point per unit.
    fn noise(&self, x: f64, y: f64) -> f32 {
        let (cx, cy) = (x.floor(), y.floor());
        let smooth = |t: f64| (t * t * (3.0 - 2.0 * t)) as f32;
        let (tx, ty) = (smooth(x - cx), smooth(y - cy));
        let at = |dx: i64, dy: i64| self.cell(cx as i64 + dx, cy as i64 + dy);
        let low = at(0, 0) + tx * (at(1, 0) - at(0, 0));
        let high = at(0, 1) + tx * (at(1, 1) - at(0, 1));
        low + ty * (high - low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_floor_is_as_bright_as_stated() {
        for floor in [Floor::Plain, Floor::Boards, Floor::Grass, Floor::Tiles] {
            let scene = Scene {
                floor,
                floor_luminance: 0.3,
                ..Scene::default()
            };
            let drawn = Backdrop::draw(&scene).shifted([0.0, 0.0], 640, 360);
            let rows = &drawn[320 * 640..];
            let luma = |c: &Colour| 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2];
            let mean = rows.iter().map(luma).sum::<f32>() / rows.len() as f32;
            assert!((mean - 0.3).abs() < 0.03, "{floor:?} {mean}");
        }
    }

    #[test]
    fn a_whole_pixel_shift_moves_the_picture_exactly() {
        let backdrop = Backdrop::draw(&Scene::default());
        let still = backdrop.shifted([0.0, 0.0], 640, 360);
        let moved = backdrop.shifted([2.0, -1.0], 640, 360);
        assert_eq!(still[101 * 640 + 50], moved[100 * 640 + 52]);
    }
}
