use super::*;
use crate::report::plot::{Plot, PlotSize};

fn axis(name: &str) -> ValueAxis {
    ValueAxis {
        name: name.to_owned(),
        unit: "ms".to_owned(),
    }
}

fn level(at: f64, label: &str) -> Layer {
    Layer {
        name: String::new(),
        tone: Tone::Orange,
        shape: Shape::Level {
            at,
            ends: Some((at - 0.1, at + 0.1)),
            label: label.to_owned(),
            dashed: true,
        },
    }
}

fn marks(points: &[(f64, f64)]) -> Layer {
    let mark = |(x, y): &(f64, f64)| Mark {
        x: *x,
        y: *y,
        across: Some((x - 1.0, x + 1.0)),
        up: Some((y - 1.0, y + 1.0)),
        hollow: false,
    };
    Layer {
        name: "jumps".to_owned(),
        tone: Tone::Ink,
        shape: Shape::Marks(Form::Disc, points.iter().map(mark).collect()),
    }
}

fn scatter(layers: Vec<Layer>) -> Scatter {
    Scatter {
        title: "Mat <blue> against film".to_owned(),
        across: axis("mean"),
        up: axis("difference"),
        layers,
        include: Vec::new(),
    }
}

fn svg(scatter: &Scatter) -> String {
    Plot::Scatter(scatter).svg(PlotSize::PAGE).unwrap()
}

/// Where the text of this label stands, from the top.
fn y_of(svg: &str, label: &str) -> f64 {
    let (before, _) = svg.split_once(&format!("\n{label}\n")).unwrap();
    let tag = before.rsplit("<text").next().unwrap();
    let (_, rest) = tag.split_once(" y=\"").unwrap();
    rest.split_once('"').unwrap().0.parse().unwrap()
}

#[test]
fn names_of_close_levels_do_not_overlap() {
    let chart = scatter(vec![
        marks(&[(400.0, -40.0), (600.0, 60.0)]),
        level(5.0, "upper"),
        level(4.9, "mean"),
        level(4.8, "lower"),
    ]);
    let drawn = svg(&chart);
    let (upper, mean, lower) = (
        y_of(&drawn, "upper"),
        y_of(&drawn, "mean"),
        y_of(&drawn, "lower"),
    );
    assert!(
        mean - upper >= 15.0 && lower - mean >= 15.0,
        "{upper} {mean} {lower}"
    );
}

#[test]
fn a_legend_longer_than_the_page_takes_more_lines() {
    let named = |name: String| Layer {
        name,
        ..marks(&[(1.0, 1.0), (2.0, 2.0)])
    };
    let layers = (0..12).map(|n| named(format!("player number {n} of the club")));
    let drawn = svg(&scatter(layers.collect()));
    let first = y_of(&drawn, "player number 0 of the club");
    let last = y_of(&drawn, "player number 11 of the club");
    assert!(last - first >= 40.0, "{first} {last}");
    assert!(drawn.contains("Mat &lt;blue&gt; against film"));
}

#[test]
fn an_axis_that_begins_at_nought_keeps_to_it() {
    let mut chart = scatter(vec![marks(&[(10.0, 20.0), (30.0, 40.0)])]);
    assert!(chart.ranges().0.0 < 9.0 && chart.ranges().0.0 > 0.0);
    chart.include.push((0.0, 0.0));
    let ((left, right), (bottom, top)) = chart.ranges();
    assert_eq!((left, bottom), (0.0, 0.0));
    assert!(right > 31.0 && top > 41.0);
}

#[test]
fn what_cannot_be_drawn_is_a_typed_error() {
    let error = |chart: &Scatter| Plot::Scatter(chart).png(PlotSize::PAGE).unwrap_err();
    let only_levels = scatter(vec![level(1.0, "mean")]);
    assert!(matches!(error(&only_levels), PlotError::NoSeries { .. }));
    let wild = scatter(vec![marks(&[(1.0, f64::NAN)])]);
    assert!(matches!(error(&wild), PlotError::Implausible { .. }));
    // A single point is a chart all the same.
    let png = Plot::Scatter(&scatter(vec![marks(&[(0.0, 0.0)])])).png(PlotSize::PAGE);
    let picture = image::load_from_memory(&png.unwrap()).unwrap();
    assert_eq!((picture.width(), picture.height()), (960, 480));
}
