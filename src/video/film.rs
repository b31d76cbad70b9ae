//! Small pictures in order of time: what parts of the shoe and the body are followed in.

use super::grey::Grey;

/// The frames to follow tiles in, each also at half its size.
#[derive(Default)]
pub(in crate::video) struct Film {
    pub(in crate::video) times: Vec<f64>,
    pub(in crate::video) frames: Vec<Grey>,
    pub(in crate::video) halves: Vec<Grey>,
}

impl Film {
    pub(in crate::video) fn push(&mut self, time_s: f64, frame: Grey) {
        if let Some(half) = frame.halved() {
            self.times.push(time_s);
            self.halves.push(half);
            self.frames.push(frame);
        }
    }

    /// Goes on with the frames of a later film.
    pub(in crate::video) fn append(&mut self, later: Self) {
        self.times.extend(later.times);
        self.frames.extend(later.frames);
        self.halves.extend(later.halves);
    }

    /// Bytes of the pictures held.
    pub(in crate::video) fn bytes(&self) -> usize {
        let one = self.frames.last().map_or(0, |f| f.width() * f.height());
        self.frames.len() * (one + one / 4)
    }

    /// Lets go of all frames before a time.
    pub(in crate::video) fn forget_before(&mut self, time_s: f64) {
        let count = self.times.partition_point(|&t| t < time_s);
        self.times.drain(..count);
        self.frames.drain(..count);
        self.halves.drain(..count);
    }

    /// Frame nearest to a time, the later one of two equally near.
    pub(in crate::video) fn nearest(&self, t: f64) -> Option<usize> {
        let after = self.times.partition_point(|&x| x < t);
        let before = after.checked_sub(1);
        let earlier = before.filter(|&k| {
            self.times
                .get(after)
                .is_none_or(|later| t - self.times[k] < later - t)
        });
        earlier.or((after < self.times.len()).then_some(after))
    }

    /// Capture times in seconds.
    pub(in crate::video) fn times(&self) -> &[f64] {
        &self.times
    }
}
