//! Second step: the picture, the patch, the trace below.

use maud::{Markup, html};

use super::super::floor::is_waiting_for_a_mark;
use super::super::shelf::{Held, Job, Mark, Origin, Shelf, Stage};
use super::frame::steps;
use super::{fault, shelf::doing};
use crate::video::FloorPatch;
use crate::video::patch::{LEAST_HEIGHT_PX, LEAST_WIDTH_PX};
use crate::workflow::frames::Film;

/// Before any clip is chosen.
pub(super) fn nothing() -> Markup {
    html! {
        (heading("Mark the floor"))
        div.sketch aria-hidden="true" { span.feet {} span.ground {} }
        p.empty {
            "The clip\u{2019}s first picture appears here, with a patch drawn round the feet. \
             Move it until it holds both feet and a little floor."
        }
    }
}

fn heading(words: &str) -> Markup {
    html! { h2 #floor-title tabindex="-1" { span.number { "2" } (words) } }
}

/// The panel of one clip.
pub(in crate::page) fn floor(shelf: &Shelf, clip: &Held) -> Markup {
    html! {
        (heading(if clip.stage == Stage::Measured { "See the frames" } else { "Mark the floor" }))
        div hidden data-steps="" { (steps(Some(clip))) }
        @match (&clip.film, &clip.stage) {
            (_, Stage::Arriving) => p.empty { "This clip is still coming in." },
            (None, Stage::Failed(failure)) => { (fault(failure)) (slow_motion(clip)) },
            (None, _) => p.busy { "Opening " (clip.name) "\u{2026}" },
            (Some(film), stage) => {
                @if let Stage::Failed(failure) = stage { (fault(failure)) }
                (screen(clip, film))
                @if *stage == Stage::Measured { (after(clip)) } @else { (before(shelf, clip, film)) }
            }
        }
    }
}

/// Picture, patch, and stepping.
fn screen(clip: &Held, film: &Film) -> Markup {
    let (width, height) = film.size();
    let frames = film.times().len();
    let measured = clip.stage == Stage::Measured;
    let patch = clip
        .mark
        .map_or_else(|| usual(film.size()), |mark| mark.patch);
    html! {
        div.film #film-of data-clip=(clip.id.0) data-frames=(frames) data-width=(width)
            data-height=(height) data-measured[measured] data-least-w=(LEAST_WIDTH_PX) data-least-h=(LEAST_HEIGHT_PX)
            data-patch={ (patch.x) "," (patch.y) "," (patch.w) "," (patch.h) } {
            div.outer {
                div.window #window role="group" aria-label="Picture" {
                    div.screen #screen.upright[height > width] {
                        img #frame src={ "clips/" (clip.id.0) "/frames/0" } width=(width) height=(height)
                            alt={ "Frame 1 of " (frames) " of " (clip.name) } draggable="false";
                        (patch_box(measured))
                    }
                }
                canvas #glass width="168" height="168" hidden aria-hidden="true" {}
            }
            div.stepping role="group" aria-label="Step through the frames" {
                (step_button(-10, "\u{2212}10"))
                (step_button(-1, "\u{2212}1"))
                output #where for="timeline" { "frame 1 of " (frames) }
                (step_button(1, "+1"))
                (step_button(10, "+10"))
                button #closer type="button" aria-pressed="false" { "Closer" }
            }
            div.timeline #timeline tabindex="0" role="slider" aria-label="Moment in the clip"
                aria-valuemin="1" aria-valuemax=(frames) aria-valuenow="1" aria-valuetext="frame 1" {
                div.drawing #trace {}
                div.cursor #cursor {}
                div.held-line #held-line hidden {}
            }
        }
    }
}

fn step_button(by: i32, shown: &str) -> Markup {
    let unit = if by.abs() == 1 { " frame" } else { " frames" };
    html! { button type="button" data-step=(by) { (shown) span.out-of-sight { (unit) } } }
}

/// A patch to begin with where none is suggested: low and in the middle.
fn usual((width, height): (u32, u32)) -> FloorPatch {
    FloorPatch {
        x: width * 2 / 5,
        y: height * 3 / 4,
        w: (width / 5).max(LEAST_WIDTH_PX),
        h: (height / 8).max(LEAST_HEIGHT_PX),
    }
}

/// The patch with its edges, each to be moved by hand or by key.
fn patch_box(fixed: bool) -> Markup {
    const EDGES: [(&str, &str); 4] = [
        ("left", "Left edge of the patch"),
        ("right", "Right edge of the patch"),
        ("top", "Upper edge of the patch"),
        ("bottom", "Lower edge of the patch"),
    ];
    html! {
        div.patch #patch.fixed[fixed] {
            @if !fixed {
                div.grip #grip tabindex="0" role="button" aria-label="Floor patch; arrow keys move it"
                    aria-describedby="patch-help" {}
                @for (edge, label) in EDGES {
                    div.edge.(edge) data-edge=(edge) tabindex="0" role="slider" aria-label=(label)
                        aria-valuemin="0" aria-valuemax="0" aria-valuenow="0"
                        aria-orientation=(if matches!(edge, "left" | "right") { "horizontal" } else { "vertical" }) {}
                }
                @for corner in ["top left", "top right", "bottom left", "bottom right"] {
                    div.corner.(corner) data-edge=(corner) aria-hidden="true" {}
                }
            }
        }
    }
}

