//! `crosscheck` as a whole: simulated mats, whose fault is known, go in as files and
//! come out as verdicts.

#[path = "support/club.rs"]
mod club;
#[path = "support/draws.rs"]
mod draws;

use club::{G, Hall, film_line, log_squad, mat_day};
use draws::Draws;
use serde_json::Value;
use underfoot::synth::squad::{MAT_ADDS_S, PLAYERS, squad_jumps};

/// What a simulated mat shows for a true flight time, in seconds or metres.
#[derive(Clone, Copy)]
enum Mat {
    /// Nothing wrong.
    Good,
    /// Late by a constant.
    Delay(f64),
    /// The switch needs a load, and the landing's force rises with its speed.
    Threshold,
    /// Shows heights, and its formula adds a constant.
    AddsHeight(f64),
    /// Shows heights by a formula that is too large by this factor.
    WrongFactor(f64),
}

impl Mat {
    /// Column and number of one reading.
    fn shows(self, true_s: f64, noise_s: f64) -> (&'static str, String) {
        let time = |t: f64| ("time_ms", format!("{:.0}", 1000.0 * (t + noise_s)));
        let height = |of: &dyn Fn(f64) -> f64| {
            let t = true_s + noise_s;
            ("height_cm", format!("{:.1}", 100.0 * of(G * t * t / 8.0)))
        };
        match self {
            Mat::Good => time(true_s),
            Mat::Delay(a) => time(true_s + a),
            Mat::Threshold => time(true_s + 0.010 + 0.030 / (G * true_s / 2.0)),
            Mat::AddsHeight(c) => height(&|h| h + c),
            Mat::WrongFactor(k) => height(&|h| k * h),
        }
    }
}

/// Forty jumps of eight players, 15 to 50 cm, at 240 frames a second.
fn evening(hall: &Hall, mat: Mat, seed: u64) {
    let mut draws = Draws(seed);
    let frame = 1.0 / 240.0;
    let (mut film, mut readings) = (String::new(), String::new());
    for number in 0..40u32 {
        let truth = 0.35 + 0.29 * f64::from(number % 10) / 9.0 + 0.004 * draws.normal();
        let clip = format!("clips/jump{number:02}.mp4");
        film += &film_line(&clip, truth + frame * (draws.unit() - draws.unit()), frame);
        let (column, shown) = mat.shows(truth, 0.003 * draws.normal());
        if readings.is_empty() {
            readings = format!("clip,athlete,{column}\n");
        }
        readings += &format!("jump{number:02}.mp4,player {},{shown}\n", number % 8);
    }
    hall.write("film.jsonl", &film);
    hall.write("mat.csv", &readings);
}

fn checked(mat: Mat, seed: u64) -> (Hall, Value) {
    let hall = Hall::new();
    evening(&hall, mat, seed);
    let ran = hall.run("crosscheck film.jsonl --readings mat.csv --json");
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    let document = ran.json();
    (hall, document)
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("no number: {value}"))
}

fn close(got: &Value, expected: f64, tolerance: f64) {
    let got = number(got);
    assert!(
        (got - expected).abs() <= tolerance,
        "got {got}, expected {expected} within {tolerance}"
    );
}

#[test]
fn a_late_mat_is_recovered() {
    let (_, document) = checked(Mat::Delay(0.025), 3);
    assert_eq!(document["schema"], 1);
    assert_eq!(document["weighing"]["verdict"]["told"], "constant_delay");
    close(&document["correction"]["curve"]["delay_s"], 0.025, 0.0015);
    close(
        &document["flight_time_s"]["mean_difference"]["value"],
        0.025,
        0.0015,
    );
    let alone = &document["flight_time_s"]["mat_alone"]["sd"];
    // The mat scatters by 3 ms and rounds to 1 ms; the interval holds it.
    let ends = &alone["interval95"];
    assert!(
        number(&ends[0]) < 0.003 && number(&ends[1]) > 0.003,
        "{alone}"
    );
    assert_eq!(document["flight_time_s"]["athletes"], 8);
    assert_eq!(document["jumps"].as_array().map(Vec::len), Some(40));
    assert_eq!(document["jumps"][0]["inside"], false);
}

