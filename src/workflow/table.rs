//! Tables that people keep: CSV with a header, as spreadsheets write it.
//!
//! Commas, semicolons or tabs part the columns; the header tells which. Where it is
//! not the comma, numbers may have a decimal comma. Errors name line and column.

use std::path::Path;

use jiff::civil::Date;

use crate::report::model::Failure;

/// Largest table read, in bytes: years of a club's jumps.
const MOST_BYTES: u64 = 16 << 20;

/// A table with named columns.
#[derive(Clone, Debug)]
pub struct Table {
    /// The file's name, for errors.
    name: String,
    columns: Vec<String>,
    rows: Vec<(u64, Vec<String>)>,
    decimal_comma: bool,
}

/// One row of a table.
#[derive(Clone, Copy, Debug)]
pub struct Row<'a> {
    table: &'a Table,
    line: u64,
    cells: &'a [String],
}

impl Table {
    /// Reads a table from a file.
    ///
    /// # Errors
    /// [`Failure`] if it cannot be read or is no table.
    pub fn open(path: &Path) -> Result<Self, Failure> {
        Self::parse(&path.display().to_string(), &text_of(path)?)
    }

    /// Reads a table from text; `name` stands for it in errors.
    ///
    /// # Errors
    /// [`Failure`] if it is no table.
    pub fn parse(name: &str, text: &str) -> Result<Self, Failure> {
        let text = text.trim_start_matches('\u{feff}');
        let header = text
            .lines()
            .find(|line| !line.trim().is_empty() && !line.starts_with('#'))
            .unwrap_or_default();
        let delimiter = [b';', b'\t', b',']
            .into_iter()
            .max_by_key(|d| (header.bytes().filter(|b| b == d).count(), *d == b','))
            .unwrap_or(b',');
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .comment(Some(b'#'))
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let broken = |error: csv::Error| Failure {
            message: format!("{name} is no table ({error})"),
            hint: "save it as CSV with one header line".to_owned(),
        };
        let columns: Vec<String> = reader
            .headers()
            .map_err(broken)?
            .iter()
            .map(|column| column.to_lowercase().replace([' ', '-'], "_"))
            .collect();
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(broken)?;
            let line = record.position().map_or(0, csv::Position::line);
            let cells: Vec<String> = record.iter().map(str::to_owned).collect();
            if cells.iter().any(|cell| !cell.is_empty()) {
                rows.push((line, cells));
            }
        }
        let table = Self {
            name: name.to_owned(),
            columns,
            rows,
            decimal_comma: delimiter != b',',
        };
        table.checked()
    }

    fn checked(self) -> Result<Self, Failure> {
        let wrong = |message: String, hint: &str| Failure {
            message,
            hint: hint.to_owned(),
        };
        if self.rows.is_empty() {
            return Err(wrong(
                format!("{} holds no rows", self.name),
                "the first line names the columns, one line for each jump follows",
            ));
        }
        for (position, column) in self.columns.iter().enumerate() {
            if self.columns.iter().skip(position + 1).any(|c| c == column) && !column.is_empty() {
                return Err(wrong(
                    format!("{}: the column {column} appears twice", self.name),
                    "leave one of them out",
                ));
            }
        }
        Ok(self)
    }

    /// Whether there is such a column.
    pub fn has(&self, column: &str) -> bool {
        self.columns.iter().any(|c| c == column)
    }

    /// Refuses a table with none of these columns.
    ///
    /// # Errors
    /// [`Failure`] that names them.
    pub fn needs_one_of(&self, columns: &[&str]) -> Result<(), Failure> {
        if columns.iter().any(|column| self.has(column)) {
            return Ok(());
        }
        Err(Failure {
            message: format!(
                "{} has no column {}; it has {}",
                self.name,
                columns.join(" or "),
                self.columns.join(", ")
            ),
            hint: "name the columns in the first line; the --help lists them".to_owned(),
        })
    }

    /// The rows that are not empty.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|(line, cells)| Row {
            table: self,
            line: *line,
            cells,
        })
    }

    /// The file's name.
    pub fn name(&self) -> &str {
        &self.name
    }
}

impl<'a> Row<'a> {
    /// Its line in the file, from 1.
    pub fn line(&self) -> u64 {
        self.line
    }

