use super::*;

/// Facts of a clip with this tick and, if any, this capture tag.
fn facts(den: u32, capture_tag: Option<&str>) -> ClipFacts {
    ClipFacts {
        container: String::new(),
        codec: "H.264".to_owned(),
        pixel_format: "yuv420p".to_owned(),
        bit_depth: 8,
        stored_size: (64, 48),
        size: (64, 48),
        rotation: 0,
        mirrored: false,
        duration_s: None,
        nominal_fps: None,
        average_fps: None,
        time_base: (1, den),
        frames_claimed: None,
        full_range: false,
        transfer: None,
        tags: capture_tag
            .map(|value| ("com.android.capture.fps".to_owned(), value.to_owned()))
            .into_iter()
            .collect(),
        warnings: Vec::new(),
    }
}

/// Stamps of `count` frames at `fps`, rounded to ticks.
fn even(fps: f64, den: u32, count: u32) -> Vec<i64> {
    (0..count)
        .map(|i| (f64::from(i) / fps * f64::from(den)).round() as i64)
        .collect()
}

fn clock(fps: f64, tag: Option<&str>, stated: Option<f64>) -> Result<CaptureClock, ClockError> {
    CaptureClock::new(&facts(90_000, tag), &even(fps, 90_000, 300), stated)
}

#[test]
fn time_begins_with_the_first_frame_whatever_its_stamp() {
    let ticks: Vec<i64> = (0..100).map(|i| i * 1500 - 3000).collect();
    let clock = CaptureClock::new(&facts(90_000, None), &ticks, None).unwrap();
    assert_eq!(clock.time_of(-3000), CaptureTime::from_seconds(0.0));
    assert!((clock.time_of(87_000).seconds() - 1.0).abs() < 1e-12);
    let report = clock.report();
    assert!((report.measured_fps - 60.0).abs() < 1e-9);
    assert_eq!(
        (report.stretch, &report.source),
        (1.0, &ClockSource::FileTimes)
    );
    assert_eq!((report.dropped_count(), report.rounding_s), (0, None));
}

#[test]
fn tagged_slow_motion_is_divided_by_its_whole_factor() {
    for (fps, tag, factor) in [
        (30.0, "240.000000", 8.0),
        (30_000.0 / 1001.0, "240", 8.0),
        (30_000.0 / 1001.0, "239.76", 8.0),
        (30.0, "120", 4.0),
        (25.0, "240", 9.6),
        (24_000.0 / 1001.0, "240", 10.0),
    ] {
        let clock = clock(fps, Some(tag), None).unwrap();
        let report = clock.report();
        assert!(
            (report.stretch - factor).abs() < 1e-9,
            "{fps} {tag}: {report:?}"
        );
        assert!(matches!(report.source, ClockSource::CaptureTag(_)));
        assert_eq!(report.doubt, None);
        let second = (factor * 90_000.0) as i64;
        assert!((clock.time_of(second).seconds() - 1.0).abs() < 1e-9);
        assert!(report.u_rel > 5e-4 && report.u_rel < 6e-4);
    }
}

#[test]
fn a_tag_that_agrees_with_the_stamps_changes_nothing() {
    for fps in [239.981, 240.0, 237.0] {
        let report = clock(fps, Some("240.0"), None).unwrap().report().clone();
        assert_eq!((report.stretch, report.doubt), (1.0, None));
        assert!(report.u_rel < 1e-4);
    }
}

#[test]
fn a_tag_that_neither_agrees_nor_stretches_is_doubted() {
    for (fps, tag) in [(48.5, "60"), (30.0, "24")] {
        let report = clock(fps, Some(tag), None).unwrap().report().clone();
        assert_eq!(report.stretch, 1.0);
        assert!(matches!(
            report.doubt,
            Some(ClockDoubt::TagDisagrees { .. })
        ));
    }
    let report = clock(30.0, Some("60"), None).unwrap().report().clone();
    assert_eq!(report.stretch, 2.0);
    assert!(matches!(
        report.doubt,
        Some(ClockDoubt::MayBePoorLight { .. })
    ));
    let report = clock(27.3, Some("240"), None).unwrap().report().clone();
    assert!(matches!(report.doubt, Some(ClockDoubt::OddStretch { .. })));
    let report = clock(30.0, Some("Cp"), None).unwrap().report().clone();
    assert!(matches!(
        report.doubt,
        Some(ClockDoubt::TagUnreadable { .. })
    ));
}