#[test]
fn a_threshold_is_never_called_a_wrong_clock() {
    let (_, document) = checked(Mat::Threshold, 11);
    assert_ne!(document["weighing"]["verdict"]["told"], "proportional");
    let mean = &document["flight_time_s"]["mean_difference"];
    assert!(number(&mean["interval95"][0]) > 0.010, "{mean}");
    // Whatever it is called, the correction brings the readings back.
    assert!(document["correction"].is_object());
}

#[test]
fn wrong_formulas_are_recovered_from_heights() {
    let (_, document) = checked(Mat::AddsHeight(0.06), 21);
    assert_eq!(document["weighing"]["verdict"]["told"], "added_height");
    let added = number(&document["correction"]["curve"]["added_s2"]) * G / 8.0;
    assert!((added - 0.06).abs() < 0.004, "{added}");
    let (hall, document) = checked(Mat::WrongFactor(0.90), 22);
    assert_eq!(document["weighing"]["verdict"]["told"], "proportional");
    close(
        &document["correction"]["curve"]["factor"],
        0.90f64.sqrt(),
        0.005,
    );
    let text = hall.run("crosscheck film.jsonl --readings mat.csv");
    assert!(text.text().contains("All three lines show a growth"));
}

#[test]
fn a_stated_formula_is_undone() {
    let hall = Hall::new();
    evening(&hall, Mat::AddsHeight(0.06), 21);
    let call = "crosscheck film.jsonl --readings mat.csv --mat-adds-cm 6 --json";
    let document = hall.run(call).json();
    assert_eq!(document["weighing"]["verdict"], "no_pattern");
    // The heights that the mat shows are still 6 cm too high.
    close(
        &document["height_m"]["mean_difference"]["value"],
        0.06,
        0.004,
    );
}

#[test]
fn a_good_mat_is_left_alone() {
    let (hall, document) = checked(Mat::Good, 31);
    assert_eq!(document["weighing"]["verdict"], "no_pattern");
    assert!(document["correction"].is_null());
    let text = hall.run("crosscheck film.jsonl --readings mat.csv");
    assert!(text.text().contains("leave the mat's readings as they are"));
    hall.write("check.json", &document.to_string());
    let refused = hall.run("crosscheck --apply --check check.json --mat-ms 512");
    assert!(refused.refusal().contains("carries no correction"));
}

#[test]
fn later_readings_are_shown_corrected_and_marked() {
    let (hall, document) = checked(Mat::Delay(0.025), 3);
    hall.write("check.json", &document.to_string());
    let call = "crosscheck --apply --check check.json --mat-ms 400,530,-,900";
    let ran = hall.run(call);
    let text = ran.text();
    for wanted in [" ms*", " cm*", "outside the range", "* corrected"] {
        assert!(text.contains(wanted), "no {wanted:?} in\n{text}");
    }
    let document = hall.run(&format!("{call} --json")).json();
    let readings = document["readings"].as_array().expect("a list").clone();
    assert_eq!(readings.len(), 3);
    close(&readings[0]["corrected_s"], 0.375, 0.0015);
    assert_eq!(readings[0]["is_corrected"], true);
    assert_eq!(readings[2]["is_corrected"], false);
    assert!(readings[2]["corrected_s"].is_null());
    close(&readings[2]["shown_s"], 0.900, 1e-12);
}

