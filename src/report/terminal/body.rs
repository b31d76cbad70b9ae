//! What the body above the feet told, in words: kind, contact, posture, scale.

use crate::units::{CaptureTime, Span, StandardUncertainty};

use super::super::model::{Body, Jump, Posture};
use super::numbers::{decimals, fixed};
use super::wrap::wrapped;
use super::{TextOptions, Units};

/// The kind of jump for people.
pub(super) fn kind(jump: &Jump) -> String {
    let known = match jump.kind.as_deref() {
        Some("countermovement") => "countermovement jump",
        Some("squat") => "squat jump (a held position before the push)",
        Some("drop") => "drop jump (a push straight after coming down)",
        Some("rebound") => "rebound (a push straight after the landing before)",
        _ => return String::new(),
    };
    format!("  Kind  {known}\n")
}

/// How far apart the feet left and landed, where both were seen.
pub(super) fn feet(jump: &Jump) -> String {
    each_foot(jump).map_or_else(String::new, |apart| wrapped("  Feet  ", &apart))
}

/// The same in a sentence.
pub(in crate::report) fn each_foot(jump: &Jump) -> Option<String> {
    let [left, right] = jump.each_foot.as_ref()?;
    let millis = |later: CaptureTime, earlier: CaptureTime| 1e3 * (later - earlier).seconds();
    let off = millis(right.takeoff_s, left.takeoff_s);
    let on = millis(right.landing_s, left.landing_s);
    let u = |a: StandardUncertainty<Span>, b: StandardUncertainty<Span>| {
        1e3 * a.0.seconds().hypot(b.0.seconds())
    };
    let end = |what: &str, apart: f64, u: f64| {
        // What two standard uncertainties cover is not told apart.
        if apart.abs() < 2.0 * u {
            return format!("both {what} within {} ms", fixed(2.0 * u, 0));
        }
        let first = if apart > 0.0 { "left" } else { "right" };
        let (apart, u) = (fixed(apart.abs(), 0), fixed(u, 0));
        format!("the {first} one {what} {apart} ms before the other (u {u})")
    };
    Some(format!(
        "in the picture, {} and {}",
        end(
            "left the floor",
            off,
            u(left.takeoff_u_s, right.takeoff_u_s)
        ),
        end("landed", on, u(left.landing_u_s, right.landing_u_s)),
    ))
}

/// The contact before take-off with its index and ratio.
pub(in crate::report) fn contact(jump: &Jump, units: Units) -> String {
    let Some((time, u)) = jump.contact_time_s.zip(jump.contact_time_u_s) else {
        return String::new();
    };
    let with_u = |value: f64, u: f64| {
        let places = decimals(u, 0, 3);
        format!("{} (u {})", fixed(value, places), fixed(u, places))
    };
    let mut line = format!("{} s", with_u(time.seconds(), u.0.seconds()));
    if let Some((rsi, u)) = jump.rsi_m_s.zip(jump.rsi_u_m_s) {
        line += &format!(
            "; reactive strength index, height over contact time, {} m/s",
            with_u(rsi, u)
        );
    }
    if let Some((ratio, u)) = jump.flight_over_contact.zip(jump.flight_over_contact_u) {
        line += &format!("; flight over contact time {}", with_u(ratio, u));
    }
    let mut text = wrapped("  Contact time  ", &line);
    if let Some(fall) = jump.fall_m {
        let fallen = format!(
            "The body came down by about {} {} before the touch; the fall from a box is \
             seldom the box's height.",
            fixed(units.of(fall), 0),
            units.symbol()
        );
        text += &wrapped("  ", &fallen);
    }
    text
}

/// What posture at landing adds, with both heights.
pub(super) fn posture(posture: &Posture, options: TextOptions) -> String {
    let units = options.units;
    let unit = units.symbol();
    let u = units.of(posture.u_m.0);
    let places = decimals(u, 0, 2);
    let line = format!(
        "The body was about {} {unit} lower at landing than at take-off. That accounts for \
         about {} {unit} of the height (standard uncertainty {} {unit}); it is not taken off. \
         Without it the rise was about {} {unit}.",
        fixed(units.of(posture.lowering_m), 0),
        fixed(units.of(posture.overstatement_m), places),
        fixed(u, places),
        fixed(units.of(posture.likely_rise_m), places),
    );
    wrapped("  ", &line)
}

/// What free fall says of scale and clock.
pub(super) fn body(body: &Body, capture_fps: Option<f64>, options: TextOptions) -> String {
    let units = options.units;
    let length = units.of(body.length_m);
    let u = units.of(body.u_m.0);
    let line = match (body.implied_fps.zip(body.implied_fps_u), body.clock_agrees) {
        (Some((implied, u_fps)), Some(agrees)) => format!(
            "Free fall and the stated stature give {} frames per second (u {}); {}.",
            fixed(implied, 0),
            fixed(u_fps, 0),
            match (agrees, capture_fps) {
                (true, _) => "the clip's clock agrees".to_owned(),
                (false, Some(fps)) => format!("the clip's clock says {}", fixed(fps, 0)),
                (false, None) => "the clip's clock says otherwise".to_owned(),
            }
        ),
        _ => format!(
            "If the clip's clock is right, free fall makes {} {unit} (u {}) from toes to head \
             at take-off, {} pixels to the metre.",
            fixed(length, 0),
            fixed(u, 0),
            fixed(body.px_per_m, 0),
            unit = units.symbol(),
        ),
    };
    wrapped("  ", &line)
}
