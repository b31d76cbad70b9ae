//! `load plan`, `load series` and `load drops` as a whole, on made-up athletes whose
//! line of force against velocity, or reaction, is known.

#[path = "support/club.rs"]
mod club;
#[path = "support/draws.rs"]
mod draws;

use std::fmt::Write;

use club::{G, Hall, Ran, log_squad};
use draws::Draws;
use serde_json::Value;
use underfoot::synth::squad::PLAYERS;
use underfoot::trials::load::cautions::CAUTIONS;

/// A made-up athlete: body mass, push-off distance, and her line.
const BODY_KG: f64 = 75.0;
const PUSH_OFF_M: f64 = 0.40;
const F0_N: f64 = 2625.0;
const V0_M_S: f64 = 3.0;

/// The height at which mean force and velocity meet her line, by halving.
fn height_m(load_kg: f64) -> f64 {
    let mass = BODY_KG + load_kg;
    let (mut lo, mut hi) = (0.0, 1.0);
    for _ in 0..60 {
        let h = 0.5 * (lo + hi);
        let force = mass * G * (h / PUSH_OFF_M + 1.0);
        let velocity = (G * h / 2.0_f64).sqrt();
        if force < F0_N * (1.0 - velocity / V0_M_S) {
            lo = h;
        } else {
            hi = h;
        }
    }
    lo
}

/// Three jumps at each load, with scatter; `gain_m` is added to every height.
fn session(date: &str, loads: &[f64], gain_m: f64, seed: u64) -> String {
    let mut draws = Draws(seed);
    let mut rows = String::new();
    for load in loads {
        for _ in 0..3 {
            let height = 100.0 * (height_m(*load) + gain_m + 0.010 * draws.normal());
            writeln!(rows, "{date},{load},{height:.1},0.2").expect("a text");
        }
    }
    rows
}

const HEADER: &str = "date,load_kg,height_cm,u_cm\n";
const LOADS: [f64; 5] = [0.0, 15.0, 30.0, 45.0, 60.0];

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("no number: {value}"))
}

fn holds(estimate: &Value, truth: f64) -> bool {
    let ends = &estimate["interval95"];
    number(&ends[0]) <= truth && truth <= number(&ends[1])
}

/// Every sheet about loads carries every caution.
#[track_caller]
fn has_cautions(ran: &Ran) {
    let flat = ran.text().split_whitespace().collect::<Vec<_>>().join(" ");
    for caution in &CAUTIONS {
        assert!(flat.contains(caution.text), "no {}: {flat}", caution.key);
    }
}

#[test]
fn a_plan_keeps_to_the_iron_at_hand() {
    let hall = Hall::new();
    let call = "load plan --body 75 --squat 100 --bars 20 --plates 10x1,5x1,2.5x1 --dumbbells 8";
    let plan = hall.run(&format!("{call} --json")).json()["plan"].clone();
    assert_eq!(number(&plan["target_kg"]), 40.0);
    assert_eq!(number(&plan["start"]["load_kg"]), 40.0);
    let steps: Vec<f64> = plan["progression"]
        .as_array()
        .expect("steps")
        .iter()
        .map(|step| number(&step["load_kg"]))
        .collect();
    // Quarters of 40 kg: 10 has nothing, 16 are two dumbbells, 20 is the bar.
    assert_eq!(steps, [0.0, 20.0, 30.0, 40.0]);
    assert_eq!(
        plan["cautions"].as_array().map(Vec::len),
        Some(CAUTIONS.len())
    );
    let ran = hall.run(call);
    has_cautions(&ran);
    for wanted in [
        "the coach decides",
        "40.0 kg: the 20 kg bar with 10 on each side",
        "1.33 times",
    ] {
        assert!(ran.out.contains(wanted), "no {wanted:?} in\n{}", ran.out);
    }
}

