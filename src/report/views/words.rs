//! Lengths, shares and bars of dots for people.

use super::Subject;
use crate::report::terminal::numbers::fixed;
use crate::report::terminal::wrap::{COLUMNS, elided, wrapped};
use crate::report::terminal::{TextOptions, Units};
use crate::units::Metres;

/// A pound in kilograms (international agreement of 1959).
const POUND_KG: f64 = 0.453_592_37;

/// A length to a tenth of a centimetre, or of an inch to two decimals: trials are
/// compared to the millimetre at best.
pub fn length(units: Units, metres: Metres) -> String {
    format!("{} {}", bare(units, metres), units.symbol())
}

/// The same without its unit.
pub fn bare(units: Units, metres: Metres) -> String {
    fixed(units.of(metres), places(units))
}

/// A difference, with its sign.
pub fn signed(units: Units, metres: Metres) -> String {
    let number = bare(units, metres.abs());
    let none = number.chars().all(|c| matches!(c, '0' | '.'));
    let sign = match metres.metres() {
        _ if none => "",
        m if m < 0.0 => "-",
        _ => "+",
    };
    format!("{sign}{number}")
}

/// Two lengths: "31.0 to 32.4 cm".
pub fn span(units: Units, [lo, hi]: [Metres; 2]) -> String {
    let (lo, hi) = (bare(units, lo), bare(units, hi));
    format!("{lo} to {hi} {}", units.symbol())
}

/// Two differences: "+0.3 to +2.1 cm".
pub fn signed_span(units: Units, [lo, hi]: [Metres; 2]) -> String {
    let (lo, hi) = (signed(units, lo), signed(units, hi));
    format!("{lo} to {hi} {}", units.symbol())
}

fn places(units: Units) -> usize {
    match units {
        Units::Metric => 1,
        Units::Imperial => 2,
    }
}

/// A share of 1 in per cent.
pub fn percent(share: f64) -> String {
    format!("{} %", fixed(100.0 * share, 1))
}

/// A mass.
pub fn mass(units: Units, kg: f64) -> String {
    let (number, unit) = match units {
        Units::Metric => (kg, "kg"),
        Units::Imperial => (kg / POUND_KG, "lb"),
    };
    let text = fixed(number, 2);
    format!(
        "{} {unit}",
        text.trim_end_matches('0').trim_end_matches('.')
    )
}

/// "3 trials", "1 trial".
pub fn counted(count: usize, noun: &str) -> String {
    match count {
        1 => format!("1 {noun}"),
        _ => format!("{count} {noun}s"),
    }
}

/// Whose jumps of which sort: "Mia, countermovement jump without load".
pub fn subject(units: Units, subject: &Subject) -> String {
    let load = if subject.load_kg > 0.0 {
        format!("with {}", mass(units, subject.load_kg))
    } else {
        "without load".to_owned()
    };
    let sort = format!("{} {load}", subject.kind_words);
    match &subject.athlete {
        Some(name) => format!("{}, {sort}", elided(name, 36)),
        None => format!("All athletes, {sort}"),
    }
}

/// The heading of a view, one line.
pub fn heading(options: TextOptions, text: &str) -> String {
    options.bold(&elided(text, COLUMNS)) + "\n"
}

/// A remark to beware of.
pub fn remark(options: TextOptions, text: &str) -> String {
    // The mark may be coloured; wrapping counts letters only.
    let lines = wrapped("  ! ", text);
    lines.replacen('!', &options.alert("!"), 1)
}

/// A name and its value in two columns.
pub fn line(name: &str, value: &str) -> String {
    wrapped(&format!("  {name:<28}  "), value)
}

/// A scale of letters on which values and their intervals are shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    from: f64,
    to: f64,
    columns: usize,
}

impl Scale {
    /// A scale that holds all of `values`; none if there is nothing to hold.
    pub fn of(values: impl Iterator<Item = f64>, columns: usize) -> Option<Self> {
        let (from, to) = values
            .filter(|value| value.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| {
                (lo.min(v), hi.max(v))
            });
        (to > from && columns > 1).then_some(Self { from, to, columns })
    }

    fn place(&self, value: f64) -> usize {
        let share = ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0);
        (share * (self.columns - 1) as f64).round() as usize
    }

    /// One line: the interval as a dash, the value as `mark`, `upright` where a value
    /// worth comparing with stands.
    pub fn bar(
        &self,
        value: f64,
        interval: Option<(f64, f64)>,
        mark: char,
        upright: Option<f64>,
    ) -> String {
        let mut cells = vec![' '; self.columns];
        let mut set = |place: usize, letter: char| {
            if let Some(cell) = cells.get_mut(place) {
                *cell = letter;
            }
        };
        if let Some(at) = upright {
            set(self.place(at), ':');
        }
        if let Some((lo, hi)) = interval {
            (self.place(lo)..=self.place(hi)).for_each(|place| set(place, '-'));
        }
        set(self.place(value), mark);
        cells.into_iter().collect::<String>().trim_end().to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_keep_their_sign_and_nothing_has_none() {
        let m = Metres::from_metres;
        assert_eq!(signed(Units::Metric, m(0.0123)), "+1.2");
        assert_eq!(signed(Units::Metric, m(-0.0123)), "-1.2");
        assert_eq!(signed(Units::Metric, m(-0.0004)), "0.0");
        assert_eq!(length(Units::Imperial, m(0.3048)), "12.00 in");
        assert_eq!(
            (mass(Units::Metric, 20.0), mass(Units::Imperial, 20.0)),
            ("20 kg".to_owned(), "44.09 lb".to_owned())
        );
    }

    #[test]
    fn a_bar_stands_where_its_value_is() {
        let scale = Scale::of([0.0, 10.0].into_iter(), 11).unwrap();
        assert_eq!(
            scale.bar(5.0, Some((3.0, 7.0)), 'o', Some(9.0)),
            "   --o-- :"
        );
        assert_eq!(scale.bar(99.0, None, 'o', None), "          o");
        assert_eq!(Scale::of([1.0, 1.0].into_iter(), 11), None);
    }
}
