//! Frame differencing: how much moved in each row of the watched part, frame by frame.
//!
//! Consecutive frames are subtracted; the mean absolute difference of each row,
//! above what that row shows when nothing moves, is one column of the *motion
//! slice* (rows against time). A jumping foot draws its flight into the slice
//! as a parabola: motion above the sole, stillness below it.

use super::grey::Grey;

/// Row motion is kept in steps of 1/64 grey level, two bytes a value.
const STEP: f32 = 64.0;

/// Motion of each row between consecutive frames.
#[derive(Clone, Debug, Default)]
pub(in crate::video) struct MotionSlice {
    rows: usize,
    /// Middle between the two frames of each difference, in seconds.
    times: Vec<f64>,
    /// Mean absolute difference per row, row after row for each time, in [`STEP`]s.
    motion: Vec<u16>,
}

/// Builds the slice while frames come in; holds the first and the newest frame only.
#[derive(Default)]
pub(in crate::video) struct MotionBuilder {
    slice: MotionSlice,
    first: Option<(f64, Grey)>,
    previous: Option<(f64, Grey)>,
}

impl MotionBuilder {
    /// Takes the next frame; frames of another size than the first are ignored.
    pub(in crate::video) fn push(&mut self, time: f64, frame: Grey) {
        if let Some((before, previous)) = &self.previous {
            if previous.width() != frame.width() || previous.height() != frame.height() {
                return;
            }
            self.slice.rows = frame.height();
            self.slice.times.push(0.5 * (before + time));
            push_row_motion(previous, &frame, &mut self.slice.motion);
        } else {
            self.first = Some((time, frame.clone()));
        }
        self.previous = Some((time, frame));
    }

    /// The first frame and its time in seconds.
    pub(in crate::video) fn first(&self) -> Option<(f64, &Grey)> {
        let (time_s, frame) = self.first.as_ref()?;
        Some((*time_s, frame))
    }

    /// Goes on with what another has built, whose first frame is the newest of this.
    pub(in crate::video) fn append(&mut self, later: Self) {
        self.slice.times.extend(later.slice.times);
        self.slice.motion.extend(later.slice.motion);
        self.previous = later.previous;
    }

    /// The newest frame.
    pub(in crate::video) fn newest_picture(&self) -> Option<&Grey> {
        self.previous.as_ref().map(|(_, frame)| frame)
    }

    /// The slice so far.
    pub(in crate::video) fn slice(&self) -> &MotionSlice {
        &self.slice
    }

    /// Lets go of all differences before a time.
    pub(in crate::video) fn forget_before(&mut self, time_s: f64) {
        let count = self.slice.times.partition_point(|&t| t < time_s);
        self.slice.times.drain(..count);
        self.slice.motion.drain(..count * self.slice.rows);
    }
}

/// Appends the mean absolute difference of each row, after evening out lamp
/// flicker: the second frame is scaled, row by row, to the first one's light.
fn push_row_motion(a: &Grey, b: &Grey, out: &mut Vec<u16>) {
    let gains = row_gains(a, b);
    for (y, gain) in gains.iter().enumerate() {
        let total: f32 = a
            .row(y)
            .iter()
            .zip(b.row(y))
            .map(|(&p, &q)| change(p, q, *gain))
            .sum();
        let mean = total / a.width() as f32;
        out.push((mean * STEP).round().min(f32::from(u16::MAX)) as u16);
    }
}

/// How far one pixel differs from another whose light is `gain` times as weak.
pub(in crate::video) fn change(p: u8, q: u8, gain: f32) -> f32 {
    (f32::from(p) - gain * f32::from(q)).abs()
}

/// Brightness ratio of two frames for each row: lamps on alternating current
/// pulse, and a rolling shutter turns the pulse into bands. The median over the
/// row ignores the athlete; the median over neighbouring rows ignores rows that
/// the athlete fills.
pub(in crate::video) fn row_gains(a: &Grey, b: &Grey) -> Vec<f32> {
    const DARK: u8 = 6;
    // Of numbers above 0 the bits are in the same order.
    let mut ratios: Vec<u32> = Vec::with_capacity(a.width());
    let raw: Vec<f32> = (0..a.height())
        .map(|y| {
            ratios.clear();
            ratios.extend(
                a.row(y)
                    .iter()
                    .zip(b.row(y))
                    .filter(|&(&p, &q)| p > DARK && q > DARK)
                    .map(|(&p, &q)| (f32::from(p) / f32::from(q)).to_bits()),
            );
            let middle = ratios.len() / 2;
            match ratios.is_empty() {
                true => 1.0,
                false => f32::from_bits(*ratios.select_nth_unstable(middle).1),
            }
        })
        .collect();
    let reach = a.height() / 8;
    let mut window = Vec::with_capacity(2 * reach + 1);
    (0..raw.len())
        .map(|y| {
            window.clear();
            let last = (y + reach).min(raw.len() - 1);
            window.extend_from_slice(&raw[y.saturating_sub(reach)..=last]);
            median(&mut window).unwrap_or(1.0)
        })
        .collect()
}