#[test]
fn a_maximum_is_estimated_both_ways_up_to_ten_repetitions() {
    let hall = Hall::new();
    let strength = |squat: &str| {
        let call = format!("load plan --body 75 --squat-reps {squat} --json");
        hall.run(&call).json()["plan"]["strength"].clone()
    };
    let five = strength("100x5");
    assert!((number(&five["epley_kg"]) - 116.667).abs() < 1e-3);
    assert_eq!(number(&five["brzycki_kg"]), 112.5);
    assert_eq!(number(&five["used_kg"]), 112.5);
    let text = hall.run("load plan --body 75 --squat-reps 100x5");
    let flat = text.text().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("by Epley 116.7 kg, by Brzycki 112.5 kg"),
        "{flat}"
    );
    // The same squat in pounds.
    let pounds = strength("220.4622622lb×5".replace('×', "x").as_str());
    assert!((number(&pounds["used_kg"]) - 112.5).abs() < 1e-5);
    let refused = hall.run("load plan --body 75 --squat-reps 60x11");
    assert!(
        refused
            .refusal()
            .contains("cannot be estimated from 11 repetitions")
    );
}

#[test]
fn open_points_and_loads_beyond_sense_are_named() {
    let hall = Hall::new();
    let call = "load plan --body 75 --squat 70 --age 16 --wish 80 --ready body-weight-squats \
                --not-ready front-squats";
    let ran = hall.run(call);
    let flat = ran.text().split_whitespace().collect::<Vec<_>>().join(" ");
    for wanted in [
        "not met: 10 squats with half of body weight held in front (37.5 kg)",
        "ask: maximum strength trained with 5 or fewer repetitions",
        "a squat of one's own body weight",
        "80.0 kg is 114 % of the squat maximum",
        "80.0 kg is more than the athlete weighs",
        "under 18",
        "say what the gym has with --bars",
    ] {
        assert!(flat.contains(wanted), "no {wanted:?} in\n{}", ran.out);
    }
    assert!(!flat.contains("20 comfortable body-weight squats"));
    for (call, told) in [
        (
            "load plan --body 7 --squat 70",
            "body mass of 7 kg is outside 20 to 300",
        ),
        (
            "load plan --body 70 --squat 7000",
            "squat maximum of 7000 kg is outside",
        ),
        (
            "load plan --body 70 --squat 100 --plates 20",
            "\"20\" is no mass with a number",
        ),
        (
            "load plan --body heavy --squat 100",
            "write a mass such as 62",
        ),
        ("load plan --body 70", "--squat"),
    ] {
        let ran = hall.run(call);
        assert!(ran.refusal().contains(told), "{call}: {}", ran.err);
    }
}

#[test]
fn a_known_line_lies_in_the_intervals() {
    let hall = Hall::new();
    let table = HEADER.to_owned() + &session("2026-03-02", &LOADS, 0.0, 1);
    hall.write("mia.csv", &table);
    let call = "load series mia.csv --body 75 --push-off 40 --athlete Mia";
    let document = hall.run(&format!("{call} --json")).json();
    let series = &document["series"];
    for (point, load) in series["points"]
        .as_array()
        .expect("points")
        .iter()
        .zip(LOADS)
    {
        assert_eq!(number(&point["load_kg"]), load);
        assert!(holds(&point["mean_height_m"], height_m(load)), "{point}");
        if load > 0.0 {
            let kept = height_m(load) / height_m(0.0);
            assert!(holds(&point["share_kept"], kept), "{point}");
        }
    }
    let line = &series["profile"];
    assert!(
        holds(&line["f0_n"], F0_N) && holds(&line["v0_m_s"], V0_M_S),
        "{line}"
    );
    assert!(holds(&line["pmax_w"], F0_N * V0_M_S / 4.0), "{line}");
    // The band at the ends is the interval of F0, and holds the line between.
    let band = line["band"].as_array().expect("a band");
    assert_eq!(band[0]["force_n"], line["f0_n"]);
    for place in band {
        let force = F0_N * (1.0 - number(&place["velocity_m_s"]) / V0_M_S);
        assert!(holds(&place["force_n"], force), "{place}");
    }
    assert_eq!(document["athlete"], "Mia");
    assert_eq!(
        document["cautions"].as_array().map(Vec::len),
        Some(CAUTIONS.len())
    );
    assert_eq!(document["peak_power"], Value::Array(Vec::new()));
    let ran = hall.run(call);
    has_cautions(&ran);
    let flat = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for wanted in [
        "All beyond is extrapolated",
        "Lindberg and others 2021",
        "nobody is given a label",
    ] {
        assert!(flat.contains(wanted), "no {wanted:?} in\n{}", ran.out);
    }
    assert!(!flat.contains("deficit") && !flat.contains("Peak power"));
}

