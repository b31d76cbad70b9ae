//! Days as numbers for the statistics, and as marks under a plot.

use jiff::civil::{Date, date};
use jiff::{ToSpan, Unit};

/// The number of a day, counted from 1970-01-01.
pub fn number(day: Date) -> f64 {
    let from_start = day.since((Unit::Day, date(1970, 1, 1)));
    from_start.map_or(f64::NAN, |span| f64::from(span.get_days()))
}

/// The day of a number, where the calendar has one.
pub fn of_number(day: f64) -> Option<Date> {
    let days = (day.is_finite() && day.abs() < 4e6).then_some(day.floor() as i64)?;
    date(1970, 1, 1).checked_add(days.days()).ok()
}

/// Marks for an axis from one day to another: days counted from `anchor`, months or
/// years, whichever gives some four to twelve.
pub fn ticks(from: f64, to: f64, anchor: f64) -> Vec<(f64, String)> {
    let (Some(first), Some(last), Some(anchor)) =
        (of_number(from), of_number(to), of_number(anchor))
    else {
        return Vec::new();
    };
    let span = to - from;
    let at = |day: Date, label: String| (number(day), label);
    if span <= 150.0 {
        let step = [1, 2, 7, 14]
            .into_iter()
            .find(|step| span / f64::from(*step) <= 11.0);
        let step = i64::from(step.unwrap_or(14));
        return std::iter::successors(Some(anchor), |day| day.checked_add(step.days()).ok())
            .take_while(|day| *day <= last)
            .filter(|day| number(*day) >= from)
            .map(|day| at(day, day.to_string()))
            .collect();
    }
    let months = span / 30.4;
    let step = [1, 2, 3, 6, 12, 24, 60, 120, 240]
        .into_iter()
        .find(|step| months / f64::from(*step) <= 12.0)
        .unwrap_or(480);
    let start = if step < 12 {
        date(first.year(), 1, 1)
    } else {
        date(first.year() - first.year().rem_euclid(step / 12), 1, 1)
    };
    let label = |day: Date| {
        if step < 12 {
            day.strftime("%Y-%m").to_string()
        } else {
            day.strftime("%Y").to_string()
        }
    };
    std::iter::successors(Some(start), |day| {
        day.checked_add(i64::from(step).months()).ok()
    })
    .take_while(|day| *day <= last)
    .filter(|day| number(*day) >= from)
    .map(|day| at(day, label(day)))
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_dates_undo_each_other() {
        // 2000-03-01 is day 11017: 30 years of 365 days, 7 leap days, 31 + 29.
        assert_eq!(number(date(2000, 3, 1)), 30.0 * 365.0 + 7.0 + 60.0);
        for day in [date(1970, 1, 1), date(2026, 11, 25), date(1969, 12, 31)] {
            assert_eq!(of_number(number(day)), Some(day));
        }
        assert_eq!(of_number(f64::NAN), None);
    }

    #[test]
    fn every_span_has_a_readable_count_of_marks() {
        let from = number(date(2025, 9, 3));
        for span in [
            1.0, 5.0, 12.0, 40.0, 70.0, 150.0, 151.0, 200.0, 400.0, 900.0, 4000.0, 20000.0,
        ] {
            let marks = ticks(from, from + span, from);
            assert!((1..=13).contains(&marks.len()), "{span}: {marks:?}");
            assert!(marks.iter().all(|m| (from..=from + span).contains(&m.0)));
        }
        assert_eq!(ticks(from, from + 200.0, from)[0].1, "2025-10");
        assert_eq!(ticks(from - 1.0, from + 40.0, from)[0].1, "2025-09-03");
    }
}