/// Median by selection; reorders `values`.
pub(in crate::video) fn median(values: &mut [f32]) -> Option<f32> {
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f32::total_cmp).1)
}

impl MotionSlice {
    /// Number of differences: one fewer than frames.
    pub(in crate::video) fn len(&self) -> usize {
        self.times.len()
    }

    /// Middle time of each difference, in seconds.
    pub(in crate::video) fn times(&self) -> &[f64] {
        &self.times
    }

    fn at(&self, k: usize, y: usize) -> f32 {
        f32::from(self.motion[k * self.rows + y]) / STEP
    }

    /// Mean motion of the rows `y0..y1` at the newest time, in grey levels; 0 before
    /// there is any.
    pub(in crate::video) fn newest(&self, y0: usize, y1: usize) -> f32 {
        let (y0, y1) = (y0.min(self.rows), y1.min(self.rows));
        match self.len().checked_sub(1) {
            Some(k) => (y0..y1).map(|y| self.at(k, y)).sum::<f32>() / (y1 - y0).max(1) as f32,
            None => 0.0,
        }
    }

    /// Running sums down each column of the motion above its still level:
    /// `sums[k][y]` is the motion of rows `0..y` at time `k`.
    pub(in crate::video) fn running_sums(&self) -> RunningSums {
        let still: Vec<f32> = (0..self.rows).map(|y| self.still_level(y)).collect();
        let stride = self.rows + 1;
        let mut sums = vec![0.0; stride * self.len()];
        for k in 0..self.len() {
            for y in 0..self.rows {
                let above = (self.at(k, y) - still[y]).max(0.0);
                sums[k * stride + y + 1] = sums[k * stride + y] + above;
            }
        }
        RunningSums { stride, sums }
    }

    /// What a row shows when nothing moves: noise of sensor and compression.
    fn still_level(&self, y: usize) -> f32 {
        const SMALLEST: f32 = 0.15;
        let mut values: Vec<f32> = (0..self.len()).map(|k| self.at(k, y)).collect();
        let fifth = values.len() / 5;
        match values.len() {
            0 => SMALLEST,
            _ => *values.select_nth_unstable_by(fifth, f32::total_cmp).1 + SMALLEST,
        }
    }
}

/// Motion summed down each column of the slice.
pub(in crate::video) struct RunningSums {
    stride: usize,
    sums: Vec<f32>,
}

/// The rows between two fractional ones, ready to be read at many times.
#[derive(Clone, Copy, Debug)]
pub(in crate::video) struct Band {
    top: Edge,
    bottom: Edge,
    /// One over its height; 0 for a band without any.
    per_row: f32,
}

/// A fractional row: the whole one and the rest.
#[derive(Clone, Copy, Debug)]
struct Edge {
    whole: usize,
    rest: f32,
}

impl Edge {
    fn upto(self, column: &[f32]) -> f32 {
        column[self.whole] + self.rest * (column[self.whole + 1] - column[self.whole])
    }
}

impl RunningSums {
    /// The part of the slice between the fractional rows `top` and `bottom`.
    pub(in crate::video) fn band(&self, top: f32, bottom: f32) -> Band {
        let last = (self.stride - 1) as f32;
        let (top, bottom) = (top.clamp(0.0, last), bottom.clamp(0.0, last));
        let high = bottom - top;
        let edge = |y: f32| {
            let whole = (y as usize).min(self.stride - 2);
            let rest = y - whole as f32;
            Edge { whole, rest }
        };
        Band {
            top: edge(top),
            bottom: edge(bottom),
            per_row: if high < 1e-3 { 0.0 } else { 1.0 / high },
        }
    }

