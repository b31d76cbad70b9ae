//! Frames that show the same picture as the one before.
//!
//! A converter that makes 30 frames a second out of 25 shows every fifth
//! picture twice. The stamps stay even and hide it; only the pictures tell.

use std::collections::VecDeque;

use super::clip::Clip;
use super::decode::{DecodeOptions, DecodedFrame, frames};
use super::fault::ClipError;
use crate::units::FrameIndex;

/// A repeated frame differs from the one before by less than this share of
/// what its neighbours differ by.
const REPEAT_SHARE: f64 = 0.05;

/// How many differences on either side make the neighbourhood.
const NEIGHBOURS: usize = 6;

/// A repeat has changes of at least this share of the usual one among so many
/// frames before it and after it: a scene that comes to rest has none after.
const MOVING_SHARE: f64 = 0.5;
const NEAREST: usize = 3;

/// Neighbourhoods that differ by less than this, in code values of an eight-bit
/// picture, show a still scene without noise: nothing can be told there.
const LEAST_CHANGE: f64 = 0.05;

/// Finds repeated pictures as frames go by.
///
/// Feed it each frame's sparse luma in capture order; it keeps a few numbers.
#[derive(Clone, Debug, Default)]
pub struct RepeatFinder {
    before: Option<Vec<u16>>,
    recent: VecDeque<(FrameIndex, f64)>,
    undecided: usize,
    report: RepeatReport,
}

/// Which frames repeat the picture before them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RepeatReport {
    /// Frames that show the same picture as the one before.
    pub repeated: Vec<FrameIndex>,
    /// Frames that could be judged: enough change round them.
    pub judged: usize,
}

impl RepeatReport {
    /// Share of the frames judged that are repeats.
    pub fn share(&self) -> f64 {
        self.repeated.len() as f64 / self.judged.max(1) as f64
    }

    /// The interval at which repeats come, in frames, if they keep to one: the
    /// mark of a converted frame rate. Every sixth is 25 made into 30.
    pub fn period(&self) -> Option<f64> {
        let gaps: Vec<usize> = self
            .repeated
            .windows(2)
            .filter_map(|pair| match pair {
                [earlier, later] => later.0.checked_sub(earlier.0),
                _ => None,
            })
            .collect();
        if gaps.len() < 3 {
            return None;
        }
        let mut sorted = gaps.clone();
        sorted.sort_unstable();
        let usual = *sorted.get(sorted.len() / 2)?;
        // A missed one shows as a multiple.
        let regular = gaps.iter().filter(|&&gap| {
            let times = (gap as f64 / usual as f64).round().max(1.0);
            (gap as f64 - times * usual as f64).abs() <= times
        });
        (regular.count() * 5 >= gaps.len() * 4).then_some(usual as f64)
    }
}

impl RepeatFinder {
    /// A finder that has seen nothing.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes the next frame's sparse luma.
    pub(in crate::video) fn push(&mut self, index: FrameIndex, luma: Vec<u16>, depth_bits: u32) {
        let unit = 2_f64.powi(depth_bits as i32 - 8);
        let change = self
            .before
            .as_ref()
            .and_then(|before| mean_change(before, &luma))
            .map(|change| change / unit);
        self.before = Some(luma);
        let Some(change) = change else { return };
        self.recent.push_back((index, change));
        self.undecided += 1;
        if self.undecided > NEIGHBOURS {
            self.judge(self.recent.len() - self.undecided);
        }
        if self.recent.len() > 2 * NEIGHBOURS {
            self.recent.pop_front();
        }
    }

    /// Judges what is left and reports.
    pub fn finish(mut self) -> RepeatReport {
        while self.undecided > 0 {
            self.judge(self.recent.len() - self.undecided);
        }
        self.report
    }

