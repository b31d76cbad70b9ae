//! `measure --athlete`: what is kept of a clip, and what a second look does to it.

use jiff::civil::date;
use serde_json::Value;
use underfoot::log::{JumpKind, TrialQuery};

use super::bench::{Ran, floor};
use super::club::Club;
use super::support;

/// Measures a clip of the sample `name` with these arguments.
fn measure(club: &Club, clip: &str, name: &str, more: &[&str]) -> Ran {
    let floor = floor(name);
    let call = [&["measure", clip, "--no-keep", "--floor", &floor], more].concat();
    club.run(&call)
}

const SAMPLE: &str = "cmj_120";

#[test]
fn without_an_athlete_nothing_is_kept() {
    let club = Club::new();
    let clip = club.bench.sample(SAMPLE);
    assert_eq!(measure(&club, &clip, SAMPLE, &[]).code, 0);
    assert!(!club.path().exists());
    let ran = measure(&club, &clip, SAMPLE, &["--kind", "squat"]);
    ran.refused("--athlete");
    let ran = measure(&club, &clip, SAMPLE, &["--log", "log.sqlite"]);
    ran.refused("without an athlete nothing is kept");
}

#[test]
fn nobody_is_made_up_from_a_slip() {
    let club = Club::new();
    let clip = club.bench.sample(SAMPLE);
    let ran = measure(&club, &clip, SAMPLE, &["--athlete", "Mia Vogel"]);
    ran.refused("no athlete is called \"Mia Vogel\"");
    assert!(ran.out.is_empty() && !club.path().exists());
    club.does(&["log", "athlete", "add", "Mia Vogel"]);
    let ran = measure(&club, &clip, SAMPLE, &["--athlete", "Mia Vogle"]);
    ran.refused("Mia Vogle");
    assert!(ran.err.contains("did you mean Mia Vogel?"), "{}", ran.err);
    assert_eq!(club.trials(), 0);
}

#[test]
fn a_measured_jump_is_kept_with_everything_that_was_said_of_it() {
    let club = Club::with(&["Mia Vogel"]);
    let clip = club.bench.sample(SAMPLE);
    let told = [
        "--json",
        "--athlete",
        "mia vogel",
        "--kind",
        "drop",
        "--drop-height-cm",
        "40",
        "--load-kg",
        "7.5",
        "--date",
        "2026-10-03",
        "--note",
        "new shoes",
    ];
    let ran = measure(&club, &clip, SAMPLE, &told);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(
        ran.err
            .contains("logged as trial 1 of Mia Vogel, 2026-10-03 (as stated)"),
        "{}",
        ran.err
    );
    let jump: &Value = &ran.documents()[0]["jumps"][0];
    let trials = club.log().trials(&TrialQuery::default()).unwrap();
    let [trial] = &trials[..] else {
        panic!("{trials:?}")
    };
    let record = &trial.record;
    let number = |key: &str| jump[key].as_f64().unwrap();
    let pair = |key: &str| {
        [
            jump[key][0].as_f64().unwrap(),
            jump[key][1].as_f64().unwrap(),
        ]
    };
    assert_eq!(record.height.best.metres(), number("height_m"));
    assert_eq!(record.height.u.0.metres(), number("height_u_m"));
    let bounds = record.height.bounds.unwrap();
    assert_eq!(
        [bounds.lo().metres(), bounds.hi().metres()],
        pair("height_bounds_m")
    );
    let interval = record.height.interval95.unwrap();
    assert_eq!(
        [interval.lo.metres(), interval.hi.metres()],
        pair("height_interval95_m")
    );
    assert_eq!(
        record.flight_time.unwrap().best.seconds(),
        number("flight_time_s")
    );
    assert_eq!(record.takeoff.unwrap().best.seconds(), number("takeoff_s"));
    let landing = record.landing.unwrap().bounds;
    assert_eq!(
        [landing.lo().seconds(), landing.hi().seconds()],
        pair("landing_bounds_s")
    );
    assert_eq!(
        record.budget.len(),
        jump["budget"].as_array().unwrap().len()
    );
    assert_eq!(record.flags.len(), jump["flags"].as_array().unwrap().len());
    assert_eq!((record.kind, record.load_kg), (JumpKind::Drop, 7.5));
    assert_eq!(record.drop_height.unwrap().metres(), 0.4);
    assert_eq!(
        (record.note.as_str(), trial.date),
        ("new shoes", date(2026, 10, 3))
    );
    let (own, shared) = (record.film_u.0.metres(), record.shared_u.0.metres());
    assert!((own.hypot(shared) - record.height.u.0.metres()).abs() < 1e-12);
    let (kept, number) = trial.clip.as_ref().unwrap();
    assert_eq!((kept.name.as_str(), *number), ("cmj_120.mp4", 1));
    // Its contents are known, not kept: the log is far smaller than the clip.
    assert!(std::fs::metadata(club.path()).unwrap().len() < 400_000);
}