#[test]
fn change_since_last_time_is_told_from_scatter() {
    let hall = Hall::new();
    let table = HEADER.to_owned()
        + &session("2026-03-30", &LOADS, 0.050, 3)
        + &session("2026-03-02", &LOADS, 0.0, 2);
    hall.write("mia.csv", &table);
    let call = "load series mia.csv --body 75 --json";
    let document = hall.run(call).json();
    assert_eq!(document["date"], "2026-03-30");
    assert_eq!(document["since"]["date"], "2026-03-02");
    let changes = document["since"]["changes"]
        .as_array()
        .expect("changes")
        .clone();
    assert_eq!(changes.len(), LOADS.len());
    // Of five 95 % intervals one may well miss the truth.
    let held = changes.iter().filter(|c| holds(&c["height_m"], 0.050));
    assert!(held.count() >= 4, "{changes:?}");
    assert!(changes.iter().all(|c| c["beyond_scatter"] == true));
    let earlier = hall.run(&format!("{call} --date 2026-03-02")).json();
    assert!(earlier["since"].is_null());
    let missing = hall.run(&format!("{call} --since 2026-01-01"));
    assert!(missing.refusal().contains("no such session on 2026-01-01"));
    assert!(
        hall.run("load series mia.csv --body 75")
            .text()
            .contains("Change since 2026-03-02")
    );
}

#[test]
fn weak_series_say_so() {
    let hall = Hall::new();
    hall.write(
        "narrow.csv",
        &(HEADER.to_owned() + &session("2026-03-02", &[0.0, 5.0], 0.0, 4)),
    );
    let ran = hall.run("load series narrow.csv --body 75 --push-off 40 --push-off-guessed");
    let flat = ran.text().split_whitespace().collect::<Vec<_>>().join(" ");
    for wanted in [
        "2 loads make no curve",
        "the loads span only 5.0 kg",
        "the push-off distance is stated, not measured",
        "three loads at least make a line",
    ] {
        assert!(flat.contains(wanted), "no {wanted:?} in\n{}", ran.out);
    }
    hall.write(
        "heavy.csv",
        "load_kg,height_cm,u_cm\n0,35,0.3\n0,36,0.3\n80,9,0.3\n80,10,0.3\n",
    );
    let ran = hall.run("load series heavy.csv --body 75 --squat 100");
    let flat = ran.text().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("80.0 kg is 80 % of the squat maximum"),
        "{flat}"
    );
    assert!(
        flat.contains("80.0 kg is more than the athlete weighs"),
        "{flat}"
    );
}

#[test]
fn tables_that_cannot_be_used_are_named() {
    let hall = Hall::new();
    hall.write("no_u.csv", "load_kg,height_cm\n0,35\n20,28\n");
    hall.write(
        "two.csv",
        "athlete,load_kg,height_cm,u_cm\nMia,0,30,0.2\nBo,0,40,0.2\n",
    );
    hall.write("unit.csv", "load_kg,height_cm,u_cm\n0,0.35,0.2\n");
    hall.write("none.csv", "kg,cm\n0,35\n");
    for (call, told) in [
        (
            "load series no_u.csv --body 75",
            "line 2: nothing in the column u_cm",
        ),
        (
            "load series no_u.csv --u-cm 0.2",
            "the body mass is not known",
        ),
        ("load series two.csv --body 75", "holds jumps of 2 athletes"),
        (
            "load series two.csv --body 75 --athlete Ida",
            "holds no jump of Ida",
        ),
        ("load series unit.csv --body 75", "jump height of 0.0034"),
        (
            "load series none.csv --body 75",
            "has no column load_kg or load_lb",
        ),
        ("load series --body 75", "whose jumps is not said"),
        ("load series --athlete Mia", "there is no log"),
        (
            "load drops none.csv --fps 240",
            "has no column drop_cm or drop_in",
        ),
        (
            "load series two.csv --body 75 --push-off far",
            "write a length such as 38",
        ),
    ] {
        let ran = hall.run(call);
        assert!(ran.refusal().contains(told), "{call}: {}", ran.err);
    }
    assert_eq!(
        hall.run("load series no_u.csv --u-cm 0.2 --body 75").code,
        0
    );
}