    /// Judges the change at `place` of the recent ones against the others.
    ///
    /// The median of the neighbours stands for the usual change: a still scene
    /// is still on both sides, a repeat stands between changes.
    fn judge(&mut self, place: usize) {
        self.undecided -= 1;
        let Some(&(index, change)) = self.recent.get(place) else {
            return;
        };
        let mut others: Vec<f64> = self
            .recent
            .iter()
            .enumerate()
            .filter(|&(i, _)| i != place && i.abs_diff(place) <= NEIGHBOURS)
            .map(|(_, &(_, change))| change)
            .collect();
        others.sort_unstable_by(f64::total_cmp);
        let Some(&usual) = others.get(others.len() / 2) else {
            return;
        };
        if others.len() < 3 || usual < LEAST_CHANGE {
            return;
        }
        self.report.judged += 1;
        let moves = |places: std::ops::Range<usize>| {
            let near = self.recent.range(places);
            near.into_iter()
                .any(|&(_, change)| change > MOVING_SHARE * usual)
        };
        let between_changes = moves(place.saturating_sub(NEAREST)..place)
            && moves(place + 1..(place + 1 + NEAREST).min(self.recent.len()));
        if change < REPEAT_SHARE * usual && between_changes {
            self.report.repeated.push(index);
        }
    }
}

/// Mean absolute difference; `None` where the pictures do not compare.
fn mean_change(before: &[u16], after: &[u16]) -> Option<f64> {
    if before.is_empty() || before.len() != after.len() {
        return None;
    }
    let sum: u64 = before
        .iter()
        .zip(after)
        .map(|(a, b)| u64::from(a.abs_diff(*b)))
        .sum();
    Some(sum as f64 / before.len() as f64)
}

/// Decodes a whole clip and finds its repeated pictures.
pub fn find_repeats(clip: &Clip, options: &DecodeOptions) -> Result<RepeatReport, ClipError> {
    let mut finder = RepeatFinder::new();
    let depth = clip.facts().bit_depth;
    let mut fault = None;
    frames(clip, options, |frame: &DecodedFrame| {
        match frame.sparse_luma() {
            Ok(luma) => finder.push(frame.stamp.index, luma, depth),
            Err(error) => {
                fault = Some(error);
                return std::ops::ControlFlow::Break(());
            }
        }
        std::ops::ControlFlow::Continue(())
    })?;
    match fault {
        Some(error) => Err(error),
        None => Ok(finder.finish()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A report on pictures whose levels follow `level`, with a little noise.
    fn report(levels: impl IntoIterator<Item = (f64, bool)>) -> RepeatReport {
        let mut finder = RepeatFinder::new();
        let mut state = 7_u64;
        let mut picture = vec![0_u16; 256];
        for (i, (level, fresh)) in levels.into_iter().enumerate() {
            if fresh {
                for (j, value) in picture.iter_mut().enumerate() {
                    state = state
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1);
                    let noise = (state >> 62) as u16;
                    *value = (level * (j % 16) as f64) as u16 + 40 + noise;
                }
            }
            finder.push(FrameIndex(i), picture.clone(), 8);
        }
        finder.finish()
    }

    #[test]
    fn every_sixth_frame_of_a_conversion_from_25_is_found() {
        let report = report((0..90).map(|i| (f64::from(i) * 0.3, i % 6 != 5)));
        let found: Vec<usize> = report.repeated.iter().map(|index| index.0).collect();
        // The very last one might be the beginning of a rest.
        assert_eq!(found, (5..89).step_by(6).collect::<Vec<_>>());
        assert_eq!(report.period(), Some(6.0));
    }

    #[test]
    fn a_still_noisy_scene_repeats_nothing() {
        let report = report((0..90).map(|_| (1.0, true)));
        assert_eq!(report.repeated, []);
        assert!(report.judged > 80);
    }

    #[test]
    fn a_still_scene_without_noise_is_not_judged() {
        let report = report((0..90).map(|i| (1.0, i == 0)));
        assert_eq!((report.judged, report.repeated.len()), (0, 0));
        assert_eq!(report.period(), None);
    }

    #[test]
    fn motion_that_stops_for_long_is_no_repeat() {
        let report = report((0..120).map(|i| (f64::from(i), !(40..80).contains(&i))));
        assert_eq!(report.repeated, []);
    }

    #[test]
    fn few_frames_do_no_harm() {
        for count in 0..6 {
            assert_eq!(report((0..count).map(|_| (1.0, true))).repeated, []);
        }
    }
}
