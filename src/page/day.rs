//! The day: what the log says of one athlete's jumps of one day.

use std::sync::Arc;

use axum::extract::{Json, Query, State};
use axum::http::header::{CONTENT_SECURITY_POLICY, HeaderValue};
use axum::response::IntoResponse;
use jiff::ZonedDateTime;
use jiff::civil::Date;
use serde::Deserialize;
use sha2::{Digest, Sha256};

use super::reply::{Reply, aside, bytes};
use super::{App, views};
use crate::log::{Log, MatEntry, MatQuery, NewMatEntry, TrialId};
use crate::report::model::Failure;
use crate::report::views::change::ChangeView;
use crate::report::views::trials::TrialsView;
use crate::trials::mat::{HeightFormula, MatReading};
use crate::units::{Metres, Span};
use crate::workflow::views::{
    ChangeQuestion, Sort, change, log_failure, sheet as sheet_of, trials,
};
use crate::workflow::{failure, keeping};

/// Smallest step of a mat's display: a millisecond, or a millimetre.
const MAT_STEP_S: f64 = 0.001;
const MAT_STEP_M: f64 = 0.001;

/// Whose day is shown.
#[derive(Clone, Deserialize)]
pub(super) struct Day {
    athlete: String,
    kind: String,
    load_kg: f64,
    date: Option<Date>,
}

impl Day {
    fn sort(&self) -> Result<Sort, Failure> {
        Ok(Sort {
            kind: self.kind.parse().map_err(log_failure)?,
            load_kg: self.load_kg,
        })
    }

    fn question(&self) -> ChangeQuestion {
        ChangeQuestion {
            to: self.date,
            ..ChangeQuestion::default()
        }
    }
}

/// A day as it is shown.
pub(super) struct DayShown {
    pub(super) trials: TrialsView,
    pub(super) change: Result<ChangeView, Failure>,
    pub(super) mat: Vec<MatEntry>,
    pub(super) load_kg: f64,
}

/// The day's trials, with mean, best, scatter, change and mat.
pub(super) async fn day(State(app): State<Arc<App>>, Query(day): Query<Day>) -> Reply {
    let path = app.settings.log.clone();
    let shown = aside(move || look_up(&path, &day)).await?;
    let page = views::day(&shown, app.settings.units).map_err(failure)?;
    Ok(page.into_response())
}

fn look_up(path: &std::path::Path, day: &Day) -> Result<DayShown, Failure> {
    let log = Log::open_read_only(path).map_err(log_failure)?;
    let sort = day.sort()?;
    let trials = trials(&log, &day.athlete, sort, day.date)?;
    let question = ChangeQuestion {
        to: Some(trials.date),
        ..day.question()
    };
    let athlete = log.athlete(&day.athlete).map_err(log_failure)?;
    let mat = log.mat_entries(&MatQuery {
        athlete: Some(athlete.id),
        from: Some(trials.date),
        to: Some(trials.date),
        mat: None,
    });
    Ok(DayShown {
        change: change(&log, &day.athlete, sort, &question),
        mat: mat.map_err(log_failure)?,
        load_kg: sort.load_kg,
        trials,
    })
}

/// What a mat showed for one trial.
#[derive(Deserialize)]
pub(super) struct MatShown {
    athlete: String,
    date: Date,
    order: u32,
    /// `time` in seconds or `height` in centimetres.
    what: String,
    value: f64,
}

