//! Checks of the budget's own rules.

use super::*;
use crate::jump::conditions::ClockUncertainty;
use crate::jump::flight::Event;
use crate::units::{CaptureTime, Interval95};

fn at(seconds: f64) -> CaptureTime {
    CaptureTime::from_seconds(seconds)
}

fn u_ms(millis: f64) -> StandardUncertainty<Span> {
    StandardUncertainty(Span::from_millis(millis))
}

fn fitted(best: f64, half_frame: f64, u: StandardUncertainty<Span>) -> Event {
    Event::fitted(at(best - half_frame), at(best), at(best + half_frame), u).unwrap()
}

fn conditions(relative: f64, tick_s: f64) -> Conditions {
    let clock = ClockUncertainty::new(relative, Span::from_seconds(tick_s)).unwrap();
    Conditions::new(clock, Gravity::standard())
}

fn fitted_flight() -> Flight {
    Flight::new(fitted(1.0, 0.01, u_ms(1.0)), fitted(1.5, 0.01, u_ms(2.0))).unwrap()
}

#[test]
fn the_lines_add_up_to_the_total() {
    let takeoff = Event::between_frames(at(1.0), at(1.02)).unwrap();
    let flight = Flight::new(takeoff, fitted(1.5, 0.01, u_ms(2.0))).unwrap();
    let conditions = conditions(1e-3, 1e-3)
        .with_time_source(
            BudgetSource::Shutter,
            Component::Uniform { half_width: 1e-3 },
        )
        .unwrap();
    let result = HeightResult::of(&flight, &conditions);
    let sources: Vec<BudgetSource> = result.budget.iter().map(|line| line.source).collect();
    assert_eq!(
        sources,
        [
            BudgetSource::FrameSpacing,
            BudgetSource::DetectorFit,
            BudgetSource::Clock,
            BudgetSource::ClockTick,
            BudgetSource::Shutter,
            BudgetSource::Gravity
        ]
    );
    let sum: f64 = result
        .budget
        .iter()
        .map(|line| line.u_height.0.metres().powi(2))
        .sum();
    assert!((sum.sqrt() - result.u.0.metres()).abs() < 1e-15);
    let time: f64 = result
        .budget
        .iter()
        .filter_map(|line| line.u_flight)
        .map(|u| u.0.seconds().powi(2))
        .sum();
    assert!((time.sqrt() - result.flight_time_u.0.seconds()).abs() < 1e-15);
}

#[test]
fn errors_that_move_both_events_alike_cancel() {
    let result = |r: f64| {
        let conditions = conditions(0.0, 0.0).with_fit_correlation(r).unwrap();
        HeightResult::of(&fitted_flight(), &conditions)
    };
    let u = |r: f64| result(r).flight_time_u.0.millis();
    // Cutting at ten or five standard deviations takes nothing away.
    assert!((u(0.0) - 5f64.sqrt()).abs() < 1e-3);
    assert!((u(0.5) - 3f64.sqrt()).abs() < 1e-3);
    assert!((u(1.0) - 1.0).abs() < 1e-3);
    assert!((u(-1.0) - 3.0).abs() < 1e-3);
    let width = |i: Interval95<Span>| (i.hi - i.lo).millis();
    let correlated = width(result(1.0).flight_time_interval95);
    assert!((correlated - 2.0 * 1.959964).abs() < 1e-3);
}

#[test]
fn a_fit_as_coarse_as_its_frames_is_no_better_than_the_frames() {
    let vague = Flight::new(fitted(1.0, 0.01, u_ms(1e4)), fitted(1.5, 0.01, u_ms(1e4))).unwrap();
    let frames = Flight::new(
        Event::between_frames(at(0.99), at(1.01)).unwrap(),
        Event::between_frames(at(1.49), at(1.51)).unwrap(),
    )
    .unwrap();
    let conditions = conditions(0.0, 0.0);
    let (a, b) = (
        HeightResult::of(&vague, &conditions),
        HeightResult::of(&frames, &conditions),
    );
    assert!((a.u.0 - b.u.0).abs() < Metres::from_metres(1e-6));
    assert!((a.interval95.hi - b.interval95.hi).abs() < Metres::from_metres(1e-6));
}

#[test]
fn posture_stays_out_of_the_interval() {
    let plain = HeightResult::of(&fitted_flight(), &conditions(1e-4, 0.0));
    let allowance = PostureAllowance::from_lowering(
        plain.height,
        PostureAllowance::PUBLISHED_LOWERING,
        StandardUncertainty(Metres::from_metres(0.03)),
    )
    .unwrap();
    let with = plain.clone().with_posture(allowance);
    assert_eq!(with.interval95, plain.interval95);
    assert_eq!(with.u, plain.u);
    assert!(with.posture.is_some());
}

#[test]
fn keys_name_their_units() {
    let result = HeightResult::of(&fitted_flight(), &conditions(1e-4, 0.0));
    let json = serde_json::to_value(&result).unwrap();
    for key in ["height_m", "u_m", "flight_time_s", "takeoff_speed_m_s"] {
        assert!(json[key].is_f64(), "{key}");
    }
    assert!(json["bounds_m"]["lo"].as_f64() <= json["interval95_m"]["lo"].as_f64());
    assert_eq!(json["budget"][0]["source"], "detector_fit");
    assert_eq!(json["budget"][0]["shape"], "truncated_normal");
    assert_eq!(json["gravity"]["source"], "standard");
}

#[test]
fn unusable_conditions_are_refused() {
    assert!(ClockUncertainty::new(-1e-6, Span::default()).is_err());
    assert!(ClockUncertainty::new(f64::NAN, Span::default()).is_err());
    assert!(ClockUncertainty::new(0.0, Span::from_seconds(-1.0)).is_err());
    assert!(conditions(0.0, 0.0).with_fit_correlation(1.1).is_err());
    let nothing = Component::Uniform { half_width: 0.0 };
    assert!(
        conditions(0.0, 0.0)
            .with_time_source(BudgetSource::Shutter, nothing)
            .is_err()
    );
}
