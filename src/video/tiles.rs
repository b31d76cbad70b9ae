//! Following small parts of the shoe from the air onto the floor.
//!
//! Tiles are picked on a frame in which the foot flies, where frame differencing
//! and texture say that something with an edge moves, and are found again in
//! the frames before and after by normalised cross-correlation, below one pixel
//! by a parabola through the peak. Following from the air into contact, not
//! outward from the stand, keeps hold of the foot: the moving shadow near the
//! floor does not look like a tile of the shoe.

use rayon::prelude::*;

use super::film::Film;
use super::pick::Pick;
use super::template::{Half, Tile};
use super::trail::trail;
pub use crate::trace::{Path, PathPoint};

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
    /// First and last column in which parts of the shoe are picked.
    pub(in crate::video) columns: (f64, f64),
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

/// Follows the most telling tiles of the frame `chase.start`.
pub(in crate::video) fn follow(film: &Film, chase: &Chase) -> Vec<Path> {
    let half = Half::of(chase.patch_height);
    let (k, last) = (chase.start, film.frames.len() - 1);
    let picked = Pick {
        picture: &film.frames[k],
        others: [
            &film.frames[k.saturating_sub(1)],
            &film.frames[(k + 1).min(last)],
        ],
        rows: (
            chase.sole_row - 0.6 * chase.patch_height,
            chase.sole_row + 0.3 * chase.patch_height,
        ),
        columns: chase.columns,
        half,
        wanted: chase.tiles,
    };
    // In parallel, yet in the order of picking: the answer is the same with any
    // number of threads.
    picked
        .tiles()
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

fn follow_one(film: &Film, chase: &Chase, tile: &Tile) -> Path {
    let first = tile.place(film, chase.start);
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
        let near = order.take_while(|&k| (self.film.times[k] - first.t).abs() <= reach);
        let search = |last: &PathPoint, t: f64| {
            let step = self.chase.speed_px_s * (t - last.t).abs();
            // Towards contact the foot falls or stands; away from it, it rises or hangs.
            let rows = if to_contact {
                (last.y - 2.0, last.y + 1.5 * step + 3.0)
            } else {
                (last.y - 1.5 * step - 3.0, last.y + 2.0)
            };
            let side = (0.35 * step + 2.0).clamp(3.0, 12.0);
            ((last.x.round() - side, last.x.round() + side), rows)
        };
        trail(self.film, self.tile, first, near, search, path);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::video::grey::Grey;
    use crate::video::pick::EVERYWHERE;

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
            columns: EVERYWHERE,
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
            columns: EVERYWHERE,
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
