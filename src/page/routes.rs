//! Which path does what.

use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_LENGTH, HeaderValue, LOCATION};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::routing::{delete, get, post, put};

use super::reply::bytes;
use super::views::plain;
use super::{App, arrivals, day, floor, guard, join, keep, loads, look};

/// Longest form or JSON text; pieces of clips have a limit of their own.
const TEXT_BYTES: usize = 64 << 10;

/// How long any answer may take, that to a question for news among them.
const LONGEST: Duration = Duration::from_secs(60);

const STYLE: &str = concat!(
    include_str!("assets/base.css"),
    include_str!("assets/work.css")
);
const SCRIPTS: [(&str, &str); 8] = [
    ("page.js", include_str!("assets/page.js")),
    ("bring.js", include_str!("assets/bring.js")),
    ("film.js", include_str!("assets/film.js")),
    ("marks.js", include_str!("assets/marks.js")),
    ("mark.js", include_str!("assets/mark.js")),
    ("forms.js", include_str!("assets/forms.js")),
    ("day.js", include_str!("assets/day.js")),
    ("ask.js", include_str!("assets/ask.js")),
];
const ICON: &str = include_str!("assets/icon.svg");

/// All paths, below the secret.
pub(super) fn router(app: &Arc<App>) -> Router {
    let mut inside = Router::new()
        .route("/state", get(look::state))
        .route(
            "/page.css",
            get(async || bytes("text/css; charset=utf-8", STYLE)),
        )
        .route("/icon.svg", get(async || bytes("image/svg+xml", ICON)))
        .route("/phone", post(join::invite))
        .route("/clips", post(arrivals::announce))
        .route("/clips/{id}", delete(floor::throw_away))
        .route("/clips/{id}/floor", get(floor::panel).post(floor::measure))
        .route("/clips/{id}/suggest", post(floor::suggest))
        .route("/clips/{id}/again", post(floor::again))
        .route("/clips/{id}/speed", post(floor::speed))
        .route("/clips/{id}/facts", get(look::facts))
        .route("/clips/{id}/frames/{frame}", get(look::frame))
        .route("/clips/{id}/feet/{frame}", get(look::feet))
        .route("/clips/{id}/trace", get(look::trace))
        .route("/clips/{id}/jumps", get(look::panel))
        .route("/clips/{id}/jumps/{number}", post(look::correct))
        .route("/clips/{id}/keep", post(keep::keep))
        .route("/day", get(day::day))
        .route("/day/mat", post(day::mat))
        .route("/day/aside", post(day::set_aside))
        .route("/day/loads", get(loads::loads))
        .route("/day/body", post(loads::body_mass))
        .route("/sheet", get(day::sheet));
    for (name, text) in SCRIPTS {
        let script = move || async move { bytes("text/javascript; charset=utf-8", text) };
        inside = inside.route(&format!("/{name}"), get(script));
    }
    let pieces = Router::new()
        .route("/clips/{id}/bytes", put(arrivals::receive))
        .layer(DefaultBodyLimit::disable());
    let inside = inside
        .layer(DefaultBodyLimit::max(TEXT_BYTES))
        .layer(middleware::from_fn(short))
        .merge(pieces);
    Router::new()
        .nest(&format!("/{}", app.guard.secret), inside)
        .route("/join/{word}", get(join::join))
        .route(&format!("/{}/", app.guard.secret), get(look::page))
        .route(&format!("/{}", app.guard.secret), get(to_the_page))
        .fallback(async || plain(StatusCode::NOT_FOUND, "There is nothing here."))
        .with_state(Arc::clone(app))
        .layer(middleware::from_fn_with_state(
            Arc::clone(&app.guard),
            guard::watch,
        ))
}

/// Turns long texts away before they are sent, and gives up on slow ones.
async fn short(request: Request, next: Next) -> Response {
    let length = request.headers().get(CONTENT_LENGTH);
    let length = length.and_then(|length| length.to_str().ok()?.parse::<usize>().ok());
    if length.is_some_and(|length| length > TEXT_BYTES) {
        return plain(StatusCode::PAYLOAD_TOO_LARGE, "This is too long.");
    }
    tokio::time::timeout(LONGEST, next.run(request))
        .await
        .unwrap_or_else(|_| plain(StatusCode::REQUEST_TIMEOUT, "This took too long."))
}

/// The page's address with its last stroke.
async fn to_the_page(State(app): State<Arc<App>>) -> Response {
    let to = format!("/{}/", app.guard.secret);
    let mut response = StatusCode::SEE_OTHER.into_response();
    if let Ok(to) = HeaderValue::from_str(&to) {
        response.headers_mut().insert(LOCATION, to);
    }
    response
}
