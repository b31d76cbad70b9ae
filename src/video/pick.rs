//! Picking the parts of a picture that are worth following.

use super::grey::{AreaSums, Grey};
use super::template::Half;

/// Where to pick tiles, and what counts as motion.
pub(in crate::video) struct Pick<'a> {
    pub(in crate::video) picture: &'a Grey,
    /// What moves differs from both of these.
    pub(in crate::video) others: [&'a Grey; 2],
    /// First and last centre row.
    pub(in crate::video) rows: (f64, f64),
    /// First and last centre column.
    pub(in crate::video) columns: (f64, f64),
    pub(in crate::video) half: Half,
    pub(in crate::video) wanted: usize,
}

/// The whole width of a picture.
pub(in crate::video) const EVERYWHERE: (f64, f64) = (0.0, f64::INFINITY);

impl Pick<'_> {
    /// Tile centres where motion and horizontal edges are strongest.
    pub(in crate::video) fn tiles(&self) -> Vec<(usize, usize)> {
        let (picture, half) = (self.picture, self.half);
        let (w, h) = (picture.width(), picture.height());
        let top = self.rows.0.max((half.h + 1) as f64) as usize;
        let bottom = (self.rows.1.max(0.0) as usize).min(h.saturating_sub(half.h + 1));
        let left = (half.w + 1).max(self.columns.0 as usize);
        let right = w.saturating_sub(half.w + 1).min(self.columns.1 as usize);
        if top >= bottom || left >= right {
            return Vec::new();
        }
        // Sums over what the tiles cover, and no more of the picture.
        let (x0, y0) = (left - half.w, top - half.h);
        let (wide, high) = (right + half.w - x0, bottom + half.h - y0);
        let [a, b] = self.others;
        let moved = AreaSums::new(wide, high, |x, y| {
            let at = |picture: &Grey| picture.row(y0 + y)[x0 + x];
            let here = at(picture);
            f32::from(here.abs_diff(at(a)).min(here.abs_diff(at(b))))
        });
        let edges = AreaSums::new(wide, high, |x, y| horizontal_edge(picture, x0 + x, y0 + y));
        let mut ranked = Vec::new();
        for y in (top..bottom).step_by((half.h / 2).max(1)) {
            for x in (left..right).step_by((half.w / 2).max(1)) {
                let (u, v) = (x - left, y - top);
                let under =
                    |sums: &AreaSums| sums.sum(u, v, u + 2 * half.w + 1, v + 2 * half.h + 1);
                ranked.push((under(&moved) * under(&edges), x, y));
            }
        }
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
        spread(&ranked, self.wanted, half)
    }
}

/// The strongest places that lie apart: one bright spot must not take all tiles,
/// since only the part of the shoe that leaves last and lands first tells the event.
fn spread(ranked: &[(f64, usize, usize)], wanted: usize, half: Half) -> Vec<(usize, usize)> {
    let mut kept: Vec<(usize, usize)> = Vec::with_capacity(wanted);
    for &(_, x, y) in ranked {
        let apart = |&(u, v): &(usize, usize)| u.abs_diff(x) >= half.w || v.abs_diff(y) >= half.h;
        if kept.iter().all(apart) {
            kept.push((x, y));
        }
        if kept.len() == wanted {
            break;
        }
    }
    kept
}

/// Strength of a horizontal edge (Sobel's vertical derivative).
fn horizontal_edge(picture: &Grey, x: usize, y: usize) -> f32 {
    if x == 0 || y == 0 || x + 1 >= picture.width() || y + 1 >= picture.height() {
        return 0.0;
    }
    let across = |row: &[u8]| i32::from(row[x - 1]) + 2 * i32::from(row[x]) + i32::from(row[x + 1]);
    (across(picture.row(y + 1)) - across(picture.row(y - 1))).unsigned_abs() as f32
}
