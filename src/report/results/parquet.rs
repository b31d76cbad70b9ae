//! The table as a Parquet file (Apache Parquet format 2).
//!
//! Rows are gathered and written by the thousand, so memory does not grow with the
//! table. Lists are the format's three-level lists, texts are UTF-8, everything else is
//! a 64-bit integer, a double or a truth value. The file's own key-value metadata says
//! which schema the columns follow.

use std::io::Write;
use std::sync::Arc;

use parquet::basic::{LogicalType, Repetition, Type as Physical};
use parquet::column::writer::ColumnWriter;
use parquet::data_type::ByteArray;
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::{Type, TypePtr};
use serde_json::Value;
use thiserror::Error;

use super::{Column, Kind, columns, rows};
use crate::report::model::SCHEMA;

/// Rows that are held before they are written.
const ROWS_AT_ONCE: usize = 8192;

/// Why a table could not be written.
#[derive(Debug, Error)]
pub enum TableError {
    /// The file was refused.
    #[error("{0}")]
    Write(#[from] ParquetError),
    /// A document with something else where the column expects its kind.
    #[error("the result of {clip} holds no {kind:?} at {pointer}; measure the clip again")]
    Unexpected {
        /// The clip.
        clip: String,
        /// What was expected.
        kind: Kind,
        /// Where.
        pointer: &'static str,
    },
}

impl From<TableError> for std::io::Error {
    /// Keeps what the system said, where it was the system.
    fn from(error: TableError) -> Self {
        if let TableError::Write(ParquetError::External(source)) = &error
            && let Some(source) = source.downcast_ref::<Self>()
        {
            return Self::new(source.kind(), source.to_string());
        }
        Self::other(error)
    }
}

/// Writes documents as rows of a Parquet file.
pub struct TableWriter<W: Write + Send> {
    writer: SerializedFileWriter<W>,
    leaves: Vec<Leaf>,
    held: usize,
}

impl<W: Write + Send> TableWriter<W> {
    /// A table that goes to `out`.
    ///
    /// # Errors
    /// [`TableError::Write`].
    pub fn new(out: W) -> Result<Self, TableError> {
        let fields = columns().map(field).collect::<Result<Vec<_>, _>>()?;
        let schema = Type::group_type_builder("jumps").with_fields(fields);
        let entry = |key: &str, value: String| KeyValue::new(key.to_owned(), value);
        let properties = WriterProperties::builder()
            .set_created_by(concat!("underfoot ", env!("CARGO_PKG_VERSION")).to_owned())
            .set_key_value_metadata(Some(vec![
                entry("underfoot.schema", SCHEMA.to_string()),
                entry("underfoot.version", env!("CARGO_PKG_VERSION").to_owned()),
            ]))
            .build();
        Ok(Self {
            writer: SerializedFileWriter::new(
                out,
                Arc::new(schema.build()?),
                Arc::new(properties),
            )?,
            leaves: columns().flat_map(leaves).collect(),
            held: 0,
        })
    }

    /// Adds the rows of a document.
    ///
    /// # Errors
    /// As [`TableError`] says; the file is then of no use.
    pub fn add(&mut self, document: &Value) -> Result<(), TableError> {
        for row in rows(document) {
            for leaf in &mut self.leaves {
                let value = row.get(leaf.column).copied().unwrap_or(&Value::Null);
                leaf.push(value).map_err(|()| TableError::Unexpected {
                    clip: document["clip"].as_str().unwrap_or_default().to_owned(),
                    kind: leaf.kind,
                    pointer: leaf.pointer,
                })?;
            }
            self.held += 1;
        }
        if self.held >= ROWS_AT_ONCE {
            self.write_held()?;
        }
        Ok(())
    }

    /// Writes what is held and the file's end; gives back where it went.
    ///
    /// # Errors
    /// [`TableError::Write`].
    pub fn finish(mut self) -> Result<W, TableError> {
        if self.held > 0 {
            self.write_held()?;
        }
        Ok(self.writer.into_inner()?)
    }

