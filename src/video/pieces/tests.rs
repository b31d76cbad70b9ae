//! What a piece has to show, on made-up paths of the trunk.

use super::*;
use crate::video::{BodyPath, FootEvent};

/// A certain leap that takes off at 2 s, with the trunk's heights in metres against
/// seconds from take-off.
fn leap_after(rise_m: impl Fn(f64) -> f64, seen_s: f64) -> Leap {
    const PX_PER_M: f64 = 300.0;
    let event = |t_s: f64| FootEvent {
        t_s,
        spread_s: 0.001,
        weight: 10.0,
        paths: 24,
        share: 1.0,
        votes: 10,
        speed_px_s: 700.0,
        run_up_s: 0.0,
        rms_px: 0.2,
        floor_px: 100.0,
    };
    let times_s: Vec<f64> = (0..)
        .map(|k| 2.0 - seen_s + f64::from(k) / 60.0)
        .take_while(|t| *t < 2.0)
        .collect();
    let rises = times_s.iter().map(|t| PX_PER_M * rise_m(t - 2.0));
    Leap {
        takeoff: event(2.0),
        landing: event(2.5),
        px_per_m: PX_PER_M,
        evidence: 1.0,
        takeoff_paths: Vec::new(),
        landing_paths: Vec::new(),
        backed: true,
        body: Some(BodyPath {
            rise_px: rises.collect(),
            times_s,
            landing_px: 0.0,
            landing_spread_px: 0.1,
            fall_px_s2: 9.8 * PX_PER_M,
            reach_px: None,
        }),
        touchdown: None,
    }
}

/// Down for half a second, up for three tenths.
fn dipping(t: f64) -> f64 {
    match t {
        t if t < -0.8 => 0.0,
        t if t < -0.3 => -0.35 * (t + 0.8) / 0.5,
        t => 0.35 * t / 0.3,
    }
}

#[test]
fn a_piece_that_begins_at_the_bottom_is_not_enough() {
    let shows = |seen_s: f64| shows_dip(&leap_after(dipping, seen_s), 2.0 - seen_s);
    assert!(shows(0.6), "the way down is seen");
    assert!(!shows(0.28), "the way up alone tells no kind of jump");
    let held = |t: f64| if t < -0.3 { -0.35 } else { 0.35 * t / 0.3 };
    assert!(
        !shows_dip(&leap_after(held, 0.5), 1.5),
        "held for how long?"
    );
    assert!(
        shows_dip(&leap_after(held, 0.8), 1.2),
        "held for half a second"
    );
    let hidden = Leap {
        body: None,
        ..leap_after(dipping, 0.28)
    };
    assert!(shows_dip(&hidden, 1.72), "more film would not show more");
}

#[test]
fn a_dip_is_left_out_only_where_the_leap_goes_on_from_it() {
    let goes = |seen_s: f64| goes_down(&leap_after(dipping, seen_s), 2.0 - seen_s);
    assert!(goes(0.6));
    assert!(!goes(0.3), "too close to take-off");
    assert!(!goes(1.2), "at rest, long before");
    // After landing from a box the trunk is above its height at take-off.
    let falling = |t: f64| {
        if t < -0.3 {
            -0.35 - 1.5 * (t + 0.3)
        } else {
            0.35 * t / 0.3
        }
    };
    assert!(!goes_down(&leap_after(falling, 0.6), 1.4));
}
