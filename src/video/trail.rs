//! Finding one tile in frame after frame.

use super::film::Film;
use super::template::Tile;
use super::tiles::{Path, PathPoint};

/// Likeness below which a tile is cut anew.
const UNLIKE: f64 = 0.93;

/// A span of rows or columns.
type Reach = (f64, f64);

/// Finds a tile in frame after frame until it is lost, and adds where it was to
/// `path`. `search` says in which columns and rows, given its last place and the
/// next frame's time.
pub(in crate::video) fn trail(
    film: &Film,
    tile: &Tile,
    first: PathPoint,
    order: impl Iterator<Item = usize>,
    search: impl Fn(&PathPoint, f64) -> (Reach, Reach),
    path: &mut Path,
) {
    let mut last = first;
    // A foot turns: a tile that has grown unlike its first sighting is cut anew
    // where it was last found; `drift` keeps what rounding to pixels left over.
    let mut fresh: Option<Tile> = None;
    let mut drift = (0.0, 0.0);
    let without = |(lo, hi): Reach, drift: f64| (lo - drift, hi - drift);
    for k in order {
        let t = film.times[k];
        let (columns, rows) = search(&last, t);
        let (columns, rows) = (without(columns, drift.0), without(rows, drift.1));
        let wanted = fresh.as_ref().unwrap_or(tile);
        let Some(found) = wanted.find(film, k, columns, rows) else {
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
            && let Some(cut) = Tile::recut(film, k, &found, tile.full.half)
        {
            drift.0 += found.x - cut.full.x as f64;
            drift.1 += found.y - cut.full.y as f64;
            fresh = Some(cut);
        }
    }
}
