//! What the first line of a CSV file promises.

use super::cell::{Column, Factor, Holds, factor};
use super::tables::Table;
use crate::log::LogError;

/// Which column of the table each field of a row is, and in which unit.
pub(super) struct Layout {
    pub(super) table: Table,
    pub(super) fields: Vec<(usize, Factor)>,
}

/// Reads the headings. The table is the one that most of them belong to.
pub(super) fn read(headings: &[String]) -> Result<Layout, LogError> {
    let split: Vec<(String, Option<String>)> = headings.iter().map(|h| parts(h)).collect();
    let known = |table: &Table| {
        let has = |(name, _): &&(String, Option<String>)| find(*table, name).is_some();
        let missing = missing(*table, &split);
        (split.iter().filter(has).count(), missing.is_none())
    };
    // Saved results have parts that no spreadsheet keeps.
    let tables = Table::ALL.into_iter().filter(|t| *t != Table::Saved);
    let table = tables.max_by_key(|table: &Table| {
        let (count, complete) = known(table);
        // Of equals the first.
        (count, complete, std::cmp::Reverse(*table))
    });
    let table = table.unwrap_or(Table::Trials);
    if known(&table).0 == 0 {
        let shown = headings.iter().take(4).cloned().collect::<Vec<_>>();
        let remedy = "the first line must name the columns; `underfoot log export` shows how";
        return Err(LogError::bad("the headings", shown.join(", "), remedy));
    }
    let mut fields = Vec::new();
    for (heading, (name, unit)) in headings.iter().zip(&split) {
        let at = find(table, name).ok_or_else(|| {
            let remedy = format!(
                "{} has no such column; docs/log.md lists them",
                table.code()
            );
            LogError::bad("a column", format!("\"{heading}\""), remedy)
        })?;
        if fields.iter().any(|(other, _)| *other == at) {
            let remedy = "it is there twice; take one of the two out";
            return Err(LogError::bad("a column", format!("\"{heading}\""), remedy));
        }
        fields.push((at, unit_of(table.columns().get(at), unit.as_deref())?));
    }
    if let Some(column) = missing(table, &split) {
        return Err(LogError::bad(
            "the headings",
            format!("without {}", column.heading()),
            format!("add the column; {} needs it", table.code()),
        ));
    }
    Ok(Layout { table, fields })
}

/// Name and unit of a heading such as `height[m]` or `Height [cm]`.
fn parts(heading: &str) -> (String, Option<String>) {
    let heading = heading.trim();
    let (name, unit) = match heading.split_once('[') {
        Some((name, unit)) => (name, unit.strip_suffix(']').map(str::to_owned)),
        None => (heading, None),
    };
    (name.trim().to_lowercase(), unit)
}

fn find(table: Table, name: &str) -> Option<usize> {
    table
        .columns()
        .iter()
        .position(|column| column.name == name)
}

fn missing(table: Table, split: &[(String, Option<String>)]) -> Option<&'static Column> {
    let has = |column: &Column| split.iter().any(|(name, _)| name == column.name);
    let mut needed = table.columns().iter().filter(|column| column.needed);
    needed.find(|column| !has(column))
}

fn unit_of(column: Option<&Column>, unit: Option<&str>) -> Result<Factor, LogError> {
    let Some(column) = column.filter(|c| c.holds == Holds::Number && !c.unit.is_empty()) else {
        return Ok(Factor::ONE);
    };
    let name = column.name;
    let own = column.unit;
    let Some(unit) = unit else {
        let remedy = format!("write its unit into the heading, such as {name}[{own}]");
        return Err(LogError::bad("the heading", format!("\"{name}\""), remedy));
    };
    factor(unit, own).ok_or_else(|| {
        let remedy = format!("it is {own}, as in {name}[{own}], or what converts to it");
        LogError::bad(
            "the unit of a column",
            format!("\"{unit}\" ({name})"),
            remedy,
        )
    })
}
