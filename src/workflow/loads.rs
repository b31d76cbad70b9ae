//! Jumps under load and drop jumps, from tables and from the log.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::log::{EventTime, Trial};
use crate::report::model::Failure;
use crate::trials::load::{DropJump, DropSet, LoadedSet, MeasuredJump};
use crate::units::{Metres, Span, StandardUncertainty};
use crate::workflow::table::{Row, Table};

/// Length of one inch, a pound (the international agreement of 1959).
const INCH_M: f64 = 0.0254;
const POUND_KG: f64 = 0.453_592_37;

/// One athlete's jumps of one day, by load.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LoadDay {
    /// The day, where it is known.
    pub date: Option<Date>,
    /// Body mass in kg, where the table has it.
    pub body_mass_kg: Option<f64>,
    /// The jumps.
    pub sets: Vec<LoadedSet>,
    /// Jumps that do not count, and why.
    pub left_out: Vec<String>,
}

/// One athlete's drop jumps of one day, by height.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DropDay {
    /// The day, where it is known.
    pub date: Option<Date>,
    /// The jumps.
    pub sets: Vec<DropSet>,
    /// Jumps that do not count, and why.
    pub left_out: Vec<String>,
}

/// Standard uncertainty of a moment that lies anywhere between two frames: the
/// frames' distance over √12 (JCGM 100:2008, 4.3.7, rectangular distribution).
pub fn moment_u(frames_per_second: f64) -> Span {
    Span::from_seconds(1.0 / (frames_per_second * 12f64.sqrt()))
}

/// Sessions in a table of jumps under load, the oldest first.
///
/// `film_u` stands for the film's standard uncertainty where a row has none.
///
/// # Errors
/// [`Failure`] naming line and column.
pub fn load_days(
    table: &Table,
    athlete: Option<&str>,
    film_u: Option<Metres>,
) -> Result<Vec<LoadDay>, Failure> {
    table.needs_one_of(&["load_kg", "load_lb"])?;
    table.needs_one_of(&["height_cm", "height_in"])?;
    let mut days: BTreeMap<Option<Date>, LoadDay> = BTreeMap::new();
    for row in rows_of(table, athlete)? {
        let date = row.date("date")?;
        let day = days.entry(date).or_default();
        day.date = date;
        day.body_mass_kg = row.number("body_kg")?.or(day.body_mass_kg);
        let load_kg = one_of(
            &row,
            [("load_kg", |kg| kg), ("load_lb", |lb| lb * POUND_KG)],
        )?;
        let height = one_of(
            &row,
            [
                ("height_cm", |cm| cm / 100.0),
                ("height_in", |inches| inches * INCH_M),
            ],
        )?;
        let (Some(load_kg), Some(height_m)) = (load_kg, height) else {
            return Err(row.fault("load and height", "", "give both in every row"));
        };
        let u = row.number("u_cm")?.map(|u| Metres::from_metres(u / 100.0));
        let u = u.or(film_u).ok_or_else(|| {
            let hint = "add a column u_cm, the film's standard uncertainty, or --u-cm 0.3 for all";
            row.fault("u_cm", "", hint)
        })?;
        add_load(
            day,
            load_kg,
            MeasuredJump {
                height: Metres::from_metres(height_m),
                u: StandardUncertainty(u),
            },
        );
    }
    Ok(days.into_values().collect())
}

fn add_load(day: &mut LoadDay, load_kg: f64, jump: MeasuredJump) {
    // As close as the statistics take two loads for one.
    let same = |set: &&mut LoadedSet| (set.load_kg - load_kg).abs() < 0.01;
    match day.sets.iter_mut().find(same) {
        Some(set) => set.jumps.push(jump),
        None => day.sets.push(LoadedSet {
            load_kg,
            jumps: vec![jump],
        }),
    }
}

/// Sessions in a table of drop jumps, the oldest first.
///
/// `moment_u` stands for the standard uncertainty of each moment where a row has
/// none.
///
/// # Errors
/// [`Failure`] naming line and column.
pub fn drop_days(
    table: &Table,
    athlete: Option<&str>,
    moment_u: Option<Span>,
) -> Result<Vec<DropDay>, Failure> {
    table.needs_one_of(&["drop_cm", "drop_in"])?;
    let mut days: BTreeMap<Option<Date>, DropDay> = BTreeMap::new();
    for row in rows_of(table, athlete)? {
        let date = row.date("date")?;
        let day = days.entry(date).or_default();
        day.date = date;
        let height = one_of(
            &row,
            [
                ("drop_cm", |cm| cm / 100.0),
                ("drop_in", |inches| inches * INCH_M),
            ],
        )?;
        let Some(height) = height else {
            return Err(row.fault("drop_cm", "", "give the height of the box in every row"));
        };
        let u = row.number("u_ms")?.map(Span::from_millis).or(moment_u);
        let u = StandardUncertainty(u.ok_or_else(|| {
            let hint = "add a column u_ms, or --fps 240 for clips of that rate";
            row.fault("u_ms", "", hint)
        })?);
        add_drop(
            day,
            Metres::from_metres(height),
            DropJump {
                contact_time: Span::from_millis(row.needed("contact_ms")?),
                flight_time: Span::from_millis(row.needed("flight_ms")?),
                u_contact: u,
                u_takeoff: u,
                u_landing: u,
            },
        );
    }
    Ok(days.into_values().collect())
}

