//! `log …`: what is typed, what comes out.

use serde_json::Value;
use underfoot::log::{Log, MatQuery, TrialQuery};
use underfoot::synth::squad::PLAYERS;
use underfoot::trials::change::ChangeOptions;
use underfoot::trials::squad::{Member, squad};
use underfoot::trials::{Session, Verdict};

use super::club::{Club, csv};

#[test]
fn athletes_are_added_changed_listed_and_forgotten() {
    let club = Club::new();
    club.does(&[
        "log",
        "athlete",
        "add",
        "Mia Vogel",
        "--mass-kg",
        "62",
        "--stature-cm",
        "171",
    ]);
    club.run(&["log", "athlete", "add", "mia vogel"])
        .refused("already");
    let later = [
        "--mass-kg",
        "63.5",
        "--date",
        "2099-01-01",
        "--birth-year",
        "2009",
    ];
    club.does(
        &[
            &["log", "athlete", "set", "mia vogel", "--push-off-cm", "38"],
            &later[..],
        ]
        .concat(),
    );
    let slip = club.run(&["log", "athlete", "set", "Mia", "--mass-kg", "63"]);
    slip.refused("no athlete is called \"Mia\"");
    assert!(slip.err.contains("did you mean Mia Vogel?"), "{}", slip.err);
    let list = club.does(&["log", "athletes"]);
    assert!(
        list.contains("Mia Vogel") && list.contains("63.5") && list.contains("171.0"),
        "{list}"
    );
    let list = club.does(&["log", "athletes", "--units", "in"]);
    assert!(list.contains("140.0") && list.contains("67.3"), "{list}");
    let json: Value = serde_json::from_str(&club.does(&["log", "athletes", "--json"])).unwrap();
    let mia = &json["athletes"][0];
    assert_eq!(json["schema"], 1);
    assert_eq!(
        (&mia["stature_m"], &mia["push_off_m"]),
        (&1.71.into(), &0.38.into())
    );
    assert_eq!(mia["push_off_measured"], true);

    let slip = club.run(&["log", "athlete", "add", "Lena", "--mass-kg", "6200"]);
    slip.refused("body mass");
    assert!(!club.does(&["log", "athletes"]).contains("Lena"));

    club.run(&["log", "athlete", "forget", "Mia Vogel"])
        .refused("delete Mia Vogel for good");
    club.does(&["log", "athlete", "forget", "Mia Vogel", "--yes"]);
    assert!(!club.does(&["log", "athletes"]).contains("Mia"));
}

#[test]
fn trials_are_listed_set_aside_and_taken_out() {
    let club = Club::with(&["Mia"]);
    club.bench.write("rows.csv", csv("Mia", 3));
    club.does(&["log", "import", "rows.csv"]);
    club.does(&["log", "set-aside", "2", "3", "--reason", "arms swung"]);
    club.does(&["log", "restore", "3"]);
    let shown = club.does(&["log", "show"]);
    let rows: Vec<&str> = shown.lines().collect();
    assert_eq!(rows[0], "Mia, 2026-03-01");
    assert_eq!(rows[2], "       1    1  cmj           -      30.0  -");
    assert_eq!(
        rows[3],
        "       2    2  cmj           -      30.1  -             set aside: arms swung"
    );
    assert_eq!(rows.len(), 5);
    let json: Value = serde_json::from_str(&club.does(&["log", "show", "--json"])).unwrap();
    assert_eq!(json["trials"][1]["usable"], false);
    assert_eq!(json["trials"][2]["height_m"], 0.302);
    // One number that is wrong, and nothing happens to the others.
    club.run(&["log", "remove", "1", "77"])
        .refused("no trial number 77");
    assert_eq!(club.trials(), 3);
    club.does(&["log", "remove", "1"]);
    assert_eq!(club.trials(), 2);
    club.run(&["log", "set-aside", "2", "--reason", " "])
        .refused("reason");
    assert!(
        club.does(&["log", "show", "--from", "2026-03-02"])
            .is_empty()
    );
    club.run(&["log", "show", "--from", "2026-03-02", "--to", "2026-03-01"])
        .refused("later");
}