/// While the floor is being marked.
fn before(shelf: &Shelf, clip: &Held, film: &Film) -> Markup {
    let waiting = is_waiting_for_a_mark(clip) || matches!(clip.stage, Stage::Failed(_));
    let others = shelf
        .all()
        .iter()
        .filter(|other| {
            let same = other
                .film
                .as_ref()
                .is_some_and(|other| other.size() == film.size());
            other.id != clip.id && same && is_waiting_for_a_mark(other)
        })
        .count();
    html! {
        p.origin { (origin(clip)) }
        p #patch-help.help {
            "The patch should hold both shoes from the ankles down, and half a shoe\u{2019}s height of floor \
             below the soles. Drag it or its edges; with keys: arrows, with Shift ten at a time."
        }
        @if waiting {
            div.go {
                button.main #measure type="button" { "Measure the jump" }
                @if others > 0 {
                    label.tick {
                        input #others type="checkbox";
                        " and the " (others) " other " (if others == 1 { "clip" } else { "clips" })
                        " of this size, with the same patch"
                    }
                }
            }
        } @else {
            p.busy { (super::sentence(&doing(clip, shelf))) }
        }
        (by_numbers(film))
        (slow_motion(clip))
        @for warning in film.warnings() { p.warning { (super::sentence(warning)) } }
    }
}

fn origin(clip: &Held) -> Markup {
    let looking = matches!(
        clip.stage,
        Stage::Queued(Job::Suggest)
            | Stage::Working {
                job: Job::Suggest,
                ..
            }
    );
    html! {
        @match clip.mark {
            Some(Mark { origin: Origin::Suggested, .. }) => "This patch is a suggestion. Is it round the feet?",
            Some(Mark { origin: Origin::Remembered, .. }) => {
                "This is the patch of your last clip. Does it fit here, too? "
                button.small #suggest type="button" { "Look for the feet instead" }
            }
            Some(Mark { origin: Origin::Kept, .. }) => "This is the patch that was kept with this clip.",
            Some(Mark { origin: Origin::Marked, .. }) => {
                "This is your patch. "
                button.small #suggest type="button" { "Look for the feet instead" }
            }
            None if looking => "Looking for the feet. You can mark them yourself meanwhile.",
            None if clip.no_suggestion => {
                "Nothing here leaves the floor and comes back as feet do. Step to where somebody stands, \
                 and move the patch there."
            }
            None => "Move the patch round the feet.",
        }
    }
}

fn by_numbers(film: &Film) -> Markup {
    let (width, height) = film.size();
    let field = |id: &str, label: &str, most: u32| {
        html! {
            label { (label) input id=(id) type="number" inputmode="numeric" min="0" max=(most) step="1"; }
        }
    };
    html! {
        details #patch-numbers {
            summary { "The patch in numbers" }
            div.numbers {
                (field("patch-x", "From the left, px", width))
                (field("patch-y", "From the top, px", height))
                (field("patch-w", "Width, px", width))
                (field("patch-h", "Height, px", height))
            }
        }
    }
}

/// For slow motion whose file does not say so.
fn slow_motion(clip: &Held) -> Markup {
    html! {
        details #slow-motion open[clip.capture_fps.is_some()] {
            summary { "Slow motion?" }
            p { "If the clip plays slowly and its file does not say so, give the phone\u{2019}s setting." }
            form.speed #speed {
                label { "Frames a second"
                    input #fps type="number" min="1" max="100000" step="any" inputmode="decimal" value=[clip.capture_fps];
                }
                button type="submit" { "Use this" }
            }
        }
    }
}

/// When the clip is measured: near and far views, frames round an event.
fn after(clip: &Held) -> Markup {
    let any = clip
        .findings
        .as_ref()
        .is_some_and(|f| !f.document.jumps.is_empty());
    html! {
        @if any {
            div.marks #marks role="group" aria-label="Marks of take-off and landing" {}
            p.held-says #held-says hidden {}
            p.small #marks-help {
                "Drag a mark to where the event is. With keys: arrows move it by half a frame, Enter sets it, \
                 Escape lets it go."
            }
            div.views role="group" aria-label="What the trace shows" {
                button type="button" data-view="clip" aria-pressed="true" { "Whole clip" }
                button type="button" data-view="jump" aria-pressed="false" { "This jump" }
                button type="button" data-view="event" aria-pressed="false" { "This moment" }
            }
            p.legend {
                span.key.takeoff {} "take-off " span.key.landing {} "landing; the bands are where it cannot be outside"
            }
            ol.strip #strip aria-label="Frames round the event" {}
        }
        div.go {
            button #again type="button" { "Change the patch" }
        }
    }
}
