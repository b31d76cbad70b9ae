//! The watched part of the picture: the floor patch and what is round it.

use multiversion::multiversion;

use super::grey::Grey;
use super::plane::UprightRect;
use crate::video::patch::FloorPatch;

/// The watched rectangle and the two sizes at which it is kept.
///
/// *Fine* pictures are followed part by part; *coarse* ones are differenced
/// along the whole clip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::video) struct Zone {
    /// Left, top, width and height in pixels of the upright picture.
    pub(in crate::video) x: u32,
    pub(in crate::video) y: u32,
    pub(in crate::video) w: u32,
    pub(in crate::video) h: u32,
    /// Side of the square of pixels averaged into one, fine and coarse.
    pub(in crate::video) fine: u32,
    pub(in crate::video) coarse: u32,
    patch: FloorPatch,
}

/// How far the zone reaches beyond the patch, in patch widths and heights.
const BESIDE: f64 = 0.5;
const ABOVE: f64 = 3.0;
const BELOW: f64 = 0.3;
/// Patch heights wanted in the fine and the coarse picture, in pixels.
const FINE_HEIGHT: f64 = 60.0;
const COARSE_HEIGHT: f64 = 24.0;

impl Zone {
    /// The zone round a patch in a picture of the given size.
    pub(in crate::video) fn new(patch: FloorPatch, size: (u32, u32)) -> Self {
        let (px, py) = (f64::from(patch.x), f64::from(patch.y));
        let (pw, ph) = (f64::from(patch.w), f64::from(patch.h));
        let x = (px - BESIDE * pw).max(0.0) as u32;
        let y = (py - ABOVE * ph).max(0.0) as u32;
        let right = ((px + (1.0 + BESIDE) * pw) as u32).min(size.0);
        let bottom = ((py + (1.0 + BELOW) * ph) as u32).min(size.1);
        let bin = |wanted: f64| (ph / wanted).round().max(1.0) as u32;
        Self {
            x,
            y,
            w: right.saturating_sub(x),
            h: bottom.saturating_sub(y),
            fine: bin(FINE_HEIGHT),
            coarse: bin(COARSE_HEIGHT),
            patch,
        }
    }

    /// The rectangle to read.
    pub(in crate::video) fn rect(&self) -> UprightRect {
        UprightRect {
            x: self.x,
            y: self.y,
            w: self.w,
            h: self.h,
        }
    }

    /// Patch top and height in the rows of a picture averaged by `bin`.
    pub(in crate::video) fn patch_rows(&self, bin: u32) -> (f64, f64) {
        let bin = f64::from(bin);
        let top = f64::from(self.patch.y - self.y) / bin;
        (top, f64::from(self.patch.h) / bin)
    }

    /// First column of the patch in such a picture, and the one after its last.
    pub(in crate::video) fn patch_columns(&self, bin: u32) -> (usize, usize) {
        let left = self.patch.x - self.x;
        (
            (left / bin) as usize,
            ((left + self.patch.w) / bin) as usize,
        )
    }
}

/// Averages squares of `bin` pixels of raw luma into one 8-bit value each.
///
/// `depth` is the number of bits of a raw value. Pixels that do not fill a
/// square at the right and lower edge are left out.
pub(in crate::video) fn shrink(
    luma: &[u16],
    w: usize,
    h: usize,
    depth: u32,
    bin: u32,
) -> Option<Grey> {
    let bin = bin.max(1) as usize;
    if luma.len() != w.checked_mul(h)? {
        return None;
    }
    let divisor = (bin * bin) as u32 * (1 << depth.saturating_sub(8).min(8));
    Grey::new(w / bin, h / bin, means(luma, w, bin, divisor))
}

/// Sums of squares of `bin` x `bin` values over `divisor`.
#[multiversion(targets("x86_64+avx2"))]
fn means(luma: &[u16], w: usize, bin: usize, divisor: u32) -> Vec<u8> {
    let mut out = Vec::with_capacity(luma.len() / (bin * bin));
    let mut sums = vec![0u32; w / bin * bin];
    for rows in luma.chunks_exact((w * bin).max(1)) {
        add_up(rows, w, &mut sums);
        match bin {
            1 => append_means::<1>(&sums, divisor, &mut out),
            2 => append_means::<2>(&sums, divisor, &mut out),
            3 => append_means::<3>(&sums, divisor, &mut out),
            4 => append_means::<4>(&sums, divisor, &mut out),
            5 => append_means::<5>(&sums, divisor, &mut out),
            6 => append_means::<6>(&sums, divisor, &mut out),
            _ => out.extend(
                sums.chunks_exact(bin)
                    .map(|s| mean(s.iter().sum(), divisor)),
            ),
        }
    }
    out
}

/// Means of `BIN` column sums each; the length is known when compiling, which is what lets
/// the compiler use vectors.
#[inline(always)]
fn append_means<const BIN: usize>(sums: &[u32], divisor: u32, out: &mut Vec<u8>) {
    let (squares, _) = sums.as_chunks::<BIN>();
    out.extend(squares.iter().map(|s| mean(s.iter().sum(), divisor)));
}

/// Sums of columns.
#[inline(always)]
fn add_up(rows: &[u16], w: usize, sums: &mut [u32]) {
    sums.fill(0);
    for row in rows.chunks_exact(w) {
        for (sum, &value) in sums.iter_mut().zip(row) {
            *sum += u32::from(value);
        }
    }
}

/// Rounded to the nearest. A quotient that is no whole number is away from the next one by
/// one over the divisor at least, which is more than the 24 bits round off as long as the
/// sum has no more bits; only squares of hundreds of pixels have.
#[inline(always)]
fn mean(sum: u32, divisor: u32) -> u8 {
    const EXACT: u32 = 1 << 23;
    let sum = sum + divisor / 2;
    if divisor < EXACT >> 8 {
        // Conversion leaves off what comes after the point, and stops at 255.
        (sum as f32 / divisor as f32) as u8
    } else {
        (sum / divisor).min(255) as u8
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn squares_are_averaged_and_brought_to_eight_bits() {
        let luma = [400, 404, 9, 408, 412, 9];
        let grey = shrink(&luma, 3, 2, 10, 2).expect("sizes agree");
        assert_eq!((grey.width(), grey.height()), (1, 1));
        assert_eq!(grey.row(0), [102]); // mean 406 of 1023 is 101.5 of 255
    }

    #[test]
    fn means_are_those_of_plain_division() {
        for (bin, depth) in [
            (1u32, 8u32),
            (2, 8),
            (3, 10),
            (5, 8),
            (7, 12),
            (40, 8),
            (12, 10),
            (180, 8),
            (182, 8),
        ] {
            let divisor = bin * bin * (1 << (depth - 8));
            let most = bin * bin * ((1 << depth) - 1);
            for sum in (0..=most).step_by(1 + most as usize / 50_000) {
                let plain = (sum + divisor / 2) / divisor;
                assert_eq!(
                    u32::from(mean(sum, divisor)),
                    plain.min(255),
                    "{sum} of {divisor}"
                );
            }
        }
    }

    #[test]
    fn the_zone_stays_inside_the_picture() {
        let patch = FloorPatch {
            x: 2,
            y: 5,
            w: 100,
            h: 40,
        };
        let zone = Zone::new(patch, (120, 50));
        assert_eq!((zone.x, zone.y, zone.w, zone.h), (0, 0, 120, 50));
        assert_eq!(zone.patch_rows(2), (2.5, 20.0));
    }
}
