//! A small piece of a picture, and finding it again in another.
//!
//! Normalised cross-correlation, whole windows at once, below one pixel by a
//! parabola through the peak. Large pieces are first found at half size.

mod scene;

use super::film::Film;
use super::grey::Grey;
use super::tiles::PathPoint;
use scene::{Scene, correlate};

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
