//! A small piece of a picture, and finding it again in another.
//!
//! Normalised cross-correlation, whole windows at once, below one pixel by a
//! parabola through the peak. Large pieces are first found at half size.

use multiversion::multiversion;

use super::grey::Grey;
use super::tiles::PathPoint;

/// The frames to follow tiles in, each also at half its size.
#[derive(Default)]
pub(in crate::video) struct Film {
    pub(in crate::video) times: Vec<f64>,
    pub(in crate::video) frames: Vec<Grey>,
    halves: Vec<Grey>,
}

impl Film {
    pub(in crate::video) fn push(&mut self, time_s: f64, frame: Grey) {
        if let Some(half) = frame.halved() {
            self.times.push(time_s);
            self.halves.push(half);
            self.frames.push(frame);
        }
    }

    /// Goes on with the frames of a later film.
    pub(in crate::video) fn append(&mut self, later: Self) {
        self.times.extend(later.times);
        self.frames.extend(later.frames);
        self.halves.extend(later.halves);
    }

    /// Bytes of the pictures held.
    pub(in crate::video) fn bytes(&self) -> usize {
        let one = self.frames.last().map_or(0, |f| f.width() * f.height());
        self.frames.len() * (one + one / 4)
    }

    /// Lets go of all frames before a time.
    pub(in crate::video) fn forget_before(&mut self, time_s: f64) {
        let count = self.times.partition_point(|&t| t < time_s);
        self.times.drain(..count);
        self.frames.drain(..count);
        self.halves.drain(..count);
    }

    /// Frame nearest to a time, the later one of two equally near.
    pub(in crate::video) fn nearest(&self, t: f64) -> Option<usize> {
        let after = self.times.partition_point(|&x| x < t);
        let before = after.checked_sub(1);
        let earlier = before.filter(|&k| {
            self.times
                .get(after)
                .is_none_or(|later| t - self.times[k] < later - t)
        });
        earlier.or((after < self.times.len()).then_some(after))
    }

    /// Capture times in seconds.
    pub(in crate::video) fn times(&self) -> &[f64] {
        &self.times
    }
}

/// Worst likeness at which a tile still counts as found.
const LOST: f64 = 0.6;

/// Half height and half width of a tile.
#[derive(Clone, Copy)]
pub(in crate::video) struct Half {
    pub(in crate::video) h: usize,
    pub(in crate::video) w: usize,
}

impl Half {
    /// A tile's size for a patch of the given height.
    pub(in crate::video) fn of(patch_height: f64) -> Self {
        let part = |share: f64| ((share * patch_height).round() as usize).max(3);
        Self {
            h: part(0.13),
            w: part(0.16),
        }
    }
}

/// A tile cut from its first frame, with its mean taken out.
pub(in crate::video) struct Template {
    pub(in crate::video) x: usize,
    pub(in crate::video) y: usize,
    pub(in crate::video) half: Half,
    values: Vec<f32>,
    norm: f32,
}

impl Template {
    fn cut(picture: &Grey, x: usize, y: usize, half: Half) -> Option<Self> {
        const PLAIN: f32 = 1.5;
        let mut values = Vec::with_capacity((2 * half.w + 1) * (2 * half.h + 1));
        for row in y - half.h..=y + half.h {
            let part = &picture.row(row)[x - half.w..=x + half.w];
            values.extend(part.iter().map(|&v| f32::from(v)));
        }
        let count = values.len() as f32;
        let mean = values.iter().sum::<f32>() / count;
        values.iter_mut().for_each(|v| *v -= mean);
        let norm = values.iter().map(|v| v * v).sum::<f32>().sqrt();
        (norm > PLAIN * count.sqrt()).then_some(Self {
            x,
            y,
            half,
            values,
            norm,
        })
    }

    /// Correlations with the picture for all centres of the window, row by row.
    fn likenesses(&self, picture: &Grey, window: &Window) -> Vec<f32> {
        let scene = Scene::cut(picture, window, self.half);
        let mut map = vec![0.0; window.width() * window.height()];
        correlate(self, &scene, window.width(), &mut map);
        map
    }
}

/// Centres of a row that are correlated together, and rows of them: enough to fill a
/// processor's vectors and to keep it busy while sums are added up, few enough to stay in
/// its registers.
const LANES: usize = 8;
const ROWS: usize = 4;

