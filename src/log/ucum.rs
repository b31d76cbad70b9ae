//! Units as UCUM writes them, in its case-sensitive form.
//!
//! After Schadow and McDonald, "The Unified Code for Units of Measure" (the tables
//! here are a part of its tables, from memory): enough for what a coach measures.

/// Metric atoms, which take prefixes.
const METRIC: [&str; 24] = [
    "m", "s", "g", "rad", "K", "C", "Hz", "N", "Pa", "J", "W", "A", "V", "Ohm", "L", "l", "t",
    "bar", "cal", "Cel", "mol", "B", "cd", "m[H2O]",
];
/// Atoms that take none.
const PLAIN: [&str; 22] = [
    "min",
    "h",
    "d",
    "wk",
    "mo",
    "a",
    "deg",
    "'",
    "''",
    "%",
    "[in_i]",
    "[ft_i]",
    "[yd_i]",
    "[mi_i]",
    "[lb_av]",
    "[oz_av]",
    "[stone_av]",
    "[lbf_av]",
    "[degF]",
    "[ppth]",
    "[ppm]",
    "[g]",
];
const PREFIXES: [&str; 14] = [
    "da", "Y", "Z", "E", "P", "T", "G", "M", "k", "h", "d", "c", "m", "u",
];
/// What people write, and what they mean.
const SLIPS: [(&str, &str); 22] = [
    ("sec", "s"),
    ("secs", "s"),
    ("seconds", "s"),
    ("msec", "ms"),
    ("kmh", "km/h"),
    ("kph", "km/h"),
    ("kmph", "km/h"),
    ("mph", "[mi_i]/h"),
    ("mps", "m/s"),
    ("lb", "[lb_av]"),
    ("lbs", "[lb_av]"),
    ("in", "[in_i]"),
    ("inch", "[in_i]"),
    ("ft", "[ft_i]"),
    ("yd", "[yd_i]"),
    ("kgs", "kg"),
    ("Kg", "kg"),
    ("KG", "kg"),
    ("meters", "m"),
    ("metres", "m"),
    ("°", "deg"),
    ("reps", "{reps}"),
];

/// Whether `text` is a unit.
pub(super) fn is_unit(text: &str) -> bool {
    let mut rest = text.strip_prefix('/').unwrap_or(text);
    loop {
        match component(rest) {
            None => return false,
            Some("") => return true,
            Some(after) => match after.strip_prefix(['.', '/']) {
                Some(next) => rest = next,
                None => return false,
            },
        }
    }
}

/// The unit that was probably meant.
pub(super) fn meant(text: &str) -> Option<&'static str> {
    let slip = SLIPS.iter().find(|(slip, _)| *slip == text);
    slip.map(|(_, unit)| *unit)
}

/// What follows the first component: a unit with its exponent and annotation, a
/// whole number, or an annotation alone.
fn component(text: &str) -> Option<&str> {
    let digits = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    if digits > 0 {
        return annotation(text.get(digits..)?);
    }
    if text.starts_with('{') {
        return annotation(text);
    }
    let end = atom_end(text)?;
    let (atom, rest) = text.split_at_checked(end)?;
    if !is_atom(atom) {
        return None;
    }
    let rest = rest.strip_prefix(['+', '-']).unwrap_or(rest);
    annotation(rest.trim_start_matches(|c: char| c.is_ascii_digit()))
}

/// Where letters, quotes and brackets end.
fn atom_end(text: &str) -> Option<usize> {
    let mut bracket = false;
    for (at, c) in text.char_indices() {
        match c {
            '[' if !bracket => bracket = true,
            ']' if bracket => bracket = false,
            'a'..='z' | 'A'..='Z' | '\'' | '%' => {}
            '_' | '0'..='9' if bracket => {}
            _ if bracket => return None,
            _ => return Some(at),
        }
    }
    (!bracket).then_some(text.len())
}

fn is_atom(text: &str) -> bool {
    let metric = |atom: &str| METRIC.contains(&atom);
    PLAIN.contains(&text)
        || metric(text)
        || PREFIXES
            .iter()
            .any(|prefix| text.strip_prefix(prefix).is_some_and(metric))
}

/// What follows an annotation in braces, if there is one.
fn annotation(text: &str) -> Option<&str> {
    let Some(inside) = text.strip_prefix('{') else {
        return Some(text);
    };
    let (note, rest) = inside.split_once('}')?;
    let fine = note.chars().all(|c| c.is_ascii_graphic() && c != '{');
    fine.then_some(rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_of_the_standard_are_known() {
        for unit in [
            "m/s", "km/h", "s", "ms", "kg", "1", "%", "[in_i]", "[mi_i]/h", "N.m", "W/kg", "m/s2",
            "kg.m2", "/min", "{reps}", "N{peak}", "deg", "10.m", "cm", "s-1", "Cel",
        ] {
            assert!(is_unit(unit), "{unit}");
        }
    }

    #[test]
    fn what_is_no_unit_is_refused() {
        for text in [
            "", "sec", "lbs", "kgs", "Kg", "M/S", "m//s", "m/", "m s", "[in_i", "{a", "°", "m/s²",
            "kmin", "=1", "m.",
        ] {
            assert!(!is_unit(text), "{text}");
        }
        for (slip, unit) in SLIPS {
            assert!(!is_unit(slip) && is_unit(unit), "{slip} {unit}");
        }
    }
}
