//! The coach's views, the program run as a whole.

#[path = "cli/bench.rs"]
#[allow(dead_code)]
mod bench;
#[path = "views/club.rs"]
mod club;
#[path = "support/draws.rs"]
mod draws;
#[path = "views/looks.rs"]
mod looks;
#[path = "views/pages.rs"]
mod pages;
#[path = "views/scale.rs"]
mod scale;
#[path = "views/several.rs"]
mod several;

use bench::{Bench, Ran, ran};
use jiff::civil::{Date, date};
use serde_json::Value;
use underfoot::jump::Flag;
use underfoot::log::Log;

/// A folder with the club's log in it.
fn club() -> Bench {
    let bench = Bench::new();
    club::season(&bench.path().join("club.sqlite"));
    bench
}

/// A folder with a log of one athlete, Mia, who jumped so high in centimetres.
fn mia(days: &[(Date, &[f64])]) -> Bench {
    let bench = Bench::new();
    let mut log = Log::open(&bench.path().join("club.sqlite")).expect("a new log");
    let id = club::athlete(&mut log, "Mia");
    club::days(&mut log, id, days);
    bench
}

/// Runs a view of the log; names hold blanks.
fn ask(bench: &Bench, arguments: &[&str]) -> Ran {
    ran(bench
        .program()
        .args(arguments)
        .args(["--log", "club.sqlite"]))
}

/// The view's document.
fn document(bench: &Bench, arguments: &[&str]) -> Value {
    let asked = ask(bench, &[arguments, &["--json"]].concat());
    assert_eq!(asked.err, "", "{arguments:?}");
    assert!(asked.code < 2, "{arguments:?}");
    let document = asked.documents().remove(0);
    assert_eq!(document["schema"], 1, "{arguments:?}");
    assert_eq!(document["view"], arguments[0]);
    document
}

fn close(value: &Value, wanted: f64, tolerance: f64) {
    let got = value.as_f64().unwrap_or(f64::NAN);
    assert!((got - wanted).abs() <= tolerance, "{got}, wanted {wanted}");
}

const MONDAY: Date = date(2026, 3, 2);

/// Two days alike, and one some 2 cm higher.
const THREE_DAYS: [(Date, &[f64]); 3] = [
    (date(2026, 2, 2), &[31.2, 31.8, 30.9, 31.7]),
    (date(2026, 2, 9), &[31.5, 31.0, 32.1, 31.6]),
    (MONDAY, &[33.6, 34.3, 33.7, 34.0]),
];

#[test]
fn a_day_in_figures_worked_by_hand() {
    // Mean 31.3; squares 0.1² + 0.5² + 0.4² over 2; t(2) 4.303 from printed tables.
    let bench = mia(&[(MONDAY, &[31.2, 31.8, 30.9])]);
    let day = document(&bench, &["trials", "mia"]);
    let summary = &day["summary"];
    close(&summary["mean_m"], 0.313, 1e-9);
    close(&summary["typical_error_m"], 0.01 * 0.21_f64.sqrt(), 1e-9);
    close(&summary["cv"], 0.21_f64.sqrt() / 31.3, 1e-9);
    let half = 4.303 * 0.21_f64.sqrt() / 3_f64.sqrt();
    close(&summary["mean_interval95_m"][0], 0.01 * (31.3 - half), 1e-5);
    close(&summary["mean_interval95_m"][1], 0.01 * (31.3 + half), 1e-5);
    // Chi-square with 2 degrees of freedom: 0.0506 and 7.378 from printed tables.
    let sd = 0.01 * 0.21_f64.sqrt();
    close(
        &summary["typical_error_interval95_m"][0],
        sd * (2.0_f64 / 7.378).sqrt(),
        1e-5,
    );
    close(
        &summary["typical_error_interval95_m"][1],
        sd * (2.0_f64 / 0.0506).sqrt(),
        1e-4,
    );
    assert_eq!(
        (&summary["best_number"], &summary["trials"]),
        (&2.into(), &3.into())
    );
    // Film error apart from the athlete's: s² = own² + film².
    close(&summary["film_u_m"], 0.0022, 1e-12);
    let own = (0.21e-4 - 0.0022_f64.powi(2)).sqrt();
    close(&summary["athlete_sd_m"], own, 1e-7);
}

