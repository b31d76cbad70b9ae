//! Colours and line styles, chosen to differ in luminance and in pattern.

use plotters::style::RGBColor;

/// Generic family: SVG viewers use their own sans-serif, PNG the built-in one.
pub(super) const TYPEFACE: &str = "sans-serif";

/// Lettering, axes and the first curve.
pub(super) const INK: RGBColor = RGBColor(24, 26, 31);
/// Axis lettering.
pub(super) const SOFT_INK: RGBColor = RGBColor(78, 82, 90);
/// Grid.
pub(super) const GRID: RGBColor = RGBColor(228, 230, 234);
/// Take-off: dark, its line unbroken.
pub(super) const TAKEOFF: RGBColor = RGBColor(22, 62, 138);
/// Landing: brighter, its line dashed.
pub(super) const LANDING: RGBColor = RGBColor(214, 112, 8);
/// How far a band covers what lies under it.
pub(super) const BAND_COVER: f64 = 0.24;

/// Line style of a curve.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stroke {
    pub colour: RGBColor,
    /// Dash and gap in units of the line's width; `None` is unbroken.
    pub dash: Option<(f64, f64)>,
}

/// Curves in order; luminance rises as the dashes shorten.
const STROKES: [Stroke; 4] = [
    Stroke {
        colour: INK,
        dash: None,
    },
    Stroke {
        colour: RGBColor(20, 120, 110),
        dash: Some((5.0, 2.5)),
    },
    Stroke {
        colour: RGBColor(160, 90, 150),
        dash: Some((2.0, 2.0)),
    },
    Stroke {
        colour: RGBColor(150, 155, 165),
        dash: None,
    },
];

/// Style of the curve at `position`; a fifth curve begins anew.
pub(super) fn stroke(position: usize) -> Stroke {
    STROKES[position % STROKES.len()]
}