#[test]
fn peak_power_comes_on_request_with_its_people_and_errors() {
    let hall = Hall::new();
    hall.write("mia.csv", "load_kg,height_cm,u_cm\n0,60,0.2\n20,48,0.2\n");
    let call = "load series mia.csv --body 75 --peak-power";
    let all = hall.run(&format!("{call} --json")).json()["peak_power"].clone();
    let power = |key: &str| {
        let mut found = all.as_array().expect("a list").iter();
        let one = found.find(|p| p["regression"]["key"] == key);
        number(&one.expect("the regression")["power_w"])
    };
    // 60 cm and 75 kg: Sayers and others 1999, Harman 1991 with Sayers' sign,
    // Amonette and others 2012; the digits are arithmetic.
    assert!((power("sayers_1999") - 4984.5).abs() < 1e-6);
    assert!((power("harman_1991") - 4592.0).abs() < 1e-6);
    assert!((power("amonette_2012") - 5172.0).abs() < 1e-6);
    let ran = hall.run(call);
    let flat = ran.text().split_whitespace().collect::<Vec<_>>().join(" ");
    for wanted in [
        "5172 W (standard error 250.7 W",
        "108 college-age men and women",
        "in watts",
    ] {
        assert!(flat.contains(wanted), "no {wanted:?} in\n{}", ran.out);
    }
}

/// Who asks for inches reads no centimetre and no kilogram, but for units of papers.
#[test]
fn inches_and_pounds_go_all_the_way() {
    let hall = Hall::new();
    hall.write(
        "mia.csv",
        &(HEADER.to_owned() + &session("2026-03-02", &[0.0, 80.0], 0.0, 4)),
    );
    let series = "load series mia.csv --body 165lb --push-off 16in --squat 220lb --units in";
    let plan = "load plan --body 165lb --squat 200lb --wish 180lb --units in";
    for (call, wanted) in [
        (series, "176.4 lb is 80 % of the squat"),
        (plan, "180.0 lb is 90 %"),
    ] {
        let ran = hall.run(call);
        let flat = ran.text().split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(wanted), "no {wanted:?} in\n{}", ran.out);
        assert!(!flat.contains(" cm"), "{}", ran.out);
        // The set of iron that is taken for granted is metric iron.
        let without_iron = flat.replace("a 20 kg bar, pairs of 1.25 to 20 kg plates", "");
        assert!(!without_iron.contains(" kg"), "{}", ran.out);
    }
}

/// A log may hold the push-off distance, so it is no argument that has to be there; without
/// it there is no line.
#[test]
fn a_line_without_a_push_off_distance_is_refused() {
    let hall = Hall::new();
    hall.write(
        "mia.csv",
        &(HEADER.to_owned() + &session("2026-03-02", &LOADS, 0.0, 1)),
    );
    let ran = hall.run("load series mia.csv --athlete Mia --body 75 --plot-line fv.svg");
    assert!(ran.refusal().contains("--push-off 38"), "{}", ran.err);
}

