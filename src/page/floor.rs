//! Second step: where the feet stand.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use super::reply::{Refusal, Reply};
use super::shelf::{ClipId, Held, Job, Mark, Origin, Stage};
use super::{App, views};
use crate::video::FloorPatch;
use crate::workflow::failure;

/// The panel with picture and patch.
pub(super) async fn panel(State(app): State<Arc<App>>, Path(id): Path<u64>) -> Reply {
    let clip = app.shelf.get(ClipId(id))?;
    if clip.stage == Stage::Resting {
        app.shelf
            .change(clip.id, |clip| clip.stage = Stage::Opening)?;
        app.open(clip.id);
    }
    let clip = app.shelf.get(clip.id)?;
    Ok(views::floor(&app.shelf, &clip).into_response())
}

/// A patch and what is to be measured with it.
#[derive(Deserialize)]
pub(super) struct Marked {
    x: u32,
    y: u32,
    w: u32,
    h: u32,
    /// Whether it holds for the other clips of the same size that wait to be marked.
    #[serde(default)]
    others: bool,
}

/// Takes the patch as the person left it, and puts the clip into the queue.
pub(super) async fn measure(
    State(app): State<Arc<App>>,
    Path(id): Path<u64>,
    Json(marked): Json<Marked>,
) -> Reply<StatusCode> {
    let clip = app.shelf.get(ClipId(id))?;
    let Some(film) = &clip.film else {
        let hint = "wait until its first picture is shown";
        return Err(Refusal::not_now("this clip is not open yet", hint));
    };
    let Marked { x, y, w, h, others } = marked;
    let size = film.size();
    let patch = FloorPatch { x, y, w, h }.check(size).map_err(failure)?;
    app.shelf.remember(size, patch);
    begin(&app, &clip, patch)?;
    if others {
        for other in app.shelf.all() {
            let same = other.film.as_ref().is_some_and(|film| film.size() == size);
            if other.id != clip.id && same && is_waiting_for_a_mark(&other) {
                begin(&app, &other, patch)?;
            }
        }
    }
    Ok(StatusCode::ACCEPTED)
}

/// Whether nobody has marked a clip yet.
pub(super) fn is_waiting_for_a_mark(clip: &Held) -> bool {
    matches!(
        clip.stage,
        Stage::Marking
            | Stage::Queued(Job::Suggest)
            | Stage::Working {
                job: Job::Suggest,
                ..
            }
    )
}

fn begin(app: &App, clip: &Held, patch: FloorPatch) -> Reply<()> {
    if matches!(
        clip.stage,
        Stage::Queued(Job::Measure)
            | Stage::Working {
                job: Job::Measure,
                ..
            }
    ) {
        let hint = "wait until it is done";
        return Err(Refusal::not_now("this clip is being measured", hint));
    }
    app.shelf.change(clip.id, |clip| {
        clip.mark = Some(Mark {
            patch,
            origin: Origin::Marked,
        });
        clip.findings = None;
        clip.corrections.clear();
    })?;
    app.shelf.queue(clip.id, Job::Measure)
}

/// Forgets the patch and looks for one.
pub(super) async fn suggest(State(app): State<Arc<App>>, Path(id): Path<u64>) -> Reply<StatusCode> {
    let clip = app.shelf.get(ClipId(id))?;
    let failed = matches!(clip.stage, Stage::Failed(_)) && clip.film.is_some();
    if !is_waiting_for_a_mark(&clip) && !failed {
        let hint = "wait until the clip is open and not being measured";
        return Err(Refusal::not_now("no patch can be looked for now", hint));
    }
    app.shelf.change(clip.id, |clip| {
        clip.mark = None;
        clip.no_suggestion = false;
    })?;
    app.shelf.queue(clip.id, Job::Suggest)?;
    Ok(StatusCode::ACCEPTED)
}

/// Goes back to the patch of a clip that is measured.
pub(super) async fn again(State(app): State<Arc<App>>, Path(id): Path<u64>) -> Reply<StatusCode> {
    let back = app.shelf.change(ClipId(id), |clip| {
        let measured = clip.stage == Stage::Measured;
        if measured {
            clip.stage = Stage::Marking;
        }
        measured
    })?;
    if back {
        return Ok(StatusCode::NO_CONTENT);
    }
    Err(Refusal::not_now(
        "this clip is not measured",
        "measure it first",
    ))
}

/// The camera's setting, where the clip does not say it.
#[derive(Deserialize)]
pub(super) struct Speed {
    /// Frames a second; `None` to go by the file.
    fps: Option<f64>,
}

/// Opens the clip anew with a stated capture rate.
pub(super) async fn speed(
    State(app): State<Arc<App>>,
    Path(id): Path<u64>,
    Json(Speed { fps }): Json<Speed>,
) -> Reply<StatusCode> {
    if fps.is_some_and(|fps| !(1.0..=100_000.0).contains(&fps)) {
        return Err(Refusal::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "this is no frame rate of a camera",
            "give the phone's setting in frames a second, such as 240",
        ));
    }
    let clip = app.shelf.get(ClipId(id))?;
    let busy = matches!(
        clip.stage,
        Stage::Arriving | Stage::Opening | Stage::Working { .. }
    );
    if busy {
        let hint = "wait until it is done";
        return Err(Refusal::not_now("this clip is being worked on", hint));
    }
    app.shelf.change(clip.id, |clip| {
        clip.capture_fps = fps;
        clip.film = None;
        clip.findings = None;
        clip.corrections.clear();
        clip.stage = Stage::Opening;
    })?;
    app.open(clip.id);
    Ok(StatusCode::ACCEPTED)
}

/// Takes a clip away; its file goes too if it was brought in here.
pub(super) async fn throw_away(
    State(app): State<Arc<App>>,
    Path(id): Path<u64>,
) -> Reply<Response> {
    let clip = app.shelf.remove(ClipId(id))?;
    app.projector.forget(clip.id);
    if clip.ours {
        // A clip of which nothing came has no file.
        let _ = tokio::fs::remove_file(&clip.path).await;
    }
    Ok(StatusCode::NO_CONTENT.into_response())
}
