//! The results file: lines that are appended whole, known again, and put in order.
//!
//! The lines are the journal. A line stands in the file only once everything else
//! about its clip is done, so that whoever is interrupted can go on after the last one.
//! A Parquet table is made from the lines at the end.

use std::collections::HashMap;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use serde_json::Value;

use super::super::{Outcome, output, write};
use crate::report::model::Failure;
use crate::report::results::{FileState, ResultLine, Run};
use crate::workflow;

/// Longest line that is read; a clip's has some thousand bytes for each jump.
const LONGEST_LINE: u64 = 64 << 20;

/// Where results go, besides standard output.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::cli) struct Out {
    /// The file of lines.
    pub(in crate::cli) lines: PathBuf,
    /// The table that is made from them.
    pub(in crate::cli) table: Option<PathBuf>,
    /// Whether to go on with what is there.
    pub(in crate::cli) resume: bool,
}

/// What tells a clip that is to be measured from one whose line still holds.
#[derive(Clone, Debug)]
pub(super) struct Known {
    pub(super) file: Option<FileState>,
    pub(super) patch_file: Option<FileState>,
    /// In whose log its jumps are wanted.
    pub(super) athlete: Option<i64>,
}

/// One line of the file.
struct Entry {
    start: u64,
    length: u64,
    failed: bool,
    jumps: bool,
    run: Run,
}

/// The results file, open and locked.
pub(super) struct Results {
    out: Out,
    file: File,
    length: u64,
    /// The newest line of each clip.
    entries: HashMap<String, Entry>,
}

/// What a clip's line is known by.
pub(super) fn key(clip: &str, path_hex: Option<&String>) -> String {
    path_hex.map_or_else(|| clip.to_owned(), |hex| format!("\0{hex}"))
}

impl Results {
    /// Opens the file, and reads what an earlier run left in it.
    ///
    /// # Errors
    /// When the file must not be touched, is in use, or holds results that do not go
    /// with these options.
    pub(super) fn open(out: &Out, options: &Value) -> Result<Self, Failure> {
        refuse_taken(out)?;
        let unwritable = |error: io::Error| write::unwritable(&out.lines, &error);
        let mut open = OpenOptions::new();
        open.read(true).write(true).create(true).truncate(false);
        let file = open.open(&out.lines).map_err(unwritable)?;
        if !file.metadata().map_err(unwritable)?.is_file() {
            return Err(not_ours(&out.lines, "it is no file"));
        }
        lock(&file, &out.lines)?;
        for path in [Some(&out.lines), out.table.as_ref()].into_iter().flatten() {
            write::remove_parts(path);
        }
        let mut results = Self {
            out: out.clone(),
            file,
            length: 0,
            entries: HashMap::new(),
        };
        results.read(options)?;
        Ok(results)
    }

    /// What the clip's line says came out, if it still holds. A clip with an error is
    /// tried again.
    pub(super) fn still_holds(&self, key: &str, known: &Known) -> Option<Outcome> {
        let entry = self.entries.get(key)?;
        let same = known.file.is_some()
            && entry.run.file == known.file
            && entry.run.patch_file == known.patch_file;
        let logged =
            known.athlete.is_none() || !entry.jumps || entry.run.logged_as == known.athlete;
        (same && logged && entry.run.complete && !entry.failed)
            .then(|| Outcome::usable(entry.run.usable > 0))
    }

    /// Appends a line; all of it or none.
    ///
    /// # Errors
    /// When it cannot be written; the file is then as it was.
    pub(super) fn append(&mut self, line: &ResultLine) -> Result<(), Failure> {
        let text = line.to_line().map_err(workflow::failure)? + "\n";
        let written = self
            .file
            .seek(SeekFrom::Start(self.length))
            .and_then(|_| self.file.write_all(text.as_bytes()))
            .and_then(|()| self.file.sync_data());
        if let Err(error) = written {
            // If this fails too, the torn line is cut when the run is resumed.
            let _ = self.file.set_len(self.length);
            return Err(write::unwritable(&self.out.lines, &error));
        }
        self.enter(line, text.len() as u64);
        Ok(())
    }

