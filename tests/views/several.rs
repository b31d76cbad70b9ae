//! Trend, squad, plan, companion.

use jiff::civil::date;
use serde_json::Value;
use underfoot::log::Log;
use underfoot::synth::squad::PLAYERS;

use super::bench::{Bench, ran};
use super::{ask, close, club, document};

#[test]
fn a_trend_needs_five_days_and_sees_a_steady_rise() {
    let bench = club();
    let rising = document(&bench, &["trend", "Mia Vogel"]);
    assert_eq!(rising["direction"], "rising");
    // 3.5 cm in eight weeks is the truth.
    let slope = &rising["slope_interval95_m_per_week"];
    let truth = 0.035 / 8.0;
    assert!(slope[0].as_f64().unwrap() < truth && truth < slope[1].as_f64().unwrap());
    let still = document(&bench, &["trend", "Pia Lang"]);
    assert_eq!(still["direction"], "not_told_apart");
    let four = ask(&bench, &["trend", "Mia Vogel", "--to", "2026-01-26"]);
    assert_eq!(four.code, 1);
    assert!(
        four.out.contains("Too few days for a trend: 4 sessions"),
        "{}",
        four.out
    );
    ask(&bench, &["trend", "Mia Vogel", "--to", "2026-01-05"])
        .refused("a trend takes two at least");
}

#[test]
fn a_squad_is_sorted_into_rose_fell_and_open() {
    let bench = club();
    let squad = document(&bench, &["squad", "--from", "2026-01-05..2026-01-19"]);
    let rows = squad["rows"].as_array().unwrap();
    assert_eq!(rows.len(), club::PLAYERS.len());
    let order = ["higher", "lower", "not_told_apart", "too_few_trials"];
    let places: Vec<usize> = rows
        .iter()
        .map(|row| order.iter().position(|v| row["verdict"] == *v).unwrap())
        .collect();
    assert!(places.is_sorted(), "{places:?}");
    let count = |key: &str| squad[key].as_u64().unwrap();
    let all = count("rose") + count("fell") + count("not_told_apart") + count("too_few_trials");
    assert_eq!(all as usize, rows.len());
    let judged = (rows.len() as u64 - count("too_few_trials")) as f64;
    close(&squad["expected_by_chance"], 0.05 * judged, 1e-12);
    let repeat = &squad["reliability"];
    // Greta jumped once on the last evening.
    assert_eq!(
        (&repeat["athletes"], &repeat["trials"]),
        (&11.into(), &4.into())
    );
    for key in ["icc_2_1", "icc_3_1"] {
        let interval = &repeat[format!("{key}_interval95")];
        let value = repeat[key].as_f64().unwrap();
        assert!(interval[0].as_f64().unwrap() < value && value < interval[1].as_f64().unwrap());
    }
    let small = ask(&bench, &["squad", "--kind", "drop"]);
    small.refused("nobody has a drop jump without load");
}

/// The demonstration log's truth stands in `synth::squad`.
#[test]
fn true_changes_of_three_centimetres_are_found() {
    let bench = Bench::new();
    assert_eq!(bench.run("log demo club.sqlite").code, 0);
    let squad = document(&bench, &["squad", "--from", "2026-08-31"]);
    for player in &PLAYERS {
        let row = squad["rows"]
            .as_array()
            .and_then(|rows| rows.iter().find(|row| row["name"] == player.name))
            .unwrap_or_else(|| panic!("{}", player.name));
        let verdict = row["verdict"].as_str().unwrap();
        match player.change_m {
            _ if player.came.len() == 1 => assert_eq!(verdict, "too_few_trials"),
            change if change >= 0.03 => assert_eq!(verdict, "higher", "{}", player.name),
            change if change <= -0.03 => assert_eq!(verdict, "lower", "{}", player.name),
            _ => assert_ne!(verdict, "too_few_trials", "{}", player.name),
        }
    }
}

#[test]
fn a_plan_goes_by_defaults_or_by_the_log() {
    let bench = club();
    let bare = ran(bench
        .program()
        .args(["plan", "--json", "--log", "none.sqlite"]));
    let plan = bare.documents().remove(0);
    assert_eq!(
        (&plan["height_from"], &plan["variation_from"]),
        (&"default".into(), &"default".into())
    );
    // (g T/4)/(f √6) at 35 cm: T = √(8 · 0.35/9.80665) = 0.5343 s.
    for (row, wanted) in [0.0089, 0.0045, 0.0022].into_iter().enumerate() {
        close(&plan["rows"][row]["film_u_m"], wanted, 6e-5);
    }
    assert_eq!(plan["rows"][3], Value::Null);
    let needed =
        |plan: &Value, row: usize| plan["rows"][row]["trials_needed"]["per_session"].as_u64();
    assert!(needed(&plan, 0) > needed(&plan, 1) && needed(&plan, 1) >= needed(&plan, 2));
    let known = document(&bench, &["plan", "Lena Roth", "--change", "3cm"]);
    assert_eq!(known["height_from"], "log");
    // She scatters by 0.9 cm; 27 degrees of freedom tell that to a third.
    close(&known["athlete_sd_m"], 0.009, 0.003);
    assert_eq!(known["rows"][3]["logged_trials"], 36);
    close(&known["rows"][3]["film_u_m"], 0.0022, 1e-12);
    let hidden = document(&bench, &["plan", "--change", "1cm", "--day-sd", "2cm"]);
    assert!(
        hidden["rows"][0]["trials_needed"]["hidden_by_days"].is_object(),
        "{hidden}"
    );
    ask(&bench, &["plan", "--power", "1.5"]).refused("a power of 1.5");
    ask(&bench, &["plan", "--fps", "60,0"]).refused("0 frames a second");
    ran(bench
        .program()
        .args(["plan", "Mia", "--log", "none.sqlite"]))
    .refused("no log to look Mia up");
}

#[test]
fn companions_associate_from_ten_dates_on() {
    let bench = club();
    let nine = document(&bench, &["companion", "Mia Vogel", "Throw Speed"]);
    assert_eq!(
        (&nine["paired_dates"], &nine["association"]),
        (&9.into(), &Value::Null)
    );
    assert!(
        nine["no_association"]
            .as_str()
            .unwrap()
            .contains("9 date(s)")
    );
    assert!(
        nine["no_prediction"]
            .as_str()
            .unwrap()
            .contains("nothing is predicted")
    );
    let mut log = Log::open(&bench.path().join("club.sqlite")).unwrap();
    let id = log.athlete("Mia Vogel").unwrap().id;
    let next = date(2026, 3, 9);
    club::days(&mut log, id, &[(next, &[35.0, 35.4])]);
    club::throw(&mut log, id, next, 20.1);
    let ten = document(&bench, &["companion", "Mia Vogel", "throw speed"]);
    let found = &ten["association"];
    assert_eq!(found["dates"], 10);
    let interval = &found["spearman_interval95"];
    assert!(interval[0].as_f64() < found["spearman"].as_f64());
    ask(&bench, &["companion", "Mia Vogel", "sprint"]).refused("no values of \"sprint\"");
    let stated = document(
        &bench,
        &[
            "companion",
            "Mia Vogel",
            "throw speed",
            "--typical-error",
            "0.5",
        ],
    );
    close(&stated["companion"]["typical_error"], 0.5, 1e-12);
}