#[test]
fn plots_name_their_axes() {
    let hall = Hall::new();
    let table = HEADER.to_owned()
        + &session("2026-03-02", &LOADS, 0.0, 1)
        + &session("2026-03-30", &LOADS, 0.01, 2);
    hall.write("mia.csv", &table);
    let ran = hall.run(
        "load series mia.csv --athlete Mia --body 75 --push-off 40 --plot h.svg --plot-line fv.svg",
    );
    assert_eq!(ran.code, 0, "{}", ran.err);
    let heights = hall.read("h.svg");
    for label in [
        "jump height (cm)",
        "load beyond the body (kg)",
        "2026-03-02",
        "Mia, 2026-03-30",
    ] {
        assert!(heights.contains(label), "no {label:?}");
    }
    let line = hall.read("fv.svg");
    for label in [
        "mean force of the push-off (N)",
        "extrapolated",
        "95 % interval of the line",
    ] {
        assert!(line.contains(label), "no {label:?}");
    }
    let ran = hall.run("load series mia.csv --body 75 --units in --plot h.png");
    assert_eq!(ran.code, 0, "{}", ran.err);
    let png = std::fs::read(hall.path("h.png")).expect("a plot");
    let picture = image::load_from_memory(&png).expect("a PNG");
    assert_eq!((picture.width(), picture.height()), (1920, 960));
}

/// Contacts and flights of a made-up athlete who rebounds best from 40 cm.
fn drops() -> String {
    let mut draws = Draws(5);
    let mut rows = "drop_cm,contact_ms,flight_ms\n".to_owned();
    for (drop, contact, flight) in [(20, 200.0, 440.0), (40, 205.0, 520.0), (60, 270.0, 500.0)] {
        for _ in 0..4 {
            let contact = contact + 4.0 * draws.normal();
            let flight = flight + 5.0 * draws.normal();
            writeln!(rows, "{drop},{contact:.0},{flight:.0}").expect("a text");
        }
    }
    rows
}

#[test]
fn the_best_drop_height_is_found() {
    let hall = Hall::new();
    hall.write("drops.csv", &drops());
    let call = "load drops drops.csv --fps 240";
    let document = hall.run(&format!("{call} --json --plot d.svg")).json();
    let reactive = &document["reactive"];
    assert_eq!(number(&reactive["best_m"]), 0.40);
    assert_eq!(reactive["standing_m"], serde_json::json!([0.40]));
    let truth = G * 0.520 * 0.520 / 8.0 / 0.205;
    assert!(
        holds(&reactive["points"][1]["index_m_s"], truth),
        "{reactive}"
    );
    assert_eq!(reactive["points"][1]["fast"], true);
    assert_eq!(reactive["points"][2]["fast"], false);
    assert!(
        hall.read("d.svg")
            .contains("height over contact time (m/s)")
    );
    let ran = hall.run(call);
    has_cautions(&ran);
    assert!(ran.out.contains("The best height is 40 cm"), "{}", ran.out);
    let refused = hall.run("load drops drops.csv");
    assert!(refused.refusal().contains("nothing in the column u_ms"));
}

/// The made-up squad lost 1.25 % of the height with each kilogram.
#[test]
fn a_squads_loaded_session_comes_from_the_log() {
    let hall = Hall::new();
    log_squad(&hall);
    // The program's words are split at spaces here; the whole name has one.
    let ran = assert_cmd::Command::cargo_bin("underfoot")
        .expect("the program")
        .args([
            "load",
            "series",
            "--json",
            "--athlete",
            PLAYERS[0].name,
            "--log",
        ])
        .arg(hall.path("log.sqlite"))
        .output()
        .expect("it runs");
    let told = String::from_utf8_lossy(&ran.stderr).into_owned();
    assert_eq!(ran.status.code(), Some(0), "{told}");
    let document: Value = serde_json::from_slice(&ran.stdout).expect("a document");
    assert_eq!(
        number(&document["input"]["body_mass_kg"]),
        PLAYERS[0].mass_kg
    );
    let points = document["series"]["points"]
        .as_array()
        .expect("points")
        .clone();
    assert_eq!(points.len(), 4);
    for point in points.iter().skip(1) {
        let kept = 1.0 - 0.0125 * number(&point["load_kg"]);
        assert!(holds(&point["share_kept"], kept), "{point}");
    }
}

