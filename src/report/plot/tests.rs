use super::*;

fn at(seconds: f64) -> CaptureTime {
    CaptureTime::from_seconds(seconds)
}

fn event(kind: EventKind, best: f64, half_width: f64) -> PlotEvent {
    PlotEvent {
        kind,
        earliest: at(best - half_width),
        best: at(best),
        latest: at(best + half_width),
    }
}

/// Sole clearance in metres of a jump in the air from 0.84 s to 1.35 s.
fn clearance(time: f64) -> f64 {
    let (takeoff, landing) = (0.84, 1.35);
    if (takeoff..landing).contains(&time) {
        0.5 * 9.806_65 * (time - takeoff) * (landing - time)
    } else {
        0.0
    }
}

fn sampled(name: &str, look: Look, from: f64, to: f64, count: usize) -> Series {
    let step = (to - from) / count as f64;
    let points = (0..=count)
        .map(|i| from + step * i as f64)
        .map(|time| (at(time), clearance(time)));
    Series {
        name: name.to_owned(),
        look,
        points: points.collect(),
    }
}

fn metres() -> ValueAxis {
    ValueAxis {
        name: "clearance of the soles".to_owned(),
        unit: "m".to_owned(),
    }
}

fn trace() -> TracePlot {
    TracePlot {
        title: "Handball club <U17> & friends: clip.mp4".to_owned(),
        values: metres(),
        series: vec![
            sampled("left foot", Look::Line, 0.0, 2.1, 252),
            sampled("right foot", Look::Line, 0.0, 2.1, 35),
        ],
        events: vec![
            event(EventKind::TakeOff, 0.84, 0.008),
            event(EventKind::Landing, 1.35, 0.008),
        ],
        jumps: vec![JumpLabel {
            text: "Jump 1: 31.9 cm".to_owned(),
            takeoff: at(0.84),
            landing: at(1.35),
        }],
    }
}

fn zoom() -> ZoomPlot {
    let panel = |kind, best: f64| ZoomPanel {
        event: event(kind, best, 0.004),
        series: vec![
            sampled("single frames", Look::Points, best - 0.04, best + 0.04, 19),
            sampled("fitted path", Look::Line, best - 0.03, best + 0.03, 200),
        ],
    };
    ZoomPlot {
        title: "Jump 1: the events from near".to_owned(),
        values: metres(),
        takeoff: panel(EventKind::TakeOff, 0.84),
        landing: panel(EventKind::Landing, 1.35),
    }
}

/// Checks that tags open and close in order, and returns the text between them.
pub(super) fn texts_of_well_formed_xml(xml: &str) -> Vec<String> {
    let mut open: Vec<&str> = Vec::new();
    let mut texts = Vec::new();
    for piece in xml.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').expect("every tag closes");
        assert!(tag.matches('"').count() % 2 == 0, "quotes pair up in {tag}");
        for part in text.split('&').skip(1) {
            let entity = part.split_once(';').expect("entity ends").0;
            assert!(
                ["amp", "lt", "gt", "quot", "apos"].contains(&entity),
                "{entity}"
            );
        }
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name), "tags nest");
        } else if !tag.ends_with('/') {
            open.push(tag.split_whitespace().next().unwrap());
        }
        if !text.trim().is_empty() {
            texts.push(text.trim().to_owned());
        }
    }
    assert!(open.is_empty(), "unclosed: {open:?}");
    texts
}

