//! A log of many years: every view stays quick.

use std::time::{Duration, Instant};

use jiff::ToSpan;
use jiff::civil::Date;
use underfoot::log::{AthleteId, Log, TrialRecord};
use underfoot::report::model::Failure;
use underfoot::trials::plan::Reading;
use underfoot::units::Metres;
use underfoot::workflow::views::{
    self, ChangeQuestion, PlanQuestion, Sort, change, companion, plan, squad, trend, trials,
};

use super::{MONDAY, club};

/// Trials of an athlete on a day, a week apart.
const JUMPS: i64 = 5;

/// So many athletes with so many days each, the last one on [`MONDAY`].
fn filled(path: &std::path::Path, athletes: usize, days: i64) -> Log {
    let mut log = Log::open(path).expect("a new log");
    let mut batch: Vec<(AthleteId, Date, TrialRecord)> = Vec::new();
    for number in 0..athletes {
        let id = club::athlete(&mut log, &format!("Player {number}"));
        for week in 0..days {
            let day = MONDAY - (7 * (days - 1 - week)).days();
            // Whole numbers that look like noise are enough here.
            let form = (week * 31 + number as i64 * 17) % 40;
            for jump in 0..JUMPS {
                let noise = (week * 7 + jump * 13 + number as i64) % 23;
                let height_mm = 280 + form + noise + (number as i64 % 60);
                batch.push((id, day, club::jump(0.001 * height_mm as f64)));
            }
            if number == 7 {
                club::throw(&mut log, id, day, 20.0 + 0.1 * (form % 11) as f64);
            }
        }
        if batch.len() > 20_000 || number + 1 == athletes {
            log.add_trials(&batch, club::now()).expect("new trials");
            batch.clear();
        }
    }
    log
}

fn every_view_is_quick(athletes: usize, days: i64) {
    let folder = tempfile::tempdir().expect("a folder");
    let log = filled(&folder.path().join("log.sqlite"), athletes, days);
    let (name, sort) = ("Player 7", Sort::default());
    let asked = ChangeQuestion::default();
    let planned = |athlete: Option<&str>| PlanQuestion {
        athlete: athlete.map(str::to_owned),
        change: Metres::from_metres(0.02),
        power: 0.8,
        rates: vec![60.0, 240.0],
        height: None,
        own_sd: None,
        day_sd: None,
        reading: Reading::WholeFrames,
    };
    let quick = |what: &str, work: &dyn Fn() -> Result<(), Failure>| {
        let start = Instant::now();
        work().unwrap_or_else(|failure| panic!("{what}: {}", failure.message));
        let took = start.elapsed();
        eprintln!("{what}: {:.3} s", took.as_secs_f64());
        assert!(took < Duration::from_secs(1), "{what}: {took:?}");
    };
    quick("trials", &|| trials(&log, name, sort, None).map(drop));
    quick("change", &|| change(&log, name, sort, &asked).map(drop));
    quick("trend", &|| trend(&log, name, sort, None).map(drop));
    quick("squad", &|| squad(&log, sort, &asked).map(drop));
    quick("plan", &|| plan(Some(&log), sort, &planned(None)).map(drop));
    quick("plan of one", &|| {
        plan(Some(&log), sort, &planned(Some(name))).map(drop)
    });
    quick("companion", &|| {
        companion(&log, name, "throw speed", sort, None).map(drop)
    });
    quick("sheet", &|| {
        views::sheet(&log, name, sort, &asked, MONDAY).map(drop)
    });
}

#[test]
fn every_view_of_ten_thousand_trials_is_quick() {
    every_view_is_quick(50, 40);
}

/// `make test` runs it by itself, so that no other test takes the processor from it.
#[test]
#[ignore = "measures time: cargo test --test views million -- --ignored --nocapture"]
fn every_view_of_a_million_trials_is_quick() {
    every_view_is_quick(1000, 200);
}
