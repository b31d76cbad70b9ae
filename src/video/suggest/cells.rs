//! A frame made small: a fixed number of cells, whatever the picture's size.

use super::super::decode::DecodedFrame;
use super::super::fault::ClipError;
use super::super::plane::{Strip, UprightRect};

/// Cells wanted in a picture: 320 x 180. A low jump of 5 cm by a person who
/// fills a third of the picture's height still lifts the sole by two cells.
const CELLS: f64 = 57_600.0;
/// Rows of pixels read for each row of cells; the others add cost, not sight.
const ROWS_READ: usize = 2;
/// Cell values are kept in steps of 1/16 of an 8-bit grey level.
pub(super) const GREY_STEPS: u32 = 16;

/// How a picture is cut into square cells; what is left over at the right and
/// lower edge is not looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Grid {
    /// Side of a cell in pixels.
    pub(super) cell: usize,
    pub(super) columns: usize,
    pub(super) rows: usize,
}

impl Grid {
    /// The grid of a picture, `None` when that is too small to hold feet.
    pub(super) fn of((w, h): (u32, u32)) -> Option<Self> {
        const LEAST: usize = 24;
        let cell = (f64::from(w) * f64::from(h) / CELLS).sqrt().round() as usize;
        let cell = cell.max(1);
        let (columns, rows) = (w as usize / cell, h as usize / cell);
        (columns >= LEAST && rows >= LEAST).then_some(Self {
            cell,
            columns,
            rows,
        })
    }

    /// Reads a frame into cells, row by row; memory is used again.
    pub(super) fn read(
        &self,
        frame: &DecodedFrame,
        strip: &mut Strip,
        cells: &mut Vec<u16>,
    ) -> Result<(), ClipError> {
        cells.clear();
        let read = ROWS_READ.min(self.cell);
        let first = (self.cell - read) / 2;
        let width = self.columns * self.cell;
        let mut sums = vec![0u32; self.columns];
        for row in 0..self.rows {
            let rect = UprightRect {
                x: 0,
                y: (row * self.cell + first) as u32,
                w: width as u32,
                h: read as u32,
            };
            frame.read_strip(rect, strip)?;
            sums.fill(0);
            for line in strip.luma.chunks_exact(width) {
                for (sum, cell) in sums.iter_mut().zip(line.chunks_exact(self.cell)) {
                    *sum += cell.iter().map(|&v| u32::from(v)).sum::<u32>();
                }
            }
            let per_grey = (self.cell * read) as u32 * (1 << (strip.depth_bits.clamp(8, 16) - 8));
            let scale = GREY_STEPS as f32 / per_grey as f32;
            cells.extend(sums.iter().map(|&s| (s as f32 * scale) as u16));
        }
        Ok(())
    }
}
