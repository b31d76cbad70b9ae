//! Fills polygons with exact area coverage, so that an edge at any fraction of
//! a pixel is drawn at that fraction: timing below one frame is read from it.
//!
//! For each pixel row the signed area to the right of every edge is summed up;
//! the running sum along the row is the share of the pixel inside. Exact for
//! polygons that do not cross themselves.

/// A rectangle of whole pixels, end exclusive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Rect {
    pub(super) x0: i32,
    pub(super) y0: i32,
    pub(super) x1: i32,
    pub(super) y1: i32,
}

impl Rect {
    pub(super) const EMPTY: Self = Self {
        x0: i32::MAX,
        y0: i32::MAX,
        x1: i32::MIN,
        y1: i32::MIN,
    };

    pub(super) fn is_empty(&self) -> bool {
        self.x0 >= self.x1 || self.y0 >= self.y1
    }

    pub(super) fn width(&self) -> usize {
        (self.x1 - self.x0).max(0) as usize
    }

    pub(super) fn height(&self) -> usize {
        (self.y1 - self.y0).max(0) as usize
    }

    pub(super) fn meet(&self, other: &Self) -> Self {
        Self {
            x0: self.x0.max(other.x0),
            y0: self.y0.max(other.y0),
            x1: self.x1.min(other.x1),
            y1: self.y1.min(other.y1),
        }
    }

    pub(super) fn join(&self, other: &Self) -> Self {
        if other.is_empty() {
            return *self;
        }
        Self {
            x0: self.x0.min(other.x0),
            y0: self.y0.min(other.y0),
            x1: self.x1.max(other.x1),
            y1: self.y1.max(other.y1),
        }
    }

    /// The pixels a polygon can touch.
    pub(super) fn around(polygon: &[[f32; 2]]) -> Self {
        let mut lo = [f32::INFINITY; 2];
        let mut hi = [f32::NEG_INFINITY; 2];
        for point in polygon {
            for axis in 0..2 {
                lo[axis] = lo[axis].min(point[axis]);
                hi[axis] = hi[axis].max(point[axis]);
            }
        }
        if !(lo[0] <= hi[0] && lo[1] <= hi[1]) {
            return Self::EMPTY;
        }
        Self {
            x0: lo[0].floor() as i32,
            y0: lo[1].floor() as i32,
            x1: hi[0].ceil() as i32,
            y1: hi[1].ceil() as i32,
        }
    }
}

/// The filler; keeps its working row sums between polygons.
#[derive(Default)]
pub(super) struct Filler {
    sums: Vec<f32>,
}

impl Filler {
    /// Calls `paint(x, y, coverage)` for every pixel of `clip` that `polygon`
    /// covers at least partly.
    pub(super) fn fill(
        &mut self,
        polygon: &[[f32; 2]],
        clip: &Rect,
        mut paint: impl FnMut(i32, i32, f32),
    ) {
        let around = Rect::around(polygon);
        let seen = around.meet(clip);
        if seen.is_empty() {
            return;
        }
        // Sums run over the polygon's whole width, so that clipping at the
        // sides cannot change a coverage.
        let stride = around.width() + 2;
        self.sums.clear();
        self.sums.resize(stride * seen.height(), 0.0);
        let origin = [around.x0 as f32, seen.y0 as f32];
        let mut from = polygon[polygon.len() - 1];
        for &to in polygon {
            let shift = |p: [f32; 2]| [p[0] - origin[0], p[1] - origin[1]];
            self.edge(shift(from), shift(to), stride, seen.height());
            from = to;
        }
        for (row, sums) in self.sums.chunks_exact(stride).enumerate() {
            let mut inside = 0.0f32;
            for (column, sum) in sums.iter().enumerate() {
                inside += sum;
                let x = around.x0 + column as i32;
                let coverage = inside.abs().min(1.0);
                if coverage > 1e-5 && x >= seen.x0 && x < seen.x1 {
                    paint(x, seen.y0 + row as i32, coverage);
                }
            }
        }
    }

