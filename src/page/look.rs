//! Third step: the frames, the trace, the jumps, and setting events right.

use std::sync::Arc;
use std::time::Duration;

use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::Markup;
use serde::{Deserialize, Serialize};

use super::jumps::{Correction, standing, trace as trace_of};
use super::projector::{Key, Part};
use super::reply::{Refusal, Reply, bytes};
use super::shelf::{ClipId, Held};
use super::{App, keep, views};
use crate::jump::HandSet;
use crate::report::plot::PlotSize;
use crate::report::plot::timeline::{SIDE_PX, Timeline};
use crate::units::CaptureTime;
use crate::workflow::failure;

/// How long a question for news waits for an answer.
const NEWS: Duration = Duration::from_secs(25);
/// Steps of a correction that can be undone.
const MOST_STEPS: usize = 100;

/// Which clip is shown.
#[derive(Deserialize)]
pub(super) struct Shown {
    clip: Option<u64>,
}

/// The whole page.
pub(super) async fn page(State(app): State<Arc<App>>, Query(shown): Query<Shown>) -> Reply<Markup> {
    let clip = shown.clip.and_then(|id| app.shelf.get(ClipId(id)).ok());
    let names = keep::athletes(&app).await.unwrap_or_default();
    Ok(views::page(&app, clip.as_ref(), &names))
}

#[derive(Deserialize)]
pub(super) struct Since {
    since: u64,
}

/// What is new: the shelf as it is to be shown, and how new each clip is.
#[derive(Serialize)]
pub(super) struct News {
    at: u64,
    shelf: String,
    clips: Vec<Version>,
    /// Whether the page has been closed in the terminal.
    closed: bool,
}

#[derive(Serialize)]
struct Version {
    id: ClipId,
    version: u64,
}

/// Answers as soon as something is newer than what the asker knows.
pub(super) async fn state(
    State(app): State<Arc<App>>,
    Query(Since { since }): Query<Since>,
) -> Json<News> {
    let mut changes = app.shelf.changes();
    let newer = changes.wait_for(|at| *at != since);
    // No news after that time is news, too: that the page still runs.
    let _ = tokio::time::timeout(NEWS, newer).await;
    let at = *changes.borrow();
    let clips = app.shelf.all();
    Json(News {
        at,
        shelf: views::shelf(&app.shelf, &clips).into_string(),
        clips: clips
            .iter()
            .map(|clip| Version {
                id: clip.id,
                version: clip.version,
            })
            .collect(),
        closed: app.shelf.is_closed(),
    })
}

/// What stepping through a clip needs to know.
#[derive(Serialize)]
pub(super) struct Facts {
    times_s: Vec<f64>,
    size_px: (u32, u32),
    /// Left and right of the trace's drawing, in pixels.
    side_px: u32,
    events: Vec<EventPlace>,
}

#[derive(Serialize)]
struct EventPlace {
    jump: usize,
    what: &'static str,
    frames: [usize; 2],
    best_s: f64,
}

/// Times of all frames, and places of the events.
pub(super) async fn facts(State(app): State<Arc<App>>, Path(id): Path<u64>) -> Reply<Json<Facts>> {
    let clip = app.shelf.get(ClipId(id))?;
    let film = clip.film.as_ref().ok_or_else(not_open)?;
    // A tenth of a millisecond is finer than any frame, and short to send.
    let tidy = |time: &CaptureTime| (time.seconds() * 1e4).round() / 1e4;
    let events = standing(&clip).into_iter().flat_map(|standing| {
        let jump = standing.jump;
        let place = |what, frames, best: CaptureTime| EventPlace {
            jump: jump.number,
            what,
            frames,
            best_s: best.seconds(),
        };
        [
            place("take-off", jump.frames.takeoff, jump.takeoff_s),
            place("landing", jump.frames.landing, jump.landing_s),
        ]
    });
    Ok(Json(Facts {
        times_s: film.times().iter().map(tidy).collect(),
        size_px: film.size(),
        side_px: SIDE_PX,
        events: events.collect(),
    }))
}

fn not_open() -> Refusal {
    Refusal::not_now("this clip is not open yet", "wait a moment")
}

/// One frame, whole.
pub(super) async fn frame(
    State(app): State<Arc<App>>,
    Path((id, frame)): Path<(u64, usize)>,
) -> Reply {
    let clip = app.shelf.get(ClipId(id))?;
    picture(&app, &clip, Part::Whole, frame).await
}

/// The feet in one frame.
pub(super) async fn feet(
    State(app): State<Arc<App>>,
    Path((id, frame)): Path<(u64, usize)>,
) -> Reply {
    let clip = app.shelf.get(ClipId(id))?;
    let mark = clip
        .mark
        .ok_or_else(|| Refusal::not_now("the floor of this clip is not marked", "mark it first"))?;
    let patch = mark.patch;
    let part = Part::Feet([patch.x, patch.y, patch.w, patch.h]);
    picture(&app, &clip, part, frame).await
}

