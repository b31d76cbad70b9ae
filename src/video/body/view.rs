//! The column of the picture in which the body is looked for.

use crate::video::contact::Leap;
use crate::video::grey::Grey;
use crate::video::patch::FloorPatch;
use crate::video::plane::UprightRect;
use crate::video::zone::{Zone, shrink};

/// A column above the floor patch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::video) struct BodyView {
    rect: UprightRect,
    bin: u32,
    patch_height: u32,
}

/// How far the column reaches beside the patch, in patch heights: some 0.3 m.
const BESIDE: f64 = 2.2;
/// How high it reaches above the patch's lower edge, in patch heights: a tall person
/// in the air, some 2.7 m.
const HEIGHT: f64 = 22.0;
/// Height of the patch in the shrunk picture, in pixels.
const PATCH_PX: f64 = 12.0;

/// A flight in the column's own pixels and in seconds.
#[derive(Clone, Copy, Debug)]
pub(super) struct BodyLeap {
    pub(super) takeoff_s: f64,
    pub(super) landing_s: f64,
    /// Row of the floor under the toes.
    pub(super) floor_row: f64,
    pub(super) px_per_m: f64,
    /// Fine pixels of the zone in one pixel of the column.
    pub(super) fine_per_px: f64,
}

impl BodyView {
    pub(in crate::video) fn new(patch: FloorPatch, size: (u32, u32)) -> Self {
        let (x, y) = (f64::from(patch.x), f64::from(patch.y));
        let (w, h) = (f64::from(patch.w), f64::from(patch.h));
        let left = (x - BESIDE * h).max(0.0) as u32;
        let right = ((x + w + BESIDE * h) as u32).min(size.0);
        let bottom = ((y + h) as u32).min(size.1);
        let top = (y + h - HEIGHT * h).max(0.0) as u32;
        Self {
            rect: UprightRect {
                x: left,
                y: top,
                w: right.saturating_sub(left),
                h: bottom.saturating_sub(top),
            },
            patch_height: patch.h,
            bin: (h / PATCH_PX).round().max(1.0) as u32,
        }
    }

    pub(in crate::video) fn rect(&self) -> UprightRect {
        self.rect
    }

    pub(super) fn shrink(&self, luma: &[u16], depth: u32) -> Option<Grey> {
        let (w, h) = (self.rect.w as usize, self.rect.h as usize);
        shrink(luma, w, h, depth, self.bin)
    }

    /// Fine pixels of the zone in one pixel of the column.
    pub(super) fn fine_per_px(&self, zone: &Zone) -> f64 {
        f64::from(self.bin) / f64::from(zone.fine)
    }

    /// A flight that the body's speed told, with the floor at its usual place in the
    /// patch.
    pub(super) fn leap(&self, flight: &super::BodyFlight) -> BodyLeap {
        const FLOOR_PLACE: f64 = 0.7;
        let patch_px = f64::from(self.patch_height) / f64::from(self.bin);
        BodyLeap {
            takeoff_s: flight.takeoff_s(),
            landing_s: flight.landing_s(),
            floor_row: f64::from(self.rect.h) / f64::from(self.bin)
                - (1.0 - FLOOR_PLACE) * patch_px,
            px_per_m: flight.px_per_m,
            fine_per_px: 1.0,
        }
    }

    /// A leap that was found in the zone's fine pixels.
    pub(super) fn flight(&self, leap: &Leap, zone: &Zone) -> BodyLeap {
        let px_per_fine = 1.0 / self.fine_per_px(zone);
        let zone_top = f64::from(zone.y) - f64::from(self.rect.y);
        let floor_px = 0.5 * (leap.takeoff.floor_px + leap.landing.floor_px);
        BodyLeap {
            takeoff_s: leap.takeoff.t_s,
            landing_s: leap.landing.t_s,
            floor_row: zone_top / f64::from(self.bin) + floor_px * px_per_fine,
            px_per_m: leap.px_per_m * px_per_fine,
            fine_per_px: 1.0 / px_per_fine,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_column_stays_inside_the_picture() {
        let patch = FloorPatch {
            x: 291,
            y: 303,
            w: 58,
            h: 20,
        };
        let view = BodyView::new(patch, (640, 360));
        let rect = view.rect();
        assert_eq!((rect.x, rect.y, rect.w, rect.h), (247, 0, 146, 323));
        assert_eq!(view.bin, 2);
    }
}
