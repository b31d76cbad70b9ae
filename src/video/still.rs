//! Pictures for people: the floor with a pixel ruler, and the frames round an
//! event with the decisive ones marked. Only encoded PNG bytes come out.
//!
//! Two pictures are drawn. The *ruler still* keeps the size of the clip's upright
//! picture, so that a place read off the ruler, or under the cursor of any image
//! viewer, is a place in the clip. The *event strip* lets a person check a
//! measurement by eye: it shows the frames on either side of take-off and landing.

mod film;
mod frames;
mod paint;
mod ruler;
mod strip;
#[cfg(test)]
mod tests;

use std::io::Cursor;

use image::{ImageFormat, RgbImage};
use thiserror::Error;

use super::patch::FloorPatch;
use crate::units::{CaptureTime, FrameIndex};

pub use film::{EventView, PictureError, jump_picture, ruler_picture};
pub use frames::{FramePicture, PictureArea, frame_pictures};
use ruler::ruler_still;
use strip::event_strip;

/// Longest side of a picture that is drawn on, in pixels; twice 8K.
const LONGEST_SIDE_PX: u32 = 15_360;

/// Most frames that one row of an event strip shows.
const MOST_FRAMES_IN_ROW: usize = 24;

/// Why a picture could not be drawn.
#[derive(Debug, Error)]
pub enum StillError {
    /// The frame holds no pixels, or more than any phone films.
    #[error(
        "frame {frame} is {width_px} x {height_px} px, which cannot be drawn on; check that the clip plays elsewhere"
    )]
    Size {
        /// Which frame.
        frame: FrameIndex,
        /// Its width in pixels.
        width_px: u32,
        /// Its height in pixels.
        height_px: u32,
    },
    /// The patch lies wholly or partly beyond the picture's edge.
    #[error(
        "the floor patch {patch} does not lie inside the {width_px} x {height_px} px picture; mark it again"
    )]
    PatchOutside {
        /// The patch.
        patch: FloorPatch,
        /// Width of the picture in pixels.
        width_px: u32,
        /// Height of the picture in pixels.
        height_px: u32,
    },
    /// An event row without frames, or with too many to be looked at.
    #[error("{count} frames round one event; a strip shows 1 to {most}", most = MOST_FRAMES_IN_ROW)]
    FrameCount {
        /// Frames that were given.
        count: usize,
    },
    /// The lettering could not be loaded: a fault of the build, not of the clip.
    #[error("the built-in typeface could not be read; reinstall the program")]
    Typeface,
    /// The PNG encoder refused.
    #[error("the picture could not be encoded as PNG: {0}")]
    Encode(#[from] image::ImageError),
}

/// One decoded frame, turned upright.
#[derive(Clone, Debug)]
pub(in crate::video) struct UprightFrame {
    /// Position in the clip.
    pub index: FrameIndex,
    /// When it was taken.
    pub time: CaptureTime,
    /// Its pixels, 8-bit RGB.
    pub picture: RgbImage,
}

impl UprightFrame {
    /// Refuses pictures that are empty or absurdly large.
    fn check_size(&self) -> Result<(), StillError> {
        let (width_px, height_px) = self.picture.dimensions();
        let drawable = 1..=LONGEST_SIDE_PX;
        if drawable.contains(&width_px) && drawable.contains(&height_px) {
            return Ok(());
        }
        Err(StillError::Size {
            frame: self.index,
            width_px,
            height_px,
        })
    }
}

/// Refuses a patch that is empty or reaches beyond the picture.
fn check_inside(patch: FloorPatch, (width_px, height_px): (u32, u32)) -> Result<(), StillError> {
    let fits = |start: u32, length: u32, side: u32| {
        length > 0 && start.checked_add(length).is_some_and(|end| end <= side)
    };
    if fits(patch.x, patch.w, width_px) && fits(patch.y, patch.h, height_px) {
        return Ok(());
    }
    Err(StillError::PatchOutside {
        patch,
        width_px,
        height_px,
    })
}

/// Which of the two events of a jump a row of frames surrounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EventKind {
    /// The feet leave the floor.
    TakeOff,
    /// The feet meet the floor again.
    Landing,
}

impl EventKind {
    /// Its name inside a sentence.
    pub const fn name(self) -> &'static str {
        match self {
            EventKind::TakeOff => "take-off",
            EventKind::Landing => "landing",
        }
    }
}

/// The frames round one event, and which two of them enclose it.
#[derive(Clone, Copy, Debug)]
pub(in crate::video) struct EventRow<'a> {
    /// Take-off or landing.
    pub kind: EventKind,
    /// The best estimate of the moment; times under the frames count from it.
    pub moment: CaptureTime,
    /// Last frame before the event: last contact, or last in the air.
    pub before: FrameIndex,
    /// First frame after the event: first in the air, or first contact.
    pub after: FrameIndex,
    /// The frames to show, in capture order.
    pub frames: &'a [UprightFrame],
}

/// Encodes a finished picture.
fn encode_png(picture: &RgbImage) -> Result<Vec<u8>, StillError> {
    let mut bytes = Cursor::new(Vec::new());
    picture.write_to(&mut bytes, ImageFormat::Png)?;
    Ok(bytes.into_inner())
}
