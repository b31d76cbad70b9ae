//! The page as a whole, and small pages for those who are not let in.

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::super::App;
use super::super::jumps::standing;
use super::super::shelf::{Held, Stage};
use crate::report::figures::JumpFigures;

const NAME: &str = "underfoot";

/// The whole page, with a clip opened on it or without.
pub(in crate::page) fn page(app: &App, clip: Option<&Held>, athletes: &[String]) -> Markup {
    let clips = app.shelf.all();
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { "How high? \u{2013} " (NAME) }
                link rel="icon" href="icon.svg" type="image/svg+xml";
                link rel="stylesheet" href="page.css";
                script type="module" src="page.js" {}
            }
            body data-at="0" {
                a.skip href="#floor-title" { "To the picture" }
                header.masthead {
                    p.brand { img src="icon.svg" alt="" width="28" height="28"; (NAME) }
                    nav #steps aria-label="Steps" { (steps(clip)) }
                }
                noscript { p.fault { "This page needs JavaScript. It is the program\u{2019}s own; nothing comes from elsewhere." } }
                main {
                    section #bring aria-labelledby="bring-title" {
                        h1 #bring-title { span.number { "1" } "Bring in a clip" }
                        (super::shelf::door())
                        div #shelf { (super::shelf::shelf(&app.shelf, &clips)) }
                        (super::shelf::manners(!app.phones.is_empty()))
                    }
                    section #floor aria-labelledby="floor-title" {
                        div #floor-panel {
                            @match clip {
                                Some(clip) => (super::floor::floor(&app.shelf, clip)),
                                None => (super::floor::nothing()),
                            }
                        }
                    }
                    section #jump aria-labelledby="jump-title" {
                        h2 #jump-title tabindex="-1" { span.number { "3" } "Read the jump" }
                        div #jump-panel {
                            @match clip {
                                Some(clip) => (super::jump::jump(app, clip, athletes)),
                                None => (super::jump::nothing()),
                            }
                        }
                    }
                    section #day-section aria-labelledby="day-title" {
                        h2 #day-title tabindex="-1" { "The day" }
                        (super::keeping::day_choice(athletes))
                        div #day {}
                        div #loads {}
                    }
                }
                footer {
                    p { "Clips are read on this computer and go nowhere else. What is kept of a jump are \
                         its numbers, in the log on this computer." }
                    p { "A height is no diagnosis, and nothing here is medical advice." }
                }
                div #say.out-of-sight role="status" aria-live="polite" {}
                div #trouble hidden role="alert" {}
            }
        }
    }
}

/// The three steps and how far each is.
pub(super) fn steps(clip: Option<&Held>) -> Markup {
    let at = match clip.map(|clip| &clip.stage) {
        None | Some(Stage::Arriving | Stage::Resting) => 1,
        Some(Stage::Measured) => 3,
        Some(_) => 2,
    };
    let first = clip.map_or("choose or film", |clip| clip.name.as_str());
    let second = match clip.map(|clip| &clip.stage) {
        Some(Stage::Measured) => "marked",
        Some(Stage::Failed(_)) => "look here",
        Some(Stage::Queued(_) | Stage::Working { .. } | Stage::Opening) => "under way",
        Some(Stage::Marking) => "check the patch",
        _ => "where the feet stand",
    };
    let third = clip.map_or_else(|| "how high".to_owned(), third);
    let all = [
        (1, "#bring", "Clip", first.to_owned()),
        (2, "#floor", "Floor", second.to_owned()),
        (3, "#jump", "Jump", third),
    ];
    html! {
        ol {
            @for (number, to, name, state) in all {
                li.done[number < at] {
                    a href=(to) aria-current=[(number == at).then_some("step")] {
                        span.number { (number) }
                        span.name { (name) }
                        span.state { (state) }
                    }
                }
            }
        }
    }
}

/// What the third step says of a clip.
fn third(clip: &Held) -> String {
    let jumps = standing(clip);
    let heights: Vec<String> = jumps
        .iter()
        .map(|one| JumpFigures::of(one.jump, crate::report::terminal::Units::default()).height)
        .collect();
    match (&clip.stage, heights.as_slice()) {
        (Stage::Measured, []) => "no jump found".to_owned(),
        (Stage::Measured, [one]) => one.clone(),
        (Stage::Measured, many) => format!("{} jumps", many.len()),
        _ => "how high".to_owned(),
    }
}

/// A small page with one sentence, for those who are turned away.
pub(in crate::page) fn plain(status: StatusCode, text: &str) -> Response {
    (status, small(None, &html! { (text) })).into_response()
}

/// What a phone sees that was let in, on its way to the page.
pub(in crate::page) fn welcome(to: &str) -> Markup {
    small(Some(to), &html! { a href=(to) { "Go on to the page" } })
}

/// A page with one sentence; it goes on by itself where there is somewhere to go.
fn small(to: Option<&str>, sentence: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                @if let Some(to) = to { meta http-equiv="refresh" content=(format!("0; url={to}")); }
                title { (NAME) }
            }
            body { main { h1 { (NAME) } p { (sentence) } } }
        }
    }
}

/// A code for another phone.
pub(in crate::page) fn invitation(address: &str, picture: &str) -> Markup {
    // The picture is made here and holds nothing but squares.
    let start = picture.find("<svg").unwrap_or(0);
    html! {
        div.code aria-hidden="true" { (PreEscaped(&picture[start..])) }
        p { "Scan this with the phone\u{2019}s camera, in the same Wi-Fi. It lets one phone in, once." }
        p.small { "Or type it: " span.address { (address) } }
    }
}
