//! A clip to look at: its frames' times, and pictures of some of them.
//!
//! This is all that the local page sees of a clip's pictures.

use std::ops::{ControlFlow, RangeInclusive};
use std::path::Path;

use super::floor::{self, Chosen};
use super::{Progress, clock_of, failure, wording};
use crate::report::model::Failure;
use crate::units::CaptureTime;
use crate::video::clip::Clip;
use crate::video::still::frame_pictures;
use crate::video::{CaptureClock, FloorPatch};

pub use crate::video::still::{FramePicture, PictureArea};

/// A clip that is open to be looked at.
#[derive(Debug)]
pub struct Film {
    clip: Clip,
    clock: CaptureClock,
    times: Vec<CaptureTime>,
}

impl Film {
    /// Opens the clip at `path`.
    ///
    /// # Errors
    /// When it cannot be read, or its times cannot be used.
    pub fn open(path: &Path, capture_fps: Option<f64>) -> Result<Self, Failure> {
        let clip = Clip::open(path).map_err(failure)?;
        let clock = clock_of(&clip, capture_fps)?;
        let ticks = clip.packets().map_err(failure)?.presented();
        let times = ticks.iter().map(|&ticks| clock.time_of(ticks)).collect();
        Ok(Self { clip, clock, times })
    }

    /// Width and height of the upright picture, in pixels.
    pub fn size(&self) -> (u32, u32) {
        self.clip.facts().size
    }

    /// When each frame was taken, in order.
    pub fn times(&self) -> &[CaptureTime] {
        &self.times
    }

    /// Frames in a second of the world.
    pub fn capture_fps(&self) -> f64 {
        self.clock.report().capture_fps
    }

    /// Tags of the container: name and value.
    pub fn tags(&self) -> &[(String, String)] {
        &self.clip.facts().tags
    }

    /// What a person should know of the clip before it is measured.
    pub fn warnings(&self) -> Vec<String> {
        let mut warnings = wording::of_clip(self.clip.facts());
        warnings.extend(wording::of_clock(self.clock.report()));
        warnings
    }

    /// The patch kept beside the clip, if there is one that fits.
    pub fn kept_patch(&self) -> Option<Chosen> {
        floor::known(&self.clip, None, &mut Vec::new())
            .ok()
            .flatten()
    }

    /// A patch where something flies as feet do; `None` where nothing does.
    ///
    /// # Errors
    /// When the clip cannot be decoded.
    pub fn suggested_patch(
        &self,
        threads: usize,
        progress: &mut dyn Progress,
    ) -> Result<Option<FloorPatch>, Failure> {
        let found = floor::suggested(&self.clip, &self.clock, threads, progress)?;
        Ok(found.map(|found| found.patch))
    }

    /// Hands pictures of a range of frames on, in order, until `receive` has enough.
    ///
    /// # Errors
    /// When frames cannot be decoded or drawn.
    pub fn pictures(
        &self,
        range: RangeInclusive<usize>,
        area: PictureArea,
        threads: usize,
        receive: &mut dyn FnMut(FramePicture) -> ControlFlow<()>,
    ) -> Result<(), Failure> {
        frame_pictures(&self.clip, range, area, threads, receive).map_err(failure)
    }
}