    /// Motion of the row that moves most at time `k`: no band moves more.
    pub(in crate::video) fn liveliest(&self, k: usize) -> f32 {
        let column = &self.sums[k * self.stride..(k + 1) * self.stride];
        let rows = column
            .array_windows::<2>()
            .map(|[upper, lower]| lower - upper);
        rows.fold(0.0, f32::max)
    }

    /// Mean motion in a band at time `k`.
    pub(in crate::video) fn mean(&self, k: usize, band: &Band) -> f32 {
        let column = &self.sums[k * self.stride..(k + 1) * self.stride];
        (band.bottom.upto(column) - band.top.upto(column)) * band.per_row
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grey(rows: &[[u8; 4]]) -> Grey {
        Grey::new(4, rows.len(), rows.concat()).expect("sizes agree")
    }

    #[test]
    fn motion_is_told_by_row() {
        let mut builder = MotionBuilder::default();
        builder.push(0.0, grey(&[[50, 50, 50, 50], [80, 80, 80, 80]]));
        builder.push(0.1, grey(&[[50, 50, 50, 50], [80, 80, 80, 120]]));
        let slice = builder.slice();
        assert_eq!(slice.times(), [0.05]);
        assert_eq!(slice.newest(0, 1), 0.0);
        assert_eq!(slice.newest(1, 2), 10.0);
    }

    /// Two pictures of textured ground and a lighter foot, the second 3 rows lower.
    fn two_pictures(w: usize, h: usize) -> [Vec<u8>; 2] {
        [0, 3].map(|moved| {
            let value = |x: usize, y: usize| {
                let on_foot = x.abs_diff(16) < 4 && y.abs_diff(8 + moved) < 3;
                (60 + (x * 7 + y * 13) % 40 + if on_foot { 90 } else { 0 }) as u8
            };
            (0..h)
                .flat_map(|y| (0..w).map(move |x| value(x, y)))
                .collect()
        })
    }

    /// Against the differencing of an independent library: FFmpeg's `tblend` filter.
    #[test]
    fn row_motion_equals_that_of_ffmpeg() {
        use std::io::Write;
        use std::process::{Command, Stdio};
        let (w, h) = (32, 16);
        let [a, b] = two_pictures(w, h);
        let mut ffmpeg = Command::new("ffmpeg")
            .args("-v error -f rawvideo -pix_fmt gray -s 32x16 -i - -vf".split(' '))
            .args("tblend=all_mode=difference -f rawvideo -pix_fmt gray -".split(' '))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("this test needs the ffmpeg program; `make test` installs it");
        let mut input = ffmpeg.stdin.take().expect("piped");
        input
            .write_all(&[a.clone(), b.clone()].concat())
            .expect("ffmpeg reads");
        drop(input);
        let theirs = ffmpeg.wait_with_output().expect("ffmpeg ends").stdout;
        let theirs = &theirs[theirs.len() - w * h..];
        let mut builder = MotionBuilder::default();
        builder.push(0.0, Grey::new(w, h, a).expect("sizes agree"));
        builder.push(0.1, Grey::new(w, h, b).expect("sizes agree"));
        for y in 0..h {
            let sum: u32 = theirs[y * w..(y + 1) * w]
                .iter()
                .map(|&v| u32::from(v))
                .sum();
            let ours = builder.slice().newest(y, y + 1);
            assert!(
                (ours - sum as f32 / w as f32).abs() <= 0.5 / STEP,
                "row {y}"
            );
        }
    }

    #[test]
    fn a_lamp_that_flickers_is_not_motion() {
        let mut builder = MotionBuilder::default();
        builder.push(0.0, grey(&[[50, 60, 70, 80]; 9]));
        builder.push(0.1, grey(&[[100, 120, 140, 160]; 9]));
        assert!(builder.slice().newest(0, 9) < 0.1);
    }

    #[test]
    fn fractional_rows_share_their_motion() {
        let mut builder = MotionBuilder::default();
        for k in 0..12 {
            let moved = if k == 11 { 90 } else { 50 };
            builder.push(f64::from(k), grey(&[[50; 4], [50, 50, 50, moved], [50; 4]]));
        }
        let sums = builder.slice().running_sums();
        let mean = |top: f32, bottom: f32| sums.mean(10, &sums.band(top, bottom));
        let full = mean(1.0, 2.0);
        assert!((full - 9.85).abs() < 0.05, "{full}");
        assert!((mean(1.5, 2.5) - full / 2.0).abs() < 1e-3);
        assert_eq!(mean(1.5, 1.5), 0.0);
    }
}
