use super::chart::{Across, Band, Chart, ChartLine, ChartPanel, Mark, MarkPoint, Marks};
use super::rows::{MOST_ROWS, Row, RowChange, RowMark, RowsPlot};
use super::tests::texts_of_well_formed_xml;
use super::{PlotError, PlotSize, ValueAxis};

fn height() -> ValueAxis {
    ValueAxis {
        name: "jump height".to_owned(),
        unit: "cm".to_owned(),
    }
}

/// Sessions about 31 cm, so many of them, each with its date as a label.
fn sessions(count: usize) -> Chart {
    let at = |i: usize| i as f64;
    let point = |i: usize| MarkPoint {
        at: at(i),
        value: 31.0 + 0.1 * at(i % 5),
        interval: Some((30.0, 33.0)),
        label: (i == 0).then(|| "first <&>".to_owned()),
    };
    Chart {
        title: "U17 & friends".to_owned(),
        across: Across {
            name: "session".to_owned(),
            from: -0.5,
            to: at(count) - 0.5,
            ticks: (0..count)
                .map(|i| (at(i), format!("2026-01-{i:02}")))
                .collect(),
        },
        panels: vec![ChartPanel {
            values: height(),
            bands: vec![Band {
                name: "band".to_owned(),
                across: (-0.5, at(count) - 0.5),
                values: (30.5, 31.5),
            }],
            lines: vec![ChartLine {
                name: "line".to_owned(),
                style: 1,
                points: vec![(0.0, 31.0), (at(count) - 1.0, 32.0)],
            }],
            marks: vec![Marks {
                name: "session".to_owned(),
                mark: Mark::Dot,
                points: (0..count).map(point).collect(),
            }],
        }],
        lettering: 1.0,
    }
}

fn squad(count: usize) -> RowsPlot {
    let row = |i: usize| Row {
        name: format!("Player <{i}>"),
        note: "open".to_owned(),
        change: (!i.is_multiple_of(3)).then_some(RowChange {
            value: i as f64 - 4.0,
            interval: (!i.is_multiple_of(2)).then_some((i as f64 - 5.0, i as f64 - 3.0)),
            mark: [RowMark::Rose, RowMark::Fell, RowMark::Open][i % 3],
        }),
    };
    RowsPlot {
        title: "Squad".to_owned(),
        values: height(),
        band_name: "small".to_owned(),
        band: Some(0.7),
        rows: (0..count).map(row).collect(),
    }
}

#[test]
fn every_part_is_named_and_the_svg_is_well_formed() {
    let texts = texts_of_well_formed_xml(&sessions(4).svg(PlotSize::PAGE).unwrap());
    for wanted in [
        "U17 &amp; friends",
        "band",
        "line",
        "session",
        "2026-01-03",
        "first &lt;&amp;&gt;",
    ] {
        assert!(
            texts.iter().any(|text| text == wanted),
            "{wanted} in {texts:?}"
        );
    }
    let texts = texts_of_well_formed_xml(&squad(7).svg(960).unwrap());
    for wanted in ["Player &lt;6&gt;", "small", "not told apart yet"] {
        assert!(
            texts.iter().any(|text| text == wanted),
            "{wanted} in {texts:?}"
        );
    }
}

#[test]
fn labels_that_would_touch_are_left_out() {
    let dates = |count| {
        let texts = texts_of_well_formed_xml(&sessions(count).svg(PlotSize::PAGE).unwrap());
        texts
            .iter()
            .filter(|text| text.starts_with("2026-"))
            .count()
    };
    assert_eq!(dates(6), 6);
    // A date is some 60 units wide and the chart some 860.
    let many = dates(90);
    assert!((5..=14).contains(&many), "{many}");
}

#[test]
fn one_value_or_equal_values_are_drawn_too() {
    let mut one = sessions(1);
    one.panels[0].bands.clear();
    one.panels[0].lines.clear();
    one.panels[0].marks[0].points[0].interval = None;
    assert!(one.svg(PlotSize::PAGE).is_ok() && one.png(PlotSize::PAGE).is_ok());
}

#[test]
fn what_cannot_be_drawn_is_refused() {
    let refused = |change: &dyn Fn(&mut Chart)| {
        let mut chart = sessions(3);
        change(&mut chart);
        chart.svg(PlotSize::PAGE).unwrap_err()
    };
    let nothing = |chart: &mut Chart| {
        chart.panels[0].marks.clear();
        chart.panels[0].lines.clear();
        chart.panels[0].bands.clear();
    };
    assert!(matches!(refused(&nothing), PlotError::NoSeries { .. }));
    let no_panel = |chart: &mut Chart| chart.panels.clear();
    assert!(matches!(refused(&no_panel), PlotError::NoSeries { .. }));
    let no_width = |chart: &mut Chart| chart.across.to = chart.across.from;
    assert!(matches!(refused(&no_width), PlotError::NoTimeSpan { .. }));
    for bad in [f64::NAN, f64::INFINITY, 1e12] {
        let value = |chart: &mut Chart| chart.panels[0].marks[0].points[1].value = bad;
        assert!(
            matches!(refused(&value), PlotError::Implausible { .. }),
            "{bad}"
        );
        let place = |chart: &mut Chart| chart.across.ticks[0].0 = bad;
        assert!(
            matches!(refused(&place), PlotError::Implausible { .. }),
            "{bad}"
        );
    }
}

#[test]
fn a_squad_is_as_high_as_its_rows_and_not_endless() {
    let height = |count| {
        let svg = squad(count).svg(960).unwrap();
        let (_, rest) = svg.split_once("height=\"").unwrap();
        let (number, _) = rest.split_once('"').unwrap();
        number.parse::<u32>().unwrap()
    };
    assert_eq!(height(30) - height(20), 260);
    assert!(squad(MOST_ROWS).png(1920).is_ok());
    assert!(matches!(
        squad(MOST_ROWS + 1).svg(960),
        Err(PlotError::NoSeries { .. })
    ));
    assert!(matches!(squad(0).svg(960), Err(PlotError::NoSeries { .. })));
}