/// The club's youngest players are minors, and the log knows.
#[test]
fn a_plan_takes_mass_and_age_from_the_log() {
    let hall = Hall::new();
    for words in ["add Mia --birth-year 2015 --mass-kg 50", "add Bo"] {
        let ran = hall.run(&format!("log athlete {words}"));
        assert_eq!(ran.code, 0, "{}", ran.err);
    }
    let document = hall.run("load plan --athlete Mia --squat 60 --json").json();
    assert_eq!(number(&document["input"]["body_mass_kg"]), 50.0);
    let warnings = document["plan"]["warnings"].as_array().expect("a list");
    assert!(warnings.iter().any(|w| w == "minor"), "{warnings:?}");
    let unknown = hall.run("load plan --athlete Bo --squat 60");
    assert!(unknown.refusal().contains("no body mass of Bo"));
}

/// Cautions come before the first loaded jumps of an athlete, once.
#[test]
fn the_first_loaded_jumps_come_with_cautions() {
    let hall = Hall::new();
    assert_eq!(hall.run("log athlete add Mia").code, 0);
    let clip = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/sample-clips-synthetic/cmj_120.mp4"
    );
    let call = format!(
        "measure {clip} --no-keep --floor 289,301,62,26 --athlete Mia --load-kg 20 \
         --date 2026-03-02"
    );
    let first = hall.run(&call);
    assert_eq!(first.code, 0, "{}", first.err);
    assert!(first.err.contains(CAUTIONS[9].text), "{}", first.err);
    let second = hall.run(&call);
    assert!(!second.err.contains("medical"), "{}", second.err);
}

#[test]
fn an_empty_log_says_what_is_missing() {
    let hall = Hall::new();
    for words in [
        "log athlete add Mia",
        "load series --athlete Mia",
        "load drops --athlete Mia",
    ] {
        let ran = hall.run(words);
        if words.starts_with("load") {
            assert!(ran.refusal().contains("the log holds no"), "{}", ran.err);
        }
    }
}

#[test]
fn the_texts_read_like_this() {
    let hall = Hall::new();
    let gym = "--bars 20 --plates 10x1,5x2,2.5x1 --ready body-weight-squats";
    let plan = hall.run(&format!("load plan --body 62 --squat-reps 75x5 {gym}"));
    insta::assert_snapshot!("load_plan", plan.text());
    let table = HEADER.to_owned()
        + &session("2026-03-02", &LOADS, 0.0, 1)
        + &session("2026-03-30", &LOADS, 0.01, 2);
    hall.write("mia.csv", &table);
    let series = hall.run("load series mia.csv --athlete Mia --body 75 --push-off 40");
    insta::assert_snapshot!("load_series", series.text());
    hall.write("drops.csv", &drops());
    let drops = hall.run("load drops drops.csv --fps 240 --athlete Mia");
    insta::assert_snapshot!("load_drops", drops.text());
}

/// `UNDERFOOT_PLOTS=docs/img cargo test --test load_cli -- --ignored` draws the
/// pictures of the page on loads.
#[test]
#[ignore = "writes pictures for the documentation"]
fn the_pictures_of_the_documentation() {
    let hall = Hall::new();
    let table = HEADER.to_owned()
        + &session("2026-03-02", &LOADS, 0.0, 1)
        + &session("2026-03-30", &LOADS, 0.01, 2);
    hall.write("mia.csv", &table);
    let call = "load series mia.csv --athlete Mia --body 75 --push-off 40";
    let ran = hall.run(&format!("{call} --plot loads.svg --plot-line force.svg"));
    assert_eq!(ran.code, 0, "{}", ran.err);
    let folder = std::env::var("UNDERFOOT_PLOTS").expect("UNDERFOOT_PLOTS=folder");
    for name in ["loads.svg", "force.svg"] {
        let to = std::path::Path::new(&folder).join(name);
        std::fs::write(to, hall.read(name)).expect("room");
    }
}

#[test]
fn each_help_has_an_example() {
    let hall = Hall::new();
    for (call, example) in [
        (
            "load plan",
            "underfoot load plan --body 62 --squat-reps 75x5",
        ),
        ("load series", "underfoot load series mia.csv --body 62"),
        ("load drops", "underfoot load drops drops.csv --fps 240"),
    ] {
        let help = hall.run(&format!("{call} --help"));
        assert_eq!(help.code, 0);
        assert!(help.out.contains(example), "{}", help.out);
    }
}
