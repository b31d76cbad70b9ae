//! Third step: the heights, what they rest on, and setting events right.

use maud::{Markup, html};

use super::super::App;
use super::super::jumps::{Standing, standing};
use super::super::shelf::{Held, Stage};
use super::keeping;
use super::{fault, sentence, shelf::doing};
use crate::report::figures::{JumpFigures, budget, contact, each_foot};
use crate::report::model::Jump;
use crate::report::terminal::Units;
use crate::units::CaptureTime;
use crate::workflow::frames::Film;

/// Before any clip is chosen.
pub(super) fn nothing() -> Markup {
    html! {
        p.empty { "The height appears here, with how sure it is. Then you look at the moments it rests on, \
                   and keep it." }
    }
}

/// The panel of one clip.
pub(in crate::page) fn jump(app: &App, clip: &Held, athletes: &[String]) -> Markup {
    html! {
        @match (&clip.stage, &clip.film) {
            (Stage::Measured, Some(film)) => (measured(app, clip, film, athletes)),
            (Stage::Failed(failure), _) => (fault(failure)),
            (Stage::Marking, _) => p.empty { "Mark the floor and measure; the height appears here." },
            (Stage::Queued(_) | Stage::Working { .. }, _) => {
                p.busy { (sentence(&doing(clip, &app.shelf))) }
            }
            _ => (nothing()),
        }
    }
}

fn measured(app: &App, clip: &Held, film: &Film, athletes: &[String]) -> Markup {
    let units = app.settings.units;
    let jumps = standing(clip);
    let warnings = clip
        .findings
        .as_ref()
        .map_or(&[][..], |f| &f.document.warnings);
    html! {
        @if jumps.is_empty() {
            div.fault {
                p.what { "No jump was found: no feet were seen to leave the marked floor and come back to it." }
                p.remedy { "Look whether the patch holds both feet, and measure again; or film again with \
                            shoes unlike the floor." }
            }
        }
        @for one in &jumps { (article(one, film, units)) }
        @for warning in warnings { p.warning { (sentence(warning)) } }
        @if let Some(first) = jumps.first() {
            p.meaning { "Height means: " (first.jump.definition) "." }
            (keeping::form(clip, &jumps, athletes))
        }
    }
}

fn article(one: &Standing, film: &Film, units: Units) -> Markup {
    let jump = one.jump;
    let figures = JumpFigures::of(jump, units);
    let number = jump.number;
    html! {
        article.jump data-jump=(number) aria-labelledby={ "jump-name-" (number) } {
            h3 #{ "jump-name-" (number) } { "Jump " (number) }
            p.height { (figures.height) }
            (scale(jump, units))
            p.sure { "95 %: " (figures.height_interval95) }
            p.bounds { "Cannot be outside " (figures.height_bounds) }
            @if !one.hand.is_empty() { (by_hand(one, units)) }
            dl.facts {
                dt { "In the air" } dd { (figures.flight_time) " " span.small { "95 %: " (figures.flight_time_interval95) } }
                @if let Some(kind) = &jump.kind { dt { "Kind" } dd { (kind) " jump" } }
                @let contact = contact(jump, units);
                @if !contact.is_empty() { dt { "Contact" } dd { (contact.trim_start_matches("Contact time ")) } }
                (feet(jump))
            }
            div.moments role="group" aria-label={ "Moments of jump " (number) } {
                (moment(jump, "take-off", &figures.takeoff, one.hand.takeoff.is_some()))
                (moment(jump, "landing", &figures.landing, one.hand.landing.is_some()))
            }
            @for flag in &jump.flags { p.flag { (flag.advice) } }
            (set_right(one, film))
            details #{ "budget-" (number) } {
                summary { "Where the uncertainty comes from" }
                table {
                    thead { tr { th scope="col" { "Source" } th scope="col" { "Standard uncertainty" } } }
                    tbody { @for (source, share) in budget(jump, units) { tr { td { (source) } td { (share) } } } }
                }
                p.small {
                    "Take-off velocity " (format!("{:.2}", jump.takeoff_velocity_m_s)) " m/s. Gravity "
                    (jump.gravity_m_s2) " m/s\u{b2}, " (jump.gravity_source) "."
                }
            }
        }
    }
}

