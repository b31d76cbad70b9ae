//! Trials as rows of files.

use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, params};
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::cell::{Cell, Column, Holds, Row};
use super::tables::{Entered, Names, conflict, required};
use crate::log::clip::{self, ClipHash, ClipRef};
use crate::log::query::date_text;
use crate::log::trial::{EventTime, Measured, Overstatement, Trial, TrialRecord};
use crate::log::trial_rows::{self, Seat};
use crate::log::{JumpKind, LogError, TrialId};
use crate::units::{Bounds, CaptureTime, Interval95, Metres, Span, StandardUncertainty};

pub(super) const COLUMNS: [Column; 39] = [
    Column::text("athlete").needed(),
    Column::text("date").needed(),
    Column::new("order", "", Holds::Whole),
    Column::text("kind"),
    Column::number("load", "kg"),
    Column::number("drop_height", "m"),
    Column::number("height", "m").needed(),
    Column::number("height_u", "m").needed(),
    Column::number("height_lo", "m"),
    Column::number("height_hi", "m"),
    Column::number("height_lo95", "m"),
    Column::number("height_hi95", "m"),
    Column::number("film_u", "m"),
    Column::number("shared_u", "m"),
    Column::number("flight_time", "s"),
    Column::number("flight_time_u", "s"),
    Column::number("flight_time_lo", "s"),
    Column::number("flight_time_hi", "s"),
    Column::number("flight_time_lo95", "s"),
    Column::number("flight_time_hi95", "s"),
    Column::number("takeoff", "s"),
    Column::number("takeoff_earliest", "s"),
    Column::number("takeoff_latest", "s"),
    Column::number("landing", "s"),
    Column::number("landing_earliest", "s"),
    Column::number("landing_latest", "s"),
    Column::number("contact_time", "s"),
    Column::number("gravity", "m/s2"),
    Column::number("overstatement", "m"),
    Column::number("overstatement_u", "m"),
    Column::text("set_aside"),
    Column::text("note"),
    Column::new("flags", "", Holds::Json),
    Column::new("budget", "", Holds::Json),
    Column::text("clip"),
    Column::text("clip_sha256"),
    Column::new("clip_jump", "", Holds::Whole),
    Column::new("clip_patch", "{px}", Holds::Json),
    Column::text("recorded"),
];

pub(super) fn cells(name: &str, trial: &Trial) -> Result<Vec<Cell>, LogError> {
    let record = &trial.record;
    let json = |value: serde_json::Result<Value>| match value {
        Ok(Value::Array(list)) if list.is_empty() => Ok(Cell::Empty),
        Ok(value) => Ok(Cell::Json(value)),
        Err(error) => Err(LogError::damaged(error)),
    };
    let mut cells: Vec<Cell> = vec![
        name.into(),
        trial.date.into(),
        trial.order.into(),
        record.kind.code().into(),
        record.load_kg.into(),
        record.drop_height.map(Metres::metres).into(),
    ];
    cells.extend(parts(Some(record.height), Metres::metres));
    cells.push(record.film_u.0.metres().into());
    cells.push(record.shared_u.0.metres().into());
    cells.extend(parts(record.flight_time, Span::seconds));
    cells.extend(event(record.takeoff));
    cells.extend(event(record.landing));
    cells.extend([
        record.contact_time.map(Span::seconds).into(),
        record.gravity_m_s2.into(),
        record.overstatement.map(|o| o.likely.metres()).into(),
        record.overstatement.map(|o| o.u.0.metres()).into(),
        record.set_aside.clone().into(),
        record.note.clone().into(),
        json(serde_json::to_value(&record.flags))?,
        json(serde_json::to_value(&record.budget))?,
    ]);
    let clip = trial.clip.as_ref();
    let patch = clip.and_then(|(clip, _)| clip.patch_px);
    cells.extend([
        clip.map(|(clip, _)| clip.name.clone()).into(),
        clip.map(|(clip, _)| clip.sha256.to_string()).into(),
        clip.map(|(_, jump)| *jump).into(),
        match patch {
            Some(patch) => json(serde_json::to_value(patch))?,
            None => Cell::Empty,
        },
        trial.recorded.into(),
    ]);
    Ok(cells)
}

