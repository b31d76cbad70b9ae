//! Any bytes as a clip: header, packets, clock. Nothing is decoded, since the decoders
//! are fuzzed by those who write them, and would take all the time.
#![no_main]

use std::cell::RefCell;
use std::io::{Seek, Write};

use libfuzzer_sys::fuzz_target;
use underfoot::video::{CaptureClock, Clip};

thread_local! {
    static FILE: RefCell<Option<tempfile::NamedTempFile>> = const { RefCell::new(None) };
}

fuzz_target!(|bytes: &[u8]| {
    FILE.with_borrow_mut(|file| {
        let file = file.get_or_insert_with(|| tempfile::NamedTempFile::new().expect("a file"));
        let written = file.as_file_mut();
        written.rewind().expect("a file");
        written.set_len(0).expect("a file");
        written.write_all(bytes).expect("room");
        let Ok(clip) = Clip::open(file.path()) else {
            return;
        };
        let facts = clip.facts();
        assert!(facts.size.0 > 0 && facts.size.1 > 0 && facts.tick_s() > 0.0);
        let Ok(table) = clip.packets() else {
            return;
        };
        for stated in [None, Some(240.0)] {
            let Ok(clock) = CaptureClock::new(facts, table.presented(), stated) else {
                continue;
            };
            assert!(clock.report().capture_fps > 0.0);
            let times = table.presented().iter().map(|&ticks| clock.time_of(ticks));
            assert!(times.map(|time| time.seconds()).is_sorted());
        }
    });
});
