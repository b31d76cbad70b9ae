//! CSV as RFC 4180 has it: commas, CRLF, quotation marks where needed.
//!
//! Written with a byte order mark, by which spreadsheets know UTF-8. Read with or
//! without it, and with semicolons or tabs too, since spreadsheets of many countries
//! write those; numbers may have a decimal comma then.

use std::io::{BufRead, BufReader, Read, Write};

use csv::{ByteRecord, ReaderBuilder, Terminator, WriterBuilder};

use super::Found;
use super::cell::{Cell, Column, Holds, Row};
use super::headings::{self, Layout};
use super::tables::Table;
use super::text::{guarded, unguarded};
use crate::log::LogError;

const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

pub(super) struct Writer<W: Write> {
    csv: csv::Writer<W>,
}

impl<W: Write> Writer<W> {
    pub(super) fn new(table: Table, mut out: W) -> Result<Self, LogError> {
        out.write_all(BYTE_ORDER_MARK)
            .map_err(LogError::unwritable)?;
        let mut csv = WriterBuilder::new()
            .terminator(Terminator::CRLF)
            .from_writer(out);
        csv.write_record(table.headings()).map_err(unwritable)?;
        Ok(Self { csv })
    }

    pub(super) fn row(&mut self, cells: &[Cell]) -> Result<(), LogError> {
        self.csv
            .write_record(cells.iter().map(field))
            .map_err(unwritable)
    }

    pub(super) fn finish(mut self) -> Result<(), LogError> {
        self.csv.flush().map_err(LogError::unwritable)
    }
}

fn unwritable(error: csv::Error) -> LogError {
    LogError::unwritable(error.into())
}

fn field(cell: &Cell) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Text(text) => guarded(text),
        Cell::Number(number) => number.to_string(),
        Cell::Whole(number) => number.to_string(),
        Cell::Flag(flag) => flag.to_string(),
        Cell::Json(value) => guarded(&value.to_string()),
    }
}

/// Hands out the rows of a file.
pub(super) fn read(
    input: impl Read,
    enter: &mut dyn FnMut(Found) -> Result<(), LogError>,
) -> Result<(), LogError> {
    let mut input = BufReader::with_capacity(1 << 16, input);
    let Beginning {
        delimiter,
        line_end,
    } = begin(&mut input).map_err(|error| error.at_line(1))?;
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .delimiter(delimiter)
        .from_reader(input);
    let mut record = ByteRecord::new();
    let mut layout: Option<Layout> = None;
    let mut skipped = 0;
    while reader
        .read_byte_record(&mut record)
        .map_err(|error| unreadable(error, skipped))?
    {
        let line = skipped + record.position().map_or(1, csv::Position::line);
        skipped = line_end;
        let texts = texts(&record).map_err(|error| error.at_line(line))?;
        let Some(layout) = &layout else {
            layout = Some(headings::read(&texts).map_err(|error| error.at_line(line))?);
            continue;
        };
        if texts.iter().all(|text| text.trim().is_empty()) {
            continue;
        }
        let row = row(layout, &texts, delimiter != b',').map_err(|error| error.at_line(line))?;
        enter(Found {
            line,
            table: layout.table,
            row,
        })?;
    }
    match layout {
        Some(_) => Ok(()),
        None => Err(LogError::bad("the file", "empty", "name a file with rows in it").at_line(1)),
    }
}

/// What the first bytes tell.
struct Beginning {
    /// What stands between the fields.
    delimiter: u8,
    /// The reader takes a row to end with CR and to begin with LF, if both are there:
    /// it counts one line too few for every row but the first.
    line_end: u64,
}

