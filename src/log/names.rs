//! Names as people write them, and how alike two of them are.

use unicode_normalization::UnicodeNormalization;

use super::error::LogError;

/// Longest name, in characters.
const LONGEST: usize = 100;
/// How alike two names must be for the one to be taken for a slip of the other
/// (Jaro–Winkler, 1 for equal). Our own choice.
const ALIKE: f64 = 0.8;
/// Names with fewer letters have room for one slip only.
const SHORT: usize = 6;
/// How many likely names are offered.
const OFFERED: usize = 3;

/// The name as it is kept: composed letters, no spaces around, single ones within.
pub(super) fn tidy(name: &str) -> Result<String, LogError> {
    let composed: String = name.nfc().collect();
    let tidy = composed.split_whitespace().collect::<Vec<_>>().join(" ");
    let remedy = "write one to a hundred letters, on one line";
    if tidy.is_empty() || tidy.chars().count() > LONGEST || tidy.chars().any(is_hidden) {
        return Err(LogError::bad("a name", format!("{name:?}"), remedy));
    }
    Ok(tidy)
}

/// Marks that no reader sees: controls, and those that turn the writing direction and
/// so could make one name look like another.
fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FEFF}')
}

/// The name as it is looked for.
pub(super) fn key(tidy: &str) -> String {
    tidy.to_lowercase().nfc().collect()
}

/// Those of `names` that `wanted` may be a slip of, the most alike first.
pub(super) fn alike(wanted: &str, names: impl IntoIterator<Item = String>) -> Vec<String> {
    let wanted = key(wanted);
    let first_word = |text: &str| text.split(' ').next().unwrap_or_default().to_owned();
    let likeness = |known: &str| {
        let slips = strsim::damerau_levenshtein(&wanted, known);
        let letters = wanted.chars().count();
        // Two letters swapped in a short name leave little alike.
        let small = slips == 1 || slips == 2 && letters >= SHORT;
        strsim::jaro_winkler(&wanted, known).max(if small { ALIKE } else { 0.0 })
    };
    let mut found: Vec<(f64, String)> = names
        .into_iter()
        .map(|name| {
            let known = key(&name);
            // Given names alone are what people type.
            let whole = likeness(&known);
            (whole.max(likeness(&first_word(&known))), name)
        })
        .filter(|(likeness, _)| *likeness >= ALIKE)
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    found
        .into_iter()
        .take(OFFERED)
        .map(|(_, name)| name)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_name_however_it_is_typed() {
        let composed = tidy("Zo\u{eb}  Brandt ").unwrap();
        assert_eq!(composed, tidy("Zoe\u{308} Brandt").unwrap());
        assert_eq!(key(&composed), key("ZO\u{cb} BRANDT"));
        for bad in [
            "",
            "  ",
            "a\u{7}b",
            "Mia\u{202e}",
            "Mi\u{200b}a",
            &"x".repeat(101),
        ] {
            assert!(tidy(bad).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn slips_are_known_and_strangers_are_not() {
        let names = || ["Mia Vogel", "Lena Roth", "Jule Amend"].map(str::to_owned);
        assert_eq!(alike("Mia Vogle", names()), ["Mia Vogel"]);
        assert_eq!(alike("lena", names()), ["Lena Roth"]);
        assert_eq!(alike("Mai", names()), ["Mia Vogel"]);
        assert!(alike("Katharina", names()).is_empty());
    }
}
