//! Masses and lengths as people type them.

use crate::report::model::Failure;
use crate::units::Metres;

/// A pound in kilograms (the international agreement of 1959).
const POUND_KG: f64 = 0.453_592_37;
/// Length of one inch (the same agreement).
const INCH_M: f64 = 0.0254;

/// A mass in kilograms, `lb` behind it for pounds.
pub(super) fn mass(text: &str) -> Result<f64, String> {
    let (number, factor) = match text.trim() {
        t if t.ends_with("lb") => (t.trim_end_matches("lb"), POUND_KG),
        t => (t.trim_end_matches("kg"), 1.0),
    };
    let value = number.trim().parse::<f64>().ok().filter(|m| m.is_finite());
    let kilograms = value.map(|m| m * factor).filter(|m| *m >= 0.0);
    kilograms.ok_or_else(|| "write a mass such as 62, 62kg or 137lb".to_owned())
}

/// A length in centimetres, `in` behind it for inches, `m` for metres.
pub(super) fn length(text: &str) -> Result<Metres, String> {
    let (number, factor) = match text.trim() {
        t if t.ends_with("in") => (t.trim_end_matches("in"), INCH_M),
        t if t.ends_with("cm") => (t.trim_end_matches("cm"), 0.01),
        t if t.ends_with('m') => (t.trim_end_matches('m'), 1.0),
        t => (t, 0.01),
    };
    let value = number.trim().parse::<f64>().ok().filter(|l| l.is_finite());
    let metres = value.map(|l| l * factor).filter(|l| *l >= 0.0);
    let metres = metres.ok_or_else(|| "write a length such as 38, 38cm or 15in".to_owned())?;
    Ok(Metres::from_metres(metres))
}

/// A mass and a count, such as `75x5`.
pub(super) fn mass_times(text: &str) -> Result<(f64, u32), Failure> {
    let wrong = || Failure {
        message: format!("\"{text}\" is no mass with a number behind it"),
        hint: "write it as 75x5: the mass, x, how many".to_owned(),
    };
    let (each, count) = text.split_once(['x', '×']).ok_or_else(wrong)?;
    let each = mass(each).map_err(|_| wrong())?;
    Ok((each, count.trim().parse().map_err(|_| wrong())?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn masses_and_lengths_come_in_both_tongues() {
        assert_eq!(mass("62"), Ok(62.0));
        assert_eq!(mass("62kg"), Ok(62.0));
        assert!((mass("100lb").unwrap() - 45.359_237).abs() < 1e-9);
        assert_eq!(length("38").unwrap(), Metres::from_metres(0.38));
        assert_eq!(length("0.38m").unwrap(), Metres::from_metres(0.38));
        assert_eq!(length("10 in").unwrap(), Metres::from_metres(0.254));
        for bad in ["", "kg", "-5", "nan", "1e400"] {
            assert!(mass(bad).is_err() && length(bad).is_err(), "{bad}");
        }
        assert_eq!(mass_times("2.5x4").unwrap(), (2.5, 4));
        assert!(mass_times("2.5").is_err());
    }
}