/// The height between its bounds, as a rise above the floor.
fn scale(jump: &Jump, units: Units) -> Markup {
    const WIDTH: f64 = 300.0;
    let top = jump.height_bounds_m.hi().metres() * 1.15;
    let at = |metres: f64| format!("{:.1}", 6.0 + metres / top * (WIDTH - 12.0));
    let (bounds, interval) = (jump.height_bounds_m, jump.height_interval95_m);
    let width = |lo: f64, hi: f64| format!("{:.1}", (hi - lo) / top * (WIDTH - 12.0));
    let step = if units == Units::Metric { 0.1 } else { 0.1016 };
    let marks = (0..).map(|k| f64::from(k) * step).take_while(|m| *m < top);
    html! {
        svg.scale viewBox="0 0 300 34" role="img" aria-label="The height, its interval and its bounds on a scale from the floor" {
            line.ground x1=(at(0.0)) x2=(at(0.0)) y1="2" y2="26" {}
            line.axis x1=(at(0.0)) x2=(at(top)) y1="24" y2="24" {}
            @for mark in marks.take(40) { line.mark x1=(at(mark)) x2=(at(mark)) y1="24" y2="28" {} }
            rect.possible x=(at(bounds.lo().metres())) y="8" height="10"
                width=(width(bounds.lo().metres(), bounds.hi().metres())) {}
            rect.likely x=(at(interval.lo.metres())) y="5" height="16"
                width=(width(interval.lo.metres(), interval.hi.metres())) {}
            line.best x1=(at(jump.height_m.metres())) x2=(at(jump.height_m.metres())) y1="1" y2="24" {}
        }
    }
}

/// What was found beside what was set.
fn by_hand(one: &Standing, units: Units) -> Markup {
    let found = JumpFigures::of(one.found, units);
    let which = match (one.hand.takeoff.is_some(), one.hand.landing.is_some()) {
        (true, true) => "Take-off and landing are",
        (true, false) => "The take-off is",
        _ => "The landing is",
    };
    html! {
        p.by-hand {
            strong { "Set by hand. " }
            (which) " yours. Found: " (found.height) " (95 %: " (found.height_interval95) "), take-off at "
            (found.takeoff) ", landing at " (found.landing) "."
        }
    }
}

/// Each foot, where both were seen, as the command tells of it.
fn feet(jump: &Jump) -> Markup {
    html! {
        @if let Some(apart) = each_foot(jump) { dt { "Feet" } dd.feet { (apart) } }
    }
}

fn moment(jump: &Jump, what: &str, time: &str, by_hand: bool) -> Markup {
    let frames = match what {
        "take-off" => jump.frames.takeoff,
        _ => jump.frames.landing,
    };
    html! {
        button.moment.(what) type="button" data-event=(what) data-jump=(jump.number) data-frame=(frames[0])
            aria-pressed="false" #{ "event-" (jump.number) "-" (what) } {
            span.what { (what) @if by_hand { " (by hand)" } }
            span.when { (time) }
        }
    }
}

/// The tools for setting an event.
fn set_right(one: &Standing, film: &Film) -> Markup {
    let number = one.jump.number;
    let open = !one.hand.is_empty();
    let set = |what: &str, place: f64, says: &str| {
        html! {
            button type="button" data-set=(what) data-offset=(place) data-jump=(number) { (says) }
        }
    };
    let nudge = |what: &str, by: f64, says: &str| {
        let place = match what {
            "take_off" => one
                .hand
                .takeoff
                .unwrap_or_else(|| place_of(film, one.jump.takeoff_s)),
            _ => one
                .hand
                .landing
                .unwrap_or_else(|| place_of(film, one.jump.landing_s)),
        };
        html! {
            button type="button" data-set=(what) data-place=(format!("{:.4}", place + by)) data-jump=(number) { (says) }
        }
    };
    html! {
        details.set-right open[open] #{ "set-right-" (number) } {
            summary { "Set it right by hand" }
            p { "Step to the frame, then say what it shows." }
            fieldset {
                legend { "Take-off" }
                (set("take_off", 0.5, "This frame is the last on the floor"))
                (set("take_off", 0.0, "It happens in this frame"))
                (nudge("take_off", -0.25, "\u{bc} frame earlier"))
                (nudge("take_off", 0.25, "\u{bc} frame later"))
            }
            fieldset {
                legend { "Landing" }
                (set("landing", -0.5, "This frame is the first on the floor"))
                (set("landing", 0.0, "It happens in this frame"))
                (nudge("landing", -0.25, "\u{bc} frame earlier"))
                (nudge("landing", 0.25, "\u{bc} frame later"))
            }
            div.go {
                button type="button" data-undo="undo" data-jump=(number) disabled[!one.can_undo] { "Undo" }
                button type="button" data-undo="as_found" data-jump=(number) disabled[one.hand.is_empty()] { "As it was found" }
            }
        }
    }
}

/// A moment as a place among the frames.
fn place_of(film: &Film, time: CaptureTime) -> f64 {
    let times = film.times();
    let after = times.partition_point(|t| *t <= time).max(1);
    let (Some(before), Some(next)) = (times.get(after - 1), times.get(after)) else {
        return (after - 1) as f64;
    };
    let share = (time - *before).seconds() / (*next - *before).seconds();
    (after - 1) as f64 + share
}