fn parts<T: Copy + PartialOrd>(value: Option<Measured<T>>, number: fn(T) -> f64) -> [Cell; 6] {
    let bounds = value.and_then(|v| v.bounds);
    let interval = value.and_then(|v| v.interval95);
    [
        value.map(|v| number(v.best)),
        value.map(|v| number(v.u.0)),
        bounds.map(|b| number(b.lo())),
        bounds.map(|b| number(b.hi())),
        interval.map(|i| number(i.lo)),
        interval.map(|i| number(i.hi)),
    ]
    .map(Cell::from)
}

fn event(event: Option<EventTime>) -> [Cell; 3] {
    [
        event.map(|e| e.best.seconds()),
        event.map(|e| e.bounds.lo().seconds()),
        event.map(|e| e.bounds.hi().seconds()),
    ]
    .map(Cell::from)
}

/// Enters a row, unless the very same trial is there.
pub(super) fn enter(
    log: &Connection,
    mut row: Row,
    names: &mut Names,
    now: Timestamp,
) -> Result<Entered, LogError> {
    let athlete = names.id(log, &row.text("athlete"))?;
    let date = row.date("date")?;
    let order: Option<u32> = row.whole("order")?;
    let clip = read_clip(&mut row)?;
    let recorded = row.moment("recorded", now)?;
    let record = read(&mut row)?;
    if let Some(order) = order
        && let Some(old) = at(log, (athlete.0, &date_text(date)?, order))?
    {
        return if old.record == record && old.clip == clip {
            Ok(Entered::AlreadyThere)
        } else {
            Err(conflict("jump", &names.name(athlete), date, order))
        };
    }
    let clip = match clip {
        Some((clip, jump)) => {
            clip::refuse_another(log, &clip.sha256, athlete)?;
            Some((clip::ensure(log, &clip)?, jump))
        }
        None => None,
    };
    let seat = Seat {
        id: None,
        athlete,
        date,
        place: order,
        clip,
    };
    trial_rows::insert(log, &seat, &record, recorded)?;
    Ok(Entered::New)
}

fn at(
    log: &Connection,
    (athlete, date, order): (i64, &str, u32),
) -> Result<Option<Trial>, LogError> {
    let sql = "SELECT id FROM trial WHERE athlete_id = ?1 AND date = ?2 AND place = ?3";
    let mut statement = log.prepare_cached(sql)?;
    let id: Option<i64> = statement
        .query_row(params![athlete, date, order], |row| row.get(0))
        .optional()?;
    id.map(|id| trial_rows::by_id(log, TrialId(id))).transpose()
}

fn read(row: &mut Row) -> Result<TrialRecord, LogError> {
    let kind = match row.some_text("kind") {
        Some(kind) => kind.parse()?,
        None => JumpKind::default(),
    };
    let height =
        read_measured(row, "height", Metres::from_metres)?.ok_or_else(|| required("height"))?;
    let film_u = row.number("film_u").map(Metres::from_metres);
    let shared_u = row.number("shared_u").map(Metres::from_metres);
    let overstatement = row
        .number("overstatement")
        .zip(row.number("overstatement_u"));
    Ok(TrialRecord {
        load_kg: row.number("load").unwrap_or(0.0),
        drop_height: row.number("drop_height").map(Metres::from_metres),
        takeoff: read_event(row, "takeoff")?,
        landing: read_event(row, "landing")?,
        flight_time: read_measured(row, "flight_time", Span::from_seconds)?,
        height,
        film_u: film_u.map_or(height.u, StandardUncertainty),
        shared_u: StandardUncertainty(shared_u.unwrap_or_default()),
        gravity_m_s2: row.number("gravity"),
        contact_time: row.number("contact_time").map(Span::from_seconds),
        overstatement: overstatement.map(|(likely, u)| Overstatement {
            likely: Metres::from_metres(likely),
            u: StandardUncertainty(Metres::from_metres(u)),
        }),
        budget: read_list(row, "budget")?,
        flags: read_list(row, "flags")?,
        note: row.text("note"),
        set_aside: row.some_text("set_aside"),
        ..TrialRecord::of_height(kind, height.best, height.u)
    })
}

