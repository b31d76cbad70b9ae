//! The log to files and back: nothing lost, nothing changed, faults named.

use jiff::Timestamp;
use jiff::civil::date;
use proptest::prelude::*;
use underfoot::log::exchange::{Format, Imported, Selection, Table};
use underfoot::log::{
    BudgetShare, ClipHash, ClipRef, ClipTrials, EventTime, JumpKind, Log, LogError, Measured,
    NewAthlete, NewCompanion, NewMatEntry, NewSaved, Overstatement, RaisedFlag, Stated, TrialQuery,
    TrialRecord,
};
use underfoot::trials::load::series::PushOff;
use underfoot::trials::mat::{HeightFormula, MatReading};
use underfoot::units::{
    Acceleration, Bounds, CaptureTime, Interval95, Metres, Span, StandardUncertainty,
};

fn now() -> Timestamp {
    "2026-11-25T17:00:00.25Z".parse().unwrap()
}

/// A log in a folder of its own, which goes when it is dropped.
struct Fresh {
    log: Log,
    _folder: tempfile::TempDir,
}

fn fresh() -> Fresh {
    let folder = tempfile::tempdir().unwrap();
    let log = Log::open(&folder.path().join("log.sqlite")).unwrap();
    Fresh {
        log,
        _folder: folder,
    }
}

fn csv(log: &Log, table: Table) -> Vec<u8> {
    let mut out = Vec::new();
    log.export_csv(table, &Selection::default(), &mut out, &mut |_| ())
        .unwrap();
    out
}

fn json_lines(log: &Log) -> Vec<u8> {
    let mut out = Vec::new();
    log.export_json_lines(&Selection::default(), &mut out, &mut |_| ())
        .unwrap();
    out
}

fn import(log: &mut Log, format: Format, bytes: &[u8]) -> Result<Imported, LogError> {
    log.import(format, bytes, false, now(), &mut |_| ())
}

