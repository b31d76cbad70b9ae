//! Normalised cross-correlation at many places at once.
//!
//! Each place's sum is added up in the same order whatever the processor's vectors hold,
//! so that the numbers are the same everywhere.

use multiversion::multiversion;

use super::{Half, Template, Window};
use crate::video::grey::Grey;

/// Centres of a row that are correlated together, and rows of them: enough to fill a
/// processor's vectors and to keep it busy while sums are added up, few enough to stay in
/// its registers.
const LANES: usize = 8;
const ROWS: usize = 4;

/// Fills `map`, rows of `width`, with the correlations at all centres.
#[multiversion(targets("x86_64+avx2"))]
pub(super) fn correlate(template: &Template, scene: &Scene, width: usize, map: &mut [f32]) {
    let (count, norm) = (template.values.len() as f32, template.norm);
    for (block, rows) in map.chunks_mut(ROWS * width).enumerate() {
        for x in (0..width).step_by(LANES) {
            let products = products(template, scene, x, ROWS * block);
            for (k, (row, products)) in rows.chunks_mut(width).zip(products).enumerate() {
                let (sums, squares) = scene.sums(x, ROWS * block + k);
                let likeness = |lane: usize| {
                    let spread = squares[lane] - sums[lane] * sums[lane] / count;
                    products[lane] / (norm * spread.max(1.0).sqrt())
                };
                let likenesses: [f32; LANES] = std::array::from_fn(likeness);
                let lanes = LANES.min(width - x);
                row[x..x + lanes].copy_from_slice(&likenesses[..lanes]);
            }
        }
    }
}

/// Sums of products for [`ROWS`] times [`LANES`] neighbouring centres.
#[inline(always)]
fn products(template: &Template, scene: &Scene, x: usize, y: usize) -> [[f32; LANES]; ROWS] {
    let mut sums = [[0.0; LANES]; ROWS];
    let width = 2 * template.half.w + 1;
    for (row, mine) in template.values.chunks_exact(width).enumerate() {
        let part = |k: usize| {
            let part = scene.row(y + row + k, x, width + LANES - 1);
            part.array_windows::<LANES>()
        };
        let upper = part(0).zip(part(1));
        let lower = part(2).zip(part(3));
        for (((a, b), (c, d)), &m) in upper.zip(lower).zip(mine) {
            for (sums, seen) in sums.iter_mut().zip([a, b, c, d]) {
                for (sum, &p) in sums.iter_mut().zip(seen) {
                    *sum += m * p;
                }
            }
        }
    }
    sums
}

/// The part of a picture that a window touches, ready for many correlations.
pub(super) struct Scene {
    /// Values of a row and [`LANES`] more, and [`ROWS`] more rows, so that the last
    /// centres need no care.
    stride: usize,
    values: Vec<f32>,
    /// Sums of values and of squares under the template, by centre; with [`LANES`] more
    /// in each row.
    centres: usize,
    sums: Vec<f32>,
    squares: Vec<f32>,
}

impl Scene {
    pub(super) fn cut(picture: &Grey, window: &Window, half: Half) -> Self {
        let (centres, heights) = (window.width(), window.height());
        let (w, h) = (centres + 2 * half.w, heights + 2 * half.h);
        let (left, top) = (window.x.0 - half.w, window.y.0 - half.h);
        let stride = w + LANES;
        let mut values = vec![0.0; stride * (h + ROWS)];
        let mut table = Table::new(w);
        for (y, out) in values.chunks_exact_mut(stride).take(h).enumerate() {
            let row = &picture.row(top + y)[left..left + w];
            for (value, &v) in out.iter_mut().zip(row) {
                *value = f32::from(v);
            }
            table.add(row);
        }
        let span = (2 * half.w + 1, 2 * half.h + 1);
        Self {
            stride,
            values,
            centres,
            sums: under(&table.sums, w + 1, span, (centres, heights)),
            squares: under(&table.squares, w + 1, span, (centres, heights)),
        }
    }

    #[inline(always)]
    fn row(&self, y: usize, x: usize, count: usize) -> &[f32] {
        let start = y * self.stride + x;
        &self.values[start..start + count]
    }

    #[inline(always)]
    fn sums(&self, x: usize, y: usize) -> (&[f32], &[f32]) {
        let start = y * (self.centres + LANES) + x;
        let lanes = start..start + LANES;
        (&self.sums[lanes.clone()], &self.squares[lanes])
    }
}

/// Sums of all above and left: whole numbers, so that no order of adding makes a
/// difference. They may run over; differences come out right.
struct Table {
    /// Places of a row.
    stride: usize,
    sums: Vec<u32>,
    squares: Vec<u32>,
}

impl Table {
    fn new(w: usize) -> Self {
        let stride = w + 1;
        Self {
            stride,
            sums: vec![0; stride],
            squares: vec![0; stride],
        }
    }

    fn add(&mut self, row: &[u8]) {
        let of = |sums: &mut Vec<u32>, value: fn(u8) -> u32| {
            let above = sums.len() - self.stride;
            let mut left = 0u32;
            sums.push(0);
            sums.extend(row.iter().map(|&v| {
                left = left.wrapping_add(value(v));
                left
            }));
            let (above, new) = sums[above..].split_at_mut(self.stride);
            for (new, above) in new.iter_mut().zip(above) {
                *new = new.wrapping_add(*above);
            }
        };
        of(&mut self.sums, u32::from);
        of(&mut self.squares, |v| u32::from(v) * u32::from(v));
    }
}

/// What a table says of rectangles of one size, by the place of their corner.
fn under(
    table: &[u32],
    stride: usize,
    (wide, high): (usize, usize),
    (centres, heights): (usize, usize),
) -> Vec<f32> {
    let mut sums = Vec::with_capacity((centres + LANES) * heights);
    for y in 0..heights {
        let part = |x: usize, y: usize| &table[y * stride + x..][..centres];
        let upper = part(0, y).iter().zip(part(wide, y));
        let lower = part(0, y + high).iter().zip(part(wide, y + high));
        sums.extend(upper.zip(lower).map(|((a, b), (c, d))| {
            let sum = d.wrapping_add(*a).wrapping_sub(*b).wrapping_sub(*c);
            sum as f32
        }));
        sums.extend([0.0; LANES]);
    }
    sums
}