#[test]
fn a_clip_is_known_again_under_any_name() {
    let club = Club::with(&["Mia", "Lena"]);
    let clip = club.bench.sample(SAMPLE);
    let first = [
        "--athlete",
        "Mia",
        "--date",
        "2026-10-03",
        "--kind",
        "squat",
    ];
    measure(&club, &clip, SAMPLE, &first);
    club.does(&["log", "set-aside", "1", "--reason", "heels"]);
    club.bench.sample_as(SAMPLE, "renamed.mov");
    let ran = measure(&club, "renamed.mov", SAMPLE, &["--athlete", "Mia"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(
        ran.err.contains("takes the place of 1 older trial"),
        "{}",
        ran.err
    );
    let trials = club.log().trials(&TrialQuery::default()).unwrap();
    let [trial] = &trials[..] else {
        panic!("{trials:?}")
    };
    assert_eq!((trial.id.0, trial.date), (1, date(2026, 10, 3)));
    assert_eq!(trial.record.kind, JumpKind::Squat);
    assert_eq!(trial.record.set_aside.as_deref(), Some("heels"));
    assert_eq!(trial.clip.as_ref().unwrap().0.name, "renamed.mov");

    let ran = measure(&club, &clip, SAMPLE, &["--athlete", "Lena"]);
    ran.refused("logged for Mia already");
    // The height is shown all the same.
    assert!(ran.out.contains("cm"), "{}", ran.out);
    assert_eq!(club.trials(), 1);
}

#[test]
fn the_day_is_that_of_the_clip_or_of_its_file() {
    let club = Club::with(&["Mia"]);
    let clip = club.bench.sample_as(SAMPLE, "plain.mp4");
    // Noon keeps the day in most time zones; the program is told to use UTC.
    let tagged = "-metadata creation_time=2026-05-04T12:00:00Z -c copy";
    support::remake(&clip, "tagged.mp4", "", tagged);
    let file = std::fs::File::open(&clip).unwrap();
    let noon: jiff::Timestamp = "2026-06-07T12:00:00Z".parse().unwrap();
    let noon = std::time::Duration::from_secs(noon.as_second() as u64);
    file.set_modified(std::time::UNIX_EPOCH + noon).unwrap();
    for (name, day, how) in [
        ("tagged.mp4", "2026-05-04", "as the clip says"),
        ("plain.mp4", "2026-06-07", "the day of the file"),
    ] {
        let floor = floor(SAMPLE);
        let mut program = club.program();
        program.env("TZ", "UTC").args([
            "measure",
            name,
            "--no-keep",
            "--floor",
            &floor,
            "--athlete",
            "Mia",
        ]);
        let ran = super::bench::ran(&mut program);
        assert!(
            ran.err.contains(&format!("{day} ({how}")),
            "{name}: {}",
            ran.err
        );
    }
}

#[test]
fn several_clips_take_their_places_in_the_order_given() {
    let club = Club::with(&["Mia"]);
    let names = ["cmj_120", "cmj_240"];
    let second = club.bench.sample(names[1]);
    let first = club.bench.sample(names[0]);
    // Each finds its own floor.
    let ran = club.run(&[
        "measure",
        &second,
        &first,
        "--no-keep",
        "--athlete",
        "Mia",
        "--date",
        "2026-10-03",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let trials = club.log().trials(&TrialQuery::default()).unwrap();
    let told: Vec<_> = trials
        .iter()
        .map(|t| (t.order, t.clip.as_ref().unwrap().0.name.as_str()))
        .collect();
    assert_eq!(told, [(1, "cmj_240.mp4"), (2, "cmj_120.mp4")]);
}

#[test]
fn loads_and_boxes_must_make_sense() {
    let club = Club::with(&["Mia"]);
    let clip = club.bench.sample(SAMPLE);
    for (more, what) in [
        (&["--loaded"][..], "with the load's size"),
        (&["--load-kg", "5000"], "between 0 and 500"),
        (&["--kind", "hop"], "cmj, squat, drop and rebound"),
        (&["--kind", "cmj", "--drop-height-cm", "30"], "drop height"),
        (&["--date", "3.10.2026"], "year-month-day"),
    ] {
        let call = [&["--athlete", "Mia"], more].concat();
        let ran = measure(&club, &clip, SAMPLE, &call);
        ran.refused(what);
        assert!(ran.out.is_empty());
    }
    assert_eq!(club.trials(), 0);
}