#[test]
fn flags_leave_a_trial_out_and_height_never_does() {
    let bench = mia(&[(MONDAY, &[31.2, 31.8, 30.9])]);
    let mut log = Log::open(&bench.path().join("club.sqlite")).unwrap();
    let id = log.athlete("Mia").unwrap().id;
    club::add(
        &mut log,
        id,
        MONDAY,
        &club::doubtful(0.41, Flag::LandingBeside),
    );
    club::add(
        &mut log,
        id,
        MONDAY,
        &club::doubtful(0.95, Flag::ImprobableHeight),
    );
    let day = document(&bench, &["trials", "Mia"]);
    assert_eq!(day["summary"]["trials"], 4);
    close(&day["summary"]["best_m"], 0.95, 1e-12);
    assert_eq!(day["trials"][3]["counts"], false);
    assert_eq!(day["trials"][3]["reasons"][0], "landing_beside");
    assert_eq!(day["trials"][4]["counts"], true);
    let text = ask(&bench, &["trials", "Mia"]).out;
    for wanted in [
        "Trial 4 is left out (landing beside)",
        "Trial 5 is improbably high",
    ] {
        assert!(text.contains(wanted), "{wanted:?} in\n{text}");
    }
    // A day on which nothing counts is shown, and is nothing to go by.
    let next = date(2026, 3, 9);
    club::add(
        &mut log,
        id,
        next,
        &club::doubtful(0.41, Flag::LandingBeside),
    );
    let none = ask(&bench, &["trials", "Mia"]);
    assert_eq!(none.code, 1, "{}", none.out);
    assert!(
        none.out.contains("No trial of this day counts."),
        "{}",
        none.out
    );
    ask(&bench, &["change", "Mia"]).refused("no trial of Mia on 2026-03-09 counts");
}

#[test]
fn a_large_change_is_told_apart_and_a_small_one_is_not() {
    let bench = mia(&THREE_DAYS);
    let small = document(
        &bench,
        &[
            "change",
            "Mia",
            "--from",
            "2026-02-02",
            "--to",
            "2026-02-09",
        ],
    );
    assert_eq!(
        (&small["verdict"], &small["baseline_from"]),
        (&"not_told_apart".into(), &"stated".into())
    );
    close(&small["difference_m"], 0.0015, 1e-9);
    let large = document(&bench, &["change", "Mia"]);
    assert_eq!(
        (&large["verdict"], &large["baseline_from"]),
        (&"higher".into(), &"recent".into())
    );
    // Means 31.4 and 31.55, then 33.9.
    close(&large["difference_m"], 0.33900 - 0.31475, 1e-9);
    let lower = document(
        &bench,
        &[
            "change",
            "Mia",
            "--from",
            "2026-03-02",
            "--to",
            "2026-02-02",
        ],
    );
    assert_eq!(lower["verdict"], "lower");
    // The other way round, the same figures with the other sign.
    let back = document(&bench, &["change", "Mia", "--from", "2026-02-02"]);
    close(
        &lower["difference_m"],
        -back["difference_m"].as_f64().unwrap(),
        1e-12,
    );
    close(
        &lower["difference_u_m"],
        back["difference_u_m"].as_f64().unwrap(),
        1e-12,
    );
}

#[test]
fn warnings_units_and_stated_sizes() {
    let bench = mia(&THREE_DAYS);
    let large = document(&bench, &["change", "Mia"]);
    let codes: Vec<&str> = large["warnings"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|warning| warning["code"].as_str())
        .collect();
    assert_eq!(codes, ["day_to_day_left_out", "default_smallest"]);
    close(&large["smallest_worthwhile_m"], 0.03 * 0.31475, 1e-9);
    let stated = document(&bench, &["change", "Mia", "--smallest", "1.5cm"]);
    close(&stated["smallest_worthwhile_m"], 0.015, 1e-12);
    let inches = ask(
        &bench,
        &["change", "Mia", "--smallest", "0.5", "--units", "in"],
    )
    .out;
    assert!(
        inches.contains("0.50 in  (as stated)") || inches.contains("0.50 in (as stated)"),
        "{inches}"
    );
    // Another phone's clock does not cancel.
    let other = document(&bench, &["change", "Mia", "--another-phone"]);
    assert!(other["difference_u_m"].as_f64() > large["difference_u_m"].as_f64());
}