#[test]
fn time_lapse_is_refused() {
    let refused = clock(30.0, Some("2.0"), None);
    assert!(
        matches!(refused, Err(ClockError::TimeLapse { .. })),
        "{refused:?}"
    );
}

#[test]
fn a_stated_rate_wins_over_the_tag_and_says_so() {
    let report = clock(30.0, Some("120"), Some(240.0))
        .unwrap()
        .report()
        .clone();
    assert_eq!((report.stretch, report.source), (8.0, ClockSource::Stated));
    assert!(matches!(
        report.doubt,
        Some(ClockDoubt::StatedContradictsTag { .. })
    ));
    let report = clock(30.0, Some("240"), Some(240.0))
        .unwrap()
        .report()
        .clone();
    assert_eq!((report.stretch, report.doubt), (8.0, None));
    let report = clock(239.98, None, Some(240.0)).unwrap().report().clone();
    assert_eq!(report.stretch, 1.0);
    for bad in [0.0, -240.0, f64::NAN, f64::INFINITY] {
        let refused = clock(30.0, None, Some(bad));
        assert!(matches!(refused, Err(ClockError::NoRate(_))), "{bad}");
    }
    let refused = clock(240.0, None, Some(60.0));
    assert!(matches!(refused, Err(ClockError::BelowPlayback { .. })));
}

/// 240 frames a second on 600 ticks is 2.5 ticks: each stamp is up to half a
/// tick, 0.833 ms, off.
#[test]
fn ticks_too_coarse_for_the_rate_are_reported() {
    let clock = CaptureClock::new(&facts(600, None), &even(240.0, 600, 300), None).unwrap();
    let report = clock.report();
    assert!((report.measured_fps - 240.0).abs() < 0.1);
    assert!((report.rounding_s.unwrap() - 0.000_833).abs() < 1e-6);
    assert_eq!(report.dropped_count(), 0);
    let fine = CaptureClock::new(&facts(600, None), &even(60.0, 600, 300), None).unwrap();
    assert_eq!(fine.report().rounding_s, None);
}

#[test]
fn dropped_frames_are_placed_on_the_capture_clock() {
    let mut ticks = even(30.0, 90_000, 60);
    ticks.remove(30);
    let clock = CaptureClock::new(&facts(90_000, Some("240")), &ticks, None).unwrap();
    let [gap] = clock.report().dropped[..] else {
        panic!("{:?}", clock.report().dropped);
    };
    assert_eq!((gap.after, gap.missing), (FrameIndex(29), 1));
    assert!((gap.at.seconds() - 29.0 / 240.0).abs() < 1e-9);
    assert!((gap.gap.seconds() - 2.0 / 240.0).abs() < 1e-9);
}

#[test]
fn a_flight_of_seconds_asks_for_the_capture_rate() {
    let clock = clock(30.0, None, None).unwrap();
    let flight = Span::from_seconds;
    assert_eq!(clock.doubt_from_flight(flight(0.62)), None);
    let doubt = clock.doubt_from_flight(flight(4.0)).unwrap();
    let rates: Vec<f64> = doubt.candidates.iter().map(|c| c.capture_fps).collect();
    // 4 s: halved 2.0, quartered 1.0, an eighth 0.5, a sixteenth 0.25.
    assert_eq!(rates, [240.0, 480.0]);
    assert_eq!(doubt.candidates[0].factor, 8.0);
    let doubt = clock.doubt_from_flight(flight(60.0)).unwrap();
    assert!(doubt.candidates.is_empty());
}

#[test]
fn one_frame_or_one_moment_is_no_clock() {
    let facts = facts(90_000, None);
    let of = |ticks: &[i64]| CaptureClock::new(&facts, ticks, None).unwrap_err();
    assert_eq!(of(&[]), ClockError::TooFewFrames(0));
    assert_eq!(of(&[7]), ClockError::TooFewFrames(1));
    assert_eq!(of(&[7, 7, 7]), ClockError::TimeStandsStill);
}
