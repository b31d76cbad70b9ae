//! JSON lines: one object a line, `record` says of what.

use std::io::{BufRead, BufReader, Read, Write};

use serde_json::{Map, Value, json};

use super::Found;
use super::cell::{Cell, Column, Holds, Row};
use super::tables::Table;
use crate::log::LogError;

/// Version of these lines; it rises when a key changes its meaning or goes.
const SCHEMA: u64 = 1;

/// Writes the line that comes first.
pub(super) fn write_head(out: &mut impl Write) -> Result<(), LogError> {
    let head = json!({"record": "log", "schema": SCHEMA});
    writeln!(out, "{head}").map_err(LogError::unwritable)
}

/// Writes a row; what is empty is left out.
pub(super) fn write(table: Table, cells: Vec<Cell>, out: &mut impl Write) -> Result<(), LogError> {
    let mut object = Map::new();
    object.insert("record".to_owned(), table.record().into());
    for (column, cell) in table.columns().iter().zip(cells) {
        let value: Value = match cell {
            Cell::Empty => continue,
            Cell::Text(text) => text.into(),
            Cell::Number(number) => number.into(),
            Cell::Whole(number) => number.into(),
            Cell::Flag(flag) => flag.into(),
            Cell::Json(value) => value,
        };
        object.insert(column.key(), value);
    }
    writeln!(out, "{}", Value::Object(object)).map_err(LogError::unwritable)
}

/// Hands out the rows of a file.
pub(super) fn read(
    input: impl Read,
    enter: &mut dyn FnMut(Found) -> Result<(), LogError>,
) -> Result<(), LogError> {
    let mut input = BufReader::with_capacity(1 << 16, input);
    let mut bytes = Vec::new();
    for line in 1.. {
        bytes.clear();
        if input
            .read_until(b'\n', &mut bytes)
            .map_err(LogError::unreadable)?
            == 0
        {
            return Ok(());
        }
        let object = object(&bytes).map_err(|error| error.at_line(line))?;
        let Some(object) = object else { continue };
        if let Some((table, row)) = row(object).map_err(|error| error.at_line(line))? {
            enter(Found { line, table, row })?;
        }
    }
    Ok(())
}

/// The object of a line; `None` for an empty one.
fn object(bytes: &[u8]) -> Result<Option<Map<String, Value>>, LogError> {
    let text = std::str::from_utf8(bytes).map_err(|_| {
        LogError::bad(
            "the encoding",
            "another than UTF-8",
            "save the file as UTF-8",
        )
    })?;
    let text = text.trim_start_matches('\u{feff}').trim();
    if text.is_empty() {
        return Ok(None);
    }
    match serde_json::from_str(text) {
        Ok(Value::Object(object)) => Ok(Some(object)),
        Ok(_) => Err(LogError::bad(
            "a line",
            "anything but an object",
            "write {\"record\": …}",
        )),
        Err(error) => {
            let remedy = "each line must be one JSON object";
            Err(LogError::bad("a line", error, remedy))
        }
    }
}

/// The row of an object; `None` for the head.
fn row(mut object: Map<String, Value>) -> Result<Option<(Table, Row)>, LogError> {
    let record = object.remove("record");
    let record = record.as_ref().and_then(Value::as_str).unwrap_or_default();
    if record == "log" {
        return match object.get("schema").and_then(Value::as_u64) {
            Some(SCHEMA) => Ok(None),
            other => {
                let found = other.map_or("none".to_owned(), |schema| schema.to_string());
                let remedy = format!("this program reads schema {SCHEMA}; use a newer one");
                Err(LogError::bad("the schema", found, remedy))
            }
        };
    }
    let table = Table::ALL
        .into_iter()
        .find(|table| table.record() == record);
    let table = table.ok_or_else(|| {
        let all: Vec<&str> = Table::ALL.map(Table::record).into();
        let remedy = format!("it is one of {}", all.join(", "));
        LogError::bad("a record", format!("\"{record}\""), remedy)
    })?;
    let columns = table.columns();
    let mut cells = vec![Cell::Empty; columns.len()];
    for (key, value) in object {
        let at = columns.iter().position(|column| column.key() == key);
        let cell = at.and_then(|at| columns.get(at).zip(cells.get_mut(at)));
        let Some((column, cell)) = cell else {
            let remedy = format!("a {record} has no such key; docs/log.md lists them");
            return Err(LogError::bad("a key", format!("\"{key}\""), remedy));
        };
        *cell = read_value(column, value)?;
    }
    Ok(Some((table, Row { columns, cells })))
}

fn read_value(column: &Column, value: Value) -> Result<Cell, LogError> {
    let wanted = match (column.holds, value) {
        (_, Value::Null) => return Ok(Cell::Empty),
        (Holds::Json, value) => return Ok(Cell::Json(value)),
        (Holds::Text, Value::String(text)) => return Ok(text.into()),
        (Holds::Flag, Value::Bool(flag)) => return Ok(Cell::Flag(flag)),
        (Holds::Number, Value::Number(number)) => number.as_f64().map(Cell::Number),
        (Holds::Whole, Value::Number(number)) => number.as_i64().map(Cell::Whole),
        _ => None,
    };
    wanted.ok_or_else(|| {
        let remedy = match column.holds {
            Holds::Text => "give a text",
            Holds::Number => "give a number",
            Holds::Whole => "give a whole number",
            Holds::Flag => "give true or false",
            Holds::Json => "give a list or an object",
        };
        LogError::bad(column.name, "of another type", remedy)
    })
}
