//! Whether two pictures of the feet show the same, to within the noise.

use super::grey::Grey;
use super::motion::{median, row_gains};

/// Smallest difference between means of 3 x 3 pixels that counts, in grey levels.
const LEAST: f32 = 4.0;
/// The same as a multiple of the scatter of all such differences.
const SCATTERS: f32 = 7.0;
/// A foot in the air has to change the picture by this multiple of the limit: then
/// a foot that has moved by less than one pixel of the picture exceeds it too.
const CLEARLY: f32 = 4.0;

/// Part of what a foot in the air changes that a sole may change which stays where it
/// is: the body's shadow moves over it, the shoe bends. A shift changes three pixels of
/// the picture, an eighth of the patch, in proportion: this one by half a centimetre.
const OF_CHANGE: f32 = 1.0 / 6.0;

/// The limit between noise and change, measured on the clip itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::video) struct Likeness {
    limit: f32,
}

impl Likeness {
    /// The limit for a row of key pictures: from the least scattered pair, where
    /// nothing but noise differs. `None` with fewer than two pictures.
    pub(in crate::video) fn of(pictures: &[&Grey]) -> Option<Self> {
        let scatters = pictures.windows(2).map(|pair| scatter(pair[0], pair[1]));
        let least = scatters.min_by(f32::total_cmp)?;
        Some(Self {
            limit: LEAST.max(SCATTERS * least),
        })
    }

    /// Largest difference that is noise.
    pub(in crate::video) fn limit(self) -> f32 {
        self.limit
    }

    /// Largest difference of soles that stand where they stood, in a clip in which a
    /// foot in the air makes a difference of `change`.
    pub(in crate::video) fn of_soles(self, change: f32) -> f32 {
        self.limit.max(OF_CHANGE * change)
    }

    /// Least difference that a foot in the air must make.
    pub(in crate::video) fn clear(self) -> f32 {
        CLEARLY * self.limit
    }
}

/// Largest difference between means of 3 x 3 pixels, after evening out the light
/// row by row; infinite for pictures of different size.
pub(in crate::video) fn difference(a: &Grey, b: &Grey) -> f32 {
    let Some(blocks) = block_differences(a, b) else {
        return f32::INFINITY;
    };
    blocks.iter().map(|d| d.abs()).fold(0.0, f32::max)
}

/// Typical size of such differences: 1.48 times the median is the standard
/// deviation of normal noise.
fn scatter(a: &Grey, b: &Grey) -> f32 {
    let blocks = block_differences(a, b).unwrap_or_default();
    let mut sizes: Vec<f32> = blocks.iter().map(|d| d.abs()).collect();
    1.48 * median(&mut sizes).unwrap_or(f32::INFINITY)
}

/// Differences between the means of all 3 x 3 pixels, at every second place.
fn block_differences(a: &Grey, b: &Grey) -> Option<Vec<f32>> {
    let (w, h) = (a.width(), a.height());
    if (w, h) != (b.width(), b.height()) || w < 3 || h < 3 {
        return None;
    }
    let gains = row_gains(a, b);
    let mut rows: Vec<Vec<f32>> = Vec::with_capacity(h);
    for (y, gain) in gains.iter().enumerate() {
        let pairs = a.row(y).iter().zip(b.row(y));
        let row: Vec<f32> = pairs
            .map(|(&p, &q)| f32::from(p) - gain * f32::from(q))
            .collect();
        rows.push(row.windows(3).map(|three| three.iter().sum()).collect());
    }
    let mut blocks = Vec::with_capacity(w * h / 4);
    for three in rows.windows(3).step_by(2) {
        let columns = three[0].iter().zip(&three[1]).zip(&three[2]);
        blocks.extend(columns.step_by(2).map(|((x, y), z)| (x + y + z) / 9.0));
    }
    Some(blocks)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A dark foot on a textured floor, its left edge at a fractional column.
    fn foot(left: f32, noise: u64, light: f32) -> Grey {
        let (w, h) = (60, 30);
        let mut state = noise;
        let mut random = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 40) as f32 / (1u64 << 24) as f32
        };
        let luma = (0..w * h)
            .map(|at| {
                let (x, y) = ((at % w) as f32, at / w);
                let ground = 120.0 + ((at * 7) % 11) as f32;
                let covered =
                    ((x + 1.0 - left).clamp(0.0, 1.0) - (x - left - 20.0).clamp(0.0, 1.0)).max(0.0);
                let covered = if (8..24).contains(&y) { covered } else { 0.0 };
                let value = light * (ground - 60.0 * covered) + 2.0 * (random() - 0.5);
                value.round() as u8
            })
            .collect();
        Grey::new(w, h, luma).expect("sizes agree")
    }

    #[test]
    fn noise_is_likeness_and_half_a_pixel_is_none() {
        let stood = [foot(18.0, 1, 1.0), foot(18.0, 2, 1.0)];
        let likeness = Likeness::of(&[&stood[0], &stood[1]]).expect("two pictures");
        assert!(difference(&stood[0], &stood[1]) <= likeness.limit());
        let moved = foot(18.5, 3, 1.0);
        assert!(difference(&stood[0], &moved) > likeness.limit());
        let gone = foot(1000.0, 4, 1.0);
        assert!(difference(&stood[0], &gone) > likeness.clear());
    }

    #[test]
    fn a_lamp_that_pulses_changes_nothing() {
        let (bright, dim) = (foot(18.0, 1, 1.0), foot(18.0, 2, 0.8));
        let likeness = Likeness::of(&[&bright, &dim]).expect("two pictures");
        assert!(difference(&bright, &dim) <= likeness.limit());
    }

    #[test]
    fn pictures_of_other_sizes_are_unlike() {
        let small = Grey::new(3, 3, vec![9; 9]).expect("sizes agree");
        assert_eq!(difference(&small, &foot(18.0, 1, 1.0)), f32::INFINITY);
        assert!(Likeness::of(&[&small]).is_none());
    }
}
