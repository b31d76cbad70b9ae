//! Motion of a stretch of the clip by column group, row and time, and the
//! motion slice of any band of columns.

use super::super::motion::median;
use super::cells::{GREY_STEPS, Grid};

/// Columns of cells that share one column of motion.
pub(super) const GROUP: usize = 2;

/// Motion between consecutive frames of a stretch of the clip.
pub(super) struct Motion {
    grid: Grid,
    groups: usize,
    /// Middle between the two frames of each difference, in seconds.
    times: Vec<f64>,
    /// For each time, group after group, the rows from the top, in [`GREY_STEPS`].
    blocks: Vec<Vec<u16>>,
    previous: Option<(f64, Vec<u16>)>,
}

impl Motion {
    pub(super) fn new(grid: Grid) -> Self {
        Self {
            grid,
            groups: grid.columns / GROUP,
            times: Vec::new(),
            blocks: Vec::new(),
            previous: None,
        }
    }

    /// Takes the next frame's cells and returns memory for the one after.
    pub(super) fn push(&mut self, time: f64, cells: Vec<u16>) -> Vec<u16> {
        match self.previous.take() {
            None => {
                self.previous = Some((time, cells));
                Vec::new()
            }
            Some((before, old)) => {
                self.times.push(0.5 * (before + time));
                let block = self.difference(&old, &cells);
                self.blocks.push(block);
                self.previous = Some((time, cells));
                old
            }
        }
    }

    /// Absolute differences by group and row, freed of lamp flicker.
    fn difference(&self, old: &[u16], new: &[u16]) -> Vec<u16> {
        const ONE: u32 = 4096;
        let (columns, rows) = (self.grid.columns, self.grid.rows);
        let mut block = vec![0u16; self.groups * rows];
        let gains = row_gains(old, new, columns, rows);
        let lines = old.chunks_exact(columns).zip(new.chunks_exact(columns));
        for (y, ((a, b), gain)) in lines.zip(gains).enumerate() {
            let gain = (gain * ONE as f32) as u32;
            let pairs = a.chunks_exact(GROUP).zip(b.chunks_exact(GROUP));
            for (g, (p, q)) in pairs.enumerate() {
                let sum: u32 = p
                    .iter()
                    .zip(q)
                    .map(|(&p, &q)| u32::from(p).abs_diff(u32::from(q) * gain / ONE))
                    .sum();
                block[g * rows + y] = (sum / GROUP as u32).min(u32::from(u16::MAX)) as u16;
            }
        }
        block
    }

    /// Forgets what lies more than `keep_s` before the end.
    pub(super) fn forget(&mut self, keep_s: f64) {
        let Some(last) = self.times.last() else {
            return;
        };
        let gone = self.times.partition_point(|t| *t < last - keep_s);
        self.times.drain(..gone);
        self.blocks.drain(..gone);
    }

    /// Length of the stretch held, in seconds.
    pub(super) fn length_s(&self) -> f64 {
        match (self.times.first(), self.times.last()) {
            (Some(first), Some(last)) => last - first,
            _ => 0.0,
        }
    }

    pub(super) fn times(&self) -> &[f64] {
        &self.times
    }

    pub(super) fn groups(&self) -> usize {
        self.groups
    }

    pub(super) fn grid(&self) -> Grid {
        self.grid
    }

    /// Middle of the clear motion at time `k` among these groups and rows, as a
    /// group, and its weight.
    pub(super) fn centre(
        &self,
        k: usize,
        groups: std::ops::Range<usize>,
        rows: std::ops::Range<usize>,
    ) -> (f32, f32) {
        const CLEAR: u16 = 3 * GREY_STEPS as u16;
        let (mut sum, mut weight) = (0.0, 0.0);
        for group in groups {
            let start = group * self.grid.rows;
            let column = &self.blocks[k][start + rows.start.min(rows.end)..start + rows.end];
            let clear: u32 = column
                .iter()
                .map(|&v| u32::from(v.saturating_sub(CLEAR)))
                .sum();
            sum += clear as f32 * group as f32;
            weight += clear as f32;
        }
        match weight > 0.0 {
            true => (sum / weight, weight),
            false => (0.0, 0.0),
        }
    }

