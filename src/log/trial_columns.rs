//! A trial's columns: which value stands in which.

use jiff::Timestamp;
use rusqlite::{Connection, Row, named_params};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::AthleteId;
use super::clip::{ClipHash, ClipRef};
use super::error::LogError;
use super::query::{read_date, read_moment};
use super::trial::{EventTime, Measured, Overstatement, Trial, TrialId, TrialRecord};
use super::trial_rows::Seat;
use crate::units::{Bounds, CaptureTime, Interval95, Metres, Span, StandardUncertainty};

const INSERT: &str = "INSERT INTO trial (id, athlete_id, date, place, kind, load_kg, \
    drop_height_m, clip_id, clip_jump, takeoff_s, takeoff_earliest_s, takeoff_latest_s, \
    landing_s, landing_earliest_s, landing_latest_s, flight_time_s, flight_time_u_s, \
    flight_time_lo_s, flight_time_hi_s, flight_time_lo95_s, flight_time_hi95_s, height_m, \
    height_u_m, height_lo_m, height_hi_m, height_lo95_m, height_hi95_m, film_u_m, shared_u_m, \
    gravity_m_s2, contact_time_s, overstatement_m, overstatement_u_m, budget, flags, doubts, \
    note, set_aside, recorded_at) VALUES (:id, :athlete_id, :date, :place, :kind, :load_kg, \
    :drop_height_m, :clip_id, :clip_jump, :takeoff_s, :takeoff_earliest_s, :takeoff_latest_s, \
    :landing_s, :landing_earliest_s, :landing_latest_s, :flight_time_s, :flight_time_u_s, \
    :flight_time_lo_s, :flight_time_hi_s, :flight_time_lo95_s, :flight_time_hi95_s, :height_m, \
    :height_u_m, :height_lo_m, :height_hi_m, :height_lo95_m, :height_hi95_m, :film_u_m, \
    :shared_u_m, :gravity_m_s2, :contact_time_s, :overstatement_m, :overstatement_u_m, :budget, \
    :flags, :doubts, :note, :set_aside, :recorded_at)";

/// Writes one row; `at` is its day and place.
pub(super) fn write(
    log: &Connection,
    seat: &Seat,
    at: (&str, u32),
    record: &TrialRecord,
    now: Timestamp,
) -> Result<TrialId, LogError> {
    let (takeoff, landing, flight, height) = numbers(record);
    log.prepare_cached(INSERT)?.execute(named_params! {
        ":id": seat.id.map(|id| id.0),
        ":athlete_id": seat.athlete.0,
        ":date": at.0,
        ":place": at.1,
        ":kind": record.kind.code(),
        ":load_kg": record.load_kg,
        ":drop_height_m": record.drop_height.map(Metres::metres),
        ":clip_id": seat.clip.map(|(clip, _)| clip),
        ":clip_jump": seat.clip.map(|(_, jump)| jump),
        ":takeoff_s": takeoff[0],
        ":takeoff_earliest_s": takeoff[1],
        ":takeoff_latest_s": takeoff[2],
        ":landing_s": landing[0],
        ":landing_earliest_s": landing[1],
        ":landing_latest_s": landing[2],
        ":flight_time_s": flight[0],
        ":flight_time_u_s": flight[1],
        ":flight_time_lo_s": flight[2],
        ":flight_time_hi_s": flight[3],
        ":flight_time_lo95_s": flight[4],
        ":flight_time_hi95_s": flight[5],
        ":height_m": height[0],
        ":height_u_m": height[1],
        ":height_lo_m": height[2],
        ":height_hi_m": height[3],
        ":height_lo95_m": height[4],
        ":height_hi95_m": height[5],
        ":film_u_m": record.film_u.0.metres(),
        ":shared_u_m": record.shared_u.0.metres(),
        ":gravity_m_s2": record.gravity_m_s2,
        ":contact_time_s": record.contact_time.map(Span::seconds),
        ":overstatement_m": record.overstatement.map(|o| o.likely.metres()),
        ":overstatement_u_m": record.overstatement.map(|o| o.u.0.metres()),
        ":budget": json(&record.budget)?,
        ":flags": json(&record.flags)?,
        ":doubts": record.doubts().collect::<Vec<_>>().join(","),
        ":note": record.note,
        ":set_aside": record.set_aside,
        ":recorded_at": now.to_string(),
    })?;
    Ok(TrialId(log.last_insert_rowid()))
}

type Events = [Option<f64>; 3];
type Parts = [Option<f64>; 6];

/// The numbers of take-off, landing, flight time and height.
fn numbers(record: &TrialRecord) -> (Events, Events, Parts, Parts) {
    let flight = record.flight_time.map(|time| parts(&time, Span::seconds));
    (
        event(record.takeoff),
        event(record.landing),
        flight.unwrap_or_default(),
        parts(&record.height, Metres::metres),
    )
}

/// Best, earliest, latest in seconds.
fn event(event: Option<EventTime>) -> Events {
    event.map_or([None; 3], |event| {
        let moments = [event.best, event.bounds.lo(), event.bounds.hi()];
        moments.map(|moment| Some(moment.seconds()))
    })
}

/// Best, u, bounds, interval.
fn parts<T: Copy + PartialOrd>(value: &Measured<T>, number: fn(T) -> f64) -> Parts {
    [
        Some(number(value.best)),
        Some(number(value.u.0)),
        value.bounds.map(|b| number(b.lo())),
        value.bounds.map(|b| number(b.hi())),
        value.interval95.map(|i| number(i.lo)),
        value.interval95.map(|i| number(i.hi)),
    ]
}

