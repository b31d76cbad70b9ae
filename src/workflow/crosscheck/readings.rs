//! What the mat showed: typed, or from a table.

use std::path::Path;

use jiff::civil::Date;

use super::FilmJump;
use crate::log::{AthleteId, MatEntry};
use crate::report::model::Failure;
use crate::trials::mat::{HeightFormula, MatReading};
use crate::units::{Metres, Span};
use crate::workflow::table::{Table, number};

/// Length of one inch (25.4 mm by the international agreement of 1959).
const INCH_M: f64 = 0.0254;

/// How finely the mat shows, and how it makes heights.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MatScale {
    /// Smallest step of a time.
    pub time_step: Span,
    /// Smallest step of a height.
    pub height_step: Metres,
    /// The formula behind a height.
    pub formula: HeightFormula,
}

impl Default for MatScale {
    /// Whole milliseconds, millimetres, h = g T²/8.
    fn default() -> Self {
        Self {
            time_step: Span::from_millis(1.0),
            height_step: Metres::from_metres(0.001),
            formula: HeightFormula::default(),
        }
    }
}

/// What a typed number is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Flight time in milliseconds.
    Millis,
    /// Height in centimetres.
    Centimetres,
    /// Height in inches.
    Inches,
}

impl MatScale {
    /// The reading that a number stands for.
    pub fn reading(&self, quantity: Quantity, value: f64) -> MatReading {
        let height = |metres| MatReading::Height {
            height: Metres::from_metres(metres),
            step: self.height_step,
            formula: self.formula,
        };
        match quantity {
            Quantity::Millis => MatReading::Time {
                time: Span::from_millis(value),
                step: self.time_step,
            },
            Quantity::Centimetres => height(value / 100.0),
            Quantity::Inches => height(value * INCH_M),
        }
    }
}

/// A reading with what is known of its jump.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Who jumped.
    pub athlete: Option<String>,
    /// The day.
    pub date: Option<Date>,
    /// Place in the athlete's day, from 1.
    pub order: Option<u32>,
    /// The clip's name, with or without folders.
    pub clip: Option<String>,
    /// Number among the clip's jumps, from 1.
    pub jump: Option<u32>,
    /// What the mat showed; `None` where it missed the jump.
    pub reading: Option<MatReading>,
    /// Where it was read.
    pub place: String,
}

impl Reading {
    /// What people call it.
    pub fn name(&self) -> String {
        let said = [
            self.athlete.clone(),
            self.date.map(|date| date.to_string()),
            self.order.map(|order| format!("jump {order}")),
            self.clip.clone(),
        ];
        let said: Vec<String> = said.into_iter().flatten().collect();
        match (said.is_empty(), self.place.is_empty()) {
            (true, _) => format!("reading {}", self.place),
            (false, true) => said.join(", "),
            (false, false) => format!("reading {} ({})", self.place, said.join(", ")),
        }
    }

    /// Whether all that is said of its jump is true of this one.
    pub(super) fn fits(&self, film: &FilmJump) -> bool {
        // What is quick to compare comes first: logs are long.
        let date = self.date.is_none() || film.date.is_none() || self.date == film.date;
        let order = match (self.order, film.order) {
            // A clip says more than a place does.
            (Some(said), Some(known)) if self.clip.is_none() => said == known,
            _ => true,
        };
        let jump = match (self.jump, &self.clip) {
            (Some(said), _) => said == film.jump,
            (None, Some(_)) => film.jump == 1,
            (None, None) => true,
        };
        date && order && jump && self.fits_clip(film) && self.fits_athlete(film)
    }

    fn fits_clip(&self, film: &FilmJump) -> bool {
        match (&self.clip, &film.clip) {
            (Some(said), Some(known)) => same_clip(said, known),
            (Some(_), None) => false,
            (None, _) => true,
        }
    }

    fn fits_athlete(&self, film: &FilmJump) -> bool {
        match (&self.athlete, &film.athlete) {
            (Some(said), Some(known)) => same_name(said, known),
            _ => true,
        }
    }
}

fn same_name(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}

/// The whole path, or the name at its end.
fn same_clip(said: &str, known: &str) -> bool {
    let name = |path: &str| Path::new(path).file_name().map(|n| n.to_os_string());
    said == known || !said.contains(['/', '\\']) && name(said) == name(known)
}

/// Readings typed on the command line, `-` where the mat missed a jump.
///
/// # Errors
/// [`Failure`] naming what is no number.
pub fn typed(list: &str, quantity: Quantity, scale: &MatScale) -> Result<Vec<Reading>, Failure> {
    let items = list.split([',', ';', ' ']).map(str::trim);
    items
        .filter(|item| !item.is_empty())
        .enumerate()
        .map(|(position, item)| {
            let value = match item {
                "-" => None,
                item => Some(number(item, false).ok_or_else(|| {
                    Failure {
                        message: format!("\"{item}\" is no reading of a mat"),
                        hint: "type the numbers with commas between and a decimal point, such as \
                           512.5,498,-,530"
                            .to_owned(),
                    }
                })?),
            };
            Ok(Reading {
                reading: value.map(|value| scale.reading(quantity, value)),
                place: format!("number {}", position + 1),
                athlete: None,
                date: None,
                order: None,
                clip: None,
                jump: None,
            })
        })
        .collect()
}

/// The readings of a log, in its order; `name` knows the athletes.
pub fn from_log(entries: &[MatEntry], name: impl Fn(AthleteId) -> Option<String>) -> Vec<Reading> {
    entries
        .iter()
        .map(|entry| Reading {
            athlete: name(entry.athlete),
            date: Some(entry.date),
            order: Some(entry.order),
            clip: None,
            jump: None,
            reading: Some(entry.reading),
            place: String::new(),
        })
        .collect()
}

/// Columns that hold a reading.
const VALUES: [(&str, Quantity); 3] = [
    ("time_ms", Quantity::Millis),
    ("height_cm", Quantity::Centimetres),
    ("height_in", Quantity::Inches),
];

/// Readings from a table: `time_ms`, `height_cm` or `height_in`, and what is known of
/// the jump in `athlete`, `date`, `order`, `clip` and `jump`.
///
/// # Errors
/// [`Failure`] naming line and column.
pub fn from_table(table: &Table, scale: &MatScale) -> Result<Vec<Reading>, Failure> {
    table.needs_one_of(&VALUES.map(|(column, _)| column))?;
    table
        .rows()
        .map(|row| {
            let mut reading = None;
            for (column, quantity) in VALUES {
                if let Some(value) = row.number(column)? {
                    // The time counts where a row has both: it is what a mat measures.
                    reading = reading.or(Some(scale.reading(quantity, value)));
                }
            }
            Ok(Reading {
                athlete: row.text("athlete").map(str::to_owned),
                date: row.date("date")?,
                order: row.count("order")?,
                clip: row.text("clip").map(str::to_owned),
                jump: row.count("jump")?,
                reading,
                place: format!("in line {}", row.line()),
            })
        })
        .collect()
}