fn read_measured<T: Copy + PartialOrd>(
    row: &mut Row,
    name: &'static str,
    of: fn(f64) -> T,
) -> Result<Option<Measured<T>>, LogError> {
    let mut part = |what: &str| row.number(&format!("{name}{what}"));
    let (best, u) = (part(""), part("_u"));
    let (lo, hi) = (part("_lo"), part("_hi"));
    let (lo95, hi95) = (part("_lo95"), part("_hi95"));
    let bounds = both_ends(name, lo, hi)?;
    let interval = both_ends(name, lo95, hi95)?;
    let Some(best) = best else {
        return Ok(None);
    };
    let u = u.ok_or_else(|| {
        let remedy = "fill in its standard uncertainty, in the column that ends in _u";
        LogError::bad(name, "without uncertainty", remedy)
    })?;
    Ok(Some(Measured {
        best: of(best),
        bounds: bounds.map(|(lo, hi)| Bounds::between(of(lo), of(hi))),
        u: StandardUncertainty(of(u)),
        interval95: interval.map(|(lo, hi)| Interval95 {
            lo: of(lo),
            hi: of(hi),
        }),
    }))
}

/// Both ends in order, or neither.
fn both_ends(
    name: &'static str,
    lo: Option<f64>,
    hi: Option<f64>,
) -> Result<Option<(f64, f64)>, LogError> {
    match (lo, hi) {
        (None, None) => Ok(None),
        (Some(lo), Some(hi)) if lo <= hi => Ok(Some((lo, hi))),
        (Some(lo), Some(hi)) => {
            let remedy = "the lower end comes first";
            Err(LogError::bad(
                name,
                format!("between {lo} and {hi}"),
                remedy,
            ))
        }
        _ => Err(LogError::bad(
            name,
            "limited on one side",
            "fill in both ends or neither",
        )),
    }
}

fn read_event(row: &mut Row, name: &'static str) -> Result<Option<EventTime>, LogError> {
    let best = row.number(name);
    let lo = row.number(&format!("{name}_earliest"));
    let hi = row.number(&format!("{name}_latest"));
    let ends = both_ends(name, lo, hi)?;
    let at = CaptureTime::from_seconds;
    Ok(best.zip(ends).map(|(best, (lo, hi))| EventTime {
        best: at(best),
        bounds: Bounds::between(at(lo), at(hi)),
    }))
}

fn read_list<T: DeserializeOwned>(row: &mut Row, name: &'static str) -> Result<Vec<T>, LogError> {
    let Some(value) = row.json(name) else {
        return Ok(Vec::new());
    };
    serde_json::from_value(value).map_err(|error| {
        let remedy = "leave the cell as it was exported, or empty";
        LogError::bad(name, error, remedy)
    })
}

fn read_clip(row: &mut Row) -> Result<Option<(ClipRef, u32)>, LogError> {
    let name = row.text("clip");
    let Some(hash) = row.some_text("clip_sha256") else {
        return Ok(None);
    };
    let sha256 = ClipHash::from_hex(&hash).ok_or_else(|| {
        let remedy = "it has sixty-four digits 0 to f; leave it as it was exported, or empty";
        LogError::bad("a clip\u{2019}s SHA-256", format!("\"{hash}\""), remedy)
    })?;
    let patch_px = match row.json("clip_patch") {
        None => None,
        Some(value) => Some(serde_json::from_value(value).map_err(|error| {
            LogError::bad("a patch", error, "it is a list of four whole numbers")
        })?),
    };
    let clip = ClipRef {
        sha256,
        name,
        patch_px,
    };
    let jump = row
        .whole("clip_jump")?
        .ok_or_else(|| required("clip_jump"))?;
    Ok(Some((clip, jump)))
}
