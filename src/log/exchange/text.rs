//! Text in cells that spreadsheets open: nothing in it may run as a formula.

/// With these a spreadsheet takes a cell for a formula, or may (the list is common
/// practice among those who guard against it; the last four are the wide forms that
/// East Asian input writes).
const STARTS_FORMULA: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];

/// Puts an apostrophe before what a spreadsheet could run.
///
/// Text that has apostrophes there already gets one more, so that [`unguarded`]
/// gives back every text as it was.
pub(super) fn guarded(text: &str) -> String {
    if text.trim_start_matches('\'').starts_with(STARTS_FORMULA) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

/// Takes off what [`guarded`] put on.
pub(super) fn unguarded(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if rest.trim_start_matches('\'').starts_with(STARTS_FORMULA) => rest,
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn nothing_that_runs_goes_out() {
        for text in ["=1+1", "+49 30", "-", "@SUM(A1)", "\t=1", "'=1", "＝1"] {
            let out = guarded(text);
            assert!(out.starts_with('\''), "{text:?} {out:?}");
            assert_eq!(unguarded(&out), text);
        }
        assert_eq!(guarded("Mia's jump"), "Mia's jump");
        assert_eq!(unguarded("'quoted'"), "'quoted'");
    }

    proptest! {
        #[test]
        fn every_text_comes_back(text in "['=+@a-]{0,6}\\PC{0,4}") {
            let out = guarded(&text);
            prop_assert!(!out.starts_with(STARTS_FORMULA));
            prop_assert_eq!(unguarded(&out), text.as_str());
        }
    }
}
