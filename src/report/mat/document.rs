//! The JSON documents of a comparison, and a correction that can be kept.

use serde::{Deserialize, Serialize};
use serde_json::json;

use super::CrosscheckView;
use crate::report::json::{JsonError, ends_as_lists};
use crate::report::model::SCHEMA;
use crate::trials::mat::explain::Curve;
use crate::trials::mat::{Corrected, Correction, Crosscheck};
use crate::units::{Bounds, Span, StandardUncertainty};

/// The document of a comparison.
#[derive(Clone, Debug, Serialize)]
pub struct CrosscheckDocument<'a> {
    schema: u32,
    film: &'a str,
    mat: &'a str,
    left_out: &'a [String],
    /// The film's error that all clips share.
    film_shared_u_s: Span,
    #[serde(flatten)]
    result: &'a Crosscheck,
}

/// The correction alone, without a word on any athlete; it can be kept for long and
/// [`MatCorrection::from_json`] reads it too. Where the comparison carries no
/// correction this is said, so that an older one does not go on.
pub fn correction_json(result: &Crosscheck) -> String {
    let time = &result.flight_time;
    let document = json!({
        "schema": SCHEMA,
        "flight_time_s": {"jumps": time.jumps, "athletes": time.athletes},
        "correction": result.correction,
    });
    ends_as_lists(document).to_string()
}

/// The comparison as one JSON document; intervals and bounds as lists of two. An
/// interval's open end, and a probability that cannot be had, are null.
///
/// # Errors
/// [`JsonError`] if it cannot be written.
pub fn crosscheck_json(view: &CrosscheckView<'_>) -> Result<String, JsonError> {
    let document = CrosscheckDocument {
        schema: SCHEMA,
        film: view.film,
        mat: view.mat,
        left_out: view.left_out,
        film_shared_u_s: view.shared_u,
        result: view.result,
    };
    Ok(ends_as_lists(serde_json::to_value(document)?).to_string())
}

/// A mat's correction with where it was found, as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct MatCorrection {
    /// The correction.
    pub correction: Correction,
    /// Such as `24 jumps of 6 athletes`.
    pub origin: String,
}

/// The correction as it stands in a comparison's document.
#[derive(Deserialize)]
struct Kept {
    curve: Curve,
    valid_s: [Span; 2],
    u_s: StandardUncertainty<Span>,
}

#[derive(Deserialize)]
struct KeptDocument {
    schema: u32,
    flight_time_s: KeptSize,
    correction: Option<Kept>,
}

#[derive(Deserialize)]
struct KeptSize {
    jumps: usize,
    athletes: usize,
}

impl MatCorrection {
    /// Takes the correction out of a comparison's document; `None` where it carries
    /// none.
    ///
    /// # Errors
    /// [`JsonError`] for anything but such a document.
    pub fn from_json(text: &str) -> Result<Option<Self>, JsonError> {
        let kept: KeptDocument = serde_json::from_str(text)?;
        if kept.schema != SCHEMA {
            return Err(JsonError::Schema {
                found: u64::from(kept.schema),
            });
        }
        Ok(kept.correction.map(|c| Self {
            correction: Correction {
                curve: c.curve,
                valid: Bounds::between(c.valid_s[0], c.valid_s[1]),
                u: c.u_s,
            },
            origin: format!(
                "found over {} jumps, athletes: {}",
                kept.flight_time_s.jumps, kept.flight_time_s.athletes
            ),
        }))
    }
}

/// A reading with its correction.
#[derive(Clone, Debug, PartialEq)]
pub struct CorrectedRow {
    /// What people call it.
    pub name: String,
    /// What the mat showed.
    pub shown: Span,
    /// The corrected time; `None` outside the range of the correction.
    pub corrected: Option<Corrected>,
}

/// Corrected readings as one JSON document.
pub fn corrected_json(rows: &[CorrectedRow], correction: &MatCorrection) -> String {
    let row = |row: &CorrectedRow| {
        json!({
            "reading": row.name,
            "is_corrected": row.corrected.is_some(),
            "shown_s": row.shown,
            "corrected_s": row.corrected.map(|value| value.corrected),
            "u_s": row.corrected.map(|value| value.u),
        })
    };
    let document = json!({
        "schema": SCHEMA,
        "correction": correction.correction,
        "origin": correction.origin,
        "readings": rows.iter().map(row).collect::<Vec<_>>(),
    });
    ends_as_lists(document).to_string()
}

#[cfg(test)]
mod tests {
    use serde_json::Value;

    use super::*;
    use crate::trials::mat::Explanation;

    #[test]
    fn a_kept_correction_comes_back_the_same() {
        let curve = json!({
            "explanation": "constant_delay", "delay_s": 0.025, "factor": 1.0, "added_s2": 0.0,
        });
        let document = |schema: u32, correction: Value| {
            json!({
                "schema": schema,
                "flight_time_s": {"jumps": 40, "athletes": 8, "sd": 0.003},
                "correction": correction,
            })
            .to_string()
        };
        let kept = json!({"curve": curve, "valid_s": [0.39, 0.62], "u_s": 0.004});
        let found = MatCorrection::from_json(&document(1, kept.clone())).unwrap();
        let found = found.unwrap();
        assert_eq!(found.origin, "found over 40 jumps, athletes: 8");
        assert_eq!(
            found.correction.curve.explanation,
            Explanation::ConstantDelay
        );
        let corrected = found.correction.apply(Span::from_seconds(0.5)).unwrap();
        assert!((corrected.corrected.seconds() - 0.475).abs() < 1e-12);
        // Written as it is read.
        let again = ends_as_lists(serde_json::to_value(found.correction).unwrap());
        assert_eq!(again, kept);
        assert_eq!(
            MatCorrection::from_json(&document(1, Value::Null)).unwrap(),
            None
        );
        assert!(MatCorrection::from_json(&document(2, kept)).is_err());
        assert!(MatCorrection::from_json("{}").is_err());
    }
}