fn add_drop(day: &mut DropDay, height: Metres, jump: DropJump) {
    let same = |set: &&mut DropSet| (set.drop_height - height).abs() < Metres::from_metres(0.005);
    match day.sets.iter_mut().find(same) {
        Some(set) => set.jumps.push(jump),
        None => day.sets.push(DropSet {
            drop_height: height,
            jumps: vec![jump],
        }),
    }
}

/// The rows of one athlete; of the only one where nobody is named.
fn rows_of<'a>(table: &'a Table, athlete: Option<&str>) -> Result<Vec<Row<'a>>, Failure> {
    let key = |name: &str| name.trim().to_lowercase();
    let mut names: Vec<&str> = table.rows().filter_map(|row| row.text("athlete")).collect();
    names.sort_unstable();
    names.dedup_by(|a, b| key(a) == key(b));
    let Some(wanted) = athlete else {
        if names.len() > 1 {
            return Err(Failure {
                message: format!("{} holds jumps of {} athletes", table.name(), names.len()),
                hint: format!("choose one with --athlete: {}", names.join(", ")),
            });
        }
        return Ok(table.rows().collect());
    };
    let rows: Vec<Row<'a>> = table
        .rows()
        // A table without names is the named athlete's.
        .filter(|row| {
            row.text("athlete")
                .is_none_or(|name| key(name) == key(wanted))
        })
        .collect();
    if rows.is_empty() {
        return Err(Failure {
            message: format!("{} holds no jump of {wanted}", table.name()),
            hint: format!("it has: {}", names.join(", ")),
        });
    }
    Ok(rows)
}