    fn edge(&mut self, a: [f32; 2], b: [f32; 2], stride: usize, rows: usize) {
        if a[1] == b[1] {
            return;
        }
        let (sign, top, bottom) = if a[1] < b[1] {
            (1.0, a, b)
        } else {
            (-1.0, b, a)
        };
        let slope = (bottom[0] - top[0]) / (bottom[1] - top[1]);
        let first = top[1].max(0.0) as usize;
        let last = (bottom[1].ceil().max(0.0) as usize).min(rows);
        for row in first..last {
            let from = top[1].max(row as f32);
            let to = bottom[1].min(row as f32 + 1.0);
            let x_at = |y: f32| (top[0] + (y - top[1]) * slope).clamp(0.0, (stride - 2) as f32);
            let sums = &mut self.sums[row * stride..(row + 1) * stride];
            row_piece(sums, x_at(from), x_at(to), sign * (to - from));
        }
    }
}

/// Adds the piece of an edge within one row: it spans `height` of the row
/// (signed) and runs from `xa` to `xb`.
fn row_piece(sums: &mut [f32], xa: f32, xb: f32, height: f32) {
    let (lo, hi) = if xa < xb { (xa, xb) } else { (xb, xa) };
    let first = lo as usize;
    let last = hi.ceil() as usize;
    if last <= first + 1 {
        let right = 0.5 * (lo + hi) - first as f32;
        sums[first] += height * (1.0 - right);
        sums[first + 1] += height * right;
        return;
    }
    // The area to the right of the edge, summed up to each pixel's right side.
    let per_x = height / (hi - lo);
    let mut before = 0.0;
    let mut slack = 0.0;
    for (column, sum) in sums.iter_mut().enumerate().take(last).skip(first) {
        let left = (column as f32).max(lo);
        let right = (column as f32 + 1.0).min(hi);
        let crossed = (right - left) * per_x;
        // Within this pixel the crossed part covers it from its middle on.
        let area = before + crossed * (column as f32 + 1.0 - 0.5 * (left + right));
        *sum += area - slack;
        slack = area;
        before += crossed;
    }
    sums[last] += before - slack;
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLIP: Rect = Rect {
        x0: 0,
        y0: 0,
        x1: 12,
        y1: 10,
    };

    fn coverage(polygon: &[[f32; 2]], clip: &Rect) -> Vec<Vec<f32>> {
        let mut out = vec![vec![0.0; 12]; 10];
        Filler::default().fill(polygon, clip, |x, y, c| out[y as usize][x as usize] += c);
        out
    }

    #[test]
    fn a_box_at_fractions_covers_fractions() {
        let c = coverage(&[[1.25, 2.5], [4.75, 2.5], [4.75, 5.1], [1.25, 5.1]], &CLIP);
        assert!((c[2][1] - 0.375).abs() < 1e-5);
        assert!((c[2][2] - 0.5).abs() < 1e-5);
        assert!((c[3][3] - 1.0).abs() < 1e-5);
        assert!((c[5][4] - 0.075).abs() < 1e-5);
        assert_eq!(c[6][3], 0.0);
    }

    #[test]
    fn the_sum_of_coverage_is_the_area() {
        let polygon = [[0.3, 0.2], [9.7, 1.1], [7.2, 8.9], [2.2, 6.4]];
        let shoelace: f32 = (0..4)
            .map(|i| {
                let (a, b) = (polygon[i], polygon[(i + 1) % 4]);
                0.5 * (a[0] * b[1] - b[0] * a[1])
            })
            .sum();
        let sum: f32 = coverage(&polygon, &CLIP).iter().flatten().sum();
        assert!((sum - shoelace.abs()).abs() < 1e-3, "{sum} {shoelace}");
    }

    #[test]
    fn clipping_changes_no_coverage() {
        let polygon = [[-3.3, -2.2], [15.7, 1.1], [7.2, 18.9]];
        let whole = coverage(&polygon, &CLIP);
        let clip = Rect {
            x0: 4,
            y0: 3,
            x1: 9,
            y1: 7,
        };
        let part = coverage(&polygon, &clip);
        for y in 3..7 {
            for x in 4..9 {
                assert!((whole[y][x] - part[y][x]).abs() < 1e-5);
            }
        }
        assert_eq!(part[2][5], 0.0);
    }
}