/// Reads one row, whatever the order of its columns.
pub(super) fn read(row: &Row) -> Result<Trial, LogError> {
    let kind: String = row.get("kind")?;
    let metres = |name: &str| -> Result<Option<Metres>, LogError> {
        Ok(row.get::<_, Option<f64>>(name)?.map(Metres::from_metres))
    };
    let needed =
        |name: &str| -> Result<Metres, LogError> { Ok(Metres::from_metres(row.get(name)?)) };
    let span = |name: &str| -> Result<Option<Span>, LogError> {
        Ok(row.get::<_, Option<f64>>(name)?.map(Span::from_seconds))
    };
    let overstatement = metres("overstatement_m")?.zip(metres("overstatement_u_m")?);
    let record = TrialRecord {
        kind: kind.parse().map_err(|_| {
            LogError::damaged(format!("\"{kind}\" stands where a kind of jump should"))
        })?,
        load_kg: row.get("load_kg")?,
        drop_height: metres("drop_height_m")?,
        takeoff: read_event(row, "takeoff")?,
        landing: read_event(row, "landing")?,
        flight_time: read_parts(row, "flight_time", "s", Span::from_seconds)?,
        height: read_parts(row, "height", "m", Metres::from_metres)?
            .ok_or_else(|| LogError::damaged("a trial without a height"))?,
        film_u: StandardUncertainty(needed("film_u_m")?),
        shared_u: StandardUncertainty(needed("shared_u_m")?),
        gravity_m_s2: row.get("gravity_m_s2")?,
        contact_time: span("contact_time_s")?,
        overstatement: overstatement.map(|(likely, u)| Overstatement {
            likely,
            u: StandardUncertainty(u),
        }),
        budget: read_json(row, "budget")?,
        flags: read_json(row, "flags")?,
        note: row.get("note")?,
        set_aside: row.get("set_aside")?,
    };
    Ok(Trial {
        id: TrialId(row.get("id")?),
        athlete: AthleteId(row.get("athlete_id")?),
        date: read_date(&row.get::<_, String>("date")?)?,
        order: row.get("place")?,
        clip: read_clip(row)?,
        record,
        recorded: read_moment(&row.get::<_, String>("recorded_at")?)?,
    })
}

fn read_clip(row: &Row) -> Result<Option<(ClipRef, u32)>, LogError> {
    let (Some(hash), Some(jump)) = (
        row.get::<_, Option<Vec<u8>>>("sha256")?,
        row.get::<_, Option<u32>>("clip_jump")?,
    ) else {
        return Ok(None);
    };
    let hash: [u8; 32] = hash
        .try_into()
        .map_err(|_| LogError::damaged("a clip's check sum of the wrong length"))?;
    let side = |name| row.get::<_, Option<u32>>(name);
    let sides = [
        side("patch_x_px")?,
        side("patch_y_px")?,
        side("patch_w_px")?,
        side("patch_h_px")?,
    ];
    let patch_px = match sides {
        [Some(x), Some(y), Some(w), Some(h)] => Some([x, y, w, h]),
        _ => None,
    };
    let clip = ClipRef {
        sha256: ClipHash(hash),
        name: row.get("clip_name")?,
        patch_px,
    };
    Ok(Some((clip, jump)))
}

fn read_event(row: &Row, name: &str) -> Result<Option<EventTime>, LogError> {
    let moment = |what: &str| -> rusqlite::Result<Option<CaptureTime>> {
        let seconds: Option<f64> = row.get(format!("{name}{what}_s").as_str())?;
        Ok(seconds.map(CaptureTime::from_seconds))
    };
    let all = (moment("")?, moment("_earliest")?, moment("_latest")?);
    Ok(match all {
        (Some(best), Some(earliest), Some(latest)) => Some(EventTime {
            best,
            bounds: Bounds::between(earliest, latest),
        }),
        _ => None,
    })
}

fn read_parts<T: Copy + PartialOrd>(
    row: &Row,
    name: &str,
    unit: &str,
    of: fn(f64) -> T,
) -> Result<Option<Measured<T>>, LogError> {
    let part = |what: &str| -> rusqlite::Result<Option<T>> {
        let number: Option<f64> = row.get(format!("{name}{what}_{unit}").as_str())?;
        Ok(number.map(of))
    };
    let Some((best, u)) = part("")?.zip(part("_u")?) else {
        return Ok(None);
    };
    Ok(Some(Measured {
        best,
        bounds: part("_lo")?
            .zip(part("_hi")?)
            .map(|(lo, hi)| Bounds::between(lo, hi)),
        u: StandardUncertainty(u),
        interval95: part("_lo95")?
            .zip(part("_hi95")?)
            .map(|(lo, hi)| Interval95 { lo, hi }),
    }))
}

fn json<T: Serialize>(value: &T) -> Result<String, LogError> {
    serde_json::to_string(value).map_err(|error| {
        let remedy = "give numbers that are finite";
        LogError::bad("an entry", error, remedy)
    })
}

fn read_json<T: DeserializeOwned>(row: &Row, name: &str) -> Result<T, LogError> {
    let text = row.get_ref(name)?.as_str().map_err(LogError::damaged)?;
    serde_json::from_str(text).map_err(LogError::damaged)
}
