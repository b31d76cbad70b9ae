//! The floor patch: what the user marks.
//!
//! A [`PatchSpec`] is what a person writes, in pixels or per cent; it becomes a
//! [`FloorPatch`] once the size of the upright picture is known. Whatever cannot
//! be measured in is refused here, before a clip is decoded.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::fault::ClipError;

/// Narrowest patch in pixels: a shoe of fewer shows no part that can be followed.
pub const LEAST_WIDTH_PX: u32 = 12;
/// Lowest patch in pixels: fewer rows cannot hold shoe, sole line and floor.
pub const LEAST_HEIGHT_PX: u32 = 8;
/// Largest share of the picture; a larger patch holds more than feet and floor.
pub const LARGEST_SHARE: f64 = 0.5;

/// A rectangle of floor with the feet on it, in pixels of the upright picture.
///
/// Printed as `X,Y,W,H`, which [`PatchSpec`] reads again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FloorPatch {
    /// Left edge.
    pub x: u32,
    /// Upper edge.
    pub y: u32,
    /// Width.
    pub w: u32,
    /// Height.
    pub h: u32,
}

impl fmt::Display for FloorPatch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{},{},{},{}", self.x, self.y, self.w, self.h)
    }
}

impl FloorPatch {
    /// Whether the patch can be measured in, given the upright picture's size.
    ///
    /// # Errors
    /// [`PatchError::OutsidePicture`], [`PatchError::TooSmall`] or
    /// [`PatchError::TooLarge`].
    pub fn check(self, size: (u32, u32)) -> Result<Self, PatchError> {
        let ends_in = |start: u32, length: u32, side: u32| {
            start.checked_add(length).is_some_and(|end| end <= side)
        };
        if !ends_in(self.x, self.w, size.0) || !ends_in(self.y, self.h, size.1) {
            return Err(PatchError::OutsidePicture { patch: self, size });
        }
        if self.w < LEAST_WIDTH_PX || self.h < LEAST_HEIGHT_PX {
            return Err(PatchError::TooSmall { patch: self });
        }
        let area = |w: u32, h: u32| f64::from(w) * f64::from(h);
        if area(self.w, self.h) > LARGEST_SHARE * area(size.0, size.1) {
            return Err(PatchError::TooLarge { patch: self, size });
        }
        Ok(self)
    }
}

/// One length as a person writes it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Extent {
    /// Whole pixels of the upright picture.
    Pixels(u32),
    /// Share of the picture's width or height, 0 to 100.
    PerCent(f64),
}

impl fmt::Display for Extent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Pixels(count) => write!(f, "{count}"),
            Self::PerCent(share) => write!(f, "{share}%"),
        }
    }
}

impl FromStr for Extent {
    type Err = PatchError;

    fn from_str(text: &str) -> Result<Self, PatchError> {
        let text = text.trim();
        let refused = || PatchError::NotALength(text.chars().take(40).collect());
        match text.strip_suffix('%') {
            None => text.parse().map(Self::Pixels).map_err(|_| refused()),
            Some(share) => match share.trim_end().parse::<f64>() {
                Ok(share) if (0.0..=100.0).contains(&share) => Ok(Self::PerCent(share)),
                _ => Err(refused()),
            },
        }
    }
}

impl Extent {
    /// In pixels, not rounded, of a side of `side` pixels.
    fn of(self, side: u32) -> f64 {
        match self {
            Self::Pixels(count) => f64::from(count),
            Self::PerCent(share) => share / 100.0 * f64::from(side),
        }
    }
}

/// A floor patch as written: `X,Y,W,H`, each in pixels or per cent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PatchSpec {
    /// Left edge.
    pub x: Extent,
    /// Upper edge.
    pub y: Extent,
    /// Width.
    pub w: Extent,
    /// Height.
    pub h: Extent,
}

impl fmt::Display for PatchSpec {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{},{},{},{}", self.x, self.y, self.w, self.h)
    }
}

impl FromStr for PatchSpec {
    type Err = PatchError;

