//! Jumps under load: height against load, force against velocity, drop jumps.

use super::ValueAxis;
use super::scatter::{Form, Layer, Mark, Scatter, Shape, Tone};
use crate::report::terminal::Units;
use crate::trials::load::profile::Profile;
use crate::trials::load::series::LoadPoint;
use crate::trials::load::{LoadSeries, Reactive};
use crate::trials::mat::agree::Estimate;

fn axis(name: &str, unit: &str) -> ValueAxis {
    ValueAxis {
        name: name.to_owned(),
        unit: unit.to_owned(),
    }
}

fn ends(estimate: &Estimate<f64>) -> (f64, f64) {
    (estimate.interval95.lo, estimate.interval95.hi)
}

/// Mean height at each load with its 95 % interval; an earlier session beside it.
pub fn heights_chart(
    now: &LoadSeries,
    then: Option<(&LoadSeries, &str)>,
    title: &str,
    units: Units,
) -> Scatter {
    let heaviest = now.points.last().map_or(0.0, |p| units.of_mass(p.load_kg));
    let mut layers = Vec::new();
    if let Some((series, name)) = then {
        let look = (Tone::Orange, Form::Square, true);
        // A little aside, so that equal heights do not hide one another.
        let aside = 0.012 * heaviest;
        layers.extend(heights(series, name, look, aside, units));
    }
    let name = "mean height with 95 % interval";
    let look = (Tone::Blue, Form::Disc, false);
    layers.extend(heights(now, name, look, 0.0, units));
    Scatter {
        title: title.to_owned(),
        across: axis("load beyond the body", units.mass_symbol()),
        up: axis("jump height", units.symbol()),
        layers,
        // Room left of the unloaded jumps.
        include: vec![(-0.01 * heaviest, 0.0)],
    }
}

fn heights(
    series: &LoadSeries,
    name: &str,
    (tone, form, earlier): (Tone, Form, bool),
    aside: f64,
    units: Units,
) -> [Layer; 2] {
    let place = |point: &LoadPoint| units.of_mass(point.load_kg) + aside;
    let marks = series.points.iter().map(|point| {
        let height = point.mean_height.map(|m| units.of(m));
        Mark {
            hollow: earlier,
            ..mark(place(point), &height, None)
        }
    });
    let line = series.points.iter();
    let line = line.map(|point| (place(point), units.of(point.mean_height.value)));
    let layer = |name: &str, shape| Layer {
        name: name.to_owned(),
        tone,
        shape,
    };
    let line = Shape::Line {
        points: line.collect(),
        dashed: earlier,
    };
    [
        layer("", line),
        layer(name, Shape::Marks(form, marks.collect())),
    ]
}

fn mark(x: f64, y: &Estimate<f64>, across: Option<(f64, f64)>) -> Mark {
    Mark {
        x,
        y: y.value,
        across,
        up: Some(ends(y)),
        hollow: false,
    }
}

/// Mean force against mean velocity with the line and its band; what nobody
/// jumped is dashed. Always in newtons and metres per second.
pub fn force_velocity_chart(series: &LoadSeries, profile: &Profile, title: &str) -> Scatter {
    let band = profile.band.iter();
    let shaded = band.clone().map(|b| {
        (
            b.velocity_m_s,
            b.force_n.interval95.lo.max(0.0),
            b.force_n.interval95.hi,
        )
    });
    let force = |v: f64| profile.f0_n.value + profile.slope_n_s_m.value * v;
    let (slow, fast) = profile.measured_velocity_m_s;
    let line = |from: f64, to: f64, name: &str, dashed| Layer {
        name: name.to_owned(),
        tone: Tone::Blue,
        shape: Shape::Line {
            points: vec![(from, force(from)), (to, force(to))],
            dashed,
        },
    };
    let points = series.points.iter().filter_map(|point| {
        let push = point.push.as_ref()?;
        let velocity = &push.velocity_m_s;
        Some(mark(velocity.value, &push.force_n, Some(ends(velocity))))
    });
    Scatter {
        title: title.to_owned(),
        across: axis("mean velocity of the push-off", "m/s"),
        up: axis("mean force of the push-off", "N"),
        layers: vec![
            Layer {
                name: "95 % interval of the line".to_owned(),
                tone: Tone::Blue,
                shape: Shape::Band(shaded.collect()),
            },
            line(0.0, slow, "extrapolated", true),
            line(fast, profile.v0_m_s.value, "", true),
            line(slow, fast, "line where it was jumped", false),
            Layer {
                name: "loads with 95 % intervals".to_owned(),
                tone: Tone::Ink,
                shape: Shape::Marks(Form::Disc, points.collect()),
            },
        ],
        include: vec![(0.0, 0.0)],
    }
}

/// Height over contact time at each drop height.
pub fn drops_chart(result: &Reactive, title: &str, units: Units) -> Scatter {
    let standing = |height| result.standing.contains(&height);
    let marks = |wanted: bool| {
        let points = result.points.iter();
        let chosen = points.filter(move |p| standing(p.drop_height) == wanted);
        chosen.map(move |p| Mark {
            hollow: !wanted,
            ..mark(units.of(p.drop_height), &p.index_m_s, None)
        })
    };
    let line = result
        .points
        .iter()
        .map(|p| (units.of(p.drop_height), p.index_m_s.value));
    let layer = |name: &str, marks: Vec<Mark>| Layer {
        name: name.to_owned(),
        tone: Tone::Blue,
        shape: Shape::Marks(Form::Disc, marks),
    };
    Scatter {
        title: title.to_owned(),
        across: axis("drop height", units.symbol()),
        up: axis("height over contact time", "m/s"),
        layers: vec![
            Layer {
                name: String::new(),
                tone: Tone::Grey,
                shape: Shape::Line {
                    points: line.collect(),
                    dashed: true,
                },
            },
            layer("best, or not told apart from it", marks(true).collect()),
            layer("clearly below the best", marks(false).collect()),
        ],
        include: vec![(0.0, 0.0)],
    }
}