    fn enter(&mut self, line: &ResultLine, length: u64) {
        let start = self.length;
        self.length += length;
        if let Some(run) = &line.run {
            let entry = Entry {
                start,
                length,
                failed: line.document.error.is_some(),
                jumps: !line.document.jumps.is_empty(),
                // The same for all lines, and there may be many.
                run: Run {
                    version: String::new(),
                    options: Value::Null,
                    ..run.clone()
                },
            };
            let key = key(&line.document.clip, run.path_hex.as_ref());
            self.entries.insert(key, entry);
        }
    }

    /// Reads the lines, and cuts off what an interruption left of the last.
    fn read(&mut self, options: &Value) -> Result<(), Failure> {
        let path = self.out.lines.clone();
        let unreadable = |error: io::Error| Failure {
            message: format!("{} cannot be read ({error})", path.display()),
            hint: "name another file with `--out`".to_owned(),
        };
        let mut reader = BufReader::new(self.file.try_clone().map_err(unreadable)?);
        let mut text = Vec::new();
        for number in 1.. {
            text.clear();
            let read = reader
                .by_ref()
                .take(LONGEST_LINE)
                .read_until(b'\n', &mut text);
            if read.map_err(unreadable)? == 0 {
                break;
            }
            if !text.ends_with(b"\n") {
                return self.cut(&text);
            }
            let line = std::str::from_utf8(&text).ok();
            let line = line.and_then(|text| ResultLine::from_line(text).ok());
            let Some((line, run)) = line.and_then(|line| Some((line.clone(), line.run?))) else {
                let what = format!("its line {number} is no result that can be resumed");
                return Err(not_ours(&path, &what));
            };
            refuse_other_options(&path, &run, options)?;
            self.enter(&line, text.len() as u64);
        }
        Ok(())
    }

    fn cut(&mut self, torn: &[u8]) -> Result<(), Failure> {
        let begins = b"{\"schema\":";
        let ours = torn.starts_with(begins) || begins.starts_with(torn);
        // After a power cut a file may end in zeros that were never written.
        if !ours && (self.length == 0 || torn.iter().any(|byte| *byte != 0)) {
            return Err(not_ours(&self.out.lines, "its end is no result"));
        }
        output::murmur(&format!(
            "{}: the last line was not finished when the run broke off; its clip is measured again\n",
            self.out.lines.display()
        ));
        let cut = self.file.set_len(self.length);
        cut.map_err(|error| write::unwritable(&self.out.lines, &error))
    }

    /// Puts the lines in the order of these clips, after those of other clips that an
    /// earlier call left, and makes the table.
    ///
    /// # Errors
    /// When either cannot be written; the lines are then all there, as appended.
    pub(super) fn finish(mut self, order: &[String]) -> Result<(), Failure> {
        let place: HashMap<&str, usize> = (1..).zip(order).map(|(at, key)| (&**key, at)).collect();
        let mut pieces: Vec<(usize, u64, u64)> = self
            .entries
            .iter()
            .map(|(key, entry)| {
                let place = place.get(&**key).copied().unwrap_or(0);
                (place, entry.start, entry.length)
            })
            .collect();
        pieces.sort_unstable();
        let mut end = 0;
        let in_order = pieces.iter().all(|(_, start, length)| {
            let follows = *start == end;
            end = start + length;
            follows
        });
        if !in_order || end != self.length {
            self.rewrite(&pieces)
                .map_err(|error| write::unwritable(&self.out.lines, &error))?;
        }
        match &self.out.table {
            Some(table) => self.write_table(table),
            None => Ok(()),
        }
    }

