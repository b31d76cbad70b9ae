//! Any line as a result that somebody hands in, and what was read written again.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::report::json::{from_line, to_line};
use underfoot::workflow::crosscheck::film::from_results;

fuzz_target!(|text: &str| {
    if let Ok(document) = from_line(text) {
        let again = to_line(&document).and_then(|line| from_line(&line));
        assert!(again.is_ok_and(|again| again == document));
    }
    let _ = from_results("results.jsonl", text);
});