/// Text as people, spreadsheets and attackers write it.
fn text() -> impl Strategy<Value = String> {
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
    fn record()(
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
fn fill(log: &mut Log, records: &[TrialRecord], name: &str, note: &str) {
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

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Exported, imported into an empty log and exported again, every file is the
    /// same to the byte.
    #[test]
    fn everything_comes_back_to_the_last_bit(
        records in proptest::collection::vec(record(), 1..6),
        name in "[=+'-]{0,2}[A-Za-zäöü]{1,8}( [A-Z]{1,4})?",
        note in text(),
    ) {
        let mut from = fresh();
        fill(&mut from.log, &records, &name, &note);
        let lines = json_lines(&from.log);

        let mut through_json = fresh();
        import(&mut through_json.log, Format::JsonLines, &lines).unwrap();
        prop_assert_eq!(text_of(&json_lines(&through_json.log)), text_of(&lines));

        let mut through_csv = fresh();
        for table in Table::ALL.into_iter().filter(|table| *table != Table::Saved) {
            let bytes = csv(&from.log, table);
            import(&mut through_csv.log, Format::Csv, &bytes).unwrap();
            prop_assert_eq!(text_of(&csv(&through_csv.log, table)), text_of(&bytes));
        }
        let heights = |log: &Log| log.sessions(&TrialQuery::default()).unwrap()
            .into_iter().map(|session| (session.date, session.trials)).collect::<Vec<_>>();
        let mut wanted = heights(&from.log);
        let mut got = heights(&through_csv.log);
        wanted.sort_by(|a, b| format!("{a:?}").cmp(&format!("{b:?}")));
        got.sort_by(|a, b| format!("{a:?}").cmp(&format!("{b:?}")));
        prop_assert_eq!(got, wanted);

        // A second import finds everything there and changes nothing.
        let again = import(&mut through_json.log, Format::JsonLines, &lines).unwrap();
        prop_assert_eq!(again.entered, 0);
        prop_assert_eq!(text_of(&json_lines(&through_json.log)), text_of(&lines));
    }
}

fn text_of(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

#[test]
fn a_csv_file_is_what_the_standard_and_spreadsheets_want() {
    let mut from = fresh();
    let height = Metres::from_metres(0.3125);
    let u = StandardUncertainty(Metres::from_metres(0.0025));
    let record = TrialRecord::of_height(JumpKind::Squat, height, u);
    fill(&mut from.log, &[record], "=HYPERLINK(\"x\")", "two\nlines");
    let file = text_of(&csv(&from.log, Table::Trials));
    let mut lines = file.strip_prefix('\u{feff}').expect("a mark").split("\r\n");
    let headings = lines.next().unwrap();
    assert!(
        headings.starts_with("athlete,date,order,kind,load[kg],drop_height[m],height[m],"),
        "{headings}"
    );
    let row = lines.next().unwrap();
    assert!(
        row.starts_with("\"'=HYPERLINK(\"\"x\"\")\",2026-02-28,1,squat,0,,0.3125,0.0025,"),
        "{row}"
    );
    assert!(row.contains("\"two\nlines\""), "{row}");
    assert_eq!(lines.next(), Some(""));
    assert_eq!(lines.next(), None);
}

/// Imports rows into a log that knows Mia.
fn imported(text: impl AsRef<[u8]>) -> Result<Fresh, LogError> {
    let mut to = fresh();
    to.log
        .add_athlete(&NewAthlete::named("Mia"), now())
        .unwrap();
    let before = json_lines(&to.log);
    match import(&mut to.log, Format::Csv, text.as_ref()) {
        Ok(_) => Ok(to),
        Err(error) => {
            assert_eq!(json_lines(&to.log), before, "all or nothing");
            Err(error)
        }
    }
}

fn heights(log: &Log) -> Vec<f64> {
    let trials = log.trials(&TrialQuery::default()).unwrap();
    trials
        .iter()
        .map(|t| t.record.height.best.metres())
        .collect()
}

#[test]
fn units_in_headings_are_converted() {
    let to = imported(
        "athlete,date,height[cm],height_u[mm],load[[lb_av]]\nMia,2026-03-02,31.2,2.5,10\n\
         mia,2026-03-02,11.5,1,\n",
    )
    .unwrap();
    assert_eq!(heights(&to.log), [0.312, 0.115]);
    let trial = &to.log.trials(&TrialQuery::default()).unwrap()[0];
    assert_eq!(trial.record.film_u.0.metres(), 0.0025);
    assert_eq!(trial.record.load_kg, 4.5359237);
    let inches = "athlete,date,height[[in_i]],height_u[m]\nMia,2026-03-02,10,0.002\n";
    assert_eq!(heights(&imported(inches).unwrap().log), [0.254]);
}

#[test]
fn semicolons_and_decimal_commas_of_spreadsheets_are_read() {
    let to = imported(
        "\u{feff}Athlete;Date;Height [cm];height_u[cm]\r\nMia;2026-03-02;31,2;0,25\r\n;;;\r\n",
    );
    assert_eq!(heights(&to.unwrap().log), [0.312]);
}

#[test]
fn what_is_wrong_is_named_with_its_line() {
    let head = "athlete,date,height[m],height_u[m]";
    let good = "Mia,2026-03-02,0.312,0.002";
    let cases: &[(&str, &[&str])] = &[
        (
            &format!("{head}\n{good}\nMia,2026-03-02,0.3\n"),
            &["line 3", "3 fields under 4"],
        ),
        (
            &format!("{head}\n{good}\nMia,2.3.2026,0.312,0.002\n"),
            &["line 3", "2.3.2026", "year-month-day"],
        ),
        (
            &format!("{head}\nMai,2026-03-02,0.312,0.002\n"),
            &["line 2", "Mai", "did you mean Mia"],
        ),
        (
            &format!("{head}\nMia,2026-03-02,31.2,0.002\n"),
            &["line 2", "height", "31.2"],
        ),
        (
            &format!("{head}\nMia,2026-03-02,NaN,0.002\n"),
            &["line 2", "height", "NaN"],
        ),
        (
            &format!("{head}\nMia,2026-03-02,,0.002\n"),
            &["line 2", "height cannot be empty"],
        ),
        (
            &format!("{head}\n\"two\nlines\",2026-03-02,0.3,0.002\n{good}\n"),
            &["line 2"],
        ),
        (
            "athlete,date,height,height_u[m]\n",
            &["line 1", "height[m]", "unit"],
        ),
        (
            "athlete,date,height[furlong],height_u[m]\n",
            &["line 1", "furlong"],
        ),
        (
            "athlete,date,heigth[m],height_u[m]\n",
            &["line 1", "heigth[m]"],
        ),
        (
            "athlete,date,height[m]\n",
            &["line 1", "without height_u[m]"],
        ),
        (
            "athlete,date,height[m],height[cm],height_u[m]\n",
            &["line 1", "twice"],
        ),
        (
            "a,b,c\n1,2,3\n",
            &["line 1", "first line must name the columns"],
        ),
        ("", &["line 1", "empty"]),
        (
            &format!("{head},order\n{good},2\n{good}1,2\n"),
            &["line 3", "another jump number 2"],
        ),
    ];
    for (file, wanted) in cases {
        let Err(error) = imported(file) else {
            panic!("accepted: {file}");
        };
        let told = error.to_string();
        for words in *wanted {
            assert!(told.contains(words), "{file:?}: {told}");
        }
        assert!(told.contains(" — "), "a remedy: {told}");
        // The same with the line ends of RFC 4180.
        let standard = file.replace('\n', "\r\n");
        let again = imported(standard).map(|_| ()).unwrap_err().to_string();
        let line = |text: &str| text.split(':').next().map(str::to_owned);
        assert_eq!(line(&again), line(&told), "{file:?}");
    }
}

#[test]
fn other_encodings_are_named() {
    let latin = b"athlete,date,height[m],height_u[m]\nMia,2026-03-02,0.3,0.002\nJ\xfcrgen,2026-03-02,0.3,0.002\n";
    let told = imported(latin).map(|_| ()).unwrap_err().to_string();
    assert!(told.contains("line 3") && told.contains("UTF-8"), "{told}");
    let wide: Vec<u8> = "\u{feff}athlete,date\n"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    let told = imported(wide).map(|_| ()).unwrap_err().to_string();
    assert!(told.contains("UTF-16"), "{told}");
}

#[test]
fn a_quotation_mark_that_is_never_closed_does_not_fill_the_memory() {
    let endless = std::io::Read::chain(
        &b"athlete,date,height[m],height_u[m]\n\"Mia,"[..],
        std::io::repeat(b'x'),
    );
    let mut to = fresh();
    let refused = to
        .log
        .import(Format::Csv, endless, false, now(), &mut |_| ());
    let told = refused.unwrap_err().to_string();
    assert!(told.contains("quotation mark"), "{told}");
}

#[test]
fn json_lines_with_unknown_keys_types_or_schema_are_refused() {
    for (line, wanted) in [
        ("{\"record\":\"log\",\"schema\":2}", "schema"),
        ("{\"record\":\"jump\"}", "jump"),
        (
            "{\"record\":\"athlete\",\"athlete\":\"Lena\",\"size_m\":1}",
            "size_m",
        ),
        ("{\"record\":\"athlete\",\"athlete\":3}", "another type"),
        ("[1]", "object"),
        ("{\"record\":", "JSON"),
    ] {
        let mut to = fresh();
        let file = format!("{{\"record\":\"log\",\"schema\":1}}\n{line}\n");
        let told = import(&mut to.log, Format::JsonLines, file.as_bytes());
        let told = told.unwrap_err().to_string();
        assert!(
            told.contains("line 2") && told.contains(wanted),
            "{line}: {told}"
        );
    }
}

#[test]
fn athletes_are_added_only_when_wished() {
    let file = "athlete,date,height[m],height_u[m]\nLena Roth,2026-03-02,0.3,0.002\n";
    let mut to = fresh();
    assert!(import(&mut to.log, Format::Csv, file.as_bytes()).is_err());
    let done = to
        .log
        .import(Format::Csv, file.as_bytes(), true, now(), &mut |_| ());
    assert_eq!(done.unwrap().added, ["Lena Roth"]);
}

#[test]
fn the_documentation_names_every_column() {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/log.md"));
    let text = text.unwrap();
    for table in Table::ALL {
        for heading in table.headings() {
            assert!(text.contains(&format!("`{heading}`")), "{heading} of {table:?}");
        }
    }
}