async fn picture(app: &App, clip: &Held, part: Part, frame: usize) -> Reply {
    let film = clip.film.as_ref().ok_or_else(not_open)?;
    if frame >= film.times().len() {
        let hint = "choose a frame of the clip";
        return Err(Refusal::new(
            StatusCode::NOT_FOUND,
            "the clip has no such frame",
            hint,
        ));
    }
    let key = Key {
        clip: clip.id,
        part,
        frame,
    };
    let jpeg = app.projector.picture(film, key).await?;
    Ok(bytes("image/jpeg", jpeg))
}

/// How the trace is to be drawn.
#[derive(Deserialize)]
pub(super) struct Drawing {
    w: u32,
    h: u32,
    from_s: Option<f64>,
    to_s: Option<f64>,
}

/// The trace, or part of it, for a screen of some width.
pub(super) async fn trace(
    State(app): State<Arc<App>>,
    Path(id): Path<u64>,
    Query(drawing): Query<Drawing>,
) -> Reply {
    let clip = app.shelf.get(ClipId(id))?;
    let plot = trace_of(&clip).ok_or_else(|| {
        let hint = "measure it with the floor marked";
        Refusal::not_now("this clip has no trace", hint)
    })?;
    let film = clip.film.as_ref().ok_or_else(not_open)?;
    let last = film.times().last().map_or(0.0, |time| time.seconds());
    let at = CaptureTime::from_seconds;
    let timeline = Timeline {
        title: plot.title,
        series: plot.series,
        events: plot.events,
        jumps: plot.jumps,
        from: at(drawing.from_s.unwrap_or(0.0).max(0.0)),
        to: at(drawing.to_s.unwrap_or(last).min(last)),
    };
    let size = PlotSize {
        width_px: drawing.w,
        height_px: drawing.h,
    };
    let svg = timeline.svg(size).map_err(failure)?;
    Ok(bytes("image/svg+xml", svg))
}

/// The panel with the jumps.
pub(super) async fn panel(State(app): State<Arc<App>>, Path(id): Path<u64>) -> Reply {
    let clip = app.shelf.get(ClipId(id))?;
    prepare(&app, &clip);
    let names = keep::athletes(&app).await.unwrap_or_default();
    Ok(views::jump(&app, &clip, &names).into_response())
}

/// Has the frames round all events ready: that is where people look first.
fn prepare(app: &App, clip: &Held) {
    let (Some(film), Some(mark)) = (&clip.film, clip.mark) else {
        return;
    };
    let patch = mark.patch;
    let feet = Part::Feet([patch.x, patch.y, patch.w, patch.h]);
    for standing in standing(clip) {
        let frames = standing.jump.frames;
        for frame in [frames.landing[1], frames.takeoff[0]] {
            app.projector.prepare(film, clip.id, feet, frame);
            app.projector.prepare(film, clip.id, Part::Whole, frame);
        }
    }
}

/// What a person does to an event.
#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Change {
    /// Sets the take-off to a place among the frames.
    TakeOff(f64),
    /// Sets the landing.
    Landing(f64),
    /// Takes the last change back.
    Undo,
    /// Goes back to what was found.
    AsFound,
}

/// Sets an event of a jump by hand, or takes that back.
pub(super) async fn correct(
    State(app): State<Arc<App>>,
    Path((id, number)): Path<(u64, usize)>,
    Json(change): Json<Change>,
) -> Reply<Response> {
    let clip = app.shelf.get(ClipId(id))?;
    let (Some(findings), Some(film)) = (&clip.findings, &clip.film) else {
        return Err(Refusal::not_now(
            "this clip is not measured",
            "measure it first",
        ));
    };
    let mut history = clip
        .corrections
        .get(&number)
        .map_or_else(Vec::new, |correction| correction.history.clone());
    let now: HandSet = history.last().copied().unwrap_or_default();
    match change {
        Change::TakeOff(place) => history.push(HandSet {
            takeoff: Some(place),
            ..now
        }),
        Change::Landing(place) => history.push(HandSet {
            landing: Some(place),
            ..now
        }),
        Change::Undo => {
            history.pop();
        }
        Change::AsFound => history.push(HandSet::default()),
    }
    if history.len() > MOST_STEPS {
        history.remove(0);
    }
    let hand = history.last().copied().unwrap_or_default();
    let (jump, record) = findings.corrected(number, film.times(), hand)?;
    app.shelf.change(clip.id, |clip| {
        let correction = Correction {
            history,
            jump,
            record,
        };
        clip.corrections.insert(number, correction);
    })?;
    Ok(StatusCode::NO_CONTENT.into_response())
}