#[test]
fn svg_is_well_formed_and_labelled() {
    let svg = Plot::Trace(&trace()).svg(PlotSize::PAGE).unwrap();
    assert!(
        svg.starts_with("<svg width=\"960\" height=\"480\""),
        "{svg:.80}"
    );
    let texts = texts_of_well_formed_xml(&svg);
    for label in [
        "Handball club &lt;U17&gt; &amp; friends: clip.mp4",
        "time after the first frame (s)",
        "clearance of the soles (m)",
        "left foot",
        "right foot",
        "take-off",
        "landing",
        "cannot be outside",
        "Jump 1: 31.9 cm",
    ] {
        assert!(
            texts.iter().any(|text| text == label),
            "no {label:?} in {texts:?}"
        );
    }
    let texts = texts_of_well_formed_xml(&Plot::Zoom(&zoom()).svg(PlotSize::PAGE).unwrap());
    for label in [
        "time from take-off (ms)",
        "time from landing (ms)",
        "single frames",
        "fitted path",
    ] {
        assert!(
            texts.iter().any(|text| text == label),
            "no {label:?} in {texts:?}"
        );
    }
}

#[test]
fn svg_survives_titles_that_xml_cannot_hold() {
    let mut plot = trace();
    plot.title = "a\u{0}b\u{1b}[31m\u{FFFF} \"c'".to_owned();
    plot.jumps[0].text = "<script>".to_owned();
    let texts = texts_of_well_formed_xml(&Plot::Trace(&plot).svg(PlotSize::PAGE).unwrap());
    assert!(
        texts.iter().any(|text| text.starts_with("ab[31m ")),
        "{texts:?}"
    );
}

#[test]
fn a_long_title_is_cut_at_the_edge() {
    let mut plot = trace();
    plot.title = "a title without an end ".repeat(200);
    let png = Plot::Trace(&plot).png(PlotSize::PAGE).unwrap();
    let picture = image::load_from_memory(&png).unwrap().to_rgb8();
    assert!((0..40).all(|y| picture.get_pixel(955, y).0 == [255; 3]));
    let svg = Plot::Trace(&plot).svg(PlotSize::PAGE).unwrap();
    let texts = texts_of_well_formed_xml(&svg);
    let cut = texts.iter().find(|text| text.ends_with('…')).unwrap();
    assert!((60..140).contains(&cut.chars().count()), "{cut}");
}

#[test]
fn png_has_the_size_asked_for_and_both_event_colours() {
    for size in [PlotSize::PAGE, PlotSize::FINE] {
        for plot in [Plot::Trace(&trace()), Plot::Zoom(&zoom())] {
            let picture = image::load_from_memory(&plot.png(size).unwrap()).unwrap();
            let picture = picture.to_rgb8();
            assert_eq!(picture.dimensions(), (size.width_px, size.height_px));
            assert_eq!(picture.get_pixel(2, size.height_px - 3).0, [255; 3]);
            for colour in [palette::TAKEOFF, palette::LANDING, palette::INK] {
                let wanted = [colour.0, colour.1, colour.2];
                let hits = picture.pixels().filter(|pixel| pixel.0 == wanted).count();
                assert!(hits > size.height_px as usize / 4, "{hits} of {wanted:?}");
            }
        }
    }
}

#[test]
fn band_spans_the_bounds_and_nothing_else() {
    let mut plot = zoom();
    plot.takeoff.event.earliest = at(0.84 - 0.02);
    let svg = Plot::Zoom(&plot).svg(PlotSize::PAGE).unwrap();
    let band = format!("{:02X}{:02X}{:02X}", 22, 62, 138);
    let widths: Vec<f64> = svg
        .split("<rect")
        .filter(|tag| tag.contains(&band) && tag.contains("opacity=\"0.24\""))
        .map(|tag| {
            let (_, rest) = tag.split_once("width=\"").unwrap();
            rest.split_once('"').unwrap().0.parse().unwrap()
        })
        .collect();
    // The legend's sample is 26 px wide; the chart is 480 - 10 - 18 - 62 px wide
    // for 80 ms of frames and 4 % of air, so 24 ms are 112.5 px.
    assert!(widths.iter().any(|w| (w - 112.5).abs() < 2.0), "{widths:?}");
    assert!(widths.len() == 2 && widths.contains(&26.0), "{widths:?}");
}

