//! Clips that come in: piece by piece onto the disk, so that one that breaks off is
//! taken up again where it stopped.

use std::future::poll_fn;
use std::pin::pin;
use std::sync::Arc;
use std::time::{Duration, SystemTime};

use axum::Json;
use axum::body::{Body, HttpBody};
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use tokio::io::AsyncWriteExt;

use super::App;
use super::reply::{Refusal, Reply};
use super::shelf::{ClipId, Held, Stage};

/// How much may come in. Set at the start of a page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of one clip.
    pub clip_bytes: u64,
    /// Bytes of all clips together.
    pub all_bytes: u64,
    /// Clips at the same time.
    pub clips: usize,
}

impl Default for Limits {
    /// A quarter of an hour at 240 frames a second in full HD, and a squad's evening.
    fn default() -> Self {
        Self {
            clip_bytes: 8 << 30,
            all_bytes: 32 << 30,
            clips: 60,
        }
    }
}

/// Bytes of one piece. Small enough that little is lost with one.
const PIECE_BYTES: u64 = 16 << 20;
/// How long a sender may be silent within a piece.
const SILENCE: Duration = Duration::from_secs(30);

/// What a sender says of a clip.
#[derive(Deserialize)]
pub(super) struct Announced {
    name: String,
    size: u64,
    /// When its file was last changed, in milliseconds since 1970.
    modified_ms: Option<f64>,
}

/// Where to go on.
#[derive(Serialize)]
pub(super) struct Place {
    id: ClipId,
    at: u64,
}

/// Takes a clip's name and size; the same clip again goes on where it stopped.
pub(super) async fn announce(
    State(app): State<Arc<App>>,
    Json(clip): Json<Announced>,
) -> Reply<Json<Place>> {
    let modified = clip.modified_ms.and_then(moment);
    if let Some(known) = unfinished(&app, &clip, modified) {
        if known.arrival.busy {
            let hint = "wait a moment; it goes on by itself";
            return Err(Refusal::not_now("this clip is coming in already", hint));
        }
        return Ok(Json(Place {
            id: known.id,
            at: known.arrival.received,
        }));
    }
    let limits = app.settings.limits;
    if clip.size == 0 {
        let hint = "copy the clip from the phone again";
        return Err(Refusal::new(
            StatusCode::BAD_REQUEST,
            "the file is empty",
            hint,
        ));
    }
    let too_large = |message: String, hint: &str| {
        Err(Refusal::new(StatusCode::PAYLOAD_TOO_LARGE, &message, hint))
    };
    if clip.size > limits.clip_bytes {
        let message = format!("a clip may have {} at most", size(limits.clip_bytes));
        return too_large(
            message,
            "cut it to the jumps on the phone, or measure it in the terminal",
        );
    }
    let (count, bytes) = app.shelf.load();
    let room = "throw away clips that are measured";
    if count >= limits.clips {
        return too_large(format!("there are {count} clips here already"), room);
    }
    if bytes.saturating_add(clip.size) > limits.all_bytes {
        let message = format!("all clips together may have {}", size(limits.all_bytes));
        return too_large(message, room);
    }
    let id = app.shelf.add(&clip.name, clip.size, modified, |number| {
        (app.place(number), true)
    });
    Ok(Json(Place { id, at: 0 }))
}

fn moment(since_1970_ms: f64) -> Option<SystemTime> {
    let since = Duration::try_from_secs_f64(since_1970_ms / 1000.0).ok()?;
    SystemTime::UNIX_EPOCH.checked_add(since)
}

/// A clip of the same name, size and time that broke off on its way.
fn unfinished(app: &App, clip: &Announced, modified: Option<SystemTime>) -> Option<Held> {
    app.shelf.all().into_iter().find(|known| {
        known.stage == Stage::Arriving
            && clip.name.ends_with(&known.name)
            && known.arrival.bytes == clip.size
            && known.modified == modified
    })
}

