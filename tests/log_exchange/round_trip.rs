//! What goes out comes in again.

use proptest::prelude::*;
use underfoot::log::exchange::{Format, Table};
use underfoot::log::{JumpKind, Log, TrialQuery, TrialRecord};
use underfoot::units::{Metres, StandardUncertainty};

use super::made_up::{fill, record, text};
use super::{csv, fresh, import, json_lines, text_of};

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

#[test]
fn the_documentation_names_every_column() {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/log.md"));
    let text = text.unwrap();
    for table in Table::ALL {
        for heading in table.headings() {
            assert!(
                text.contains(&format!("`{heading}`")),
                "{heading} of {table:?}"
            );
        }
    }
}
