//! A clip to look at: its frames' times, and pictures of some of them.
//!
//! This is all that the local page sees of a clip's pictures. Where the program keeps
//! its decoder apart, a child has the clip open and this process has not.

use std::ops::{ControlFlow, RangeInclusive};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::apart::{self, Asked, Viewer};
use super::floor::{self, Chosen};
use super::{Progress, clock_of, failure, wording};
use crate::report::model::Failure;
use crate::units::CaptureTime;
use crate::video::clip::Clip;
use crate::video::still::frame_pictures;
use crate::video::{CaptureClock, FloorPatch};

pub use crate::video::still::{FramePicture, PictureArea};

/// What a clip says of itself to whoever looks at it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct FilmFacts {
    size: (u32, u32),
    times: Vec<CaptureTime>,
    capture_fps: f64,
    tags: Vec<(String, String)>,
    warnings: Vec<String>,
    kept: Option<Chosen>,
}

impl FilmFacts {
    /// Whether a clip can say that: a child may send anything.
    pub(super) fn check(&self) -> Result<(), String> {
        let in_order = self.times.is_sorted() && self.times.iter().all(|t| t.seconds().is_finite());
        let fits = |kept: Chosen| kept.patch.check(self.size).is_ok();
        let sound = in_order
            && self.size.0 > 0
            && self.size.1 > 0
            && self.capture_fps.is_finite()
            && self.capture_fps > 0.0
            && self.kept.is_none_or(fits);
        match sound {
            true => Ok(()),
            false => Err("a clip cannot be like that".to_owned()),
        }
    }
}

/// A clip that is open to be looked at.
#[derive(Debug)]
pub struct Film {
    path: PathBuf,
    /// The camera's setting, where a person stated it.
    stated_fps: Option<f64>,
    facts: FilmFacts,
    reader: Reader,
}

/// Who has the clip open.
#[derive(Debug)]
enum Reader {
    Here(Box<Here>),
    Apart(Viewer),
}

impl Film {
    /// Opens the clip at `path`.
    ///
    /// # Errors
    /// When it cannot be read, or its times cannot be used.
    pub fn open(path: &Path, capture_fps: Option<f64>) -> Result<Self, Failure> {
        let (reader, facts) = match Viewer::open(path, capture_fps) {
            Asked::Answer(opened) => (Reader::Apart(opened.0), opened.1),
            Asked::Failed(failure) => return Err(failure),
            Asked::Here(remark) => {
                let here = Here::open(path, capture_fps)?;
                let mut facts = here.facts()?;
                facts.warnings.extend(remark);
                (Reader::Here(Box::new(here)), facts)
            }
        };
        Ok(Self {
            path: path.to_owned(),
            stated_fps: capture_fps,
            facts,
            reader,
        })
    }

    /// Width and height of the upright picture, in pixels.
    pub fn size(&self) -> (u32, u32) {
        self.facts.size
    }

    /// When each frame was taken, in order.
    pub fn times(&self) -> &[CaptureTime] {
        &self.facts.times
    }

    /// Frames in a second of the world.
    pub fn capture_fps(&self) -> f64 {
        self.facts.capture_fps
    }

    /// Tags of the container: name and value.
    pub fn tags(&self) -> &[(String, String)] {
        &self.facts.tags
    }

    /// What a person should know of the clip before it is measured.
    pub fn warnings(&self) -> &[String] {
        &self.facts.warnings
    }

    /// The patch that was kept beside the clip when it was opened, if one fits.
    pub fn kept_patch(&self) -> Option<Chosen> {
        self.facts.kept
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
        let suggested = match &self.reader {
            Reader::Here(here) => here.suggested(threads, progress)?,
            Reader::Apart(_) => {
                match apart::suggest(&self.path, self.stated_fps, threads, progress) {
                    Asked::Answer(suggested) => *suggested,
                    Asked::Failed(failure) => return Err(failure),
                    Asked::Here(_) => {
                        Here::open(&self.path, self.stated_fps)?.suggested(threads, progress)?
                    }
                }
            }
        };
        let fitting = suggested.map(|patch| patch.check(self.facts.size));
        fitting.transpose().map_err(failure)
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
        match &self.reader {
            Reader::Here(here) => here.pictures(range, area, threads, receive),
            Reader::Apart(viewer) => viewer.pictures(range, area, threads, receive),
        }
    }
}

/// A clip that this process has open.
#[derive(Debug)]
pub(super) struct Here {
    clip: Clip,
    clock: CaptureClock,
}

impl Here {
    pub(super) fn open(path: &Path, capture_fps: Option<f64>) -> Result<Self, Failure> {
        let clip = Clip::open(path).map_err(failure)?;
        let clock = clock_of(&clip, capture_fps)?;
        Ok(Self { clip, clock })
    }

    pub(super) fn facts(&self) -> Result<FilmFacts, Failure> {
        let facts = self.clip.facts();
        let ticks = self.clip.packets().map_err(failure)?.presented();
        let mut warnings = wording::of_clip(facts);
        warnings.extend(wording::of_clock(self.clock.report()));
        let known = floor::known(&self.clip, None, &mut Vec::new());
        Ok(FilmFacts {
            size: facts.size,
            times: ticks.iter().map(|&at| self.clock.time_of(at)).collect(),
            capture_fps: self.clock.report().capture_fps,
            tags: facts.tags.clone(),
            warnings,
            kept: known.ok().flatten(),
        })
    }

    pub(super) fn suggested(
        &self,
        threads: usize,
        progress: &mut dyn Progress,
    ) -> Result<Option<FloorPatch>, Failure> {
        let found = floor::suggested(&self.clip, &self.clock, threads, progress)?;
        Ok(found.map(|found| found.patch))
    }

    pub(super) fn pictures(
        &self,
        range: RangeInclusive<usize>,
        area: PictureArea,
        threads: usize,
        receive: &mut dyn FnMut(FramePicture) -> ControlFlow<()>,
    ) -> Result<(), Failure> {
        frame_pictures(&self.clip, range, area, threads, receive).map_err(failure)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::video::kept::PatchOrigin;

    fn facts() -> FilmFacts {
        FilmFacts {
            size: (640, 360),
            times: [0.0, 0.1].map(CaptureTime::from_seconds).to_vec(),
            capture_fps: 10.0,
            tags: Vec::new(),
            warnings: Vec::new(),
            kept: None,
        }
    }

    #[test]
    fn a_clip_that_cannot_be_is_not_believed() {
        assert_eq!(facts().check(), Ok(()));
        let at = CaptureTime::from_seconds;
        let beyond = Chosen {
            patch: FloorPatch {
                x: 600,
                y: 300,
                w: 100,
                h: 50,
            },
            origin: PatchOrigin::Marked,
            kept: true,
        };
        let refused = [
            FilmFacts {
                size: (0, 360),
                ..facts()
            },
            FilmFacts {
                times: vec![at(0.1), at(0.0)],
                ..facts()
            },
            FilmFacts {
                times: vec![at(0.0), at(f64::INFINITY)],
                ..facts()
            },
            FilmFacts {
                capture_fps: f64::NAN,
                ..facts()
            },
            FilmFacts {
                kept: Some(beyond),
                ..facts()
            },
        ];
        for facts in refused {
            assert!(facts.check().is_err(), "{facts:?}");
        }
    }
}
