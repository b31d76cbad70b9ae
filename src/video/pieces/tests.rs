//! What a piece has to show, on made-up paths of the trunk.

use super::*;

/// Heights in metres, sixty a second, from `seen_s` before take-off on.
fn trunk(rise_m: impl Fn(f64) -> f64, seen_s: f64) -> Trunk {
    let times = (0..).map(|k| f64::from(k) / 60.0 - seen_s);
    let times = times.take_while(|t| *t < 0.0);
    times.map(|t| (t, rise_m(t))).collect()
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
    let shows = |lead_s: f64| shows_dip(trunk(dipping, lead_s), lead_s);
    assert!(shows(0.6), "the way down is seen");
    assert!(!shows(0.28), "the way up alone tells no kind of jump");
    let held = |t: f64| if t < -0.3 { -0.35 } else { 0.35 * t / 0.3 };
    // Held but for the slightest sinking, so that the lowest place is the last.
    let held = |t: f64| held(t) - if t < -0.3 { 0.001 * (t + 1.0) } else { 0.0 };
    assert!(!shows_dip(trunk(held, 0.5), 0.5), "held for how long?");
    assert!(shows_dip(trunk(held, 0.8), 0.8), "held for half a second");
    assert!(
        shows_dip(Trunk::new(), 0.28),
        "more film would not show more"
    );
}

#[test]
fn a_dip_is_left_out_only_where_the_leap_goes_on_from_it() {
    let goes = |lead_s: f64| goes_down(trunk(dipping, lead_s), lead_s);
    assert!(goes(0.6));
    assert!(!goes(0.3), "too close to take-off");
    assert!(!goes(1.2), "at rest, long before");
    // Coming down from a box the trunk is above its height at take-off.
    let falling = |t: f64| match t < -0.3 {
        true => -0.35 - 1.5 * (t + 0.3),
        false => 0.35 * t / 0.3,
    };
    assert!(!goes_down(trunk(falling, 0.6), 0.6));
}