#[test]
fn single_trials_say_so_and_borrow_from_the_log_where_it_knows() {
    let bench = mia(&[(date(2026, 2, 23), &[31.0]), (MONDAY, &[34.0])]);
    let few = ask(&bench, &["change", "Mia"]);
    assert_eq!(few.code, 1, "{}", few.out);
    assert!(few.out.contains("too few trials"), "{}", few.out);
    let mut log = Log::open(&bench.path().join("club.sqlite")).unwrap();
    let id = log.athlete("Mia").unwrap().id;
    club::days(
        &mut log,
        id,
        &[(date(2025, 6, 2), &[30.0, 30.6, 31.1, 30.4, 30.9, 30.2])],
    );
    let lent = document(&bench, &["change", "Mia"]);
    assert_eq!(
        (&lent["scatter_from"], &lent["verdict"]),
        (&"log".into(), &"higher".into())
    );
}

#[test]
fn far_from_the_usual_returns_by_itself() {
    // Eight usual days about 32 cm, one bad day, then a usual one.
    let usual: Vec<(Date, [f64; 3])> = (1..=8)
        .map(|week| {
            let wave = if week % 2 == 0 { 0.4 } else { -0.4 };
            (
                date(2025, 10, week),
                [31.6 + wave, 32.0 + wave, 32.4 + wave],
            )
        })
        .collect();
    let mut days: Vec<(Date, &[f64])> = usual.iter().map(|(d, h)| (*d, &h[..])).collect();
    days.push((date(2026, 2, 23), &[29.6, 30.1, 30.3]));
    days.push((MONDAY, &[31.8, 32.1, 32.2]));
    let bench = mia(&days);
    let back = document(&bench, &["change", "Mia", "--from", "2026-02-23"]);
    let warnings = back["warnings"].to_string();
    assert!(warnings.contains("regression_to_the_mean"), "{warnings}");
    let usual = document(&bench, &["change", "Mia", "--from", "2025-10-01"]);
    assert!(
        !usual["warnings"]
            .to_string()
            .contains("regression_to_the_mean")
    );
}

#[test]
fn what_is_not_there_is_named_with_a_way_on() {
    let bench = club();
    ran(bench
        .program()
        .args(["trials", "Mia", "--log", "none.sqlite"]))
    .refused("there is no log");
    let slip = ask(&bench, &["trials", "Mia Vogle"]);
    slip.refused("no athlete is called \"Mia Vogle\"");
    assert!(slip.err.contains("Mia Vogel"), "{}", slip.err);
    let day = ask(&bench, &["trials", "Mia Vogel", "--date", "2026-01-07"]);
    day.refused("on 2026-01-07");
    assert!(day.err.contains("2026-01-05, 2026-01-12"), "{}", day.err);
    let kind = ask(&bench, &["trials", "Mia Vogel", "--load-kg", "15"]);
    kind.refused("countermovement jump with 15 kg");
    assert!(kind.err.contains("--load-kg 20"), "{}", kind.err);
    ask(&bench, &["change", "Mia Vogel", "--from", "2025-01-01"])
        .refused("on the days named with --from");
    ask(&bench, &["change", "Mia Vogel", "--to", "2026-01-05"])
        .refused("no usable session in the 120 days");
    ask(
        &bench,
        &["change", "Mia Vogel", "--from", "2026-02-09..2026-01-12"],
    )
    .refused("comes after");
    ask(&bench, &["change", "Mia Vogel", "--to", "yesterday"]).refused("year-month-day");
}

#[test]
fn loads_are_kept_apart() {
    let bench = club();
    let loaded = document(&bench, &["trials", "Mia Vogel", "--load-kg", "20"]);
    assert_eq!(
        (&loaded["load_kg"], &loaded["summary"]["trials"]),
        (&20.0.into(), &3.into())
    );
    let free = document(&bench, &["trials", "Mia Vogel"]);
    assert_eq!(free["trials"].as_array().map(Vec::len), Some(6));
}