#[test]
fn what_cannot_be_drawn_is_a_typed_error() {
    let draw = |plot: &TracePlot| Plot::Trace(plot).png(PlotSize::PAGE).unwrap_err();
    let mut plot = trace();
    plot.series.clear();
    assert!(matches!(draw(&plot), PlotError::NoSeries { .. }));
    for count in [0, 1] {
        let mut plot = trace();
        plot.series[0].points.truncate(count);
        let error = draw(&plot);
        assert!(matches!(error, PlotError::TooFewPoints { count: c, .. } if c == count));
        assert!(error.to_string().contains("left foot"), "{error}");
    }
    let mut plot = trace();
    plot.series[1].points[7].1 = f64::NAN;
    assert!(matches!(
        draw(&plot),
        PlotError::Implausible { point: 7, .. }
    ));
    let mut plot = trace();
    plot.events[0].best = at(0.9);
    let error = draw(&plot).to_string();
    assert!(error.starts_with("the take-off at 0.9000 s"), "{error}");
    let mut plot = trace();
    for series in &mut plot.series {
        series.points.iter_mut().for_each(|point| point.0 = at(1.0));
    }
    assert!(matches!(draw(&plot), PlotError::NoTimeSpan { .. }));
    let size = PlotSize {
        width_px: 0,
        height_px: 100_000,
    };
    let error = Plot::Trace(&trace()).svg(size).unwrap_err();
    assert!(matches!(error, PlotError::Size { .. }), "{error}");
}

#[test]
fn flat_and_extreme_curves_do_not_panic() {
    for value in [0.0, -3.0, 1e-300, 1e9, -1e9] {
        let mut plot = trace();
        for series in &mut plot.series {
            series.points.iter_mut().for_each(|point| point.1 = value);
        }
        Plot::Trace(&plot).svg(PlotSize::PAGE).unwrap();
        plot.series[0].points[3].1 = 1e9;
        plot.series[0].points[4].1 = -1e9;
        Plot::Trace(&plot).svg(PlotSize::PAGE).unwrap();
        plot.series[0].points[3].1 = f64::MAX;
        let error = Plot::Trace(&plot).svg(PlotSize::PAGE).unwrap_err();
        assert!(matches!(error, PlotError::Implausible { point: 3, .. }));
    }
}

#[test]
fn curves_differ_in_greyscale_or_pattern() {
    let luma = |c: plotters::style::RGBColor| {
        0.2126 * f64::from(c.0) + 0.7152 * f64::from(c.1) + 0.0722 * f64::from(c.2)
    };
    assert!(luma(palette::LANDING) - luma(palette::TAKEOFF) > 60.0);
    for first in 0..4 {
        for second in first + 1..4 {
            let (a, b) = (palette::stroke(first), palette::stroke(second));
            let apart = (luma(a.colour) - luma(b.colour)).abs();
            assert!(apart > 60.0 || a.dash != b.dash, "{first} and {second}");
        }
    }
}

/// `UNDERFOOT_PLOTS=dir cargo test --lib -- --ignored plots_for_the_eye`
#[test]
#[ignore = "writes pictures for a person to look at"]
fn plots_for_the_eye() {
    let dir = std::path::PathBuf::from(std::env::var("UNDERFOOT_PLOTS").unwrap());
    let (trace, zoom) = (trace(), zoom());
    for (name, plot) in [("trace", Plot::Trace(&trace)), ("zoom", Plot::Zoom(&zoom))] {
        let svg = plot.svg(PlotSize::PAGE).unwrap();
        std::fs::write(dir.join(name).with_extension("svg"), svg).unwrap();
        let png = plot.png(PlotSize::FINE).unwrap();
        std::fs::write(dir.join(name).with_extension("png"), png).unwrap();
        let png = plot.png(PlotSize::PAGE).unwrap();
        std::fs::write(dir.join(format!("{name}_page.png")), png).unwrap();
    }
}
