//! Phones: the code they scan, and how they come in.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::SET_COOKIE;
use axum::response::{IntoResponse, Response};
use qrcode::QrCode;
use qrcode::render::{svg, unicode};

use super::reply::{Refusal, Reply};
use super::serve::Opened;
use super::{App, views};
use crate::report::model::Failure;
use crate::workflow::failure;

/// What the terminal says; with a fresh invitation where phones may come in.
pub(super) fn opened(app: &App, port: u16) -> Result<Opened, Failure> {
    let address = format!("http://127.0.0.1:{port}/{}/", app.guard.secret);
    let Some(host) = app.phones.first() else {
        return Ok(Opened {
            address,
            invitation: None,
            code: None,
        });
    };
    let invitation = format!("http://{host}/join/{}", app.guard.invitation()?);
    let code = QrCode::new(&invitation).map_err(failure)?;
    let code = code.render::<unicode::Dense1x2>().quiet_zone(true).build();
    Ok(Opened {
        address,
        invitation: Some(invitation),
        code: Some(code),
    })
}

/// Ends when an invitation has been used.
pub(super) async fn used(app: &App) {
    app.guard.joined().await;
}

/// Lets a phone in that brings an invitation.
pub(super) async fn join(State(app): State<Arc<App>>, Path(word): Path<String>) -> Response {
    if !app.guard.accept(&word) {
        let text = "This code has been used or is no longer good. Scan a new one.";
        return views::plain(StatusCode::GONE, text);
    }
    match app.guard.cookie() {
        Err(failure) => views::plain(StatusCode::SERVICE_UNAVAILABLE, &failure.message),
        Ok(cookie) => {
            // A page of our own first: some phones hold strict cookies back on the way
            // from another program to a redirected address.
            let page = views::welcome(&format!("/{}/", app.guard.secret));
            let mut response = page.into_response();
            response.headers_mut().append(SET_COOKIE, cookie);
            response
        }
    }
}

/// A code for another phone, as a picture and in letters.
pub(super) async fn invite(State(app): State<Arc<App>>) -> Reply {
    let Some(host) = app.phones.first() else {
        return Err(Refusal::not_now(
            "this page is open to this computer only",
            "start it with --lan to let phones in",
        ));
    };
    let address = format!("http://{host}/join/{}", app.guard.invitation()?);
    let code = QrCode::new(&address).map_err(failure)?;
    let picture = code
        .render::<svg::Color>()
        .min_dimensions(220, 220)
        .quiet_zone(true)
        .build();
    Ok(views::invitation(&address, &picture).into_response())
}