#[test]
fn mats_and_other_measures_are_entered() {
    let club = Club::with(&["Mia"]);
    let day = ["--athlete", "mia", "--date", "2026-03-01"];
    let mat = |more: &[&str]| club.run(&[&["log", "mat", "add"], &day[..], more].concat());
    assert_eq!(mat(&["--time-ms", "512", "498"]).code, 0);
    assert_eq!(
        mat(&[
            "--height-cm",
            "31.4",
            "--mat",
            "old",
            "--mat-gravity",
            "9.81"
        ])
        .code,
        0
    );
    mat(&["--time-ms", "0.512"]).refused("flight time");
    mat(&["--time-ms", "500", "--order", "2"]).refused("another mat reading number 2");
    mat(&[]).refused("--time-ms");
    let found = club.log().mat_entries(&MatQuery::default()).unwrap();
    let seconds: Vec<f64> = found
        .iter()
        .map(|e| e.reading.flight_time().seconds())
        .collect();
    assert_eq!((found.len(), seconds[0], seconds[1]), (3, 0.512, 0.498));

    let throw = |more: &[&str]| club.run(&[&["log", "companion", "add"], &day[..], more].concat());
    let speed = [
        "--measure",
        "throw speed",
        "--value",
        "71.2",
        "70.4",
        "--unit",
    ];
    assert_eq!(throw(&[&speed[..], &["km/h"]].concat()).code, 0);
    throw(&[&speed[..], &["kmh"]].concat()).refused("\"kmh\"");
    throw(&[&speed[..], &["m/s"]].concat()).refused("m/s");
    assert_eq!(club.log().companions(None, None).unwrap().len(), 2);
}

#[test]
fn files_go_out_and_come_in_and_are_not_overwritten() {
    let club = Club::with(&["Mia"]);
    club.bench.write("rows.csv", csv("Mia", 20));
    assert!(
        club.does(&["log", "import", "rows.csv"])
            .contains("20 rows entered")
    );
    for file in ["out.csv", "out.jsonl"] {
        club.does(&["log", "export", file]);
        club.run(&["log", "export", file])
            .refused("is there already");
        club.does(&["log", "export", file, "--force"]);
    }
    club.does(&["log", "export", "athletes.csv", "--table", "athletes"]);
    assert!(
        club.does(&["log", "import", "out.jsonl"])
            .contains("0 rows entered; 21")
    );
    let other = ["--log", "other.sqlite"];
    let call = [&["log", "import", "out.csv"], &other[..]].concat();
    let ran = club.run(&call);
    ran.refused("out.csv: line 2: no athlete is called \"Mia\"");
    assert!(ran.err.contains("nothing was changed"), "{}", ran.err);
    club.does(&[&call[..], &["--add-athletes"]].concat());
    let log = Log::open_read_only(&club.bench.path().join("other.sqlite")).unwrap();
    assert_eq!(log.trials(&TrialQuery::default()).unwrap().len(), 20);
    club.run(&["log", "import", "rows.txt"])
        .refused("neither CSV nor JSON lines");
    club.run(&["log", "import", "none.csv"])
        .refused("cannot be read");
    club.run(&["log", "export", "no/such/folder.csv"])
        .refused("cannot be written");
    let part = |name: &String| name.contains(".part");
    assert!(!club.bench.names(".").iter().any(part));
}

#[test]
fn a_backup_is_a_log_of_its_own() {
    let club = Club::with(&["Mia"]);
    club.bench.write("rows.csv", csv("Mia", 20));
    club.does(&["log", "import", "rows.csv"]);
    club.does(&["log", "backup", "copy.sqlite"]);
    club.run(&["log", "backup", "copy.sqlite"])
        .refused("is there already");
    club.does(&["log", "athlete", "forget", "Mia", "--yes"]);
    let list = club.does(&["log", "athletes", "--log", "copy.sqlite"]);
    assert!(list.contains("Mia") && list.contains("20"), "{list}");
    club.run(&["log", "backup", "no/such/folder.sqlite"])
        .refused("cannot be written");
}

