//! A picture of honesty: each error divided by its stated uncertainty.

use std::fs;
use std::path::Path;

use anyhow::{Context, Result, anyhow};
use plotters::prelude::*;
use plotters::style::{FontStyle, register_font};

use crate::measure::Outcome;

const SIZE_PX: (u32, u32) = (960, 480);

/// Writes the plot: one point for each jump, in order of the clips, and lines at
/// ±1 and ±1.96, between which 68 % and 95 % of normal errors would lie.
pub fn write(outcomes: &[Outcome], path: &Path) -> Result<()> {
    let points: Vec<(f64, f64, String)> = outcomes
        .iter()
        .flat_map(|o| {
            let ratio = |j: &crate::measure::Comparison| j.flight_time_error_s / j.u_s;
            o.jumps.iter().map(move |j| (ratio(j), o.clip.clone()))
        })
        .enumerate()
        .map(|(i, (ratio, clip))| (i as f64 + 1.0, ratio, clip))
        .collect();
    register_font(
        "sans-serif",
        FontStyle::Normal,
        epaint_default_fonts::UBUNTU_LIGHT,
    )
    .map_err(|_| anyhow!("the built-in typeface could not be read"))?;
    let mut svg = String::new();
    draw(&points, &mut svg).map_err(|error| anyhow!("the plot could not be drawn: {error}"))?;
    fs::write(path, svg).with_context(|| format!("{} cannot be written", path.display()))
}

fn draw(points: &[(f64, f64, String)], svg: &mut String) -> Result<(), Box<dyn std::error::Error>> {
    let highest = points.iter().fold(2.5_f64, |most, p| most.max(p.1.abs())) + 0.5;
    let right = points.len() as f64 + 1.0;
    let area = SVGBackend::with_string(svg, SIZE_PX).into_drawing_area();
    area.fill(&WHITE)?;
    let mut chart = ChartBuilder::on(&area)
        .caption(
            "Error of flight time over its standard uncertainty",
            ("sans-serif", 20),
        )
        .margin(12)
        .x_label_area_size(40)
        .y_label_area_size(52)
        .build_cartesian_2d(0.0..right, -highest..highest)?;
    chart
        .configure_mesh()
        .disable_x_mesh()
        .x_desc("jump, in the order of the report")
        .y_desc("error / u")
        .x_label_formatter(&|x| format!("{x:.0}"))
        .y_label_formatter(&|y| format!("{y:+.1}"))
        .draw()?;
    for level in [-1.96, -1.0, 0.0, 1.0, 1.96] {
        let grey = RGBColor(112, 117, 126);
        chart.draw_series([PathElement::new([(0.0, level), (right, level)], grey)])?;
    }
    chart.draw_series(
        points
            .iter()
            .map(|(x, y, _)| Circle::new((*x, *y), 4, RGBColor(22, 62, 138).filled())),
    )?;
    chart.draw_series(points.iter().map(|(x, y, clip)| {
        let name = clip.split('.').next().unwrap_or(clip).to_owned();
        Text::new(name, (*x, *y), ("sans-serif", 11).into_font())
    }))?;
    area.present()?;
    Ok(())
}