/// Enters a mat's reading beside a trial, in place of one entered before.
pub(super) async fn mat(State(app): State<Arc<App>>, Json(shown): Json<MatShown>) -> Reply {
    let path = app.settings.log.clone();
    let reading = match shown.what.as_str() {
        "time" => MatReading::Time {
            time: Span::from_seconds(shown.value),
            step: Span::from_seconds(MAT_STEP_S),
        },
        _ => MatReading::Height {
            height: Metres::from_metres(shown.value / 100.0),
            step: Metres::from_metres(MAT_STEP_M),
            formula: HeightFormula::default(),
        },
    };
    aside(move || {
        let mut log = Log::open(&path).map_err(log_failure)?;
        let athlete = log.athlete(&shown.athlete).map_err(log_failure)?.id;
        let known = log.mat_entries(&MatQuery {
            athlete: Some(athlete),
            from: Some(shown.date),
            to: Some(shown.date),
            mat: Some(String::new()),
        });
        let known = known.map_err(log_failure)?;
        let entry = NewMatEntry {
            athlete,
            date: shown.date,
            order: Some(shown.order),
            mat: String::new(),
            reading,
            note: String::new(),
        };
        let before = known.iter().find(|entry| entry.order == shown.order);
        if let Some(before) = before {
            log.remove_mat_entry(before.id).map_err(log_failure)?;
        }
        let entered = log.add_mat_entry(&entry, keeping::now());
        if let (Err(_), Some(before)) = (&entered, before) {
            // What was there stays where the new value is refused.
            let back = NewMatEntry {
                reading: before.reading,
                note: before.note.clone(),
                ..entry
            };
            log.add_mat_entry(&back, before.recorded)
                .map_err(log_failure)?;
        }
        entered.map_err(log_failure).map(|_| ())
    })
    .await?;
    Ok(axum::http::StatusCode::NO_CONTENT.into_response())
}

/// A trial that is not to count, or to count again.
#[derive(Deserialize)]
pub(super) struct Aside {
    trial: i64,
    /// Why it does not count; empty to let it count again.
    reason: String,
}

/// Sets a trial aside, or lets it count again.
pub(super) async fn set_aside(State(app): State<Arc<App>>, Json(wanted): Json<Aside>) -> Reply {
    let path = app.settings.log.clone();
    aside(move || {
        let mut log = Log::open(&path).map_err(log_failure)?;
        let id = TrialId(wanted.trial);
        match wanted.reason.trim() {
            "" => log.restore(id),
            reason => log.set_aside(id, reason),
        }
        .map_err(log_failure)
    })
    .await?;
    Ok(axum::http::StatusCode::NO_CONTENT.into_response())
}

/// The page to print.
pub(super) async fn sheet(State(app): State<Arc<App>>, Query(day): Query<Day>) -> Reply {
    let (path, units) = (app.settings.log.clone(), app.settings.units);
    let page = aside(move || {
        let log = Log::open_read_only(&path).map_err(log_failure)?;
        let today = ZonedDateTime::now().date();
        let sheet = sheet_of(&log, &day.athlete, day.sort()?, &day.question(), today)?;
        sheet.html(units).map_err(failure)
    })
    .await?;
    let policy = style_policy(&page);
    let mut response = bytes("text/html; charset=utf-8", page);
    if let Ok(policy) = HeaderValue::from_str(&policy) {
        response
            .headers_mut()
            .insert(CONTENT_SECURITY_POLICY, policy);
    }
    Ok(response)
}

/// Lets a page that carries its own style use that one and nothing else.
fn style_policy(page: &str) -> String {
    let style = page
        .split_once("<style>")
        .and_then(|(_, rest)| rest.split_once("</style>"))
        .map_or("", |(style, _)| style);
    let hash = base64(&Sha256::digest(style.as_bytes()));
    format!(
        "default-src 'none'; style-src 'sha256-{hash}'; base-uri 'none'; frame-ancestors 'none'"
    )
}

/// RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::new();
    for three in bytes.chunks(3) {
        let bits = (0..3).fold(0_u32, |bits, at| {
            bits << 8 | u32::from(three.get(at).copied().unwrap_or(0))
        });
        for place in 0..4 {
            let letter = (bits >> (18 - 6 * place)) as usize & 63;
            let used = place <= three.len();
            text.push(if used {
                char::from(LETTERS[letter])
            } else {
                '='
            });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples of RFC 4648, section 10.
    #[test]
    fn base64_as_the_standard_has_it() {
        for (text, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(text.as_bytes()), coded);
        }
    }
}
