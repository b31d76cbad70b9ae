//! A result line as it is kept in a file: the document, and what it was made from.

use std::time::SystemTime;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::report::json::{self, JsonError};
use crate::report::model::Document;

/// Size and age of a file, by which it is known again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileState {
    /// Length in bytes.
    pub size_bytes: u64,
    /// When it was last written, to the nanosecond; `None` where the system does not
    /// say.
    pub modified: Option<Timestamp>,
}

impl FileState {
    /// Of a file that the system knows this of.
    pub fn new(size_bytes: u64, modified: Option<SystemTime>) -> Self {
        Self {
            size_bytes,
            modified: modified.and_then(|time| Timestamp::try_from(time).ok()),
        }
    }
}

/// What a line was made from, by which a later run tells whether it still holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Run {
    /// Version of the program.
    pub version: String,
    /// What was stated that bears on the result.
    pub options: Value,
    /// The clip's path, byte by byte as hexadecimal digits, if it is no UTF-8.
    pub path_hex: Option<String>,
    /// The clip; `None` if it was not there.
    pub file: Option<FileState>,
    /// The floor patch kept beside it, if that was used.
    pub patch_file: Option<FileState>,
    /// Jumps that no flag makes doubtful.
    pub usable: usize,
    /// Whether everything else that was asked for (pictures, log) was done as well.
    pub complete: bool,
    /// Number of the athlete in whose log the jumps were kept.
    pub logged_as: Option<i64>,
}

/// A line of a results file.
#[derive(Clone, Debug, PartialEq)]
pub struct ResultLine {
    /// The clip's document.
    pub document: Document,
    /// What it was made from; `None` in a line of standard output.
    pub run: Option<Run>,
}

impl ResultLine {
    /// The document with a further key `run`, without the line's end.
    ///
    /// # Errors
    /// As [`json::to_line`].
    pub fn to_line(&self) -> Result<String, JsonError> {
        let mut value = json::to_value(&self.document)?;
        if let (Some(run), Value::Object(entries)) = (&self.run, &mut value) {
            entries.insert("run".to_owned(), serde_json::to_value(run)?);
        }
        Ok(value.to_string())
    }

    /// Reads a line that [`ResultLine::to_line`] or [`json::to_line`] wrote.
    ///
    /// # Errors
    /// As [`json::from_line`].
    pub fn from_line(line: &str) -> Result<Self, JsonError> {
        #[derive(Deserialize)]
        struct Beside {
            run: Option<Run>,
        }
        let beside: Beside = serde_json::from_str(line)?;
        Ok(Self {
            document: json::from_line(line)?,
            run: beside.run,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::model::Failure;

    #[test]
    fn a_line_comes_back_and_is_still_a_document() {
        let failure = Failure {
            message: "made up".to_owned(),
            hint: "none".to_owned(),
        };
        let written = SystemTime::UNIX_EPOCH + std::time::Duration::new(1_770_000_000, 123_456_789);
        let line = ResultLine {
            document: Document::failed("a.mp4", failure),
            run: Some(Run {
                version: "0.1.0".to_owned(),
                options: serde_json::json!({"floor": null}),
                path_hex: None,
                file: Some(FileState::new(7, Some(written))),
                patch_file: None,
                usable: 0,
                complete: true,
                logged_as: None,
            }),
        };
        let text = line.to_line().unwrap();
        assert!(text.contains("123456789Z"), "{text}");
        assert_eq!(ResultLine::from_line(&text).unwrap(), line);
        assert_eq!(json::from_line(&text).unwrap(), line.document);
        let plain = json::to_line(&line.document).unwrap();
        assert_eq!(ResultLine::from_line(&plain).unwrap().run, None);
    }
}