    /// The cell's text; `None` where there is no such column, or nothing in it.
    pub fn text(&self, column: &str) -> Option<&'a str> {
        let place = self.table.columns.iter().position(|c| c == column)?;
        let cell = self.cells.get(place)?.as_str();
        (!cell.is_empty() && cell != "-").then_some(cell)
    }

    /// The cell as a number.
    ///
    /// # Errors
    /// [`Failure`] for anything else.
    pub fn number(&self, column: &str) -> Result<Option<f64>, Failure> {
        let Some(cell) = self.text(column) else {
            return Ok(None);
        };
        number(cell, self.table.decimal_comma)
            .map(Some)
            .ok_or_else(|| self.fault(column, cell, "write it as a number, such as 512.3"))
    }

    /// The number, which must be there.
    ///
    /// # Errors
    /// [`Failure`] for anything else, or nothing.
    pub fn needed(&self, column: &str) -> Result<f64, Failure> {
        self.number(column)?
            .ok_or_else(|| self.fault(column, "", "every row needs it; or leave the row out"))
    }

    /// The cell as a number from 1 upwards.
    ///
    /// # Errors
    /// [`Failure`] for anything else.
    pub fn count(&self, column: &str) -> Result<Option<u32>, Failure> {
        let Some(cell) = self.text(column) else {
            return Ok(None);
        };
        match cell.parse() {
            Ok(count) if count > 0 => Ok(Some(count)),
            _ => Err(self.fault(column, cell, "count from 1")),
        }
    }

    /// The cell as a day.
    ///
    /// # Errors
    /// [`Failure`] for anything else.
    pub fn date(&self, column: &str) -> Result<Option<Date>, Failure> {
        let Some(cell) = self.text(column) else {
            return Ok(None);
        };
        cell.parse().map(Some).map_err(|_| {
            let hint = "write the day as year-month-day, such as 2026-03-02";
            self.fault(column, cell, hint)
        })
    }

    /// What is wrong with a cell.
    pub fn fault(&self, column: &str, cell: &str, hint: &str) -> Failure {
        let found = match cell {
            "" => "nothing".to_owned(),
            cell => format!("\"{cell}\""),
        };
        Failure {
            message: format!(
                "{}, line {}: {found} in the column {column}",
                self.table.name, self.line
            ),
            hint: hint.to_owned(),
        }
    }
}

/// A finite number; a comma is taken for the decimal point where `comma` says so.
pub fn number(text: &str, comma: bool) -> Option<f64> {
    let text = text.trim();
    let value: f64 = if comma {
        text.replace(',', ".").parse().ok()?
    } else {
        text.parse().ok()?
    };
    value.is_finite().then_some(value)
}

/// A text file, or standard input where the path is `-`.
///
/// # Errors
/// [`Failure`] if it cannot be read, or is too large to be a table of jumps.
pub fn text_of(path: &Path) -> Result<String, Failure> {
    use std::io::Read;
    let unreadable = |error: std::io::Error| Failure {
        message: format!("{} cannot be read ({error})", path.display()),
        hint: "check the name, or copy it to a folder of your own".to_owned(),
    };
    let mut bytes = Vec::new();
    if path.as_os_str() == "-" {
        let input = std::io::stdin().lock();
        input.take(MOST_BYTES + 1).read_to_end(&mut bytes)
    } else {
        std::fs::File::open(path).and_then(|file| file.take(MOST_BYTES + 1).read_to_end(&mut bytes))
    }
    .map_err(unreadable)?;
    if bytes.len() as u64 > MOST_BYTES {
        return Err(Failure {
            message: format!("{} is larger than 16 MB", path.display()),
            hint: "give a table of jumps, one line each".to_owned(),
        });
    }
    String::from_utf8(bytes).map_err(|_| Failure {
        message: format!("{} is no text in UTF-8", path.display()),
        hint: "save it as CSV in UTF-8".to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spreadsheets_of_both_tongues_read_alike() {
        for text in [
            "Athlete,Date,Time ms\nMia,2026-03-02,512.5\n",
            "\u{feff}athlete;date;time_ms\r\nMia;2026-03-02;512,5\r\n;;\r\n",
            "# mat of the hall\nathlete\tdate\ttime_ms\nMia\t2026-03-02\t512,5",
        ] {
            let table = Table::parse("readings.csv", text).unwrap();
            assert_eq!(table.rows().count(), 1);
            let row = table.rows().next().unwrap();
            assert_eq!(row.text("athlete"), Some("Mia"));
            assert_eq!(row.number("time_ms").unwrap(), Some(512.5));
            let day = row.date("date").unwrap().unwrap();
            assert_eq!(day, jiff::civil::date(2026, 3, 2));
            assert_eq!(row.number("height_cm").unwrap(), None);
        }
    }

    #[test]
    fn faults_name_line_and_column() {
        let table = Table::parse("r.csv", "athlete,time_ms\nMia,512\nBo,5l2\nBo,inf\n").unwrap();
        let faults: Vec<String> = table
            .rows()
            .filter_map(|row| row.number("time_ms").err())
            .map(|failure| failure.message)
            .collect();
        assert_eq!(
            faults,
            [
                "r.csv, line 3: \"5l2\" in the column time_ms",
                "r.csv, line 4: \"inf\" in the column time_ms"
            ]
        );
        let row = table.rows().next().unwrap();
        assert!(row.needed("load_kg").is_err());
        assert!(Table::parse("r.csv", "athlete\n").is_err());
        assert!(Table::parse("r.csv", "a,a\n1,2\n").is_err());
        assert!(table.needs_one_of(&["height_cm", "height_in"]).is_err());
    }
}
