//! What the views look like: wording, width, plots.

use serde_json::Value;

use super::{ask, club};

/// Every view of the club, with its plot where it has one.
const VIEWS: [&[&str]; 6] = [
    &["trials", "Mia Vogel"],
    &["change", "Mia Vogel"],
    &["trend", "Mia Vogel"],
    &["squad"],
    &["plan", "Mia Vogel"],
    &["companion", "Mia Vogel", "throw speed"],
];

#[test]
fn wording() {
    let bench = club();
    for view in VIEWS {
        insta::assert_snapshot!(format!("text_{}", view[0]), ask(&bench, view).out);
    }
}

#[test]
fn texts_fit_the_terminal_in_either_unit() {
    let bench = club();
    for view in VIEWS {
        for units in ["cm", "in"] {
            let text = ask(&bench, &[view, &["--units", units]].concat()).out;
            for line in text.lines() {
                assert!(line.chars().count() <= 80, "{view:?}: {line}");
                assert!(!line.ends_with(' ') && !line.contains('\u{1b}'), "{line:?}");
            }
            assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
        }
    }
}

/// What a document is made of: kinds of values in place of values, one item of a list.
fn shape(value: &Value) -> Value {
    match value {
        Value::Null => Value::Null,
        Value::Bool(_) => "true or false".into(),
        Value::Number(_) => "number".into(),
        Value::String(_) => "text".into(),
        Value::Array(items) => {
            let first = items.iter().find(|item| !item.is_null());
            Value::Array(first.map(shape).into_iter().collect())
        }
        Value::Object(entries) => {
            let shaped = entries.iter().map(|(key, item)| (key.clone(), shape(item)));
            Value::Object(shaped.collect())
        }
    }
}

#[test]
fn keys_of_the_documents() {
    let bench = club();
    for view in VIEWS {
        let asked = ask(&bench, &[view, &["--json"]].concat());
        let shape = shape(&asked.documents().remove(0));
        let pretty = serde_json::to_string_pretty(&shape).expect("JSON");
        insta::assert_snapshot!(format!("keys_{}", view[0]), pretty);
    }
}

/// The page on reading the answers has every key.
#[test]
fn every_key_is_described() {
    let page = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/trials.md"));
    let page = page.expect("docs/trials.md");
    let bench = club();
    for view in VIEWS {
        let asked = ask(&bench, &[view, &["--json"]].concat());
        let mut keys = Vec::new();
        collect(&asked.documents().remove(0), &mut keys);
        for key in keys {
            let is_there = [format!("`{key}`"), format!("`{key}[]`")]
                .iter()
                .any(|word| page.contains(word));
            assert!(is_there, "{}: {key}", view[0]);
        }
    }
}

fn collect(value: &Value, keys: &mut Vec<String>) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| collect(item, keys)),
        Value::Object(entries) => {
            for (key, item) in entries {
                keys.push(key.clone());
                collect(item, keys);
            }
        }
        _ => {}
    }
}

#[test]
fn plots_are_written_in_both_formats_and_over_nobody_elses_file() {
    let bench = club();
    for view in VIEWS {
        let svg = ask(&bench, &[view, &["--plot", "a.svg"]].concat());
        assert!(
            svg.code < 2 && svg.out.ends_with("Plot: a.svg\n"),
            "{}{}",
            svg.out,
            svg.err
        );
        let text = String::from_utf8(bench.read("a.svg")).unwrap();
        assert!(
            text.contains("<svg") && text.contains("role=\"img\""),
            "{view:?}"
        );
        assert!(!text.contains("NaN") && !text.contains("inf"), "{view:?}");
        ask(&bench, &[view, &["--plot", "a.png"]].concat());
        let png = image::load_from_memory(&bench.read("a.png"))
            .unwrap()
            .to_luma8();
        assert_eq!(png.width(), 1920);
        // Without colour there is still ink, paper, and something between.
        let tone = |from: u8, to: u8| {
            png.pixels()
                .filter(|p| (from..=to).contains(&p.0[0]))
                .count()
        };
        assert!(tone(0, 90) > 500 && tone(250, 255) > 100_000, "{view:?}");
        assert!(tone(150, 240) > 1000, "{view:?}");
    }
    bench.write("theirs.svg", "<svg/>");
    ask(&bench, &["squad", "--plot", "theirs.svg"]).refused("is left alone");
    assert_eq!(bench.read("theirs.svg"), b"<svg/>");
    ask(&bench, &["squad", "--plot", "a.pdf"]).refused("is not a name for a plot");
}