#[test]
fn typed_readings_follow_the_order_of_the_clips() {
    let hall = Hall::new();
    let film: String = [0.40, 0.45, 0.50, 0.55]
        .iter()
        .enumerate()
        .map(|(n, t)| film_line(&format!("c{n}.mp4"), *t, 1.0 / 240.0))
        .collect();
    hall.write("film.jsonl", &film);
    let call = "crosscheck film.jsonl --athlete Mia --mat-ms";
    let ran = hall.run(&format!("{call} 410,-,512,561"));
    assert!(
        ran.text().contains("Over 3 jumps of one athlete"),
        "{}",
        ran.out
    );
    assert_eq!(
        ran.err,
        "left out: c1.mp4, jump 1: the mat showed nothing\n"
    );
    assert!(ran.out.contains("Mia"));
    let nameless = hall.run("crosscheck film.jsonl --mat-ms 410,460,512,561");
    assert!(
        nameless.err.contains("count as one athlete's"),
        "{}",
        nameless.err
    );
    let from_pipe = hall.run_with("crosscheck - --mat-ms 410,460,512,561 --json", &film);
    assert_eq!(from_pipe.json()["jumps"][3]["order"], 4);
    let short = hall.run(&format!("{call} 410,460,512"));
    assert!(
        short
            .refusal()
            .contains("3 readings of the mat stand against 4 jumps")
    );
    let few = hall.run(&format!("{call} -,-,512,561"));
    assert!(few.refusal().contains("2 paired jumps, 3 needed"));
    let wrong = hall.run(&format!("{call} 0.410,0.460,0.512,0.561"));
    assert!(
        wrong
            .refusal()
            .contains("check the typed reading and its unit")
    );
}

#[test]
fn what_cannot_be_used_is_named() {
    let hall = Hall::new();
    evening(&hall, Mat::Good, 1);
    hall.write("odd.csv", "clip,time\nj.mp4,512\n");
    hall.write("bad.csv", "clip,time_ms\njump01.mp4,512\njump02.mp4,5l2\n");
    hall.write("other.jsonl", "{\"schema\":1}\n");
    for (call, told) in [
        ("crosscheck film.jsonl", "what the mat showed is missing"),
        (
            "crosscheck film.jsonl --readings odd.csv",
            "no column time_ms or height_cm",
        ),
        (
            "crosscheck film.jsonl --readings bad.csv",
            "line 3: \"5l2\" in the column time_ms",
        ),
        (
            "crosscheck film.jsonl --readings none.csv",
            "none.csv cannot be read",
        ),
        (
            "crosscheck other.jsonl --readings mat.csv",
            "other.jsonl, line 1",
        ),
        (
            "crosscheck film.jsonl --readings mat.csv --width-ms 0",
            "--width-ms cannot be 0",
        ),
        (
            "crosscheck film.jsonl --readings mat.csv --plot p.gif",
            "what kind of plot",
        ),
        (
            "crosscheck film.jsonl --readings mat.csv --mat-gravity 98",
            "--mat-gravity",
        ),
        ("crosscheck --readings mat.csv", "there is no log at"),
        ("crosscheck --apply --mat-ms 500", "there is no log at"),
    ] {
        let ran = hall.run(call);
        assert!(ran.refusal().contains(told), "{call}: {}", ran.err);
    }
    // Nothing was made on the way.
    assert!(!hall.path("log.sqlite").exists());
}

#[test]
fn narrower_intervals_take_more_jumps() {
    let hall = Hall::new();
    evening(&hall, Mat::Delay(0.02), 5);
    let needed = |width: &str| {
        let call = format!("crosscheck film.jsonl --readings mat.csv --json --width-ms {width}");
        number(&hall.run(&call).json()["jumps_needed"]["for_limits"])
    };
    // Half the width takes four times the jumps, as the root of n has it.
    let ratio = needed("0.5") / needed("1");
    assert!((3.7..4.3).contains(&ratio), "{ratio}");
    let call = "crosscheck film.jsonl --readings mat.csv --width-ms 0.5";
    assert!(hall.run(call).text().contains("For intervals of ± 0.5 ms"));
}

#[test]
fn inches_go_all_the_way() {
    let hall = Hall::new();
    evening(&hall, Mat::AddsHeight(0.06), 21);
    let ran = hall.run("crosscheck film.jsonl --readings mat.csv --units in");
    let flat = ran.text().split_whitespace().collect::<Vec<_>>().join(" ");
    // 6 cm are 2.4 in.
    assert!(flat.contains("take +2.4 in off the height"), "{flat}");
    let (_, figures) = flat.split_once("Over 40 jumps").expect("the words");
    assert!(!figures.contains(" cm"), "{flat}");
}

