//! Days and lengths as people type them.

use jiff::civil::Date;

use crate::report::model::Failure;
use crate::report::terminal::Units;
use crate::units::Metres;
use crate::workflow::views::DayRange;

pub(super) fn date(text: &str) -> Result<Date, String> {
    let good = text.len() == 10;
    text.parse()
        .ok()
        .filter(|_| good)
        .ok_or_else(|| "write the day as year-month-day, such as 2026-03-02".to_owned())
}

pub(super) fn range(text: &str) -> Result<DayRange, String> {
    let (from, to) = match text.split_once("..") {
        Some((from, to)) => (date(from)?, date(to)?),
        None => (date(text)?, date(text)?),
    };
    in_order(from, to).map_err(|failure| failure.message)
}

pub(super) fn in_order(from: Date, to: Date) -> Result<DayRange, Failure> {
    if from <= to {
        return Ok(DayRange { from, to });
    }
    Err(Failure {
        message: format!("{from} comes after {to}"),
        hint: "name the earlier day first".to_owned(),
    })
}

/// A length as typed; without a unit it is in those of the text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Length {
    number: f64,
    unit_m: Option<f64>,
}

impl Length {
    pub(super) fn parse(text: &str) -> Result<Self, String> {
        let text = text.trim();
        // "mm", "cm" and "in" before "m", which is the end of two of them.
        let (number, unit_m) = [("mm", 0.001), ("cm", 0.01), ("in", 0.0254), ("m", 1.0)]
            .into_iter()
            .find_map(|(unit, size)| Some((text.strip_suffix(unit)?, Some(size))))
            .unwrap_or((text, None));
        let wanted = || "write a length above 0, such as 2cm or 0.8in".to_owned();
        let number: f64 = number.trim_end().parse().map_err(|_| wanted())?;
        if number > 0.0 && number.is_finite() {
            Ok(Self { number, unit_m })
        } else {
            Err(wanted())
        }
    }

    pub(super) fn metres(self, units: Units) -> Metres {
        let usual = match units {
            Units::Metric => 0.01,
            Units::Imperial => 0.0254,
        };
        Metres::from_metres(self.number * self.unit_m.unwrap_or(usual))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_carry_their_unit_or_take_the_texts() {
        let metres = |text, units| Length::parse(text).map(|l| l.metres(units).metres());
        let close = |got: Result<f64, String>, wanted: f64| (got.unwrap() - wanted).abs() < 1e-12;
        assert!(close(metres("2", Units::Metric), 0.02));
        assert!(close(metres("2", Units::Imperial), 0.0508));
        assert!(close(metres("15 mm", Units::Imperial), 0.015));
        assert!(close(metres("0.3m", Units::Metric), 0.3));
        for bad in ["", "cm", "-1cm", "0", "nan", "1e400", "two"] {
            assert!(metres(bad, Units::Metric).is_err(), "{bad}");
        }
    }

    #[test]
    fn days_and_ranges_are_told_apart() {
        let one = range("2026-03-02").unwrap();
        assert_eq!(one.from, one.to);
        let two = range("2026-01-12..2026-02-09").unwrap();
        assert!(two.from < two.to);
        for bad in [
            "",
            "2026-13-01",
            "2026-02-09..2026-01-12",
            "2.3.2026",
            "2026-03-02..",
            "20260302",
        ] {
            assert!(range(bad).is_err(), "{bad}");
        }
    }
}
