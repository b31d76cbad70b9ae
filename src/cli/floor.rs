//! The floor patch as a person writes it.

use crate::report::model::Failure;
use crate::video::FloorPatch;

/// Smallest side of a usable patch, in pixels.
const SMALLEST_SIDE_PX: u32 = 8;

/// A patch as stated, before the picture's size is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FloorSpec {
    values: [u32; 4],
}

impl FloorSpec {
    /// Reads `X,Y,W,H`.
    ///
    /// # Errors
    /// What is wrong with the text, in a sentence.
    pub fn parse(text: &str) -> Result<Self, String> {
        let numbers: Result<Vec<u32>, _> = text.split(',').map(|n| n.trim().parse()).collect();
        let values = numbers.ok().and_then(|n| <[u32; 4]>::try_from(n).ok());
        let values = values.ok_or("four numbers are wanted: X,Y,W,H, such as 600,603,87,42")?;
        Ok(Self { values })
    }

    /// The patch in a picture of this size.
    pub(super) fn resolve(&self, (width, height): (u32, u32)) -> Result<FloorPatch, Failure> {
        let [x, y, w, h] = self.values;
        let fits = |start: u32, length: u32, side: u32| {
            start.checked_add(length).is_some_and(|end| end <= side)
        };
        let hint = format!(
            "the upright picture has {width} by {height} pixels: `underfoot mark` shows them"
        );
        if !(fits(x, w, width) && fits(y, h, height)) {
            let message = format!("the floor patch {x},{y},{w},{h} does not lie in the picture");
            return Err(Failure { message, hint });
        }
        if w < SMALLEST_SIDE_PX || h < SMALLEST_SIDE_PX {
            let message = format!("the floor patch {x},{y},{w},{h} is too small");
            return Err(Failure { message, hint });
        }
        Ok(FloorPatch { x, y, w, h })
    }
}
