//! Picking the parts of a picture that are worth following.

use super::grey::{AreaSums, Grey};
use super::motion::{change, row_gains};
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
        let others = self
            .others
            .map(|other| (other, lights(picture, other, y0, high)));
        let moved = AreaSums::new(wide, high, |y, moved| {
            let at = |picture| part(picture, y0 + y, x0, wide);
            let [one, two] = others
                .each_ref()
                .map(|(other, lights)| (at(other), lights[y]));
            let pairs = at(picture).iter().zip(one.0).zip(two.0);
            for (moved, ((&p, &q), &r)) in moved.iter_mut().zip(pairs) {
                *moved = change(p, q, one.1).min(change(p, r, two.1));
            }
        });
        let edges = AreaSums::new(wide, high, |y, edges| {
            horizontal_edges(picture, x0, y0 + y, edges);
        });
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

/// How much brighter some rows of a picture are than those of another, by their lamps: on
/// alternating current every other picture may be darker everywhere, and then it is not
/// motion that differs from both neighbours. 1 where it is no more than noise.
fn lights(picture: &Grey, other: &Grey, first: usize, count: usize) -> Vec<f32> {
    const PULSES: f32 = 0.02;
    let gains = picture.rows(first, count).zip(other.rows(first, count));
    let gains = gains.map_or_else(|| vec![1.0; count], |(a, b)| row_gains(&a, &b));
    let pulses = gains.iter().any(|gain| (gain - 1.0).abs() > PULSES);
    if pulses { gains } else { vec![1.0; count] }
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

/// So many pixels of a row, from column `first` on.
fn part(picture: &Grey, y: usize, first: usize, count: usize) -> &[u8] {
    &picture.row(y)[first..first + count]
}

/// Strengths of the horizontal edges (Sobel's vertical derivative) of a row, from column
/// `first` on; none at the picture's border.
fn horizontal_edges(picture: &Grey, first: usize, y: usize, edges: &mut [f32]) {
    edges.fill(0.0);
    if y == 0 || y + 1 >= picture.height() {
        return;
    }
    let (above, below) = (picture.row(y - 1), picture.row(y + 1));
    let across = |three: &[u8; 3]| {
        let [a, b, c] = three.map(i32::from);
        a + 2 * b + c
    };
    let places = above.array_windows().zip(below.array_windows());
    // The first three of a row lie round its second pixel.
    let skipped = first.saturating_sub(1);
    let edges = &mut edges[usize::from(first == 0)..];
    for (edge, (above, below)) in edges.iter_mut().zip(places.skip(skipped)) {
        *edge = (across(below) - across(above)).unsigned_abs() as f32;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Textured ground under a lamp, and a plain bar that rises by three rows a picture.
    fn picture(bar_top: usize, light: f32) -> Grey {
        let (w, h) = (60, 60);
        let value = |at: usize| {
            let (x, y) = (at % w, at / w);
            let on_bar = (20..40).contains(&x) && (bar_top..bar_top + 8).contains(&y);
            let ground = 90 + (x * 7 + y * 13) % 40;
            (light * if on_bar { 50.0 } else { ground as f32 }).round() as u8
        };
        Grey::new(w, h, (0..w * h).map(value).collect()).expect("sizes agree")
    }

    #[test]
    fn what_moves_is_picked_though_the_lamp_pulses() {
        let half = Half { h: 3, w: 4 };
        let dim = picture(27, 0.8);
        let others = [picture(30, 1.0), picture(24, 1.0)];
        let pick = Pick {
            picture: &dim,
            others: others.each_ref(),
            rows: (0.0, 60.0),
            columns: EVERYWHERE,
            half,
            wanted: 4,
        };
        let tiles = pick.tiles();
        assert_eq!(tiles.len(), 4);
        for (x, y) in tiles {
            assert!((16..44).contains(&x) && (20..40).contains(&y), "{x}, {y}");
        }
    }
}
