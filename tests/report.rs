//! What people and programs see of a measurement.

use std::collections::BTreeSet;

use proptest::prelude::*;
use serde_json::Value;

use underfoot::report::json::{JsonError, from_line, to_line};
use underfoot::report::model::*;
use underfoot::report::terminal::{TextOptions, Units, clip_text, inspection_text, warnings_text};
use underfoot::units::{Bounds, CaptureTime, Interval95, Metres, Span, StandardUncertainty};

fn at(seconds: f64) -> CaptureTime {
    CaptureTime::from_seconds(seconds)
}

fn metres(lo: f64, hi: f64) -> Bounds<Metres> {
    Bounds::between(Metres::from_metres(lo), Metres::from_metres(hi))
}

fn uncertainty_m(metres: f64) -> StandardUncertainty<Metres> {
    StandardUncertainty(Metres::from_metres(metres))
}

fn foot(takeoff_s: f64, landing_s: f64) -> FootFlight {
    let u = StandardUncertainty(Span::from_seconds(0.0013));
    FootFlight {
        takeoff_s: at(takeoff_s),
        takeoff_u_s: u,
        landing_s: at(landing_s),
        landing_u_s: u,
        flight_time_s: at(landing_s) - at(takeoff_s),
    }
}

fn jump() -> Jump {
    let line = |source: &str, u: f64| BudgetLine {
        source: source.to_owned(),
        u_m: uncertainty_m(u),
    };
    Jump {
        number: 1,
        kind: Some("countermovement".to_owned()),
        feet: Some("both".to_owned()),
        each_foot: Some([foot(0.84355, 1.34955), foot(0.8125, 1.3531)]),
        takeoff_s: at(0.84355),
        landing_s: at(1.34955),
        takeoff_bounds_s: Bounds::between(at(0.8417), at(0.8458)),
        landing_bounds_s: Bounds::between(at(1.3458), at(1.35)),
        frames: EventFrames {
            takeoff: [202, 203],
            landing: [323, 324],
        },
        flight_time_s: Span::from_seconds(0.506),
        flight_time_bounds_s: Bounds::between(Span::from_seconds(0.5), Span::from_seconds(0.5083)),
        flight_time_u_s: StandardUncertainty(Span::from_seconds(0.0017)),
        flight_time_interval95_s: Interval95 {
            lo: Span::from_seconds(0.5024),
            hi: Span::from_seconds(0.5096),
        },
        height_m: Metres::from_metres(0.31386),
        height_bounds_m: metres(0.30111, 0.32583),
        height_u_m: uncertainty_m(0.0024),
        height_interval95_m: Interval95 {
            lo: Metres::from_metres(0.3092),
            hi: Metres::from_metres(0.31853),
        },
        definition: "rise of the centre of mass after take-off".to_owned(),
        gravity_m_s2: 9.80665,
        gravity_source: "standard value, CGPM 1901".to_owned(),
        takeoff_velocity_m_s: 2.481,
        contact_time_s: Some(Span::from_seconds(0.212)),
        contact_time_bounds_s: Some(Bounds::between(
            Span::from_seconds(0.2083),
            Span::from_seconds(0.2167),
        )),
        contact_time_u_s: Some(StandardUncertainty(Span::from_seconds(0.0018))),
        rsi_m_s: Some(1.4805),
        rsi_u_m_s: Some(0.0189),
        flight_over_contact: Some(2.3868),
        flight_over_contact_u: Some(0.024),
        fall_m: Some(Metres::from_metres(0.298)),
        posture: Some(Posture {
            overstatement_m: Metres::from_metres(0.031),
            u_m: uncertainty_m(0.012),
            lowering_m: Metres::from_metres(0.065),
            likely_rise_m: Metres::from_metres(0.28286),
        }),
        body: Some(Body {
            length_m: Metres::from_metres(1.87),
            u_m: uncertainty_m(0.1),
            px_per_m: 298.4,
            implied_fps: Some(236.0),
            implied_fps_u: Some(6.9),
            clock_agrees: Some(true),
        }),
        budget: vec![
            line("frame spacing after fitting", 0.0021),
            line("clock", 0.0003),
            line("detector", 0.0011),
        ],
        flags: vec![Flag {
            code: "posture_at_landing".to_owned(),
            advice: "The legs look bent at landing, which lengthens the flight. Land as \
                     straight as at take-off and film the jump again."
                .to_owned(),
            doubtful: false,
        }],
    }
}

fn document() -> Document {
    Document {
        schema: SCHEMA,
        clip: "training/lena-3.mp4".to_owned(),
        clock: Some(Clock {
            nominal_fps: Some(240.0),
            capture_fps: 239.98,
            source: "time stamps".to_owned(),
            dropped: 0,
            repeated: 1,
        }),
        patch: Some([600, 603, 87, 42]),
        jumps: vec![jump()],
        warnings: vec!["The lamps flicker; daylight gives a steadier picture of the floor.".into()],
        error: None,
    }
}

