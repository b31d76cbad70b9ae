//! Any text as a table: a mat's readings, jumps under load, and the log's own files.
#![no_main]

use std::cell::RefCell;

use jiff::Timestamp;
use libfuzzer_sys::fuzz_target;
use underfoot::log::Log;
use underfoot::log::exchange::{Format, Imported};
use underfoot::workflow::crosscheck::readings::{MatScale, from_table};
use underfoot::workflow::loads::load_days;
use underfoot::workflow::table::Table;

struct Kept {
    log: Log,
    _folder: tempfile::TempDir,
}

impl Kept {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let log = Log::open(&folder.path().join("log.sqlite")).expect("a log");
        Self {
            log,
            _folder: folder,
        }
    }
}

thread_local! {
    static LOG: RefCell<Option<Kept>> = const { RefCell::new(None) };
}

fuzz_target!(|bytes: &[u8]| {
    if let Ok(text) = std::str::from_utf8(bytes)
        && let Ok(table) = Table::parse("table.csv", text)
    {
        // What is wrong is an error with a remedy; here it only must not panic.
        let _ = from_table(&table, &MatScale::default());
        let _ = load_days(&table, None, None);
    }
    let format = match bytes.first() {
        Some(b'{') => Format::JsonLines,
        _ => Format::Csv,
    };
    LOG.with_borrow_mut(|kept| {
        let log = &mut kept.get_or_insert_with(Kept::new).log;
        let now = Timestamp::UNIX_EPOCH;
        if let Ok(first) = log.import(format, bytes, true, now, &mut |_| {}) {
            let again = log
                .import(format, bytes, true, now, &mut |_| {})
                .expect("the same file");
            // A row without its place in the day's order is a new jump each time.
            let rows = |all: &Imported| all.entered + all.already_there;
            assert_eq!(rows(&again), rows(&first), "{first:?} {again:?}");
            assert!(again.entered <= first.entered, "{first:?} {again:?}");
            if first.entered > 0 {
                *kept = None;
            }
        }
    });
});
