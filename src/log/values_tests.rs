use jiff::civil::date;

use super::tests::{fresh, full, metres, now, plain};
use super::*;
use crate::trials::mat::MatReading;
use crate::units::{Span, StandardUncertainty};

#[test]
fn one_measure_keeps_one_unit() {
    let (_folder, _, mut log) = fresh();
    let mia = log.add_athlete(&NewAthlete::named("Mia"), now()).unwrap();
    let mut throw = NewCompanion {
        athlete: mia,
        measure: "throw speed".into(),
        date: date(2026, 5, 1),
        order: None,
        value: 21.4,
        unit: "m/s".into(),
        note: String::new(),
    };
    log.add_companion(&throw, now()).unwrap();
    throw.value = 21.9;
    log.add_companion(&throw, now()).unwrap();
    let found = log.companions(Some(mia), Some("throw speed")).unwrap();
    assert_eq!(found.len(), 2);
    assert_eq!((found[1].order, found[1].dated().value), (2, 21.9));
    throw.unit = "km/h".into();
    let refused = log.add_companion(&throw, now()).unwrap_err();
    assert!(refused.to_string().contains("kept in m/s"), "{refused}");
}

#[test]
fn mat_readings_are_one_a_jump_and_mat() {
    let (_folder, _, mut log) = fresh();
    let mia = log.add_athlete(&NewAthlete::named("Mia"), now()).unwrap();
    let time = |seconds| MatReading::Time {
        time: Span::from_seconds(seconds),
        step: Span::from_millis(1.0),
    };
    let height = MatReading::Height {
        height: metres(0.31),
        step: metres(0.001),
        formula: Default::default(),
    };
    let entry = |order, mat: &str, reading| NewMatEntry {
        athlete: mia,
        date: date(2026, 5, 1),
        order,
        mat: mat.into(),
        reading,
        note: "left side".into(),
    };
    for (order, mat, reading) in [
        (Some(2), "", time(0.5)),
        (None, "", time(0.51)),
        (Some(2), "new mat", height),
    ] {
        log.add_mat_entry(&entry(order, mat, reading), now())
            .unwrap();
    }
    let taken = log.add_mat_entry(&entry(Some(3), "", time(0.4)), now());
    assert!(matches!(taken, Err(LogError::PlaceTaken { .. })));
    let slip = log.add_mat_entry(&entry(None, "", time(510.0)), now());
    assert!(matches!(slip, Err(LogError::BadValue { .. })));
    let of_new = MatQuery {
        mat: Some("new mat".into()),
        ..MatQuery::default()
    };
    assert_eq!(log.mat_entries(&of_new).unwrap()[0].reading, height);
    let all = log.mat_entries(&MatQuery::default()).unwrap();
    let orders: Vec<u32> = all.iter().map(|entry| entry.order).collect();
    assert_eq!(orders, [2, 3, 2]);
}

#[test]
fn values_that_cannot_be_are_refused_before_anything_is_written() {
    let (_folder, _, mut log) = fresh();
    let mia = log.add_athlete(&NewAthlete::named("Mia"), now()).unwrap();
    let bad: [fn(&mut TrialRecord); 6] = [
        |r| r.height.best = metres(f64::NAN),
        |r| r.height.best = metres(31.0),
        |r| r.load_kg = -1.0,
        |r| r.film_u = StandardUncertainty(metres(f64::INFINITY)),
        |r| r.set_aside = Some(" ".into()),
        |r| r.contact_time = Some(Span::from_seconds(0.0)),
    ];
    for (at, spoil) in bad.iter().enumerate() {
        let mut record = full(1.0);
        spoil(&mut record);
        let refused = log.add_trial(mia, date(2026, 1, 1), None, &record, now());
        assert!(matches!(refused, Err(LogError::BadValue { .. })), "{at}");
    }
    let early = log.add_trial(mia, date(187, 1, 1), None, &plain(0.3), now());
    assert!(early.is_err());
    assert!(log.trials(&TrialQuery::default()).unwrap().is_empty());
}

#[test]
fn the_body_mass_of_a_day_is_the_latest_known_by_then() {
    let (_folder, _, mut log) = fresh();
    let mia = log.add_athlete(&NewAthlete::named("Mia"), now()).unwrap();
    let day = |d| date(2026, 5, d);
    assert_eq!(log.body_mass_on(mia, day(1)).unwrap(), None);
    for (d, kg) in [(10, 61.0), (20, 62.5), (20, 62.0)] {
        log.set_body_mass(mia, day(d), kg, now()).unwrap();
    }
    let on = |d| log.body_mass_on(mia, day(d)).unwrap().unwrap().mass_kg;
    assert_eq!(
        (on(1), on(10), on(19), on(20), on(31)),
        (61.0, 61.0, 61.0, 62.0, 62.0)
    );
    assert!(log.set_body_mass(mia, day(1), f64::NAN, now()).is_err());
}

#[test]
fn a_reader_that_holds_old_pages_is_told_of() {
    let (_folder, path, mut log) = fresh();
    let mia = log.add_athlete(&NewAthlete::named("Mia"), now()).unwrap();
    let reader = Log::open_read_only(&path).unwrap();
    reader
        .connection
        .execute_batch("BEGIN; SELECT count(*) FROM athlete")
        .unwrap();
    let held = log.forget_athlete(mia).unwrap_err();
    assert!(matches!(held, LogError::StillRead), "{held:?}");
    assert!(log.athletes().unwrap().is_empty());
    let gone = log.add_trial(mia, date(2026, 1, 1), None, &plain(0.3), now());
    assert!(matches!(gone, Err(LogError::Gone)), "{gone:?}");
}

#[test]
fn a_session_is_one_athletes_whoever_else_jumped_that_day() {
    let (_folder, _, mut log) = fresh();
    let names = ["Mia", "Lena"].map(NewAthlete::named);
    let [mia, lena] = names.map(|name| log.add_athlete(&name, now()).unwrap());
    for (who, day) in [
        (mia, 1),
        (lena, 1),
        (mia, 2),
        (lena, 2),
        (mia, 1),
        (lena, 1),
    ] {
        log.add_trial(who, date(2026, 1, day), None, &plain(0.3), now())
            .unwrap();
    }
    let sessions = log.sessions(&TrialQuery::default()).unwrap();
    let told: Vec<_> = sessions
        .iter()
        .map(|s| (s.athlete, s.date.day(), s.trials.len()))
        .collect();
    assert_eq!(told, [(mia, 1, 2), (mia, 2, 1), (lena, 1, 2), (lena, 2, 1)]);
}
