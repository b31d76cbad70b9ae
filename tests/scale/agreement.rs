//! The terminal, the lines and the table tell the same figures.

use std::fs::File;

use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::{Field, Row};
use serde_json::Value;
use underfoot::report::json;
use underfoot::report::results::{self, Kind};
use underfoot::report::terminal::{TextOptions, clip_text};

use super::bench::Bench;
use super::folder::{Folder, names};

/// Rows of a table, and what its metadata says under a key.
fn table(folder: &Bench, name: &str) -> (Vec<Row>, impl Fn(&str) -> Option<String> + use<>) {
    let file = File::open(folder.path().join(name)).expect("a table");
    let reader = SerializedFileReader::new(file).expect("Parquet");
    let metadata = reader
        .metadata()
        .file_metadata()
        .key_value_metadata()
        .cloned();
    let rows = reader
        .get_row_iter(None)
        .expect("rows")
        .map(Result::unwrap)
        .collect();
    (rows, move |key| {
        let entry = metadata.iter().flatten().find(|entry| entry.key == key)?;
        entry.value.clone()
    })
}

/// A field as JSON has it.
fn as_json(field: &Field) -> Value {
    match field {
        Field::Null => Value::Null,
        Field::Bool(value) => (*value).into(),
        Field::Long(value) => (*value).into(),
        Field::Double(value) => (*value).into(),
        Field::Str(value) => value.as_str().into(),
        Field::ListInternal(list) => list.elements().iter().map(as_json).collect(),
        Field::Group(row) => {
            let entry = |(key, field): (&String, &Field)| (key.clone(), as_json(field));
            Value::Object(row.get_column_iter().map(entry).collect())
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn terminal_lines_and_table_agree() {
    let folder = Folder::mixed(2);
    let two = folder.bench.sample_as("two_jumps_120", "clips/0009.mp4");
    let floor = super::bench::floor("two_jumps_120");
    let ran = folder
        .bench
        .run(&format!("mark {} --floor {floor}", two.display()));
    assert_eq!(ran.code, 0, "{}", ran.err);
    let call = "measure clips --no-keep --stature-cm 180";
    let text = folder.bench.run(&format!("{call} --out all.parquet"));
    let json = folder
        .bench
        .run(&format!("{call} --json --out again.jsonl"));
    let lines = folder.lines("all.jsonl");
    assert_eq!(
        names(&lines),
        [
            "0000.mp4",
            "0000_text.mp4",
            "0001.mp4",
            "0002_still.mp4",
            "0009.mp4"
        ]
    );
    assert_eq!(lines, folder.lines("again.jsonl"));

    let manual = include_str!("../../docs/scale.md");
    let mut printed = Vec::new();
    let mut rows = Vec::new();
    for (line, shown) in lines.iter().zip(json.documents()) {
        let mut plain = line.clone();
        let run = plain.as_object_mut().unwrap().shift_remove("run");
        assert_eq!(plain, shown, "standard output has the same line");
        let run = run.expect("how it came about");
        assert_eq!(run["version"], env!("CARGO_PKG_VERSION"));
        for key in run.as_object().expect("an object").keys() {
            assert!(
                manual.contains(&format!("| `run.{key}` |")),
                "{key} is not described"
            );
        }
        let document = json::from_line(&plain.to_string()).unwrap();
        if document.error.is_none() {
            printed.push(clip_text(&document, TextOptions::default()));
        }
        rows.extend(wanted_rows(&plain));
    }
    assert_eq!(
        text.out,
        printed.join("\n"),
        "the text is made of the lines"
    );

    let (found, metadata) = table(&folder.bench, "all.parquet");
    assert_eq!(metadata("underfoot.schema").as_deref(), Some("1"));
    assert_eq!(found.len(), rows.len());
    assert_eq!(rows.len(), 6, "one a jump, one a clip without");
    for (found, wanted) in found.iter().zip(&rows) {
        let found: Vec<(String, Value)> = found
            .get_column_iter()
            .map(|(name, field)| (name.clone(), as_json(field)))
            .collect();
        assert_eq!(&found, wanted);
    }
}

/// The table's rows of a line, by way of its keys.
fn wanted_rows(line: &Value) -> Vec<Vec<(String, Value)>> {
    let jumps = line["jumps"].as_array().unwrap();
    let none = [Value::Null];
    let jumps = if jumps.is_empty() { &none[..] } else { jumps };
    let value = |from: &Value, column: &results::Column| {
        let value = from.pointer(column.pointer).cloned().unwrap_or(Value::Null);
        let value = match (column.kind, value) {
            (Kind::Length, Value::Array(items)) => items.len().into(),
            (Kind::Texts | Kind::Records(_), Value::Null) => Value::Array(Vec::new()),
            (_, value) => value,
        };
        (column.name.to_owned(), value)
    };
    jumps
        .iter()
        .map(|jump| {
            let of_clip = results::CLIP_COLUMNS
                .iter()
                .map(|column| value(line, column));
            let of_jump = results::JUMP_COLUMNS
                .iter()
                .map(|column| value(jump, column));
            of_clip.chain(of_jump).collect()
        })
        .collect()
}

/// A person sees how far it is and how long it will take; a file sees nothing of it.
#[cfg(target_os = "linux")]
#[test]
fn progress_is_for_terminals_only() {
    let folder = Folder::of(3);
    let ran = folder.measure("");
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    let program = assert_cmd::cargo::cargo_bin("underfoot");
    let call = format!("{} {}", program.display(), super::folder::call(""));
    // A terminal, by util-linux.
    let mut script = assert_cmd::Command::new("script");
    let script = script.current_dir(folder.bench.path());
    let output = script
        .args(["-qec", &call, "/dev/null"])
        .output()
        .expect("script");
    let seen = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(seen.contains("2 of 3 clips"), "{seen}");
    assert!(seen.contains(" left"), "{seen}");
}