    fn rewrite(&mut self, pieces: &[(usize, u64, u64)]) -> io::Result<()> {
        let mut from = self.file.try_clone()?;
        write::whole(&self.out.lines, |to| {
            let mut to = io::BufWriter::new(to);
            for (_, start, length) in pieces {
                from.seek(SeekFrom::Start(*start))?;
                io::copy(&mut Read::by_ref(&mut from).take(*length), &mut to)?;
            }
            to.flush()
        })?;
        // The name now means another file; what follows reads that one.
        self.file = File::open(&self.out.lines)?;
        Ok(())
    }

    #[cfg(feature = "parquet")]
    fn write_table(&self, path: &Path) -> Result<(), Failure> {
        use crate::report::results::parquet::TableWriter;
        let written = write::whole(path, |to| {
            let mut from = self.file.try_clone()?;
            from.rewind()?;
            let mut table = TableWriter::new(to)?;
            for line in BufReader::new(from).lines() {
                table.add(&serde_json::from_str(&line?)?)?;
            }
            table.finish()?;
            Ok(())
        });
        written.map_err(|error| write::unwritable(path, &error))
    }

    #[cfg(not(feature = "parquet"))]
    fn write_table(&self, path: &Path) -> Result<(), Failure> {
        Err(no_parquet(path))
    }
}

/// What a program says that was built without Parquet.
#[cfg(not(feature = "parquet"))]
pub(in crate::cli) fn no_parquet(path: &Path) -> Failure {
    Failure {
        message: format!("{}: this program was built without Parquet", path.display()),
        hint: "name a file that ends in .jsonl, or build with the feature `parquet`".to_owned(),
    }
}

fn not_ours(path: &Path, why: &str) -> Failure {
    Failure {
        message: format!(
            "{} is no results file of this program: {why}; it is left alone",
            path.display()
        ),
        hint: "name another file with `--out`".to_owned(),
    }
}

/// Refuses names that are taken, unless the run is to go on.
fn refuse_taken(out: &Out) -> Result<(), Failure> {
    let is_there = |path: &Path| path.symlink_metadata().is_ok();
    let lines = is_there(&out.lines);
    if lines && !out.resume {
        return Err(Failure {
            message: format!("{} is there already; it is left alone", out.lines.display()),
            hint: "go on with it by `--resume`, or name another file with `--out`".to_owned(),
        });
    }
    match &out.table {
        Some(table) if is_there(table) && !lines => Err(Failure {
            message: format!(
                "{} is there already, without the lines it would be made from; it is left alone",
                table.display()
            ),
            hint: "name another file with `--out`".to_owned(),
        }),
        _ => Ok(()),
    }
}

/// Two runs at once would write over each other. Where the system knows no locks (some
/// network drives), nobody is kept out.
fn lock(file: &File, path: &Path) -> Result<(), Failure> {
    match file.try_lock() {
        Err(TryLockError::WouldBlock) => Err(Failure {
            message: format!("another run is writing {}", path.display()),
            hint: "wait until it is done, or name another file with `--out`".to_owned(),
        }),
        _ => Ok(()),
    }
}

/// Results of two kinds in one file would look like one.
fn refuse_other_options(path: &Path, run: &Run, options: &Value) -> Result<(), Failure> {
    let this = env!("CARGO_PKG_VERSION");
    let what = if run.version != this {
        format!("by version {}, this is {this}", run.version)
    } else if run.options != *options {
        let empty = serde_json::Map::new();
        let here = options.as_object().unwrap_or(&empty);
        let mut differing = here
            .iter()
            .filter(|(key, value)| run.options.get(key) != Some(value))
            .map(|(key, value)| {
                let there = run.options.get(key).unwrap_or(&Value::Null);
                format!("{key} was {there}, now {value}")
            });
        format!(
            "with other options: {}",
            differing.next().unwrap_or_default()
        )
    } else {
        return Ok(());
    };
    Err(Failure {
        message: format!("{} holds results measured {what}", path.display()),
        hint: "state the same options as then, or name another file with `--out`".to_owned(),
    })
}
