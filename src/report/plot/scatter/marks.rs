//! Points in four forms, with error bars.

use plotters::prelude::*;

use super::{Form, Mark};
use crate::report::plot::PlotError;
use crate::report::plot::draw::{Area, Chart as Axes, failed, px, wide};

/// Half the size of a mark, in units.
const HALF: f64 = 4.0;
/// Half the length of the bar across the end of an error bar, in units.
const CAP: f64 = 3.0;

/// Error bars first, so that the marks lie on them.
pub(super) fn draw_marks<B: DrawingBackend>(
    axes: &mut Axes<'_, B>,
    form: Form,
    colour: RGBColor,
    marks: &[Mark],
    unit: f64,
) -> Result<(), PlotError> {
    let thin = colour.mix(0.55).stroke_width(wide(1.0, unit));
    let (across, up) = axes.plotting_area().dim_in_pixel();
    let (x, y) = (axes.x_range(), axes.y_range());
    let cap = CAP * unit;
    let cap_x = cap * (x.end - x.start) / f64::from(across.max(1));
    let cap_y = cap * (y.end - y.start) / f64::from(up.max(1));
    for mark in marks {
        let mut bars = Vec::new();
        if let Some((lo, hi)) = mark.up {
            bars.push(vec![(mark.x, lo), (mark.x, hi)]);
            bars.extend([lo, hi].map(|y| vec![(mark.x - cap_x, y), (mark.x + cap_x, y)]));
        }
        if let Some((lo, hi)) = mark.across {
            bars.push(vec![(lo, mark.y), (hi, mark.y)]);
            bars.extend([lo, hi].map(|x| vec![(x, mark.y - cap_y), (x, mark.y + cap_y)]));
        }
        let bars = bars.into_iter().map(|bar| PathElement::new(bar, thin));
        axes.draw_series(bars).map_err(failed)?;
    }
    let outline = outline(form, unit);
    for mark in marks {
        let at = EmptyElement::at((mark.x, mark.y));
        if mark.hollow {
            let white = Polygon::new(outline.clone(), WHITE.filled());
            let style = colour.stroke_width(wide(1.6, unit));
            let edge = PathElement::new(closed(outline.clone()), style);
            axes.draw_series([at + white + edge])
        } else {
            axes.draw_series([at + Polygon::new(outline.clone(), colour.filled())])
        }
        .map_err(failed)?;
    }
    Ok(())
}

/// One mark in the legend.
pub(super) fn sample_mark<B: DrawingBackend>(
    page: &Area<B>,
    form: Form,
    colour: RGBColor,
    hollow: bool,
    (x, y): (i32, i32),
    unit: f64,
) -> Result<(), PlotError> {
    let outline = outline(form, unit).into_iter();
    let moved: Vec<(i32, i32)> = outline.map(|(dx, dy)| (x + dx, y + dy)).collect();
    if hollow {
        let style = colour.stroke_width(wide(1.6, unit));
        page.draw(&PathElement::new(closed(moved), style))
    } else {
        page.draw(&Polygon::new(moved, colour.filled()))
    }
    .map_err(failed)
}

fn closed(mut outline: Vec<(i32, i32)>) -> Vec<(i32, i32)> {
    outline.extend(outline.first().copied());
    outline
}

/// The form about its middle, in pixels.
fn outline(form: Form, unit: f64) -> Vec<(i32, i32)> {
    let half = f64::from(px(HALF, unit));
    let at = |x: f64, y: f64| ((half * x).round() as i32, (half * y).round() as i32);
    match form {
        Form::Disc => (0..24)
            .map(|corner| {
                let turn = f64::from(corner) / 24.0 * std::f64::consts::TAU;
                at(turn.cos(), turn.sin())
            })
            .collect(),
        Form::Triangle => vec![at(0.0, -1.25), at(1.15, 0.85), at(-1.15, 0.85)],
        Form::Square => vec![at(-0.9, -0.9), at(0.9, -0.9), at(0.9, 0.9), at(-0.9, 0.9)],
        Form::Diamond => vec![at(0.0, -1.3), at(1.3, 0.0), at(0.0, 1.3), at(-1.3, 0.0)],
    }
}
