//! Single frames for a person who steps through a clip: plain pictures, nothing drawn in.

use std::ops::{ControlFlow, RangeInclusive};

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder, RgbImage};
use serde::{Deserialize, Serialize};

use super::{PictureError, StillError};
use crate::units::FrameIndex;
use crate::video::clip::Clip;
use crate::video::decode::{DecodeOptions, frames};
use crate::video::patch::FloorPatch;
use crate::video::plane::UprightRect;

/// Quality of the pictures on the encoder's scale to 100: fine enough to see whether a
/// sole has left the floor, and a tenth of the size of a PNG.
const QUALITY: u8 = 88;

/// How much floor and leg is shown round a patch, as a multiple of its height and of
/// its width to either side.
const ABOVE: f64 = 1.1;
const BELOW: f64 = 0.5;
const BESIDE: f64 = 0.35;

/// What part of each frame is shown, and how large at most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PictureArea {
    /// In pixels of the upright picture; `None` for the whole of it.
    pub part: Option<FloorPatch>,
    /// Longest side of the picture in pixels.
    pub max_side: u32,
}

impl PictureArea {
    /// The feet in a patch and something round them, inside a picture of `size`.
    pub fn feet(patch: FloorPatch, size: (u32, u32), max_side: u32) -> Self {
        let span = |start: u32, length: u32, side: u32, before: f64, after: f64| {
            let length = f64::from(length);
            let from = (f64::from(start) - before * length).max(0.0);
            let to = (f64::from(start) + (1.0 + after) * length).min(f64::from(side));
            (from as u32, (to - from).max(1.0) as u32)
        };
        let (x, w) = span(patch.x, patch.w, size.0, BESIDE, BESIDE);
        let (y, h) = span(patch.y, patch.h, size.1, ABOVE, BELOW);
        Self {
            part: Some(FloorPatch { x, y, w, h }),
            max_side,
        }
    }
}

/// One frame as an encoded picture.
#[derive(Clone, Debug)]
pub struct FramePicture {
    /// Which frame.
    pub index: FrameIndex,
    /// The picture as JPEG bytes.
    pub jpeg: Vec<u8>,
}

/// Decodes the frames of a range, as far as they come, and hands each on as a picture.
///
/// # Errors
/// [`PictureError`]: a clip that cannot be decoded, a picture that cannot be encoded.
pub fn frame_pictures(
    clip: &Clip,
    range: RangeInclusive<usize>,
    area: PictureArea,
    threads: usize,
    receive: &mut dyn FnMut(FramePicture) -> ControlFlow<()>,
) -> Result<(), PictureError> {
    let listed = clip.packets()?.presented();
    let ticks = |at: usize| listed.get(at).or(listed.last()).copied();
    let range = ticks(*range.start()).zip(ticks(*range.end()));
    let mut fault: Option<PictureError> = None;
    frames(clip, &DecodeOptions { threads, range }, |frame| {
        let picture = match area.part {
            None => frame.read_upright_rgb(area.max_side),
            Some(FloorPatch { x, y, w, h }) => {
                frame.read_part_rgb(UprightRect { x, y, w, h }, area.max_side)
            }
        };
        let encoded = picture
            .map_err(PictureError::from)
            .and_then(|picture| Ok(jpeg(&picture)?));
        match encoded {
            Ok(jpeg) => receive(FramePicture {
                index: frame.stamp.index,
                jpeg,
            }),
            Err(error) => {
                fault = Some(error);
                ControlFlow::Break(())
            }
        }
    })?;
    fault.map_or(Ok(()), Err)
}

fn jpeg(picture: &RgbImage) -> Result<Vec<u8>, StillError> {
    let mut bytes = Vec::new();
    let (width, height) = picture.dimensions();
    JpegEncoder::new_with_quality(&mut bytes, QUALITY).write_image(
        picture,
        width,
        height,
        ExtendedColorType::Rgb8,
    )?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_view_of_the_feet_stays_in_the_picture() {
        let patch = FloorPatch {
            x: 10,
            y: 300,
            w: 100,
            h: 40,
        };
        let area = PictureArea::feet(patch, (640, 352), 480).part;
        let Some(FloorPatch { x, y, w, h }) = area else {
            panic!("no part");
        };
        assert_eq!((x, y), (0, 256));
        assert_eq!((x + w, y + h), (145, 352));
    }
}
