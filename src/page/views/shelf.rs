//! First step: bringing clips in, and which are here.

use maud::{Markup, html};

use super::super::arrivals::size;
use super::super::shelf::{Held, Job, Shelf, Stage};
use super::sentence;
use crate::workflow;

/// Where clips come in.
pub(super) fn door() -> Markup {
    html! {
        div.door #door {
            label.button.main for="choose" { "Choose clips" }
            input.out-of-sight #choose type="file" accept="video/*,.mkv,.mts,.m2ts" multiple;
            div.on-phones {
                label.button for="film" { "Film now" }
                input.out-of-sight #film type="file" accept="video/*" capture="environment";
            }
            p.drop-hint { "or drop them here" }
        }
    }
}

/// What to think of beforehand, and how a phone gets in.
pub(super) fn manners(phones: bool) -> Markup {
    html! {
        div.manners {
            @if phones {
                button #invite type="button" { "Let a phone in" }
                div #invitation {}
            }
            details {
                summary { "How to film" }
                ul {
                    li { "Phone on a stand at floor height, 2 to 4 m away, square on." }
                    li { "Feet and the floor round them in view the whole time." }
                    li { "120 or 240 frames a second, no zoom, plenty of light." }
                    li { "Hands on hips. Land as you took off: legs straight, toes first." }
                    li { "The original file, not one sent through a chat program." }
                }
            }
            details {
                summary { "Before anybody jumps" }
                ul {
                    li { "Ask before you film, and say what becomes of the clip. For anybody under age, ask the parents." }
                    li { "Ask about injuries, illness and pregnancy. Whoever is in doubt asks a doctor first." }
                    li { "Warm up; firm, dry floor; room on all sides." }
                    li { "Children, beginners and anybody with a load are never left alone." }
                    li { "Stop at any pain or dizziness." }
                }
            }
        }
    }
}

/// The clips, the newest first.
pub(in crate::page) fn shelf(shelf: &Shelf, clips: &[Held]) -> Markup {
    html! {
        @if clips.is_empty() {
            p.empty { "No clip yet. A few seconds of a jump are enough." }
        } @else {
            ul.clips aria-label="Clips" {
                @for clip in clips {
                    li.clip data-clip=(clip.id.0) {
                        a.name #{ "open-" (clip.id.0) } href={ "?clip=" (clip.id.0) } { (clip.name) }
                        (state(shelf, clip))
                        button.away #{ "away-" (clip.id.0) } type="button" data-away=(clip.id.0)
                            aria-label={ (if clip.ours { "Throw away " } else { "Take off the list: " }) (clip.name) } {
                            (if clip.ours { "Throw away" } else { "Take off" })
                        }
                    }
                }
            }
        }
    }
}

fn state(shelf: &Shelf, clip: &Held) -> Markup {
    let share = |part: u64, whole: u64| (100 * part).checked_div(whole).unwrap_or(0).min(100);
    html! {
        @match &clip.stage {
            Stage::Arriving => {
                @let percent = share(clip.arrival.received, clip.arrival.bytes);
                span.state { "coming in, " (percent) " % of " (size(clip.arrival.bytes)) }
                progress max="100" value=(percent) aria-label={ "Coming in: " (clip.name) } {}
            }
            Stage::Working { done, of, .. } => {
                @let percent = share(*done as u64, *of as u64);
                span.state { (doing(clip, shelf)) }
                progress max="100" value=(percent) aria-label={ "Progress: " (clip.name) } {}
            }
            _ => span.state.bad[matches!(clip.stage, Stage::Failed(_))] { (doing(clip, shelf)) },
        }
    }
}

/// What is going on with a clip, in a few words.
pub(super) fn doing(clip: &Held, shelf: &Shelf) -> String {
    match &clip.stage {
        Stage::Resting => "not opened yet".to_owned(),
        Stage::Arriving => "coming in".to_owned(),
        Stage::Opening => "being opened".to_owned(),
        Stage::Queued(job) => {
            let what = match job {
                Job::Suggest => "waits for a suggestion",
                Job::Measure => "waits to be measured",
            };
            match shelf.before(clip.id) {
                None | Some(0) => format!("{what}, next"),
                Some(count) => format!("{what}, {count} before it"),
            }
        }
        Stage::Working { what, .. } => match what {
            workflow::Stage::Suggesting => "looking for the feet",
            workflow::Stage::Watching => "watching the floor",
            workflow::Stage::TryingSlowMotion => "no jump so far; trying as slow motion",
            workflow::Stage::Filming => "filming",
        }
        .to_owned(),
        Stage::Marking => "to be marked".to_owned(),
        Stage::Measured => measured(clip),
        Stage::Failed(failure) => sentence(&failure.message),
    }
}

fn measured(clip: &Held) -> String {
    if let Some(kept) = &clip.kept {
        return format!("kept for {}, {}", kept.athlete, kept.date);
    }
    let jumps = clip
        .findings
        .as_ref()
        .map_or(0, |findings| findings.document.jumps.len());
    match jumps {
        0 => "no jump found".to_owned(),
        count => crate::report::views::words::counted(count, "jump"),
    }
}
