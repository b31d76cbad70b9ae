//! Pictures for people: the floor with a pixel ruler, and the frames round an
//! event with the decisive ones marked. Only encoded PNG bytes come out.
//!
//! Two pictures are drawn. The *ruler still* keeps the size of the clip's upright
//! picture, so that a place read off the ruler, or under the cursor of any image
//! viewer, is a place in the clip. The *event strip* lets a person check a
//! measurement by eye: it shows the frames on either side of take-off and landing.

#![cfg_attr(
    not(test),
    expect(
        dead_code,
        unused_imports,
        reason = "called once the decoder hands over its frames"
    )
)]

mod paint;
mod ruler;
mod strip;
#[cfg(test)]
mod tests;

use std::io::Cursor;

use image::{ImageFormat, RgbImage};
use thiserror::Error;

use crate::units::{CaptureTime, FrameIndex};

pub(in crate::video) use ruler::ruler_still;
pub(in crate::video) use strip::event_strip;

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
        "the floor patch {x_px},{y_px},{w_px},{h_px} does not lie inside the {width_px} x {height_px} px picture; mark it again"
    )]
    PatchOutside {
        /// Left edge of the patch in pixels.
        x_px: u32,
        /// Top edge of the patch in pixels.
        y_px: u32,
        /// Width of the patch in pixels.
        w_px: u32,
        /// Height of the patch in pixels.
        h_px: u32,
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

/// A box in the upright picture, in pixels from its top left corner.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::video) struct PatchBox {
    /// Left edge.
    pub x_px: u32,
    /// Top edge.
    pub y_px: u32,
    /// Width.
    pub w_px: u32,
    /// Height.
    pub h_px: u32,
}

impl PatchBox {
    /// Refuses a box that is empty or reaches beyond the picture.
    fn check_inside(&self, (width_px, height_px): (u32, u32)) -> Result<(), StillError> {
        let fits = |start: u32, length: u32, side: u32| {
            length > 0 && start.checked_add(length).is_some_and(|end| end <= side)
        };
        if fits(self.x_px, self.w_px, width_px) && fits(self.y_px, self.h_px, height_px) {
            return Ok(());
        }
        Err(StillError::PatchOutside {
            x_px: self.x_px,
            y_px: self.y_px,
            w_px: self.w_px,
            h_px: self.h_px,
            width_px,
            height_px,
        })
    }
}

/// Which of the two events of a jump a row of frames surrounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::video) enum EventKind {
    /// The feet leave the floor.
    TakeOff,
    /// The feet meet the floor again.
    Landing,
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
