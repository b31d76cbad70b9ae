//! Values on their way into and out of files.

use jiff::Timestamp;
use jiff::civil::Date;
use serde_json::Value;

use crate::log::LogError;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Holds {
    Text,
    Number,
    Whole,
    Flag,
    /// A list or an object, in a CSV cell as JSON.
    Json,
}

/// One column of a table, which is one key of a JSON line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Column {
    /// Name without its unit.
    pub(super) name: &'static str,
    /// UCUM unit; empty where there is none.
    pub(super) unit: &'static str,
    pub(super) holds: Holds,
    /// Whether each row needs it.
    pub(super) needed: bool,
}

impl Column {
    pub(super) const fn text(name: &'static str) -> Self {
        Self::new(name, "", Holds::Text)
    }

    pub(super) const fn number(name: &'static str, unit: &'static str) -> Self {
        Self::new(name, unit, Holds::Number)
    }

    pub(super) const fn new(name: &'static str, unit: &'static str, holds: Holds) -> Self {
        Self {
            name,
            unit,
            holds,
            needed: false,
        }
    }

    pub(super) const fn needed(self) -> Self {
        Self {
            needed: true,
            ..self
        }
    }

    /// The heading in a CSV file: `height[m]`.
    pub(super) fn heading(&self) -> String {
        match self.unit {
            "" => self.name.to_owned(),
            unit => format!("{}[{unit}]", self.name),
        }
    }

    /// The key in a JSON line: `height_m`.
    pub(super) fn key(&self) -> String {
        match self.unit {
            "" => self.name.to_owned(),
            "m/s2" => format!("{}_m_s2", self.name),
            "{px}" => format!("{}_px", self.name),
            unit => format!("{}_{unit}", self.name),
        }
    }
}

/// One value; `Empty` where there is none.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) enum Cell {
    #[default]
    Empty,
    Text(String),
    Number(f64),
    Whole(i64),
    Flag(bool),
    Json(Value),
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        if text.is_empty() {
            Self::Empty
        } else {
            Self::Text(text)
        }
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        text.to_owned().into()
    }
}

impl From<f64> for Cell {
    fn from(number: f64) -> Self {
        Self::Number(number)
    }
}

impl From<u32> for Cell {
    fn from(number: u32) -> Self {
        Self::Whole(number.into())
    }
}

impl From<bool> for Cell {
    fn from(flag: bool) -> Self {
        Self::Flag(flag)
    }
}

impl From<Date> for Cell {
    fn from(date: Date) -> Self {
        Self::Text(date.to_string())
    }
}

impl From<Timestamp> for Cell {
    fn from(moment: Timestamp) -> Self {
        Self::Text(moment.to_string())
    }
}

impl<T: Into<Cell>> From<Option<T>> for Cell {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Empty, Into::into)
    }
}

/// The cells of one row with their columns, taken one by one by name.
pub(super) struct Row {
    pub(super) columns: &'static [Column],
    pub(super) cells: Vec<Cell>,
}

impl Row {
    /// The value under `name`; whoever asks for a column that is not in the table
    /// gets nothing.
    fn take(&mut self, name: &str) -> Cell {
        let at = self.columns.iter().position(|column| column.name == name);
        let cell = at.and_then(|at| self.cells.get_mut(at));
        cell.map(std::mem::take).unwrap_or_default()
    }

    pub(super) fn text(&mut self, name: &str) -> String {
        match self.take(name) {
            Cell::Text(text) => text,
            _ => String::new(),
        }
    }

    pub(super) fn some_text(&mut self, name: &str) -> Option<String> {
        Some(self.text(name)).filter(|text| !text.is_empty())
    }

    pub(super) fn number(&mut self, name: &str) -> Option<f64> {
        match self.take(name) {
            Cell::Number(number) => Some(number),
            _ => None,
        }
    }

    pub(super) fn whole<T: TryFrom<i64>>(
        &mut self,
        name: &'static str,
    ) -> Result<Option<T>, LogError> {
        match self.take(name) {
            Cell::Whole(whole) => match T::try_from(whole) {
                Ok(whole) => Ok(Some(whole)),
                Err(_) => Err(LogError::bad(name, whole, "give a smaller whole number")),
            },
            _ => Ok(None),
        }
    }

    pub(super) fn flag(&mut self, name: &str) -> Option<bool> {
        match self.take(name) {
            Cell::Flag(flag) => Some(flag),
            _ => None,
        }
    }

    pub(super) fn json(&mut self, name: &str) -> Option<Value> {
        match self.take(name) {
            Cell::Json(value) => Some(value),
            _ => None,
        }
    }

    pub(super) fn date(&mut self, name: &'static str) -> Result<Date, LogError> {
        let text = self.text(name);
        text.parse().map_err(|_| {
            let remedy = "write year-month-day, such as 2026-03-02";
            LogError::bad("a date", format!("\"{text}\""), remedy)
        })
    }

    /// A moment, or `now` where none is given.
    pub(super) fn moment(
        &mut self,
        name: &'static str,
        now: Timestamp,
    ) -> Result<Timestamp, LogError> {
        let Some(text) = self.some_text(name) else {
            return Ok(now);
        };
        text.parse().map_err(|_| {
            let remedy = "write it as RFC 3339, such as 2026-03-02T18:30:00Z";
            LogError::bad("a time", format!("\"{text}\""), remedy)
        })
    }
}

/// A factor that brings a unit to the column's own: value · `over.0` / `over.1`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Factor(f64, f64);

impl Factor {
    pub(super) const ONE: Self = Self(1.0, 1.0);

    pub(super) fn apply(self, value: f64) -> f64 {
        value * self.0 / self.1
    }
}

/// How to get from `unit` to `own`, if both measure the same.
///
/// Inch and pound by the international agreement of 1959.
pub(super) fn factor(unit: &str, own: &str) -> Option<Factor> {
    if unit == own {
        return Some(Factor::ONE);
    }
    Some(match (own, unit) {
        ("m", "cm") | ("s", "cs") => Factor(1.0, 100.0),
        ("m", "mm") | ("s", "ms") | ("kg", "g") => Factor(1.0, 1000.0),
        ("m", "[in_i]") => Factor(254.0, 10_000.0),
        ("kg", "[lb_av]") => Factor(45_359_237.0, 100_000_000.0),
        ("m/s2", "cm/s2") => Factor(1.0, 100.0),
        _ => return None,
    })
}