#[test]
fn the_older_rule_widens_the_limits() {
    let hall = Hall::new();
    evening(&hall, Mat::Delay(0.02), 5);
    let width = |rule: &str| {
        let call = format!("crosscheck film.jsonl --readings mat.csv --json --limits {rule}");
        let time = hall.run(&call).json()["flight_time_s"].clone();
        number(&time["upper_limit"]["value"]) - number(&time["lower_limit"]["value"])
    };
    let ratio = width("1986") / width("1999");
    assert!((ratio - 2.0 / 1.96).abs() < 1e-9, "{ratio}");
}

#[test]
fn a_coarse_clock_is_warned_of() {
    let hall = Hall::new();
    let mut draws = Draws(9);
    let (mut film, mut shown) = (String::new(), Vec::new());
    for number in 0..20 {
        let truth = 0.40 + 0.2 * draws.unit();
        film += &film_line(&format!("c{number}.mp4"), truth, 1.0 / 240.0);
        shown.push(format!("{:.0}", 10.0 * (100.0 * truth).round()));
    }
    hall.write("film.jsonl", &film);
    let ran = hall.run(&format!(
        "crosscheck film.jsonl --mat-ms {}",
        shown.join(",")
    ));
    let flat = ran.text().replace('\n', " ");
    assert!(flat.contains("times cluster in steps of 10.0 ms"), "{flat}");
}

#[test]
fn the_plot_shows_mean_and_limits() {
    let hall = Hall::new();
    evening(&hall, Mat::Delay(0.025), 3);
    let call = "crosscheck film.jsonl --readings mat.csv --plot agreement.svg --json";
    let document = hall.run(call).json();
    let svg = hall.read("agreement.svg");
    for (name, key) in [
        ("upper limit", "upper_limit"),
        ("mean", "mean_difference"),
        ("lower limit", "lower_limit"),
    ] {
        let value = 1000.0 * number(&document["flight_time_s"][key]["value"]);
        let label = format!("{name} +{value:.1} ms");
        assert!(svg.contains(&label), "no {label:?}");
    }
    assert!(svg.contains("mat minus film (ms)") && svg.contains("jumps of 8 athletes"));
    // Written over an own plot, never over another file.
    assert_eq!(hall.run(call).code, 0);
    hall.write("agreement.svg", "my notes");
    assert!(hall.run(call).refusal().contains("left alone"));
    assert_eq!(hall.read("agreement.svg"), "my notes");
}

/// The made-up squad: the log's own readings, compared and then corrected.
#[test]
fn a_squads_log_is_compared_saved_and_corrected() {
    let hall = Hall::new();
    let log = log_squad(&hall);
    let ran = hall.run("crosscheck");
    let text = ran.text().replace('\n', " ");
    assert!(
        text.contains("the mat reads longer than the film"),
        "{text}"
    );
    assert!(ran.err.contains("Kept in the log"), "{}", ran.err);
    let document = hall.run("crosscheck --json --no-save").json();
    // Nobody can film a true difference; it lies in the interval.
    let mean = &document["flight_time_s"]["mean_difference"]["interval95"];
    assert!(
        number(&mean[0]) < MAT_ADDS_S && MAT_ADDS_S < number(&mean[1]),
        "{mean}"
    );
    let on_mat = squad_jumps();
    let counted = on_mat
        .iter()
        .filter(|jump| jump.mat_flight_s.is_some() && !jump.spoilt);
    let jumps = document["flight_time_s"]["jumps"].as_u64();
    assert_eq!(jumps, Some(counted.count() as u64));
    let saved = log.all_saved("correction").expect("a readable log");
    assert_eq!(saved.len(), 1);
    assert_eq!(saved[0].date, mat_day());
    assert!(!saved[0].content.contains(PLAYERS[0].name));
    // All jumps were about equally high: a delay is among what may be, nothing more.
    let standing = &document["weighing"]["verdict"]["not_told_apart"];
    assert!(
        standing.to_string().contains("constant_delay"),
        "{standing}"
    );
    let refused = hall.run("crosscheck --apply");
    assert!(refused.refusal().contains("carries no correction"));
    let unknown = hall.run("crosscheck --athlete Nobody");
    assert!(unknown.refusal().contains("no athlete is called"));
}