    fn write_held(&mut self) -> Result<(), TableError> {
        let mut group = self.writer.next_row_group()?;
        for leaf in &mut self.leaves {
            let Some(mut column) = group.next_column()? else {
                break;
            };
            leaf.write(column.untyped())?;
            column.close()?;
            leaf.clear();
        }
        group.close()?;
        self.held = 0;
        Ok(())
    }
}

/// The field of one column.
fn field(column: &Column) -> Result<TypePtr, ParquetError> {
    Ok(Arc::new(match column.kind {
        Kind::Texts => list(
            column.name,
            leaf_type("element", Kind::Text, Repetition::REQUIRED)?,
        )?,
        Kind::Records(entries) => {
            let field = |(name, kind): &(&str, Kind)| {
                leaf_type(name, *kind, Repetition::REQUIRED).map(Arc::new)
            };
            let element = Type::group_type_builder("element")
                .with_repetition(Repetition::REQUIRED)
                .with_fields(entries.iter().map(field).collect::<Result<_, _>>()?);
            list(column.name, element.build()?)?
        }
        kind => leaf_type(column.name, kind, Repetition::OPTIONAL)?,
    }))
}

/// A list that is always there, perhaps empty (the format's "LIST" annotation).
fn list(name: &str, element: Type) -> Result<Type, ParquetError> {
    let repeated = Type::group_type_builder("list")
        .with_repetition(Repetition::REPEATED)
        .with_fields(vec![Arc::new(element)])
        .build()?;
    Type::group_type_builder(name)
        .with_repetition(Repetition::REQUIRED)
        .with_logical_type(Some(LogicalType::List))
        .with_fields(vec![Arc::new(repeated)])
        .build()
}

fn leaf_type(name: &str, kind: Kind, repetition: Repetition) -> Result<Type, ParquetError> {
    let (physical, logical) = match kind {
        Kind::Number => (Physical::DOUBLE, None),
        Kind::Truth => (Physical::BOOLEAN, None),
        Kind::Integer | Kind::Length => (Physical::INT64, None),
        Kind::Text | Kind::Texts | Kind::Records(_) => {
            (Physical::BYTE_ARRAY, Some(LogicalType::String))
        }
    };
    Type::primitive_type_builder(name, physical)
        .with_repetition(repetition)
        .with_logical_type(logical)
        .build()
}

/// Values of one physical column, with the levels that place them (Dremel: Melnik et
/// al. 2010).
struct Leaf {
    /// Position among the table's columns.
    column: usize,
    pointer: &'static str,
    kind: Kind,
    /// Of a record's entry: its name. Of a list of texts: empty.
    entry: Option<&'static str>,
    cells: Cells,
    definition: Vec<i16>,
    repetition: Vec<i16>,
}

enum Cells {
    Integers(Vec<i64>),
    Numbers(Vec<f64>),
    Truths(Vec<bool>),
    Texts(Vec<ByteArray>),
}

/// The physical columns behind one column.
fn leaves(column: &'static Column) -> Vec<Leaf> {
    let at = columns().position(|other| other.name == column.name);
    let leaf = |kind: Kind, entry| Leaf {
        column: at.unwrap_or(usize::MAX),
        pointer: column.pointer,
        kind,
        entry,
        cells: match kind {
            Kind::Integer | Kind::Length => Cells::Integers(Vec::new()),
            Kind::Number => Cells::Numbers(Vec::new()),
            Kind::Truth => Cells::Truths(Vec::new()),
            Kind::Text | Kind::Texts | Kind::Records(_) => Cells::Texts(Vec::new()),
        },
        definition: Vec::new(),
        repetition: Vec::new(),
    };
    match column.kind {
        Kind::Texts => vec![leaf(Kind::Text, Some(""))],
        Kind::Records(entries) => {
            let entry = |(name, kind): &(&'static str, Kind)| leaf(*kind, Some(*name));
            entries.iter().map(entry).collect()
        }
        kind => vec![leaf(kind, None)],
    }
}

impl Leaf {
    fn push(&mut self, value: &Value) -> Result<(), ()> {
        let Some(entry) = self.entry else {
            let is_there = !value.is_null();
            self.definition.push(is_there.into());
            return if is_there {
                self.cells.push(self.kind, value)
            } else {
                Ok(())
            };
        };
        let items = value.as_array().map_or(&[][..], Vec::as_slice);
        if items.is_empty() {
            self.definition.push(0);
            self.repetition.push(0);
        }
        for (at, item) in items.iter().enumerate() {
            self.definition.push(1);
            self.repetition.push((at > 0).into());
            let item = if entry.is_empty() {
                Some(item)
            } else {
                item.get(entry)
            };
            self.cells.push(self.kind, item.ok_or(())?)?;
        }
        Ok(())
    }

    fn write(&self, column: &mut ColumnWriter) -> Result<(), TableError> {
        let definition = Some(&self.definition[..]);
        let repetition = self.entry.map(|_| &self.repetition[..]);
        match (column, &self.cells) {
            (ColumnWriter::Int64ColumnWriter(to), Cells::Integers(cells)) => {
                to.write_batch(cells, definition, repetition)?;
            }
            (ColumnWriter::DoubleColumnWriter(to), Cells::Numbers(cells)) => {
                to.write_batch(cells, definition, repetition)?;
            }
            (ColumnWriter::BoolColumnWriter(to), Cells::Truths(cells)) => {
                to.write_batch(cells, definition, repetition)?;
            }
            (ColumnWriter::ByteArrayColumnWriter(to), Cells::Texts(cells)) => {
                to.write_batch(cells, definition, repetition)?;
            }
            _ => return Err(ParquetError::General("columns out of step".to_owned()).into()),
        }
        Ok(())
    }

    fn clear(&mut self) {
        match &mut self.cells {
            Cells::Integers(cells) => cells.clear(),
            Cells::Numbers(cells) => cells.clear(),
            Cells::Truths(cells) => cells.clear(),
            Cells::Texts(cells) => cells.clear(),
        }
        self.definition.clear();
        self.repetition.clear();
    }
}

impl Cells {
    fn push(&mut self, kind: Kind, value: &Value) -> Result<(), ()> {
        match self {
            Self::Integers(cells) if kind == Kind::Length => {
                let items = value.as_array().ok_or(())?;
                cells.push(i64::try_from(items.len()).map_err(|_| ())?);
            }
            Self::Integers(cells) => cells.push(value.as_i64().ok_or(())?),
            Self::Numbers(cells) => cells.push(value.as_f64().ok_or(())?),
            Self::Truths(cells) => cells.push(value.as_bool().ok_or(())?),
            Self::Texts(cells) => cells.push(value.as_str().ok_or(())?.into()),
        }
        Ok(())
    }
}