/// A column with the way from its unit to ours.
type Column = (&'static str, fn(f64) -> f64);

fn one_of(row: &Row<'_>, columns: [Column; 2]) -> Result<Option<f64>, Failure> {
    for (column, to_ours) in columns {
        if let Some(value) = row.number(column)? {
            return Ok(Some(to_ours(value)));
        }
    }
    Ok(None)
}

/// Sessions in a log, the oldest first; doubtful jumps and those set aside are left
/// out, improbable heights are not.
pub fn load_days_of_log(trials: &[Trial]) -> Vec<LoadDay> {
    let mut days: BTreeMap<Date, LoadDay> = BTreeMap::new();
    for trial in trials {
        let day = days.entry(trial.date).or_default();
        day.date = Some(trial.date);
        let height = trial.height();
        if !height.is_usable() {
            day.left_out.push(left_out(trial));
            continue;
        }
        add_load(
            day,
            trial.record.load_kg,
            MeasuredJump {
                height: height.height,
                u: StandardUncertainty(Metres::from_metres(height.film_u.0.metres().max(1e-6))),
            },
        );
    }
    days.into_values().collect()
}

fn left_out(trial: &Trial) -> String {
    format!(
        "{}, jump {}: {}",
        trial.date,
        trial.order,
        trial.height().doubts.join(", ")
    )
}

/// Sessions of drop jumps in a log, the oldest first.
pub fn drop_days_of_log(trials: &[Trial]) -> Vec<DropDay> {
    let mut days: BTreeMap<Date, DropDay> = BTreeMap::new();
    for trial in trials {
        let day = days.entry(trial.date).or_default();
        day.date = Some(trial.date);
        let record = &trial.record;
        let known = (record.drop_height, record.contact_time, &record.flight_time);
        let (Some(height), Some(contact), Some(flight)) = known else {
            let what = "no drop height, contact or flight time in the log";
            day.left_out
                .push(format!("{}, jump {}: {what}", trial.date, trial.order));
            continue;
        };
        if !trial.height().is_usable() {
            day.left_out.push(left_out(trial));
            continue;
        }
        // Without the moments' bounds the flight's uncertainty is split evenly.
        let even = Span::from_seconds(flight.u.0.seconds() / 2f64.sqrt());
        let u = |event: &Option<EventTime>| StandardUncertainty(event.map_or(even, event_u));
        add_drop(
            day,
            height,
            DropJump {
                contact_time: contact,
                flight_time: flight.best,
                // First contact is seen like the landing: shoes meet the floor.
                u_contact: u(&record.landing),
                u_takeoff: u(&record.takeoff),
                u_landing: u(&record.landing),
            },
        );
    }
    days.into_values().collect()
}

/// A rectangular distribution over the bounds of the moment.
fn event_u(event: EventTime) -> Span {
    event.bounds.width() / 12f64.sqrt()
}

/// The session asked for and the one to compare it with: by default the last, and
/// the last before it.
///
/// # Errors
/// [`Failure`] where there is no session of that date.
pub fn choose<T>(
    days: Vec<T>,
    date_of: impl Fn(&T) -> Option<Date>,
    wanted: Option<Date>,
    since: Option<Date>,
) -> Result<(T, Option<T>), Failure> {
    let known: Vec<String> = days
        .iter()
        .filter_map(|day| date_of(day).map(|date| date.to_string()))
        .collect();
    let missing = |date: Option<Date>| Failure {
        message: match date {
            Some(date) => format!("there is no such session on {date}"),
            None => "there is no such session".to_owned(),
        },
        hint: match known.as_slice() {
            [] => "log or list the jumps first".to_owned(),
            known => format!("there are sessions on {}", known.join(", ")),
        },
    };
    let dates: Vec<Option<Date>> = days.iter().map(&date_of).collect();
    let place_of = |wanted: Date| dates.iter().position(|date| *date == Some(wanted));
    let now_at = wanted.map_or(dates.len().checked_sub(1), place_of);
    let now_at = now_at.ok_or_else(|| missing(wanted))?;
    let then_at = match since {
        Some(date) => Some(place_of(date).ok_or_else(|| missing(since))?),
        None => now_at.checked_sub(1),
    };
    let (mut now, mut then) = (None, None);
    for (at, day) in days.into_iter().enumerate() {
        if at == now_at {
            now = Some(day);
        } else if Some(at) == then_at {
            then = Some(day);
        }
    }
    Ok((now.ok_or_else(|| missing(wanted))?, then))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(table: &str) -> Vec<LoadDay> {
        let table = Table::parse("jumps.csv", table).unwrap();
        load_days(&table, None, Some(Metres::from_metres(0.002))).unwrap()
    }

    #[test]
    fn rows_gather_into_loads_and_days() {
        let days = days(
            "date,load_kg,height_cm,u_cm\n2026-03-09,0,32,0.2\n2026-03-02,0,30,\n\
             2026-03-02,10,26,\n2026-03-02,0,31,0.4\n",
        );
        let loads = |day: &LoadDay| -> Vec<(f64, usize)> {
            let sets = day.sets.iter();
            sets.map(|set| (set.load_kg, set.jumps.len())).collect()
        };
        assert_eq!(loads(&days[0]), [(0.0, 2), (10.0, 1)]);
        assert_eq!(loads(&days[1]), [(0.0, 1)]);
        assert_eq!(days[0].sets[0].jumps[1].u.0.metres(), 0.004);
        assert_eq!(days[0].sets[0].jumps[0].u.0.metres(), 0.002);
    }

    #[test]
    fn the_last_session_meets_the_one_before() {
        let date = |day| jiff::civil::date(2026, 3, day);
        let pick = |wanted, since| choose(vec![1i8, 5, 9], |d| Some(date(*d)), wanted, since).ok();
        assert_eq!(pick(None, None), Some((9, Some(5))));
        assert_eq!(pick(Some(date(5)), None), Some((5, Some(1))));
        assert_eq!(pick(Some(date(1)), None), Some((1, None)));
        assert_eq!(pick(None, Some(date(1))), Some((9, Some(1))));
        assert_eq!(pick(Some(date(2)), None), None);
        assert_eq!(pick(None, Some(date(2))), None);
    }

    #[test]
    fn a_table_of_several_athletes_asks_whose() {
        let text = "athlete,load_kg,height_cm,u_cm\nMia,0,30,0.2\nBo,0,40,0.2\n";
        let table = Table::parse("jumps.csv", text).unwrap();
        assert!(load_days(&table, None, None).is_err());
        let of_bo = load_days(&table, Some("bo"), None).unwrap();
        assert_eq!(of_bo[0].sets[0].jumps[0].height.metres(), 0.4);
        assert!(load_days(&table, Some("Ida"), None).is_err());
    }
}
