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
        let [a, b] = self.others;
        let moved = AreaSums::new(w, h, |x, y| {
            let here = picture.row(y)[x];
            f32::from(here.abs_diff(a.row(y)[x]).min(here.abs_diff(b.row(y)[x])))
        });
        let edges = AreaSums::new(w, h, |x, y| horizontal_edge(picture, x, y));
        let top = self.rows.0.max((half.h + 1) as f64) as usize;
        let bottom = (self.rows.1.max(0.0) as usize).min(h.saturating_sub(half.h + 1));
        let left = (half.w + 1).max(self.columns.0 as usize);
        let right = w.saturating_sub(half.w + 1).min(self.columns.1 as usize);
        let mut ranked = Vec::new();
        for y in (top..bottom).step_by((half.h / 2).max(1)) {
            for x in (left..right).step_by((half.w / 2).max(1)) {
                let (x0, y0, x1, y1) = (x - half.w, y - half.h, x + half.w + 1, y + half.h + 1);
                ranked.push((moved.sum(x0, y0, x1, y1) * edges.sum(x0, y0, x1, y1), x, y));
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
