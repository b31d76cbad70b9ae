//! Keeping: jumps into the log.

use std::sync::Arc;

use axum::extract::{Json, Path, State};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::App;
use super::jumps::standing;
use super::reply::{Refusal, Reply, aside};
use super::shelf::{ClipId, Held, KeptAs};
use crate::log::{ClipTrials, JumpKind, Log, LogError, NewAthlete, Stated, TrialRecord};
use crate::report::model::Failure;
use crate::workflow::keeping;
use crate::workflow::views::log_failure;

/// Names of all athletes in the log; none where there is no log yet.
pub(super) async fn athletes(app: &App) -> Reply<Vec<String>> {
    let path = app.settings.log.clone();
    aside(move || match Log::open_read_only(&path) {
        Ok(log) => {
            let all = log.athletes().map_err(log_failure)?;
            Ok(all.into_iter().map(|athlete| athlete.name).collect())
        }
        Err(LogError::Missing(_)) => Ok(Vec::new()),
        Err(error) => Err(log_failure(error)),
    })
    .await
}

/// The day of a clip, as far as it is known.
pub(super) fn day_of(clip: &Held) -> Date {
    let tags = clip.film.as_ref().map_or(&[][..], |film| film.tags());
    keeping::day(tags, clip.modified, keeping::now()).0
}

/// Which jumps are to be kept, and as whose.
#[derive(Deserialize)]
pub(super) struct Wanted {
    athlete: String,
    kind: String,
    load_kg: f64,
    date: Date,
    note: String,
    jumps: Vec<usize>,
    throw_away: bool,
}

/// Where the kept jumps are to be seen.
#[derive(Serialize)]
pub(super) struct Done {
    athlete: String,
    kind: String,
    load_kg: f64,
    date: Date,
    said: String,
    thrown_away: bool,
}

/// Keeps jumps of a clip in the log; an athlete who is new is added.
pub(super) async fn keep(
    State(app): State<Arc<App>>,
    Path(id): Path<u64>,
    Json(wanted): Json<Wanted>,
) -> Reply<Json<Done>> {
    let clip = app.shelf.get(ClipId(id))?;
    let kind: JumpKind = wanted.kind.parse().map_err(log_failure)?;
    let jumps: Vec<(u32, TrialRecord)> = standing(&clip)
        .into_iter()
        .filter(|one| wanted.jumps.contains(&one.jump.number))
        .filter_map(|one| Some((u32::try_from(one.jump.number).ok()?, noted(&one, &wanted))))
        .collect();
    if jumps.is_empty() {
        return Err(Refusal::not_now(
            "no jump is chosen",
            "tick the jumps to be kept",
        ));
    }
    let count = jumps.len();
    let path = app.settings.log.clone();
    let stated = Stated {
        date: Some(wanted.date),
        kind: Some(kind),
        load_kg: Some(wanted.load_kg),
        drop_height: None,
    };
    let (name, held) = (wanted.athlete.trim().to_owned(), clip.clone());
    let (name, date) = aside(move || enter(&path, &name, &held, stated, &jumps)).await?;
    let kept = KeptAs {
        athlete: name.clone(),
        date,
        jumps: count,
    };
    app.shelf.change(clip.id, |clip| clip.kept = Some(kept))?;
    let thrown_away = wanted.throw_away && clip.ours;
    if thrown_away {
        super::floor::throw_away(State(Arc::clone(&app)), Path(id)).await?;
    }
    let jumps = crate::report::views::words::counted(count, "jump");
    Ok(Json(Done {
        said: format!("Kept {jumps} for {name}."),
        athlete: name,
        kind: kind.code().to_owned(),
        load_kg: wanted.load_kg,
        date,
        thrown_away,
    }))
}

/// The record with what the person remarked, before what the program remarks.
fn noted(one: &super::jumps::Standing, wanted: &Wanted) -> TrialRecord {
    let remarks = [wanted.note.trim(), &one.record.note];
    let remarks: Vec<&str> = remarks
        .into_iter()
        .filter(|text| !text.is_empty())
        .collect();
    TrialRecord {
        note: remarks.join("; "),
        ..one.record.clone()
    }
}

fn enter(
    path: &std::path::Path,
    name: &str,
    clip: &Held,
    stated: Stated,
    jumps: &[(u32, TrialRecord)],
) -> Result<(String, Date), Failure> {
    let basis = clip
        .findings
        .as_ref()
        .and_then(|found| found.basis.as_ref());
    let patch = basis.map(|basis| basis.patch).ok_or_else(|| Failure {
        message: "this clip is not measured".to_owned(),
        hint: "measure it first".to_owned(),
    })?;
    let (clip, _) = keeping::clip_ref(&clip.path, &clip.name, patch)?;
    let mut log = Log::open(path).map_err(log_failure)?;
    let athlete = match log.athlete(name) {
        Ok(athlete) => (athlete.id, athlete.name),
        Err(LogError::UnknownAthlete { .. }) => {
            let new = NewAthlete::named(name);
            (
                log.add_athlete(&new, keeping::now()).map_err(log_failure)?,
                new.name,
            )
        }
        Err(error) => return Err(log_failure(error)),
    };
    let kept = log.keep_clip(
        &ClipTrials {
            athlete: athlete.0,
            clip,
            date: stated.date.unwrap_or_default(),
            stated,
            trials: jumps,
        },
        keeping::now(),
    );
    let kept = kept.map_err(log_failure)?;
    Ok((athlete.1, kept.date))
}
