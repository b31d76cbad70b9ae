//! JSON Lines: one clip, one line.
//!
//! JSON has no infinity and no "not a number"; the encoder would write `null` in their
//! place, which reads as "unknown". So each line is read back before it is handed out,
//! and a document that does not come back the same is refused.

use serde_json::Value;
use thiserror::Error;

use super::model::{Document, SCHEMA};

/// Why a document could not be written or read.
#[derive(Debug, Error)]
pub enum JsonError {
    /// A number that JSON cannot hold.
    #[error(
        "the result of {clip} holds a number that is not finite, at one of: {places}; report this fault"
    )]
    NotFinite {
        /// The keys that would have been written as `null`.
        places: String,
        /// The clip.
        clip: String,
    },
    /// Not a document of this program.
    #[error("not a result line: {0}; give a line written by `underfoot` as JSON")]
    Malformed(#[from] serde_json::Error),
    /// Written by a version that lays documents out differently.
    #[error(
        "the result line has schema {found}, this program reads schema {SCHEMA}; measure the clip again"
    )]
    Schema {
        /// Schema of the line.
        found: u64,
    },
}

/// The document as one line of JSON, without the line's end.
///
/// # Errors
/// [`JsonError::NotFinite`] if any number in it is infinite or not a number.
pub fn to_line(document: &Document) -> Result<String, JsonError> {
    Ok(to_value(document)?.to_string())
}

/// The document as a JSON object.
///
/// # Errors
/// As [`to_line`].
pub fn to_value(document: &Document) -> Result<Value, JsonError> {
    let value = serde_json::to_value(document)?;
    let same = serde_json::from_value::<Document>(value.clone())
        .is_ok_and(|read_back| read_back == *document);
    if !same {
        let mut places = Vec::new();
        nulls(&value, "", &mut places);
        return Err(JsonError::NotFinite {
            places: places.join(", "),
            clip: document.clip.clone(),
        });
    }
    Ok(value)
}

/// Reads a line that [`to_line`] wrote; keys that are not known are skipped.
///
/// # Errors
/// [`JsonError::Malformed`] for anything else, [`JsonError::Schema`] for a line of
/// another schema version.
pub fn from_line(line: &str) -> Result<Document, JsonError> {
    let value: Value = serde_json::from_str(line)?;
    match value.get("schema").and_then(Value::as_u64) {
        Some(found) if found != u64::from(SCHEMA) => Err(JsonError::Schema { found }),
        _ => Ok(serde_json::from_value(value)?),
    }
}

/// Writes the two ends of bounds and intervals as a list, lower end first, as all
/// documents of this program do.
pub fn ends_as_lists(value: Value) -> Value {
    match value {
        Value::Object(mut entries) => {
            if entries.len() == 2
                && let (Some(lo), Some(hi)) = (entries.get("lo"), entries.get("hi"))
            {
                return Value::Array(vec![lo.clone(), hi.clone()]);
            }
            for (_, entry) in entries.iter_mut() {
                *entry = ends_as_lists(entry.take());
            }
            Value::Object(entries)
        }
        Value::Array(items) => items.into_iter().map(ends_as_lists).collect(),
        other => other,
    }
}

/// Collects the paths of all `null` values.
fn nulls(value: &Value, path: &str, places: &mut Vec<String>) {
    match value {
        Value::Null => places.push(path.trim_start_matches('.').to_owned()),
        Value::Array(items) => {
            for (position, item) in items.iter().enumerate() {
                nulls(item, &format!("{path}[{position}]"), places);
            }
        }
        Value::Object(entries) => {
            for (key, item) in entries {
                nulls(item, &format!("{path}.{key}"), places);
            }
        }
        _ => {}
    }
}
