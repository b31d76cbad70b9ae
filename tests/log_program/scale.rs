//! Many trials: every look-up stays quick.

use std::time::{Duration, Instant};

use jiff::ToSpan;
use jiff::civil::{Date, date};
use underfoot::log::{AthleteId, Log, NewAthlete, TrialQuery, TrialRecord};

use super::club::{jump, now};

const ATHLETES: usize = 50;
const FIRST: Date = date(2010, 1, 1);

/// A log with so many trials, ten of each athlete and day.
fn filled(log: &mut Log, trials: usize) -> Vec<AthleteId> {
    let name = |at: usize| NewAthlete::named(&format!("Player {at}"));
    let ids: Vec<AthleteId> = (0..ATHLETES)
        .map(|at| log.add_athlete(&name(at), now()).unwrap())
        .collect();
    let mut batch: Vec<(AthleteId, Date, TrialRecord)> = Vec::new();
    for at in 0..trials {
        let day = (at / (10 * ATHLETES)) as i64;
        let id = ids[at / 10 % ATHLETES];
        batch.push((
            id,
            FIRST + day.days(),
            jump(0.3 + (at % 89) as f64 / 1000.0),
        ));
        if batch.len() == 20_000 || at + 1 == trials {
            log.add_trials(&batch, now()).unwrap();
            batch.clear();
        }
    }
    ids
}

fn timed<T>(what: &str, work: impl FnOnce() -> T) -> (Duration, T) {
    let start = Instant::now();
    let done = work();
    let took = start.elapsed();
    eprintln!("{what}: {:.3} s", took.as_secs_f64());
    (took, done)
}

fn every_look_up_is_quick(trials: usize) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.sqlite");
    let mut log = Log::open(&path).unwrap();
    let (_, ids) = timed("filling", || filled(&mut log, trials));
    let size = std::fs::metadata(&path).unwrap().len();
    eprintln!("{trials} trials, {:.0} MB", size as f64 / 1e6);
    let days = trials / (10 * ATHLETES);
    let last = FIRST + (days as i64 - 1).days();
    let month = TrialQuery::default().between(Some(last - 27.days()), Some(last));
    let one = TrialQuery::of(ids[7]);
    let most = Duration::from_secs(1);

    let (opening, log) = timed("opening", || Log::open_read_only(&path).unwrap());
    let (sessions, found) = timed("sessions of one athlete", || log.sessions(&one).unwrap());
    assert_eq!(found.len(), days);
    let (recent, found) = timed("a month of one athlete", || {
        let query = TrialQuery {
            athlete: one.athlete,
            ..month
        };
        log.sessions(&query).unwrap()
    });
    assert_eq!(found.len(), 28);
    let (squad, found) = timed("a month of the squad", || log.squad(&month).unwrap());
    assert_eq!(
        found.iter().map(|row| row.sessions.len()).sum::<usize>(),
        28 * ATHLETES
    );
    let (full, found) = timed("all of one athlete's trials", || log.trials(&one).unwrap());
    assert_eq!(found.len(), trials / ATHLETES);
    let (counting, _) = timed("counting", || log.summary(ids[7]).unwrap());
    for took in [opening, sessions, recent, squad, full, counting] {
        assert!(took < most, "{took:?}");
    }
    let (_, found) = timed("everything of everybody", || {
        log.squad(&TrialQuery::default()).unwrap()
    });
    assert_eq!(
        found.iter().map(|row| row.sessions.len()).sum::<usize>(),
        days * ATHLETES
    );
}

#[test]
fn twenty_thousand_trials_are_looked_up_quickly() {
    every_look_up_is_quick(20_000);
}

#[test]
#[ignore = "takes a minute: cargo test --release --test log_program million -- --ignored --nocapture"]
fn a_million_trials_are_looked_up_quickly() {
    every_look_up_is_quick(1_000_000);
}
