//! The log to files and back: nothing lost, nothing changed, faults named.

#[path = "log_exchange/made_up.rs"]
mod made_up;
#[path = "log_exchange/refusals.rs"]
mod refusals;
#[path = "log_exchange/round_trip.rs"]
mod round_trip;

use jiff::Timestamp;
use underfoot::log::exchange::{Format, Imported, Selection, Table};
use underfoot::log::{Log, LogError};

fn now() -> Timestamp {
    "2026-11-25T17:00:00.25Z".parse().unwrap()
}

/// A log in a folder of its own, which goes when it is dropped.
struct Fresh {
    log: Log,
    _folder: tempfile::TempDir,
}

fn fresh() -> Fresh {
    let folder = tempfile::tempdir().unwrap();
    let log = Log::open(&folder.path().join("log.sqlite")).unwrap();
    Fresh {
        log,
        _folder: folder,
    }
}

fn csv(log: &Log, table: Table) -> Vec<u8> {
    let mut out = Vec::new();
    log.export_csv(table, &Selection::default(), &mut out, &mut |_| ())
        .unwrap();
    out
}

fn json_lines(log: &Log) -> Vec<u8> {
    let mut out = Vec::new();
    log.export_json_lines(&Selection::default(), &mut out, &mut |_| ())
        .unwrap();
    out
}

fn import(log: &mut Log, format: Format, bytes: &[u8]) -> Result<Imported, LogError> {
    log.import(format, bytes, false, now(), &mut |_| ())
}

fn text_of(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}
