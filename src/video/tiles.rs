//! Following small parts of the shoe from the air onto the floor.
//!
//! Tiles are picked on a frame in which the foot flies, where frame differencing
//! and texture say that something with an edge moves, and are found again in
//! the frames before and after by normalised cross-correlation, below one pixel
//! by a parabola through the peak. Following from the air into contact, not
//! outward from the stand, keeps hold of the foot: the moving shadow near the
//! floor does not look like a tile of the shoe.

use rayon::prelude::*;

use super::grey::{AreaSums, Grey};
use super::template::{Film, Half, Tile};

/// A tile's place in one frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathPoint {
    /// Frame, counted within the frames given to the tracker.
    pub frame: usize,
    /// Capture time in seconds.
    pub t: f64,
    /// Centre row in pixels, downwards.
    pub y: f64,
    /// Centre column in pixels.
    pub x: f64,
    /// Likeness to the first sighting: correlation, 0.6 to 1.
    pub likeness: f64,
}

/// Where one part of the shoe went, in order of time.
pub type Path = Vec<PathPoint>;

/// Which way in time the floor lies from the frame in the air.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::video) enum Contact {
    /// Take-off: the foot was on the floor before.
    Before,
    /// Landing: the foot will be on the floor after.
    After,
}

/// What the tracker needs to know of the flight.
#[derive(Clone, Copy, Debug)]
pub(in crate::video) struct Chase {
    /// Frame in which the foot flies.
    pub(in crate::video) start: usize,
    /// Row of the sole in that frame.
    pub(in crate::video) sole_row: f64,
    /// Height of the patch in pixels: the size of things.
    pub(in crate::video) patch_height: f64,
    pub(in crate::video) contact: Contact,
    /// Speed at the floor in pixels per second.
    pub(in crate::video) speed_px_s: f64,
    /// How far to follow away from and towards the contact, in seconds.
    pub(in crate::video) reach_s: (f64, f64),
    /// How many tiles to follow.
    pub(in crate::video) tiles: usize,
}

/// Likeness below which a tile is cut anew.
const UNLIKE: f64 = 0.93;

/// Follows the most telling tiles of the frame `chase.start`.
pub(in crate::video) fn follow(film: &Film, chase: &Chase) -> Vec<Path> {
    let half = Half::of(chase.patch_height);
    // In parallel, yet in the order of picking: the answer is the same with any
    // number of threads.
    pick_tiles(&film.frames, chase, half)
        .into_par_iter()
        .filter_map(|(x, y)| Tile::cut(film, chase.start, x, y, half))
        .map(|tile| follow_one(film, chase, &tile))
        .filter(|path| flies(path, chase))
        .collect()
}

/// Whether the part moves as something in the air would where it was picked: what
/// rests there is floor or wall, however well it can be followed.
fn flies(path: &Path, chase: &Chase) -> bool {
    const OF_FLOOR_SPEED: f64 = 0.2;
    let near = path
        .iter()
        .position(|p| p.frame == chase.start)
        .map(|k| &path[k.saturating_sub(1)..(k + 2).min(path.len())]);
    let Some([first, .., last]) = near else {
        return false;
    };
    let falls = match chase.contact {
        Contact::Before => first.y - last.y,
        Contact::After => last.y - first.y,
    };
    falls >= OF_FLOOR_SPEED * chase.speed_px_s * (last.t - first.t)
}

/// Tile centres where motion and horizontal edges are strongest.
fn pick_tiles(frames: &[Grey], chase: &Chase, half: Half) -> Vec<(usize, usize)> {
    let picture = &frames[chase.start];
    let (w, h) = (picture.width(), picture.height());
    let before = &frames[chase.start.saturating_sub(1)];
    let after = &frames[(chase.start + 1).min(frames.len() - 1)];
    let moved = AreaSums::new(w, h, |x, y| {
        let here = picture.row(y)[x];
        f32::from(
            here.abs_diff(before.row(y)[x])
                .min(here.abs_diff(after.row(y)[x])),
        )
    });
    let edges = AreaSums::new(w, h, |x, y| horizontal_edge(picture, x, y));
    let top = (chase.sole_row - 0.6 * chase.patch_height).max((half.h + 1) as f64) as usize;
    let bottom = (chase.sole_row + 0.3 * chase.patch_height).max(0.0) as usize;
    let mut ranked = Vec::new();
    for y in (top..bottom.min(h.saturating_sub(half.h + 1))).step_by((half.h / 2).max(1)) {
        for x in (half.w + 1..w.saturating_sub(half.w + 1)).step_by((half.w / 2).max(1)) {
            let (x0, y0, x1, y1) = (x - half.w, y - half.h, x + half.w + 1, y + half.h + 1);
            ranked.push((moved.sum(x0, y0, x1, y1) * edges.sum(x0, y0, x1, y1), x, y));
        }
    }
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    spread(&ranked, chase.tiles, half)
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

fn follow_one(film: &Film, chase: &Chase, tile: &Tile) -> Path {
    let first = PathPoint {
        frame: chase.start,
        t: film.times[chase.start],
        y: tile.full.y as f64,
        x: tile.full.x as f64,
        likeness: 1.0,
    };
    let mut path = vec![first];
    let later = chase.start + 1..film.frames.len();
    let earlier = (0..chase.start).rev();
    let walk = Walk { film, chase, tile };
    walk.extend(&mut path, first, earlier, chase.contact == Contact::Before);
    path.reverse();
    walk.extend(&mut path, first, later, chase.contact == Contact::After);
    path
}

/// Following one tile frame by frame.
struct Walk<'a> {
    film: &'a Film,
    chase: &'a Chase,
    tile: &'a Tile,
}

