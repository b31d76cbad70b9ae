//! Results of many clips as a table: one row for each jump.
//!
//! The table is made from the documents as they were written, key by key, so its
//! figures are theirs. A clip without a jump, or with an error, has one row in which
//! everything about a jump is missing, so that no clip is lost in a table.

#[cfg(feature = "parquet")]
pub mod parquet;
mod run;

use serde_json::Value;

pub use run::{FileState, ResultLine, Run};

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// Whole numbers.
    Integer,
    /// Numbers.
    Number,
    /// True or false.
    Truth,
    /// Text.
    Text,
    /// The length of a list.
    Length,
    /// A list of texts.
    Texts,
    /// A list of records, each with these entries.
    Records(&'static [(&'static str, Kind)]),
}

/// One column: its name, where its values stand in the document, and what they are.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// The document's keys, joined; ends in the unit.
    pub name: &'static str,
    /// JSON pointer (RFC 6901) into the document, or into the jump.
    pub pointer: &'static str,
    /// What it holds.
    pub kind: Kind,
}

const fn column(name: &'static str, pointer: &'static str, kind: Kind) -> Column {
    Column {
        name,
        pointer,
        kind,
    }
}

use Kind::{Integer, Length, Number, Records, Text, Texts, Truth};

/// Columns about the clip; the same in each of its rows.
pub const CLIP_COLUMNS: [Column; 15] = [
    column("clip", "/clip", Text),
    column("clip_jumps", "/jumps", Length),
    column("clip_error", "/error/message", Text),
    column("clip_error_hint", "/error/hint", Text),
    column("clip_warnings", "/warnings", Texts),
    column("clock_nominal_fps", "/clock/nominal_fps", Number),
    column("clock_capture_fps", "/clock/capture_fps", Number),
    column("clock_source", "/clock/source", Text),
    column("clock_dropped", "/clock/dropped", Integer),
    column("clock_repeated", "/clock/repeated", Integer),
    column("patch_x_px", "/patch/0", Integer),
    column("patch_y_px", "/patch/1", Integer),
    column("patch_w_px", "/patch/2", Integer),
    column("patch_h_px", "/patch/3", Integer),
    column("schema", "/schema", Integer),
];

/// Columns about the jump.
pub const JUMP_COLUMNS: [Column; 51] = [
    column("number", "/number", Integer),
    column("kind", "/kind", Text),
    column("feet", "/feet", Text),
    column("takeoff_s", "/takeoff_s", Number),
    column("takeoff_bounds_lo_s", "/takeoff_bounds_s/0", Number),
    column("takeoff_bounds_hi_s", "/takeoff_bounds_s/1", Number),
    column("landing_s", "/landing_s", Number),
    column("landing_bounds_lo_s", "/landing_bounds_s/0", Number),
    column("landing_bounds_hi_s", "/landing_bounds_s/1", Number),
    column("takeoff_last_contact_frame", "/frames/takeoff/0", Integer),
    column("takeoff_first_air_frame", "/frames/takeoff/1", Integer),
    column("landing_last_air_frame", "/frames/landing/0", Integer),
    column("landing_first_contact_frame", "/frames/landing/1", Integer),
    column("flight_time_s", "/flight_time_s", Number),
    column("flight_time_bounds_lo_s", "/flight_time_bounds_s/0", Number),
    column("flight_time_bounds_hi_s", "/flight_time_bounds_s/1", Number),
    column("flight_time_u_s", "/flight_time_u_s", Number),
    column(
        "flight_time_interval95_lo_s",
        "/flight_time_interval95_s/0",
        Number,
    ),
    column(
        "flight_time_interval95_hi_s",
        "/flight_time_interval95_s/1",
        Number,
    ),
    column("height_m", "/height_m", Number),
    column("height_bounds_lo_m", "/height_bounds_m/0", Number),
    column("height_bounds_hi_m", "/height_bounds_m/1", Number),
    column("height_u_m", "/height_u_m", Number),
    column("height_interval95_lo_m", "/height_interval95_m/0", Number),
    column("height_interval95_hi_m", "/height_interval95_m/1", Number),
    column("definition", "/definition", Text),
    column("gravity_m_s2", "/gravity_m_s2", Number),
    column("gravity_source", "/gravity_source", Text),
    column("takeoff_velocity_m_s", "/takeoff_velocity_m_s", Number),
    column("contact_time_s", "/contact_time_s", Number),
    column(
        "contact_time_bounds_lo_s",
        "/contact_time_bounds_s/0",
        Number,
    ),
    column(
        "contact_time_bounds_hi_s",
        "/contact_time_bounds_s/1",
        Number,
    ),
    column("contact_time_u_s", "/contact_time_u_s", Number),
    column("rsi_m_s", "/rsi_m_s", Number),
    column("rsi_u_m_s", "/rsi_u_m_s", Number),
    column("flight_over_contact", "/flight_over_contact", Number),
    column("flight_over_contact_u", "/flight_over_contact_u", Number),
    column("fall_m", "/fall_m", Number),
    column(
        "each_foot",
        "/each_foot",
        Records(&[
            ("takeoff_s", Number),
            ("takeoff_u_s", Number),
            ("landing_s", Number),
            ("landing_u_s", Number),
            ("flight_time_s", Number),
        ]),
    ),
    column(
        "posture_overstatement_m",
        "/posture/overstatement_m",
        Number,
    ),
    column("posture_u_m", "/posture/u_m", Number),
    column("posture_lowering_m", "/posture/lowering_m", Number),
    column("posture_likely_rise_m", "/posture/likely_rise_m", Number),
    column("body_length_m", "/body/length_m", Number),
    column("body_u_m", "/body/u_m", Number),
    column("body_px_per_m", "/body/px_per_m", Number),
    column("body_implied_fps", "/body/implied_fps", Number),
    column("body_implied_fps_u", "/body/implied_fps_u", Number),
    column("body_clock_agrees", "/body/clock_agrees", Truth),
    column(
        "flags",
        "/flags",
        Records(&[("code", Text), ("advice", Text), ("doubtful", Truth)]),
    ),
    column(
        "budget",
        "/budget",
        Records(&[("source", Text), ("u_m", Number)]),
    ),
];