fn failed() -> Document {
    let error = Failure {
        message: "no frame could be decoded: the file ends before its first picture".to_owned(),
        hint: "copy the clip from the phone again".to_owned(),
    };
    Document::failed("broken.mp4", error)
}

fn inspection() -> Inspection {
    Inspection {
        clip: "training/lena-3.mp4".to_owned(),
        codec: "HEVC, 10 bit".to_owned(),
        width_px: 1080,
        height_px: 1920,
        rotation_deg: 90,
        measured_fps: 30.0,
        clock: Clock {
            nominal_fps: None,
            capture_fps: 240.0,
            source: "slow-motion tag".to_owned(),
            dropped: 2,
            repeated: 0,
        },
        jitter_s: Span::from_millis(0.04),
        tags: vec![("com.android.capture.fps".to_owned(), "240".to_owned())],
        reference_height_m: Metres::from_metres(0.30),
        reference_bound_m: Metres::from_metres(0.0051),
        reference_u_m: uncertainty_m(0.0021),
    }
}

fn plain() -> TextOptions {
    TextOptions::default()
}

#[test]
fn text_of_a_jump() {
    insta::assert_snapshot!("jump", clip_text(&document(), plain()));
}

#[test]
fn text_with_details_in_inches() {
    let options = TextOptions {
        units: Units::Imperial,
        details: true,
        colour: false,
    };
    insta::assert_snapshot!("jump_details_inches", clip_text(&document(), options));
}

#[test]
fn text_of_failure_warning_and_nothing() {
    let mut nothing = document();
    nothing.jumps.clear();
    let text = [
        clip_text(&failed(), plain()),
        warnings_text(&document(), plain()),
        clip_text(&nothing, plain()),
    ];
    insta::assert_snapshot!("failure_warning_nothing", text.join("---\n"));
    assert_eq!(warnings_text(&failed(), plain()), "");
}

#[test]
fn text_of_an_inspection() {
    insta::assert_snapshot!("inspection", inspection_text(&inspection(), plain()));
}

#[test]
fn json_of_a_jump_and_of_a_failure() {
    let lines = [&document(), &failed()].map(|document| to_line(document).unwrap());
    insta::assert_snapshot!("json_lines", lines.join("\n"));
    assert!(lines.iter().all(|line| !line.contains('\n')));
}

#[test]
fn json_comes_back_the_same() {
    for document in [document(), failed()] {
        assert_eq!(from_line(&to_line(&document).unwrap()).unwrap(), document);
    }
}

#[test]
fn a_clip_name_with_a_line_feed_stays_on_one_line() {
    let mut document = document();
    document.clip = "two\nlines\r\u{1b}[31m.mp4".to_owned();
    let line = to_line(&document).unwrap();
    assert_eq!(line.lines().count(), 1);
    assert_eq!(from_line(&line).unwrap().clip, document.clip);
    let text = clip_text(&document, plain()) + &warnings_text(&document, plain());
    assert!(
        !text.contains(['\r', '\u{1b}']),
        "a name cannot command the terminal"
    );
}

#[test]
fn numbers_that_are_not_finite_never_get_out() {
    type Spoil = fn(&mut Document);
    let spoil: [(&str, Spoil); 5] = [
        ("jumps[0].height_m", |d| {
            d.jumps[0].height_m = Metres::from_metres(f64::NAN)
        }),
        ("jumps[0].height_bounds_m[1]", |d| {
            d.jumps[0].height_bounds_m = metres(0.1, f64::INFINITY);
        }),
        ("jumps[0].rsi_m_s", |d| d.jumps[0].rsi_m_s = Some(f64::NAN)),
        ("jumps[0].budget[2].u_m", |d| {
            d.jumps[0].budget[2].u_m = uncertainty_m(f64::NAN)
        }),
        ("clock.nominal_fps", |d| {
            d.clock.as_mut().unwrap().nominal_fps = Some(f64::NEG_INFINITY);
        }),
    ];
    for (place, spoil) in spoil {
        let mut document = document();
        spoil(&mut document);
        let error = to_line(&document).unwrap_err();
        assert!(matches!(&error, JsonError::NotFinite { places, .. } if places.contains(place)));
        assert!(error.to_string().contains("training/lena-3.mp4"), "{error}");
    }
}

#[test]
fn lines_that_are_not_ours_are_refused() {
    for line in ["", "{}", "[]", "{\"schema\":1}", "not json"] {
        assert!(
            matches!(from_line(line), Err(JsonError::Malformed(_))),
            "{line}"
        );
    }
    let newer = to_line(&document())
        .unwrap()
        .replace("\"schema\":1", "\"schema\":2");
    assert!(matches!(
        from_line(&newer),
        Err(JsonError::Schema { found: 2 })
    ));
    let swapped = to_line(&document()).unwrap();
    let swapped = swapped.replace("[0.30111,0.32583]", "[0.32583,0.30111]");
    assert!(matches!(from_line(&swapped), Err(JsonError::Malformed(_))));
    let longer = to_line(&document())
        .unwrap()
        .replacen('{', "{\"new_key\":[1],", 1);
    assert_eq!(from_line(&longer).unwrap(), document());
}