#[test]
fn the_log_lies_where_the_system_keeps_data_unless_told() {
    let club = Club::new();
    let home = club.bench.path().join("home");
    let mut program = club.program();
    program
        .env_remove("UNDERFOOT_LOG")
        .env("HOME", &home)
        .env("XDG_DATA_HOME", home.join("data"));
    let ran = super::bench::ran(program.args(["log", "path"]));
    let inside = ran.out.starts_with(home.to_str().unwrap()) && ran.out.contains("underfoot");
    assert!(ran.code == 0 && inside, "{}", ran.out);
    assert!(!home.exists(), "saying where it lies makes nothing");
    assert_eq!(club.does(&["log", "path"]), "log.sqlite\n");
    assert_eq!(club.does(&["log", "path", "--log", "b"]), "b\n");
}

#[test]
fn the_made_up_squad_is_judged_as_it_is() {
    let club = Club::new();
    club.does(&["log", "demo", "squad.sqlite"]);
    club.run(&["log", "demo", "squad.sqlite"])
        .refused("is there already");
    let log = Log::open_read_only(&club.bench.path().join("squad.sqlite")).unwrap();
    let query = TrialQuery::default().load(underfoot::log::LoadFilter::None);
    let rows = log.squad(&query).unwrap();
    assert_eq!(rows.len(), PLAYERS.len());
    let sessions: Vec<Vec<Session>> = rows
        .iter()
        .map(|row| {
            row.sessions
                .iter()
                .map(|session| session.as_session())
                .collect()
        })
        .collect();
    let member = |(row, sessions): (&_, &'_ Vec<Session<'_>>)| {
        let row: &underfoot::log::AthleteSessions = row;
        let early = sessions.len().min(3).min(sessions.len() - 1);
        (row.athlete.name.clone(), early)
    };
    let parts: Vec<(String, usize)> = rows.iter().zip(&sessions).map(member).collect();
    let members: Vec<Member> = parts
        .iter()
        .zip(&sessions)
        .map(|((name, early), sessions)| Member {
            name,
            baseline: &sessions[..*early],
            today: sessions.last().copied(),
        })
        .collect();
    let table = squad(&members, &ChangeOptions::default()).unwrap();
    for row in &table.rows {
        let player = PLAYERS.iter().find(|p| p.name == row.name).unwrap();
        let wrong = match row.verdict {
            Verdict::Higher => player.change_m <= 0.01,
            Verdict::Lower => player.change_m >= -0.01,
            Verdict::TooFewTrials => player.came.len() > 2,
            Verdict::NotToldApart => false,
        };
        assert!(
            !wrong,
            "{} changed by {} m: {:?}",
            row.name, player.change_m, row.verdict
        );
    }
    assert!(
        table.rose >= 2 && table.fell >= 1 && table.too_few == 1,
        "{table:#?}"
    );
}

#[test]
fn all_text_fits_the_terminal_and_every_help_has_an_example() {
    let club = Club::with(&["A name that goes on and on, longer than any column could hold it"]);
    club.does(&["log", "demo", "squad.sqlite"]);
    let texts = [
        club.does(&["log", "athletes"]),
        club.does(&["log", "show", "--log", "squad.sqlite"]),
    ];
    for line in texts.iter().flat_map(|text| text.lines()) {
        assert!(line.chars().count() <= 80, "{line}");
    }
    for command in [
        "athletes",
        "athlete add",
        "athlete set",
        "athlete forget",
        "show",
        "set-aside",
        "restore",
        "remove",
        "mat add",
        "companion add",
        "import",
        "export",
        "backup",
        "path",
        "demo",
    ] {
        let call: Vec<&str> = ["log"]
            .into_iter()
            .chain(command.split(' '))
            .chain(["--help"])
            .collect();
        let help = club.does(&call);
        assert!(
            help.contains(&format!("Example: underfoot log {command}")),
            "{help}"
        );
    }
    assert!(club.does(&["log", "--help"]).contains("Example:"));
    assert!(club.does(&["measure", "--help"]).contains("Example:"));
}
