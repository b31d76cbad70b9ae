//! Answers: what is asked for, or why not and what to do.

use axum::Json;
use axum::http::StatusCode;
use axum::http::header::{CONTENT_TYPE, HeaderValue};
use axum::response::{IntoResponse, Response};
use serde::Serialize;

use crate::report::model::Failure;

/// Why something was not done.
#[derive(Debug)]
pub(super) struct Refusal {
    status: StatusCode,
    failure: Failure,
}

/// What a handler gives.
pub(super) type Reply<T = Response> = Result<T, Refusal>;

impl Refusal {
    pub(super) fn new(status: StatusCode, message: &str, hint: &str) -> Self {
        Self {
            status,
            failure: Failure {
                message: message.to_owned(),
                hint: hint.to_owned(),
            },
        }
    }

    /// For a clip that is not, or no longer, there.
    pub(super) fn gone() -> Self {
        let hint = "choose another clip, or bring it in again";
        Self::new(StatusCode::NOT_FOUND, "this clip is no longer here", hint)
    }

    /// For what cannot be done in the state things are in.
    pub(super) fn not_now(message: &str, hint: &str) -> Self {
        Self::new(StatusCode::CONFLICT, message, hint)
    }
}

/// What was asked for cannot be: numbers out of range, a log that refuses.
impl From<Failure> for Refusal {
    fn from(failure: Failure) -> Self {
        Self {
            status: StatusCode::UNPROCESSABLE_ENTITY,
            failure,
        }
    }
}

impl From<Refusal> for Failure {
    fn from(refusal: Refusal) -> Self {
        refusal.failure
    }
}

#[derive(Serialize)]
struct Body<'a> {
    message: &'a str,
    hint: &'a str,
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let Failure { message, hint } = &self.failure;
        (self.status, Json(Body { message, hint })).into_response()
    }
}

/// Bytes of a kind.
pub(super) fn bytes(kind: &'static str, bytes: impl Into<axum::body::Body>) -> Response {
    let mut response = Response::new(bytes.into());
    let kind = HeaderValue::from_static(kind);
    response.headers_mut().insert(CONTENT_TYPE, kind);
    response
}

/// Runs something that waits for disk or processor where it holds nobody up.
pub(super) async fn aside<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Failure> + Send + 'static,
) -> Reply<T> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => Ok(done?),
        Err(_) => Err(Refusal::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "the program met a fault of its own",
            "try again; if it comes back, report it with the clip's kind and size",
        )),
    }
}