    fn from_str(text: &str) -> Result<Self, PatchError> {
        Self::parse(text)
    }
}

impl From<FloorPatch> for PatchSpec {
    fn from(patch: FloorPatch) -> Self {
        Self {
            x: Extent::Pixels(patch.x),
            y: Extent::Pixels(patch.y),
            w: Extent::Pixels(patch.w),
            h: Extent::Pixels(patch.h),
        }
    }
}

impl PatchSpec {
    /// Reads `X,Y,W,H`; each number may be whole pixels or, with `%`, a share of
    /// the picture, mixed at will: `580,80%,12%,60`.
    ///
    /// # Errors
    /// [`PatchError::NotFour`] or [`PatchError::NotALength`].
    pub fn parse(text: &str) -> Result<Self, PatchError> {
        let parts: Vec<&str> = text.split(',').collect();
        let [x, y, w, h] = parts[..] else {
            return Err(PatchError::NotFour(parts.len()));
        };
        Ok(Self {
            x: x.parse()?,
            y: y.parse()?,
            w: w.parse()?,
            h: h.parse()?,
        })
    }

    /// The patch in an upright picture of `size` (width, height in pixels).
    ///
    /// Edges, not lengths, are rounded: `50%,0,50%,…` ends at the picture's edge.
    ///
    /// # Errors
    /// As [`FloorPatch::check`].
    pub fn resolve(&self, size: (u32, u32)) -> Result<FloorPatch, PatchError> {
        let span = |start: Extent, length: Extent, side: u32| {
            let from = start.of(side).round() as u32;
            let to = match (start, length) {
                (Extent::Pixels(_), Extent::Pixels(length)) => from.saturating_add(length),
                _ => (start.of(side) + length.of(side)).round() as u32,
            };
            (from, to.saturating_sub(from))
        };
        let (x, w) = span(self.x, self.w, size.0);
        let (y, h) = span(self.y, self.h, size.1);
        FloorPatch { x, y, w, h }.check(size)
    }
}

/// Why there is no floor patch to measure in.
#[derive(Debug, Error)]
pub enum PatchError {
    /// Not four values.
    #[error(
        "a floor patch is four numbers X,Y,W,H, here are {0} — write for example \
         590,600,110,55 or 45%,80%,10%,8%"
    )]
    NotFour(usize),
    /// A value that is no length.
    #[error(
        "\"{0}\" is no length for a floor patch — write whole pixels (590) or per cent from \
         0% to 100% (45%)"
    )]
    NotALength(String),
    /// The patch leaves the picture.
    #[error(
        "the floor patch {patch} leaves the picture of {} by {} pixels — \
         X plus W may be at most {0}, Y plus H at most {1}", .size.0, .size.1
    )]
    OutsidePicture {
        /// What was asked for.
        patch: FloorPatch,
        /// Size of the upright picture.
        size: (u32, u32),
    },
    /// Too few pixels to follow a shoe in.
    #[error(
        "the floor patch {patch} is too small to follow a shoe in: it needs {} by {} pixels — \
         mark both feet and the floor just below, or film nearer or in a larger size",
        LEAST_WIDTH_PX,
        LEAST_HEIGHT_PX
    )]
    TooSmall {
        /// What was asked for.
        patch: FloorPatch,
    },
    /// More than feet and floor.
    #[error(
        "the floor patch {patch} takes more than half of the picture of {} by {} pixels — \
         mark only the feet and the floor just below", .size.0, .size.1
    )]
    TooLarge {
        /// What was asked for.
        patch: FloorPatch,
        /// Size of the upright picture.
        size: (u32, u32),
    },
    /// Nothing in the clip flies like a foot.
    #[error(
        "nothing in the clip leaves the floor and comes back as a jumper's feet do — if \
         there is a jump, look where the feet stand with `mark` and state it with `--floor \
         X,Y,W,H`; if they are cut off, film again with feet and floor in view"
    )]
    NothingJumps,
    /// The clip could not be looked at.
    #[error(transparent)]
    Clip(#[from] ClipError),
}