/// All columns in the table's order.
pub fn columns() -> impl Iterator<Item = &'static Column> {
    CLIP_COLUMNS.iter().chain(&JUMP_COLUMNS)
}

/// The rows of a document: for each the values of [`columns`], in order; null where
/// there is none.
pub fn rows(document: &Value) -> Vec<Vec<&Value>> {
    let jumps = document.get("jumps").and_then(Value::as_array);
    match jumps.map_or(&[][..], Vec::as_slice) {
        [] => vec![row(document, &Value::Null)],
        jumps => jumps.iter().map(|jump| row(document, jump)).collect(),
    }
}

fn row<'a>(document: &'a Value, jump: &'a Value) -> Vec<&'a Value> {
    let of = |columns: &'static [Column], from: &'a Value| {
        let value = |column: &Column| from.pointer(column.pointer).unwrap_or(&Value::Null);
        columns.iter().map(value)
    };
    of(&CLIP_COLUMNS, document)
        .chain(of(&JUMP_COLUMNS, jump))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::json;
    use crate::report::model::{Document, Failure};

    /// Pointers to all that is no object, with lists of records as one.
    fn leaves(value: &Value, pointer: &str, into: &mut Vec<String>) {
        match value {
            Value::Object(entries) => {
                for (key, entry) in entries {
                    leaves(entry, &format!("{pointer}/{key}"), into);
                }
            }
            Value::Array(items) if items.first().is_some_and(Value::is_number) => {
                for (at, item) in items.iter().enumerate() {
                    leaves(item, &format!("{pointer}/{at}"), into);
                }
            }
            _ => into.push(pointer.to_owned()),
        }
    }

    /// A key that is added to the document needs a column, or a word here why not.
    #[test]
    fn every_key_of_a_document_has_its_column() {
        let document: Value = serde_json::from_str(FULL).unwrap();
        let read: Document = serde_json::from_value(document.clone()).unwrap();
        assert_eq!(
            json::to_line(&read).unwrap(),
            document.to_string(),
            "the example is old"
        );
        let mut wanted = Vec::new();
        let mut jump = Vec::new();
        leaves(&document, "", &mut wanted);
        leaves(&document["jumps"][0], "", &mut jump);
        for (leaves, columns) in [(wanted, &CLIP_COLUMNS[..]), (jump, &JUMP_COLUMNS[..])] {
            let mut columns: Vec<&str> = columns.iter().map(|column| column.pointer).collect();
            let mut leaves: Vec<&str> = leaves.iter().map(String::as_str).collect();
            columns.sort_unstable();
            leaves.sort_unstable();
            assert_eq!(leaves, columns);
        }
    }

    #[test]
    fn names_are_told_apart_and_end_in_the_unit_of_their_key() {
        let mut names: Vec<&str> = columns().map(|column| column.name).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), CLIP_COLUMNS.len() + JUMP_COLUMNS.len());
        for column in columns().filter(|column| column.kind == Number) {
            let keys = column.pointer.trim_end_matches("/0").trim_end_matches("/1");
            let units = ["_fps", "px_per_m", "_m_s2", "_m_s", "_s", "_m"];
            for unit in units {
                assert_eq!(
                    keys.ends_with(unit),
                    column.name.ends_with(unit),
                    "{column:?}"
                );
            }
        }
    }

    #[test]
    fn a_clip_without_jumps_has_one_row_that_tells_why() {
        let failure = Failure {
            message: "the file is empty".to_owned(),
            hint: "copy it again".to_owned(),
        };
        let failed = Document::failed("a.mp4", failure);
        let document = serde_json::to_value(failed).unwrap();
        let rows = rows(&document);
        let [row] = &rows[..] else { panic!("{rows:?}") };
        let at = |name| columns().position(|column| column.name == name).unwrap();
        assert_eq!(row[at("clip")], "a.mp4");
        assert_eq!(row[at("clip_error")], "the file is empty");
        assert!(row[at("clip_jumps")].as_array().is_some_and(Vec::is_empty));
        assert!(row[at("number")].is_null() && row[at("height_m")].is_null());
    }

    /// Made up, with every key.
    pub(super) const FULL: &str = include_str!("results/full.json");
}