/// Paths of all keys, with `[]` for a list's items.
fn paths(value: &Value, path: &str, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(entries) => {
            for (key, item) in entries {
                let path = format!("{path}.{key}");
                found.insert(path.trim_start_matches('.').to_owned());
                paths(item, &path, found);
            }
        }
        Value::Array(items) => {
            for item in items {
                paths(item, &format!("{path}[]"), found);
            }
        }
        _ => {}
    }
}

#[test]
fn the_manual_describes_every_key_and_no_other() {
    let mut full = document();
    full.error = failed().error;
    let value: Value = serde_json::from_str(&to_line(&full).unwrap()).unwrap();
    let mut written = BTreeSet::new();
    paths(&value, "", &mut written);
    let manual = include_str!("../docs/json.md");
    let described: BTreeSet<String> = manual
        .lines()
        .filter_map(|line| line.strip_prefix("| `")?.split_once('`'))
        .map(|(path, _)| path.to_owned())
        .collect();
    assert_eq!(written, described);
    assert!(manual.contains(&format!("version of this layout: {SCHEMA} |")));
    assert_eq!(value["schema"], SCHEMA);
}

#[test]
fn colour_only_when_asked() {
    let colour = TextOptions {
        colour: true,
        ..plain()
    };
    let (with, without) = (
        clip_text(&document(), colour),
        clip_text(&document(), plain()),
    );
    assert!(with.contains("\u{1b}[1m31.4 cm\u{1b}[0m") && !without.contains('\u{1b}'));
    let stripped = with.replace("\u{1b}[1m", "").replace("\u{1b}[33m", "");
    assert_eq!(stripped.replace("\u{1b}[0m", ""), without);
}

#[test]
fn bounds_are_claimed_only_where_the_events_are_not_in_doubt() {
    let mut document = document();
    let text = |document: &Document| clip_text(document, plain());
    assert!(text(&document).contains("cannot be outside"));
    document.jumps[0].flags[0].doubtful = true;
    let doubtful = text(&document);
    assert!(!doubtful.contains("cannot be outside"), "{doubtful}");
    assert!(doubtful.contains("if read rightly"), "{doubtful}");
}

#[test]
fn empty_advice_still_ends_its_line() {
    let mut document = document();
    document.jumps[0].flags[0].advice.clear();
    document.warnings[0].clear();
    let text = clip_text(&document, plain());
    assert!(text.contains("\nHeight means: "), "{text}");
    assert_eq!(
        warnings_text(&document, plain()),
        "warning: training/lena-3.mp4:\n"
    );
}

#[test]
fn decimals_follow_the_uncertainty() {
    let mut document = document();
    for (u, shown) in [(0.017, "31 cm"), (0.0042, "31.4 cm"), (0.0005, "31.39 cm")] {
        document.jumps[0].height_u_m = uncertainty_m(u);
        let text = clip_text(&document, plain());
        assert!(text.contains(&format!("Jump 1  {shown}  (")), "{text}");
    }
}

proptest! {
    /// Rounding must not turn a possible height into an impossible one.
    #[test]
    fn printed_bounds_enclose_the_bounds(lo in 0.01..0.5f64, wide in 0.0..0.2f64, u in 1e-4..0.05f64) {
        let mut document = document();
        document.jumps[0].height_bounds_m = metres(lo, lo + wide);
        document.jumps[0].height_u_m = uncertainty_m(u);
        let text = clip_text(&document, plain());
        let (_, rest) = text.split_once("cannot be outside ").unwrap();
        let (range, _) = rest.split_once(" cm)").unwrap();
        let (printed_lo, printed_hi) = range.split_once(" to ").unwrap();
        let (printed_lo, printed_hi): (f64, f64) = (printed_lo.parse().unwrap(), printed_hi.parse().unwrap());
        prop_assert!(printed_lo <= lo * 100.0 + 1e-5 && printed_hi >= (lo + wide) * 100.0 - 1e-5);
        prop_assert!(printed_lo > lo * 100.0 - 1.0 && printed_hi < (lo + wide) * 100.0 + 1.0);
    }

    #[test]
    fn every_line_fits_eighty_columns(
        clip in "\\PC{0,200}", advice in "\\PC{0,300}", source in "\\PC{0,120}",
        height in -1.0..1e6f64, u in 0.0..1e3f64, details: bool, inches: bool,
    ) {
        let mut document = document();
        document.clip = clip;
        document.warnings.push(advice.clone());
        let jump = &mut document.jumps[0];
        jump.height_m = Metres::from_metres(height);
        jump.height_u_m = uncertainty_m(u);
        jump.budget[0].source = source.clone();
        jump.definition = source.clone();
        jump.gravity_source = source;
        jump.flags[0].advice = advice;
        let units = if inches { Units::Imperial } else { Units::Metric };
        let options = TextOptions { units, details, colour: false };
        let text = clip_text(&document, options) + &warnings_text(&document, options);
        for line in text.lines() {
            prop_assert!(line.chars().count() <= 80, "{line}");
        }
    }
}