#[derive(Deserialize)]
pub(super) struct At {
    at: u64,
}

/// Takes a piece that begins at a given byte; answers where the next begins.
pub(super) async fn receive(
    State(app): State<Arc<App>>,
    Path(id): Path<u64>,
    Query(At { at }): Query<At>,
    body: Body,
) -> Reply<Json<Place>> {
    let id = ClipId(id);
    let clip = begin(&app, id, at)?;
    let written = write(&app, &clip, body).await;
    let arrived = app.shelf.change(id, |clip| {
        clip.arrival.busy = false;
        let whole = clip.arrival.received == clip.arrival.bytes;
        if whole && clip.stage == Stage::Arriving {
            clip.stage = Stage::Opening;
        }
        (clip.arrival.received, whole)
    });
    written?;
    let (at, whole) = arrived?;
    if whole {
        app.open(id);
    }
    Ok(Json(Place { id, at }))
}

/// Reserves the clip for one piece.
fn begin(app: &App, id: ClipId, at: u64) -> Reply<Held> {
    let clip = app.shelf.get(id)?;
    if clip.stage != Stage::Arriving {
        let hint = "nothing more needs to be sent";
        return Err(Refusal::not_now("this clip is here already", hint));
    }
    let begun = app.shelf.change(id, |clip| {
        let right = !clip.arrival.busy && clip.arrival.received == at;
        clip.arrival.busy |= right;
        right
    })?;
    if begun {
        return Ok(clip);
    }
    let message = format!(
        "the next piece of this clip begins at byte {}",
        clip.arrival.received
    );
    Err(Refusal::not_now(&message, "send it from there"))
}

/// Writes a piece as it comes. What came counts, even if the rest does not.
async fn write(app: &App, clip: &Held, body: Body) -> Reply<()> {
    let disk = |error: std::io::Error| {
        let message = format!("the clip cannot be written ({error})");
        Refusal::new(
            StatusCode::INSUFFICIENT_STORAGE,
            &message,
            "make room on the disk",
        )
    };
    let mut options = tokio::fs::OpenOptions::new();
    options.create(true).append(true);
    let mut file = options.open(&clip.path).await.map_err(disk)?;
    let mut body = pin!(body);
    let mut piece = 0;
    loop {
        let next = poll_fn(|context| body.as_mut().poll_frame(context));
        let frame = match tokio::time::timeout(SILENCE, next).await {
            Ok(None) => break,
            Ok(Some(Ok(frame))) => frame,
            Ok(Some(Err(_))) | Err(_) => {
                file.flush().await.map_err(disk)?;
                let hint = "it goes on where it stopped";
                return Err(Refusal::new(
                    StatusCode::REQUEST_TIMEOUT,
                    "the clip broke off",
                    hint,
                ));
            }
        };
        let Ok(bytes) = frame.into_data() else {
            continue;
        };
        let length = bytes.len() as u64;
        piece += length;
        let left = clip.arrival.bytes - app.shelf.get(clip.id)?.arrival.received;
        if piece > PIECE_BYTES || length > left {
            file.flush().await.map_err(disk)?;
            let message = "more came than was announced";
            let hint = "choose the clip again";
            return Err(Refusal::new(StatusCode::PAYLOAD_TOO_LARGE, message, hint));
        }
        file.write_all(&bytes).await.map_err(disk)?;
        app.shelf
            .progress(clip.id, |clip| clip.arrival.received += length);
    }
    file.flush().await.map_err(disk)?;
    Ok(())
}

/// Bytes in words.
pub(super) fn size(bytes: u64) -> String {
    let bytes = bytes as f64;
    match bytes {
        b if b >= 1e9 => format!("{:.1} GB", b / 1e9),
        b if b >= 1e6 => format!("{:.0} MB", b / 1e6),
        b => format!("{:.0} kB", (b / 1e3).max(1.0)),
    }
}