/// A comparison of files, kept in the log under the mat's name, corrects what is
/// read later; another mat is not touched by it.
#[test]
fn a_kept_comparison_corrects_its_own_mat_only() {
    let hall = Hall::new();
    evening(&hall, Mat::Delay(0.025), 3);
    let ran = hall.run("crosscheck film.jsonl --readings mat.csv --save --mat blue");
    assert!(ran.text().contains("constant switching delay"));
    let call = "crosscheck --apply --mat-ms 500 --json";
    let reading = hall.run(&format!("{call} --mat blue")).json()["readings"][0].clone();
    close(&reading["corrected_s"], 0.475, 0.0015);
    let other = hall.run(&format!("{call} --mat red"));
    assert!(other.refusal().contains("no comparison of the mat \"red\""));
    let log = underfoot::log::Log::open_read_only(&hall.path("log.sqlite")).expect("a log");
    for kind in ["crosscheck", "correction"] {
        let saved = log
            .saved(kind, "blue")
            .expect("a readable log")
            .expect("kept");
        let content: Value = serde_json::from_str(&saved.content).expect("JSON");
        assert_eq!((saved.version, content["schema"].as_u64()), (1, Some(1)));
    }
}

/// Two mats err in two ways, so their readings are never thrown together; what is
/// kept of one goes by its name, with or without the option.
#[test]
fn mats_of_a_log_are_told_apart() {
    let hall = Hall::new();
    assert_eq!(hall.run("log athlete add Mia").code, 0);
    let enter = |mat: &str, ms: &str| {
        let call =
            format!("log mat add --athlete Mia --date 2026-03-02 --mat {mat} --time-ms {ms}");
        let ran = hall.run(&call);
        assert_eq!(ran.code, 0, "{}", ran.err);
    };
    enter("blue", "500 510");
    evening(&hall, Mat::Delay(0.025), 3);
    let ran = hall.run("crosscheck film.jsonl --readings mat.csv --save --mat blue");
    assert_eq!(ran.code, 0, "{}", ran.err);
    let corrected = hall.run("crosscheck --apply --json").json();
    close(&corrected["readings"][0]["corrected_s"], 0.475, 0.0015);
    enter("red", "520");
    let both = hall.run("crosscheck --apply");
    assert!(both.refusal().contains("--mat: \"blue\", \"red\""));
    let red = hall.run("crosscheck --apply --mat red");
    assert!(red.refusal().contains("no comparison of the mat \"red\""));
    assert_eq!(hall.run("crosscheck --apply --mat blue").code, 0);
}

#[test]
fn the_text_reads_like_this() {
    let hall = Hall::new();
    evening(&hall, Mat::Delay(0.025), 3);
    let ran = hall.run("crosscheck film.jsonl --readings mat.csv");
    insta::assert_snapshot!("crosscheck_text", ran.text());
}

/// `UNDERFOOT_PLOTS=docs/img cargo test --test mat_cli -- --ignored` draws the
/// picture of the page on mats.
#[test]
#[ignore = "writes a picture for the documentation"]
fn the_picture_of_the_documentation() {
    let hall = Hall::new();
    evening(&hall, Mat::Delay(0.025), 3);
    let ran = hall.run("crosscheck film.jsonl --readings mat.csv --plot agreement.svg");
    assert_eq!(ran.code, 0, "{}", ran.err);
    let folder = std::env::var("UNDERFOOT_PLOTS").expect("UNDERFOOT_PLOTS=folder");
    let to = std::path::Path::new(&folder).join("agreement.svg");
    std::fs::write(to, hall.read("agreement.svg")).expect("room");
}

#[test]
fn help_has_an_example_that_runs() {
    let hall = Hall::new();
    let help = hall.run("crosscheck --help");
    assert_eq!(help.code, 0);
    let example = "underfoot crosscheck film.jsonl --readings mat.csv --plot agreement.svg";
    assert!(help.out.contains(example), "{}", help.out);
    evening(&hall, Mat::Good, 1);
    let words = example.trim_start_matches("underfoot ");
    assert_eq!(hall.run(words).code, 0);
}
