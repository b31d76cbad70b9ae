//! Small grey pictures: the watched part of a frame, and sums over it.

/// A grey picture of 8-bit luma, row by row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::video) struct Grey {
    w: usize,
    h: usize,
    luma: Vec<u8>,
}

impl Grey {
    /// A picture from its rows; `None` when the count does not fit the size.
    pub(in crate::video) fn new(w: usize, h: usize, luma: Vec<u8>) -> Option<Self> {
        (w > 0 && h > 0 && w.checked_mul(h)? == luma.len()).then_some(Self { w, h, luma })
    }

    pub(in crate::video) fn width(&self) -> usize {
        self.w
    }

    pub(in crate::video) fn height(&self) -> usize {
        self.h
    }

    pub(in crate::video) fn row(&self, y: usize) -> &[u8] {
        &self.luma[y * self.w..(y + 1) * self.w]
    }

    /// The rows from `first` on; `None` where there are none.
    pub(in crate::video) fn below(&self, first: usize) -> Option<Self> {
        self.rows(first, self.h.checked_sub(first)?)
    }

    /// So many rows from `first` on; `None` where there are not as many.
    pub(in crate::video) fn rows(&self, first: usize, count: usize) -> Option<Self> {
        let luma = self.luma.get(first * self.w..(first + count) * self.w)?;
        Self::new(self.w, count, luma.to_vec())
    }

    /// The rows from `first` on in a span of columns; `None` where there are none.
    pub(in crate::video) fn corner(&self, first: usize, columns: (usize, usize)) -> Option<Self> {
        let (left, right) = (columns.0, columns.1.min(self.w));
        let rows = first..self.h;
        let wide = right.checked_sub(left)?;
        let luma: Vec<u8> = rows
            .clone()
            .flat_map(|y| &self.row(y)[left..right])
            .copied()
            .collect();
        Self::new(wide, rows.len(), luma)
    }

    /// Half the size, each pixel the mean of four; `None` where nothing is left.
    pub(in crate::video) fn halved(&self) -> Option<Self> {
        let (w, h) = (self.w / 2, self.h / 2);
        let mut luma = Vec::with_capacity(w * h);
        for y in 0..h {
            let pairs = self
                .row(2 * y)
                .chunks_exact(2)
                .zip(self.row(2 * y + 1).chunks_exact(2));
            luma.extend(pairs.map(|(a, b)| {
                let sum: u16 = a.iter().chain(b).map(|&v| u16::from(v)).sum();
                ((sum + 2) / 4) as u8
            }));
        }
        Self::new(w, h, luma)
    }
}

/// Sums over any rectangle of a picture in four look-ups (summed-area table).
pub(in crate::video) struct AreaSums {
    w: usize,
    sums: Vec<f64>,
}

impl AreaSums {
    /// Table over `w` x `h` values, row by row as `fill(y, row)` gives them.
    pub(in crate::video) fn new(w: usize, h: usize, fill: impl Fn(usize, &mut [f32])) -> Self {
        let stride = w + 1;
        let mut sums = vec![0.0; stride * (h + 1)];
        let mut values = vec![0.0; w];
        for y in 0..h {
            fill(y, &mut values);
            let (above, below) = sums[y * stride + 1..].split_at_mut(w);
            let mut row = 0.0;
            for ((sum, above), value) in below[1..].iter_mut().zip(above).zip(&values) {
                row += f64::from(*value);
                *sum = *above + row;
            }
        }
        Self { w: stride, sums }
    }

    /// Sum over columns `x0..x1` and rows `y0..y1`.
    pub(in crate::video) fn sum(&self, x0: usize, y0: usize, x1: usize, y1: usize) -> f64 {
        let at = |x: usize, y: usize| self.sums[y * self.w + x];
        at(x1, y1) + at(x0, y0) - at(x1, y0) - at(x0, y1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn area_sums_add_up() {
        let table = AreaSums::new(3, 2, |y, row| {
            for (x, value) in row.iter_mut().enumerate() {
                *value = (x + 3 * y) as f32;
            }
        });
        assert_eq!(table.sum(0, 0, 3, 2), 15.0);
        assert_eq!(table.sum(1, 1, 3, 2), 9.0);
        assert_eq!(table.sum(2, 0, 2, 2), 0.0);
    }

    #[test]
    fn a_picture_of_the_wrong_size_is_refused() {
        assert!(Grey::new(2, 2, vec![0; 3]).is_none());
        assert!(Grey::new(0, 2, vec![]).is_none());
    }
}