/// Looks at the beginning: the encoding, the delimiter, the ends of lines.
fn begin(input: &mut impl BufRead) -> Result<Beginning, LogError> {
    let head = input.fill_buf().map_err(LogError::unreadable)?;
    if head.starts_with(b"\xff\xfe") || head.starts_with(b"\xfe\xff") {
        let remedy = "save it as CSV in UTF-8 (spreadsheets offer \u{201c}CSV UTF-8\u{201d})";
        return Err(LogError::bad("the encoding", "UTF-16", remedy));
    }
    let mark = head.starts_with(BYTE_ORDER_MARK);
    let first = head.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let count = |byte: u8| first.iter().filter(|b| **b == byte).count();
    let delimiter = [b',', b';', b'\t']
        .into_iter()
        .max_by_key(|byte| (count(*byte), *byte == b','));
    let line_end = u64::from(first.ends_with(b"\r"));
    if mark {
        input.consume(BYTE_ORDER_MARK.len());
    }
    Ok(Beginning {
        delimiter: delimiter.unwrap_or(b','),
        line_end,
    })
}

fn unreadable(error: csv::Error, skipped: u64) -> LogError {
    let line = error.position().map(|position| skipped + position.line());
    let error = match error.into_kind() {
        csv::ErrorKind::Io(error) => LogError::unreadable(error),
        csv::ErrorKind::UnequalLengths {
            expected_len, len, ..
        } => LogError::bad(
            "a row",
            format!("of {len} fields under {expected_len} headings"),
            "look for a missing or a superfluous separator or quotation mark",
        ),
        other => LogError::bad("a row", format!("{other:?}"), "look at its quotation marks"),
    };
    match line {
        Some(line) => error.at_line(line),
        None => error,
    }
}

fn texts(record: &ByteRecord) -> Result<Vec<String>, LogError> {
    let text = |field: &[u8]| match std::str::from_utf8(field) {
        Ok(text) => Ok(text.to_owned()),
        Err(_) => {
            let shown = String::from_utf8_lossy(field)
                .chars()
                .take(40)
                .collect::<String>();
            let remedy = "the file is not in UTF-8; save it as CSV in UTF-8";
            Err(LogError::bad(
                "the encoding of a field",
                format!("that of \"{shown}\""),
                remedy,
            ))
        }
    };
    record.iter().map(text).collect()
}

fn row(layout: &Layout, texts: &[String], decimal_comma: bool) -> Result<Row, LogError> {
    let columns = layout.table.columns();
    let mut cells = vec![Cell::Empty; columns.len()];
    for (text, (at, factor)) in texts.iter().zip(&layout.fields) {
        let (Some(column), Some(cell)) = (columns.get(*at), cells.get_mut(*at)) else {
            continue;
        };
        *cell = match read_cell(column, text, decimal_comma)? {
            Cell::Number(number) => Cell::Number(factor.apply(number)),
            other => other,
        };
    }
    Ok(Row { columns, cells })
}

fn read_cell(column: &Column, text: &str, decimal_comma: bool) -> Result<Cell, LogError> {
    if column.holds == Holds::Text {
        return Ok(unguarded(text).into());
    }
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Ok(Cell::Empty);
    }
    let bad = |remedy: &str| LogError::bad(column.name, format!("\"{trimmed}\""), remedy);
    match column.holds {
        Holds::Text => Ok(trimmed.into()),
        Holds::Whole => match trimmed.parse() {
            Ok(whole) => Ok(Cell::Whole(whole)),
            Err(_) => Err(bad("write a whole number")),
        },
        Holds::Flag => match trimmed.to_ascii_lowercase().as_str() {
            "true" => Ok(Cell::Flag(true)),
            "false" => Ok(Cell::Flag(false)),
            _ => Err(bad("write true or false")),
        },
        Holds::Json => match serde_json::from_str(unguarded(trimmed)) {
            Ok(value) => Ok(Cell::Json(value)),
            Err(_) => Err(bad("leave it as it was exported, or empty")),
        },
        Holds::Number => {
            let point = match decimal_comma && !trimmed.contains('.') {
                true => trimmed.replacen(',', ".", 1),
                false => trimmed.to_owned(),
            };
            match point.parse::<f64>() {
                Ok(number) if number.is_finite() => Ok(Cell::Number(number)),
                _ => Err(bad("write a number with a decimal point, such as 0.312")),
            }
        }
    }
}