/// Fills `map`, rows of `width`, with the correlations at all centres.
#[multiversion(targets("x86_64+avx2"))]
fn correlate(template: &Template, scene: &Scene, width: usize, map: &mut [f32]) {
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
struct Scene {
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
    fn cut(picture: &Grey, window: &Window, half: Half) -> Self {
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
        of(&mut self.sums, |v| u32::from(v));
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

/// A tile, and for a large one its half-size twin, with which it is found roughly.
pub(in crate::video) struct Tile {
    pub(in crate::video) full: Template,
    rough: Option<Template>,
}

impl Tile {
    /// The tile round (`x`, `y`); `None` where the picture is plain.
    pub(in crate::video) fn cut(
        film: &Film,
        frame: usize,
        x: usize,
        y: usize,
        half: Half,
    ) -> Option<Self> {
        const LARGE: usize = 6;
        let smaller = Half {
            h: half.h / 2,
            w: half.w / 2,
        };
        let fits = x / 2 > smaller.w && y / 2 > smaller.h;
        Some(Self {
            full: Template::cut(&film.frames[frame], x, y, half)?,
            rough: (half.h >= LARGE && fits)
                .then(|| Template::cut(&film.halves[frame], x / 2, y / 2, smaller))
                .flatten(),
        })
    }

    /// Where the tile was cut.
    pub(in crate::video) fn place(&self, film: &Film, frame: usize) -> PathPoint {
        PathPoint {
            frame,
            t: film.times[frame],
            y: self.full.y as f64,
            x: self.full.x as f64,
            likeness: 1.0,
        }
    }

    /// The tile as it looks where it was found; `None` too near the edge.
    pub(in crate::video) fn recut(
        film: &Film,
        frame: usize,
        found: &PathPoint,
        half: Half,
    ) -> Option<Self> {
        let (x, y) = (found.x.round() as usize, found.y.round() as usize);
        let picture = &film.frames[frame];
        // One pixel to spare: half-size pictures round down.
        let inside = x > half.w + 1
            && y > half.h + 1
            && x + half.w + 2 < picture.width()
            && y + half.h + 2 < picture.height();
        inside.then(|| Self::cut(film, frame, x, y, half)).flatten()
    }

    /// Best place in the window, below one pixel.
    pub(in crate::video) fn find(
        &self,
        film: &Film,
        frame: usize,
        columns: (f64, f64),
        rows: (f64, f64),
    ) -> Option<PathPoint> {
        let window =
            |picture: &Grey, half: Half, columns, rows| Window::new(picture, half, columns, rows);
        let full = &film.frames[frame];
        let Some(rough) = &self.rough else {
            return find(
                &self.full,
                full,
                &window(full, self.full.half, columns, rows)?,
            );
        };
        // A centre at x in full size lies at (x - 0.5) / 2 in half size.
        let shrink = |(lo, hi): (f64, f64)| (0.5 * lo - 0.5, 0.5 * hi);
        let small = &film.halves[frame];
        let at = find(
            rough,
            small,
            &window(small, rough.half, shrink(columns), shrink(rows))?,
        )?;
        let offset = |full: usize, half: usize| full as f64 - 2.0 * half as f64;
        let near =
            |small: f64, offset: f64| (2.0 * small + offset - 2.0, 2.0 * small + offset + 2.0);
        let columns = near(at.x, offset(self.full.x, rough.x));
        let rows = near(at.y, offset(self.full.y, rough.y));
        find(
            &self.full,
            full,
            &window(full, self.full.half, columns, rows)?,
        )
    }
}

/// Where to look for a tile: centre columns and rows, both ends included.
struct Window {
    x: (usize, usize),
    y: (usize, usize),
}

impl Window {
    fn width(&self) -> usize {
        self.x.1 - self.x.0 + 1
    }

    fn height(&self) -> usize {
        self.y.1 - self.y.0 + 1
    }

    /// Limits the wanted window to where the tile fits; `None` when too little is left.
    fn new(picture: &Grey, half: Half, x: (f64, f64), y: (f64, f64)) -> Option<Self> {
        let clamp = |(lo, hi): (f64, f64), margin: usize, size: usize| {
            let last = size.checked_sub(margin + 1)?;
            let lo = (lo.floor().max(margin as f64)) as usize;
            let hi = (hi.ceil().max(0.0) as usize).min(last);
            (lo + 2 <= hi).then_some((lo, hi))
        };
        Some(Self {
            x: clamp(x, half.w, picture.width())?,
            y: clamp(y, half.h, picture.height())?,
        })
    }
}

/// Best place of the tile in the window, below one pixel.
fn find(template: &Template, picture: &Grey, window: &Window) -> Option<PathPoint> {
    let (w, h) = (window.width(), window.height());
    let map = template.likenesses(picture, window);
    let (best, &peak) = map.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
    let (ix, iy) = (best % w, best / w);
    if f64::from(peak) < LOST {
        return None;
    }
    let at = |x: usize, y: usize| map[y * w + x];
    let across = |lo: Option<f32>, hi: Option<f32>| match (lo, hi) {
        (Some(lo), Some(hi)) => vertex(lo, peak, hi),
        _ => 0.0,
    };
    let dy = across(
        iy.checked_sub(1).map(|y| at(ix, y)),
        (iy + 1 < h).then(|| at(ix, iy + 1)),
    );
    let dx = across(
        ix.checked_sub(1).map(|x| at(x, iy)),
        (ix + 1 < w).then(|| at(ix + 1, iy)),
    );
    Some(PathPoint {
        frame: 0,
        t: 0.0,
        y: (window.y.0 + iy) as f64 + dy,
        x: (window.x.0 + ix) as f64 + dx,
        likeness: f64::from(peak),
    })
}

/// Offset of the top of the parabola through three neighbours, within half a pixel.
fn vertex(before: f32, peak: f32, after: f32) -> f64 {
    let bend = before - 2.0 * peak + after;
    if bend > -1e-9 {
        return 0.0;
    }
    f64::from(0.5 * (before - after) / bend).clamp(-0.5, 0.5)
}
