//! The report in print: one line for each jump, then one for each class.

use anyhow::Result;
use serde_json::json;

use crate::figures::Figures;
use crate::measure::Outcome;

pub const HEADING: &str = "clip                         fps  jump   T true ms   error ms  frames  bounds  95 %   u ms  error/u  height cm  wall s";

/// The lines of one clip.
pub fn lines(outcome: &Outcome) -> String {
    let mut text = String::new();
    let mut wall = format!("{:.2}", outcome.wall_s);
    for jump in &outcome.jumps {
        text += &format!(
            "{:<26} {:>5.0}  found  {:>9.2}  {:>+9.2}  {:>+6.2}  {:>6}  {:>4}  {:>5.2}  {:>+7.2}  {:>+9.2}  {:>6}  {}\n",
            outcome.clip,
            outcome.capture_fps,
            1e3 * jump.true_flight_time_s,
            1e3 * jump.flight_time_error_s,
            jump.error_frames,
            if jump.bounds_hold { "hold" } else { "BROKEN" },
            if jump.interval95_holds { "in" } else { "out" },
            1e3 * jump.u_s,
            jump.flight_time_error_s / jump.u_s,
            100.0 * jump.height_error_m,
            std::mem::take(&mut wall),
            jump.flags.join(" "),
        );
    }
    let (clip, fps) = (&outcome.clip, outcome.capture_fps);
    if outcome.missed() > 0 {
        let why = outcome.error.as_deref().unwrap_or_default();
        text += &format!(
            "{clip:<26} {fps:>5.0}  MISSED {}  {why}\n",
            outcome.missed()
        );
    }
    for [from_s, to_s] in &outcome.invented_s {
        text += &format!("{clip:<26} {fps:>5.0}  INVENTED  {from_s:.3} to {to_s:.3} s\n");
    }
    text
}

/// One line for each class.
pub fn summary(figures: &[Figures]) -> String {
    let mut text = String::from(
        "fps    jumps found missed invented   T rms ms  bias ms  rms fr.  bias fr.  h rms cm  rise rms cm  in bounds  in 95 %  width  error/u  wall s\n",
    );
    for row in figures {
        text += &format!(
            "{:<6} {:>5} {:>5} {:>6} {:>8}   {:>8}  {:>7}  {:>7}  {:>8}  {:>8}  {:>11}  {:>9}  {:>7}  {:>5}  {:>7}  {:>6.1}\n",
            row.class,
            row.jumps,
            row.found,
            row.missed,
            row.invented,
            unsigned(row.flight_time_rms_s, 1e3),
            signed(row.flight_time_bias_s, 1e3),
            unsigned(row.rms_frames, 1.0),
            signed(row.bias_frames, 1.0),
            unsigned(row.height_rms_m, 100.0),
            unsigned(row.rise_rms_m, 100.0),
            format!("{}/{}", row.in_bounds, row.found),
            format!("{}/{}", row.in_interval95, row.found),
            unsigned(row.interval_of_whole_frame, 1.0),
            unsigned(row.error_over_u_rms, 1.0),
            row.wall_s,
        );
    }
    text
}

fn unsigned(value: Option<f64>, unit: f64) -> String {
    value.map_or("-".into(), |v| format!("{:.2}", v * unit))
}

fn signed(value: Option<f64>, unit: f64) -> String {
    value.map_or("-".into(), |v| format!("{:+.2}", v * unit))
}

/// Everything as one document.
pub fn json(outcomes: &[Outcome], figures: &[Figures]) -> Result<String> {
    let document = json!({ "schema": 1, "clips": outcomes, "figures": figures });
    Ok(serde_json::to_string_pretty(&document)?)
}
