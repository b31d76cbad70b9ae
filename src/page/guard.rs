//! Who may ask: the right address, the right path, a browser that was let in, and for
//! changes a page of ours as their origin.
//!
//! A page on the same computer could be reached by any web site open in its browser, so
//! the address alone proves nothing. The Host header is checked against the addresses
//! served (a foreign name that resolves to us is turned away), the path begins with a
//! secret, a SameSite cookie has to come along, and whatever changes something must say
//! that it comes from this page.

use std::collections::HashSet;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::{ConnectInfo, Request, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, COOKIE, HOST, ORIGIN, REFERRER_POLICY, SET_COOKIE,
    X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::secret;
use super::views::plain;
use crate::report::model::Failure;

/// Browsers that may be let in at the same time; far more than phones in a gym.
const MOST_BROWSERS: usize = 64;
/// Invitations that are open at the same time.
const MOST_INVITATIONS: usize = 8;

/// What every answer may load and do: our own files, and pictures made in the page.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
    img-src 'self' blob:; connect-src 'self'; form-action 'self'; base-uri 'none'; \
    frame-ancestors 'none'";

/// Who is let in.
#[derive(Debug)]
pub(super) struct Guard {
    /// First part of every path.
    pub(super) secret: String,
    /// Addresses under which the page is served, as browsers name them.
    hosts: Vec<String>,
    port: u16,
    browsers: Mutex<HashSet<String>>,
    invitations: Mutex<Vec<String>>,
    joined: tokio::sync::Notify,
}

impl Guard {
    pub(super) fn new(hosts: Vec<String>, port: u16) -> Result<Self, Failure> {
        Ok(Self {
            secret: secret::word()?,
            hosts,
            port,
            browsers: Mutex::default(),
            invitations: Mutex::default(),
            joined: tokio::sync::Notify::new(),
        })
    }

    /// A word that lets one browser in, once.
    pub(super) fn invitation(&self) -> Result<String, Failure> {
        let word = secret::word()?;
        let mut open = self
            .invitations
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        if open.len() >= MOST_INVITATIONS {
            open.remove(0);
        }
        open.push(word.clone());
        Ok(word)
    }

    /// Uses an invitation up.
    pub(super) fn accept(&self, word: &str) -> bool {
        let mut open = self
            .invitations
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        let found = open.iter().position(|known| secret::same(known, word));
        let found = found.map(|at| open.remove(at)).is_some();
        if found {
            self.joined.notify_one();
        }
        found
    }

    /// Ends when an invitation has been used up.
    pub(super) async fn joined(&self) {
        self.joined.notified().await;
    }

    /// Lets a browser in: the cookie for it.
    pub(super) fn cookie(&self) -> Result<HeaderValue, Failure> {
        let word = secret::word()?;
        let mut known = self.browsers.lock().unwrap_or_else(PoisonError::into_inner);
        if known.len() >= MOST_BROWSERS {
            return Err(Failure {
                message: "too many browsers have opened this page".to_owned(),
                hint: "close the page in the terminal and start it again".to_owned(),
            });
        }
        known.insert(word.clone());
        // Cookies do not tell ports apart, so the name does.
        let cookie = format!(
            "{}={word}; Path=/{}/; HttpOnly; SameSite=Strict",
            self.cookie_name(),
            self.secret
        );
        HeaderValue::from_str(&cookie).map_err(crate::workflow::failure)
    }

    fn cookie_name(&self) -> String {
        format!("underfoot-{}", self.port)
    }

    fn knows(&self, headers: &HeaderMap) -> bool {
        let name = self.cookie_name();
        let known = self.browsers.lock().unwrap_or_else(PoisonError::into_inner);
        headers
            .get_all(COOKIE)
            .iter()
            .filter_map(|value| value.to_str().ok())
            .flat_map(|value| value.split(';'))
            .filter_map(|pair| pair.trim().split_once('='))
            .any(|(key, word)| key == name && known.iter().any(|k| secret::same(k, word)))
    }

    /// Whether the request names an address that is served.
    fn is_for_us(&self, headers: &HeaderMap) -> bool {
        let mut hosts = headers.get_all(HOST).iter();
        let host = hosts.next().and_then(|host| host.to_str().ok());
        let only = hosts.next().is_none();
        only && host.is_some_and(|host| self.hosts.iter().any(|known| known == host))
    }

    /// Whether a change is asked for by a page of ours.
    fn is_from_us(&self, headers: &HeaderMap) -> bool {
        let origin = headers.get(ORIGIN).and_then(|origin| origin.to_str().ok());
        let host = headers.get(HOST).and_then(|host| host.to_str().ok());
        let address = origin.and_then(|origin| origin.strip_prefix("http://"));
        address.is_some() && address == host
    }

    /// Whether a request may go on, or why not.
    fn judge(&self, request: &Request) -> Judgement {
        let headers = request.headers();
        if !self.is_for_us(headers) {
            let text = "This address is not the one that was opened. Use the address in the \
                        terminal, letter by letter.";
            return Judgement::Refused(StatusCode::MISDIRECTED_REQUEST, text);
        }
        let reads = matches!(*request.method(), Method::GET | Method::HEAD);
        if !reads && !self.is_from_us(headers) {
            let text = "This came from another page and was not done.";
            return Judgement::Refused(StatusCode::FORBIDDEN, text);
        }
        let path = request.uri().path();
        if reads && path.starts_with("/join/") {
            return Judgement::Known;
        }
        let mut parts = path.splitn(3, '/').skip(1);
        let right = parts
            .next()
            .is_some_and(|first| secret::same(first, &self.secret));
        if !right {
            return Judgement::Refused(StatusCode::NOT_FOUND, "There is nothing here.");
        }
        if self.knows(headers) {
            return Judgement::Known;
        }
        let peer = request.extensions().get::<ConnectInfo<SocketAddr>>();
        let is_near = peer.is_some_and(|peer| peer.0.ip().is_loopback());
        let is_entry = reads && parts.next().is_some_and(str::is_empty);
        if is_near && is_entry {
            return Judgement::New;
        }
        let text = "This browser has not been let in. On this computer, open the address in the \
                    terminal; on a phone, scan a new code.";
        Judgement::Refused(StatusCode::FORBIDDEN, text)
    }
}

/// What becomes of a request.
enum Judgement {
    /// It is turned away.
    Refused(StatusCode, &'static str),
    /// It goes on.
    Known,
    /// It goes on, and its browser is let in.
    New,
}

/// Turns away what must not come in; puts the rules of the page on every answer.
pub(super) async fn watch(
    State(guard): State<Arc<Guard>>,
    request: Request,
    next: Next,
) -> Response {
    let mut response = match guard.judge(&request) {
        Judgement::Refused(status, text) => plain(status, text),
        Judgement::Known => next.run(request).await,
        Judgement::New => match guard.cookie() {
            Err(failure) => plain(StatusCode::SERVICE_UNAVAILABLE, &failure.message),
            Ok(cookie) => {
                let mut response = next.run(request).await;
                response.headers_mut().append(SET_COOKIE, cookie);
                response
            }
        },
    };
    let headers = response.headers_mut();
    let fixed = HeaderValue::from_static;
    headers
        .entry(CONTENT_SECURITY_POLICY)
        .or_insert(fixed(POLICY));
    headers.insert(CACHE_CONTROL, fixed("no-store"));
    headers.insert(X_CONTENT_TYPE_OPTIONS, fixed("nosniff"));
    // Origins must stay visible to ourselves, so not "no-referrer".
    headers.insert(REFERRER_POLICY, fixed("same-origin"));
    let same = fixed("same-origin");
    for name in ["cross-origin-resource-policy", "cross-origin-opener-policy"] {
        headers.insert(HeaderName::from_static(name), same.clone());
    }
    headers.insert(
        HeaderName::from_static("permissions-policy"),
        fixed("camera=(), microphone=(), geolocation=()"),
    );
    response.into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_invitation_is_good_once() {
        let guard = Guard::new(vec!["127.0.0.1:1".to_owned()], 1).unwrap();
        let word = guard.invitation().unwrap();
        assert!(!guard.accept("x") && guard.accept(&word) && !guard.accept(&word));
    }

    #[test]
    fn only_the_newest_invitations_stay_open() {
        let guard = Guard::new(Vec::new(), 1).unwrap();
        let first = guard.invitation().unwrap();
        for _ in 0..MOST_INVITATIONS {
            guard.invitation().unwrap();
        }
        assert!(!guard.accept(&first));
    }
}
