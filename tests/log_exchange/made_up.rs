//! Trials and logs drawn by lot.

use jiff::civil::date;
use proptest::prelude::*;
use underfoot::log::{
    AthleteId, BudgetShare, ClipHash, ClipRef, ClipTrials, EventTime, JumpKind, Log, Measured,
    NewAthlete, NewCompanion, NewMatEntry, NewSaved, Overstatement, RaisedFlag, Stated,
    TrialRecord,
};
use underfoot::trials::load::series::PushOff;
use underfoot::trials::mat::{HeightFormula, MatReading};
use underfoot::units::{
    Acceleration, Bounds, CaptureTime, Interval95, Metres, Span, StandardUncertainty,
};

use super::now;

/// Text as people, spreadsheets and attackers write it.
pub fn text() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        "[ -~]{1,12}",
        "[=+@\t\r\n',;\"-]{1,6}[a-zäöüß😀]{0,4}",
        "\\PC{1,8}",
    ]
}

fn metres(range: std::ops::Range<f64>) -> impl Strategy<Value = Metres> {
    range.prop_map(Metres::from_metres)
}

fn event() -> impl Strategy<Value = EventTime> {
    (0.0..50.0, 0.0..0.1, 0.0..0.1).prop_map(|(best, before, after)| {
        let at = CaptureTime::from_seconds;
        EventTime {
            best: at(best),
            bounds: Bounds::between(at(best - before), at(best + after)),
        }
    })
}

fn measured<T: Copy + PartialOrd + std::fmt::Debug + 'static>(
    of: fn(f64) -> T,
) -> impl Strategy<Value = Measured<T>> {
    let ends = || proptest::option::of((0.0..0.5, 0.5..1.0));
    (0.0..1.0, 0.0..0.1, ends(), ends()).prop_map(move |(best, u, bounds, interval)| Measured {
        best: of(best),
        bounds: bounds.map(|(lo, hi)| Bounds::between(of(lo), of(hi))),
        u: StandardUncertainty(of(u)),
        interval95: interval.map(|(lo, hi)| Interval95 {
            lo: of(lo),
            hi: of(hi),
        }),
    })
}

fn doubts() -> impl Strategy<Value = (Vec<RaisedFlag>, Vec<BudgetShare>, Option<Overstatement>)> {
    let flag =
        ("[a-z_]{1,12}", text(), any::<bool>()).prop_map(|(code, advice, doubtful)| RaisedFlag {
            code,
            advice,
            doubtful,
        });
    let share = (text(), metres(0.0..0.1)).prop_map(|(source, u)| BudgetShare {
        source,
        u: StandardUncertainty(u),
    });
    let over = (metres(-0.1..0.1), metres(0.0..0.1)).prop_map(|(likely, u)| Overstatement {
        likely,
        u: StandardUncertainty(u),
    });
    (
        proptest::collection::vec(flag, 0..3),
        proptest::collection::vec(share, 0..3),
        proptest::option::of(over),
    )
}

prop_compose! {
    pub fn record()(
        kind in proptest::sample::select(JumpKind::ALL.to_vec()),
        load_kg in prop_oneof![Just(0.0), 0.0..100.0],
        events in proptest::option::of((event(), event())),
        flight in proptest::option::of(measured(Span::from_seconds)),
        height in measured(Metres::from_metres),
        film_u in metres(0.0..0.05),
        shared_u in metres(0.0..0.05),
        more in (proptest::option::of(0.1..0.6), proptest::option::of(9.7..9.9), proptest::option::of(0.1..0.8)),
        (flags, budget, overstatement) in doubts(),
        note in text(),
        reason in text(),
    ) -> TrialRecord {
        TrialRecord {
            load_kg,
            drop_height: more.2.map(Metres::from_metres),
            takeoff: events.map(|e| e.0),
            landing: events.map(|e| e.1),
            flight_time: flight,
            height,
            film_u: StandardUncertainty(film_u),
            shared_u: StandardUncertainty(shared_u),
            gravity_m_s2: more.1,
            contact_time: more.0.map(Span::from_seconds),
            overstatement,
            budget,
            flags,
            note,
            set_aside: Some(reason).filter(|reason| !reason.trim().is_empty()),
            ..TrialRecord::of_height(kind, height.best, height.u)
        }
    }
}

/// Fills a log with a bit of everything.
pub fn fill(log: &mut Log, records: &[TrialRecord], name: &str, note: &str) {
    let athlete = NewAthlete {
        stature: Some(Metres::from_metres(1.731)),
        push_off: Some(PushOff {
            distance: Metres::from_metres(0.41),
            u: StandardUncertainty(Metres::from_metres(0.012)),
            measured: true,
        }),
        birth_year: Some(2009),
        note: note.to_owned(),
        ..NewAthlete::named(name)
    };
    let first = log.add_athlete(&athlete, now()).unwrap();
    let other = log.add_athlete(&NewAthlete::named("Zoë, \"die Zweite\""), now());
    let other = other.unwrap();
    log.set_body_mass(first, date(2026, 1, 2), 61.35, now())
        .unwrap();
    for (at, record) in records.iter().enumerate() {
        let who = if at % 2 == 0 { first } else { other };
        if at == 0 {
            let clip = ClipTrials {
                athlete: who,
                clip: ClipRef {
                    sha256: ClipHash([at as u8; 32]),
                    name: note.to_owned(),
                    patch_px: Some([1, 2, 3, 4]),
                },
                date: date(2026, 2, 28),
                stated: Stated::default(),
                trials: &[(3, record.clone())],
            };
            log.keep_clip(&clip, now()).unwrap();
        } else {
            log.add_trial(who, date(2026, 3, 1), None, record, now())
                .unwrap();
        }
    }
    fill_rest(log, [first, other], note);
}

/// Readings, a throw and a saved result.
fn fill_rest(log: &mut Log, [first, other]: [AthleteId; 2], note: &str) {
    let time = MatReading::Time {
        time: Span::from_seconds(0.512),
        step: Span::from_seconds(0.001),
    };
    let height = MatReading::Height {
        height: Metres::from_metres(0.314),
        step: Metres::from_metres(0.001),
        formula: HeightFormula {
            gravity: Acceleration::from_metres_per_second_squared(9.81),
            added: Metres::from_metres(-0.0123),
        },
    };
    for (order, mat, reading) in [(Some(2), "", time), (None, "old mat", height)] {
        let entry = NewMatEntry {
            athlete: first,
            date: date(2026, 3, 1),
            order,
            mat: mat.to_owned(),
            reading,
            note: note.to_owned(),
        };
        log.add_mat_entry(&entry, now()).unwrap();
    }
    let throw = NewCompanion {
        athlete: other,
        measure: "throw speed".to_owned(),
        date: date(2026, 3, 1),
        order: None,
        value: -21.4,
        unit: "km/h".to_owned(),
        note: note.to_owned(),
    };
    log.add_companion(&throw, now()).unwrap();
    let saved = NewSaved {
        kind: "correction".to_owned(),
        name: "old mat".to_owned(),
        version: 3,
        date: date(2026, 3, 1),
        content: "{\"a\": [0.1, null, \"=x\"]}".to_owned(),
        about: vec![first, other],
    };
    log.save(&saved, now()).unwrap();
}
