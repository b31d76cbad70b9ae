//! What is read, what is refused, and how that is said.

use underfoot::log::exchange::Format;
use underfoot::log::{Log, LogError, NewAthlete, TrialQuery};

use super::{Fresh, fresh, import, json_lines, now};

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