    /// Mean motion of a band of groups, in grey levels above the still level.
    pub(super) fn band(&self, from: usize, to: usize) -> Slice {
        let rows = self.grid.rows;
        let width = to.saturating_sub(from).max(1) as f32;
        let mut motion = Vec::with_capacity(rows * self.blocks.len());
        let mut sums = vec![0u32; rows];
        for block in &self.blocks {
            sums.fill(0);
            for group in block[from * rows..to * rows].chunks_exact(rows) {
                for (sum, &value) in sums.iter_mut().zip(group) {
                    *sum += u32::from(value);
                }
            }
            let scale = 1.0 / (width * GREY_STEPS as f32);
            motion.extend(sums.iter().map(|&s| s as f32 * scale));
        }
        Slice::new(rows, motion)
    }
}

/// Brightness ratio of two frames for each row: the median over a few cells of
/// the row ignores the athlete, the median over neighbouring rows ignores rows
/// that the athlete fills.
fn row_gains(old: &[u16], new: &[u16], columns: usize, rows: usize) -> Vec<f32> {
    const DARK: u16 = 6 * GREY_STEPS as u16;
    const EACH_COLUMN: usize = 5;
    const EACH_ROW: usize = 3;
    const REACH: usize = 4;
    let mut ratios = Vec::with_capacity(columns / EACH_COLUMN + 1);
    let raw: Vec<f32> = (0..rows)
        .step_by(EACH_ROW)
        .map(|y| {
            let line = y * columns..(y + 1) * columns;
            let pairs = old[line.clone()].iter().zip(&new[line]);
            ratios.clear();
            ratios.extend(
                pairs
                    .step_by(EACH_COLUMN)
                    .filter(|&(&p, &q)| p > DARK && q > DARK)
                    .map(|(&p, &q)| f32::from(p) / f32::from(q)),
            );
            median(&mut ratios).unwrap_or(1.0)
        })
        .collect();
    let smooth: Vec<f32> = (0..raw.len())
        .map(|i| {
            let last = (i + REACH).min(raw.len() - 1);
            let mut window = raw[i.saturating_sub(REACH)..=last].to_vec();
            median(&mut window).unwrap_or(1.0)
        })
        .collect();
    (0..rows).map(|y| smooth[y / EACH_ROW]).collect()
}

/// Rows against time for one band, as running sums down each column.
pub(super) struct Slice {
    stride: usize,
    sums: Vec<f32>,
}

impl Slice {
    fn new(rows: usize, motion: Vec<f32>) -> Self {
        let still = still_levels(rows, &motion);
        let stride = rows + 1;
        let mut sums = Vec::with_capacity(stride * (motion.len() / rows.max(1)));
        for column in motion.chunks_exact(rows) {
            let mut sum = 0.0;
            sums.push(sum);
            for (value, still) in column.iter().zip(&still) {
                sum += (value - still).max(0.0);
                sums.push(sum);
            }
        }
        Self { stride, sums }
    }

    pub(super) fn rows(&self) -> usize {
        self.stride - 1
    }

    /// Mean motion between the fractional rows `top` and `bottom` at time `k`;
    /// 0 outside the picture.
    pub(super) fn mean(&self, k: usize, top: f32, bottom: f32) -> f32 {
        let last = (self.stride - 1) as f32;
        let (top, bottom) = (top.clamp(0.0, last), bottom.clamp(0.0, last));
        if bottom - top < 1e-3 {
            return 0.0;
        }
        let column = &self.sums[k * self.stride..(k + 1) * self.stride];
        let upto = |y: f32| {
            let whole = (y as usize).min(self.stride - 2);
            column[whole] + (y - whole as f32) * (column[whole + 1] - column[whole])
        };
        (upto(bottom) - upto(top)) / (bottom - top)
    }
}

/// What each row shows when nothing moves: noise of sensor and compression.
fn still_levels(rows: usize, motion: &[f32]) -> Vec<f32> {
    const SMALLEST: f32 = 0.15;
    let count = motion.len() / rows.max(1);
    let step = (count / 100).max(1);
    let mut values = Vec::with_capacity(count / step + 1);
    (0..rows)
        .map(|y| {
            values.clear();
            values.extend((0..count).step_by(step).map(|k| motion[k * rows + y]));
            let fifth = values.len() / 5;
            match values.len() {
                0 => SMALLEST,
                _ => *values.select_nth_unstable_by(fifth, f32::total_cmp).1 + SMALLEST,
            }
        })
        .collect()
}