impl Walk<'_> {
    /// Goes through the frames in `order` until the tile is lost or out of reach.
    fn extend(
        &self,
        path: &mut Path,
        first: PathPoint,
        order: impl Iterator<Item = usize>,
        to_contact: bool,
    ) {
        let (away, towards) = self.chase.reach_s;
        let reach = if to_contact { towards } else { away };
        let mut last = first;
        // A foot turns: a tile that has grown unlike its first sighting is cut anew
        // where it was last found; `drift` keeps what rounding to pixels left over.
        let mut fresh: Option<Tile> = None;
        let mut drift = (0.0, 0.0);
        for k in order {
            let t = self.film.times[k];
            if (t - first.t).abs() > reach {
                return;
            }
            let step = self.chase.speed_px_s * (t - last.t).abs();
            // Towards contact the foot falls or stands; away from it, it rises or hangs.
            let rows = if to_contact {
                (last.y - 2.0, last.y + 1.5 * step + 3.0)
            } else {
                (last.y - 1.5 * step - 3.0, last.y + 2.0)
            };
            let side = (0.35 * step + 2.0).clamp(3.0, 12.0);
            let columns = (last.x.round() - side, last.x.round() + side);
            let tile = fresh.as_ref().unwrap_or(self.tile);
            let without = |(lo, hi): (f64, f64), drift: f64| (lo - drift, hi - drift);
            let (columns, rows) = (without(columns, drift.0), without(rows, drift.1));
            let Some(found) = tile.find(self.film, k, columns, rows) else {
                return;
            };
            last = PathPoint {
                frame: k,
                t,
                x: found.x + drift.0,
                y: found.y + drift.1,
                likeness: found.likeness,
            };
            path.push(last);
            if found.likeness < UNLIKE
                && let Some(cut) = Tile::recut(self.film, k, &found, tile.full.half)
            {
                drift.0 += found.x - cut.full.x as f64;
                drift.1 += found.y - cut.full.y as f64;
                fresh = Some(cut);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bright blob on a faintly textured ground, its centre at fractional places.
    fn blob(cx: f64, cy: f64) -> Grey {
        let (w, h) = (60, 90);
        let value = |x: usize, y: usize| {
            let r2 = (x as f64 - cx).powi(2) / 18.0 + (y as f64 - cy).powi(2) / 8.0;
            let ground = 60.0 + ((x * 7 + y * 13) % 5) as f64;
            (ground + 120.0 * (-0.5 * r2).exp()).round() as u8
        };
        let luma = (0..h)
            .flat_map(|y| (0..w).map(move |x| value(x, y)))
            .collect();
        Grey::new(w, h, luma).expect("sizes agree")
    }

    #[test]
    fn a_falling_blob_is_followed_to_the_floor() {
        let (rate, speed, floor) = (120.0, 300.0, 70.0);
        let contact = 0.0737;
        let times: Vec<f64> = (0..14).map(|k| f64::from(k) / rate).collect();
        let row = |t: f64| floor - speed * (contact - t).max(0.0);
        let mut film = Film::default();
        times.iter().for_each(|&t| film.push(t, blob(30.0, row(t))));
        let start = 4;
        let chase = Chase {
            start,
            sole_row: row(times[start]) + 3.0,
            patch_height: 30.0,
            contact: Contact::After,
            speed_px_s: speed,
            reach_s: (0.02, 0.09),
            tiles: 6,
        };
        let paths = follow(&film, &chase);
        let best = paths.iter().max_by_key(|p| p.len()).expect("a path");
        assert!(best.len() >= 10, "{}", best.len());
        let offset = best.iter().find(|p| p.frame == start).expect("start").y - row(times[start]);
        for point in best {
            let miss = point.y - offset - row(point.t);
            assert!(miss.abs() < 0.35, "frame {}: {miss}", point.frame);
        }
    }

    #[test]
    fn nothing_to_follow_on_a_plain_ground() {
        let plain = Grey::new(60, 90, vec![80; 5400]).expect("sizes agree");
        let chase = Chase {
            start: 1,
            sole_row: 50.0,
            patch_height: 30.0,
            contact: Contact::After,
            speed_px_s: 300.0,
            reach_s: (0.02, 0.09),
            tiles: 6,
        };
        let mut film = Film::default();
        (0..3).for_each(|k| film.push(0.01 * f64::from(k), plain.clone()));
        assert!(follow(&film, &chase).is_empty());
    }
}
