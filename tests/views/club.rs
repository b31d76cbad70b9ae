//! A village handball club's log, made of known truths.

use std::path::Path;

use jiff::civil::{Date, date};
use jiff::{Timestamp, ToSpan};
use underfoot::jump::Flag;
use underfoot::log::{AthleteId, JumpKind, Log, NewAthlete, NewCompanion, RaisedFlag, TrialRecord};
use underfoot::units::{Metres, StandardUncertainty};

use super::draws::Draws;

/// The players and what becomes of them: height at the start and true rise over the
/// season, in centimetres.
pub const PLAYERS: [(&str, f64, f64); 12] = [
    ("Mia Vogel", 31.0, 3.5),
    ("Lena Roth", 28.0, 0.0),
    ("Jule Amend", 36.0, 0.4),
    ("Zoë Brandt", 33.0, 2.4),
    ("Ayşe Kaya", 30.0, -6.0),
    ("Nora Lindqvist-Hohenstein", 34.5, 0.2),
    ("Ida Fuchs", 26.5, 1.0),
    ("Pia Lang", 38.0, 0.0),
    ("Emma Wirth", 29.5, 1.5),
    ("Klara Hahn", 32.0, -0.5),
    ("Tilda Otto", 35.0, 0.0),
    ("Greta Thoma", 27.0, 0.6),
];

/// Weekly sessions, counted from the first Monday of 2026.
pub const SESSIONS: i64 = 9;
pub const FIRST: Date = date(2026, 1, 5);

pub fn now() -> Timestamp {
    "2026-03-10T20:00:00Z".parse().expect("a moment")
}

/// A jump of this height with a usual film error at 240 frames per second.
pub fn jump(height_m: f64) -> TrialRecord {
    let film = StandardUncertainty(Metres::from_metres(0.0022));
    TrialRecord {
        shared_u: StandardUncertainty(Metres::from_metres(0.0003)),
        ..TrialRecord::of_height(
            JumpKind::Countermovement,
            Metres::from_metres(height_m),
            film,
        )
    }
}

/// The same with a flag that makes it doubtful.
pub fn doubtful(height_m: f64, flag: Flag) -> TrialRecord {
    TrialRecord {
        flags: vec![RaisedFlag {
            code: flag.code().to_owned(),
            advice: flag.advice(),
            doubtful: flag.makes_doubtful(),
        }],
        ..jump(height_m)
    }
}

pub fn athlete(log: &mut Log, name: &str) -> AthleteId {
    log.add_athlete(&NewAthlete::named(name), now())
        .expect("a new athlete")
}

pub fn add(log: &mut Log, id: AthleteId, day: Date, record: &TrialRecord) {
    log.add_trial(id, day, None, record, now())
        .expect("a new trial");
}

/// Days of one athlete with these heights in centimetres.
pub fn days(log: &mut Log, id: AthleteId, days: &[(Date, &[f64])]) {
    for (day, heights) in days {
        for height in *heights {
            add(log, id, *day, &jump(0.01 * height));
        }
    }
}

/// A throw in metres per second.
pub fn throw(log: &mut Log, id: AthleteId, day: Date, value: f64) {
    let value = NewCompanion {
        athlete: id,
        measure: "throw speed".to_owned(),
        date: day,
        order: None,
        value,
        unit: "m/s".to_owned(),
        note: String::new(),
    };
    log.add_companion(&value, now()).expect("a value");
}

/// Fills a log with a season of the whole club.
pub fn season(path: &Path) {
    let mut log = Log::open(path).expect("a new log");
    let mut draws = Draws(20_260_105);
    for (name, start_cm, rise_cm) in PLAYERS {
        let id = athlete(&mut log, name);
        for week in 0..SESSIONS {
            let day = FIRST.checked_add((7 * week).days()).expect("a date");
            let share = week as f64 / (SESSIONS - 1) as f64;
            let form_cm = start_cm + rise_cm * share + 0.5 * draws.normal();
            // One player misses the last evening but for a single jump on her own.
            let count = if name == "Greta Thoma" && week > 0 {
                1
            } else {
                4
            };
            for _ in 0..count {
                let height_cm = form_cm + 0.9 * draws.normal() + 0.22 * draws.normal();
                add(&mut log, id, day, &jump(0.01 * height_cm));
            }
            let throw = 19.0 + 0.12 * (form_cm - 30.0);
            for _ in 0..2 {
                let speed = throw + 0.25 * draws.normal();
                self::throw(&mut log, id, day, speed);
            }
        }
    }
    let last = FIRST
        .checked_add((7 * (SESSIONS - 1)).days())
        .expect("a date");
    let mia = log.athlete("Mia Vogel").expect("Mia").id;
    add(&mut log, mia, last, &doubtful(0.412, Flag::LandingBeside));
    let mut set_aside = jump(0.244);
    set_aside.set_aside = Some("slipped".to_owned());
    add(&mut log, mia, last, &set_aside);
    for load_kg in [10.0, 20.0] {
        for cm in [27.1, 26.4, 27.9] {
            let mut loaded = jump(0.01 * (cm - 0.2 * load_kg));
            loaded.load_kg = load_kg;
            add(&mut log, mia, last, &loaded);
        }
    }
}
