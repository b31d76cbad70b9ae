//! Jump height beside one companion measure.

use jiff::civil::Date;
use serde::Serialize;

use super::trials::height_axis;
use super::words::{self, Scale, counted, length, line};
use super::{SCHEMA, Subject, ViewPlot, dates, list};
use crate::report::plot::ValueAxis;
use crate::report::plot::chart::{
    Across, Band, Chart, ChartLine, ChartPanel, Mark, MarkPoint, Marks,
};
use crate::report::terminal::numbers::fixed;
use crate::report::terminal::wrap::{elided, wrapped};
use crate::report::terminal::{TextOptions, Units};
use crate::trials::TrialsError;
use crate::trials::companion::{Association, NO_PREDICTION, Series, SeriesSummary, side_by_side};
use crate::trials::trend::{DatedValue, Direction};
use crate::units::Metres;

/// Columns of a bar in the text.
const BARS: usize = 17;
/// Most dates of a series looked at, the last ones: each takes part in four trends, of
/// which every pair of dates is a part.
const MOST_DATES: usize = 1000;
/// Most dates listed in the text.
const MOST_LINES: usize = 30;

/// One value on one date.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DateValue {
    /// The date.
    pub date: Date,
    /// Mean of the date's values: metres for jump height, else in the measure's unit.
    pub value: f64,
}

/// One measure over time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Measure {
    /// Its name.
    pub name: String,
    /// Unit of its values; `m` for jump height.
    pub unit: String,
    /// One mean per date.
    pub dates: Vec<DateValue>,
    /// Typical error of one value.
    pub typical_error: Option<f64>,
    /// Its 95 % interval, if from repeats.
    pub typical_error_interval95: Option<[f64; 2]>,
    /// How far two dates must differ to be told apart; none without a typical error.
    pub detectable: Option<f64>,
    /// Where the series is going.
    pub direction: Option<Direction>,
}

/// Two measures side by side.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CompanionView {
    /// [`SCHEMA`].
    pub schema: u32,
    /// `companion`.
    pub view: &'static str,
    /// Whose, and what sort of jumps.
    #[serde(flatten)]
    pub subject: Subject,
    /// Jump height.
    pub jump: Measure,
    /// The companion.
    pub companion: Measure,
    /// Dates that have both.
    pub paired_dates: usize,
    /// How far they went together, from ten paired dates on.
    pub association: Option<AssociationView>,
    /// Why there is none.
    pub no_association: Option<String>,
    /// Why nothing is predicted.
    pub no_prediction: &'static str,
}

/// How far two measures went together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AssociationView {
    /// Paired dates.
    pub dates: usize,
    /// Spearman's rank correlation.
    pub spearman: f64,
    /// Its 95 % interval.
    pub spearman_interval95: [f64; 2],
    /// The same with each series' trend taken out.
    pub without_trend: Option<f64>,
    /// Its 95 % interval.
    pub without_trend_interval95: Option<[f64; 2]>,
}

impl CompanionView {
    /// Puts two series side by side; heights in metres.
    ///
    /// # Errors
    /// As [`side_by_side`].
    pub fn of(
        subject: Subject,
        heights: Series,
        (name, unit): (&str, &str),
        values: Series,
    ) -> Result<Self, TrialsError> {
        // Both over the same time, however long one of them is.
        let first = first_day(heights.values).max(first_day(values.values));
        let (late_heights, late_values) =
            (since(first, heights.values), since(first, values.values));
        let both = side_by_side(
            Series {
                values: &late_heights,
                ..heights
            },
            Series {
                values: &late_values,
                ..values
            },
        )?;
        Ok(Self {
            schema: SCHEMA,
            view: "companion",
            subject,
            jump: measure("jump height", "m", &both.jump),
            companion: measure(name, unit, &both.companion),
            paired_dates: both.pairs.len(),
            association: both.association.as_ref().map(association),
            no_association: both.no_association.map(|why| why.text()),
            no_prediction: NO_PREDICTION,
        })
    }

    /// The view for the terminal.
    pub fn text(&self, options: TextOptions) -> String {
        let units = options.units;
        let title = format!(
            "{} and {}",
            words::subject(units, &self.subject),
            self.companion.name
        );
        let mut text = words::heading(options, &title);
        text += &self.table(units);
        text += "\n";
        for (name, value) in self.facts(units) {
            text += &line(&name, &value);
        }
        text += "\n";
        match (&self.association, &self.no_association) {
            (Some(found), _) => text += &wrapped("  ", &association_words(found)),
            (None, Some(why)) => text += &wrapped("  ", &format!("No association: {why}")),
            (None, None) => {}
        }
        text + &wrapped("  ", self.no_prediction)
    }

    fn table(&self, units: Units) -> String {
        let name = self.companion.name.as_str();
        let unit = format!("({})", self.companion.unit);
        let room = 18_usize.saturating_sub(unit.chars().count() + 1).max(6);
        let head = format!("{} {unit}", elided(name, room));
        let mut text = format!(
            "  {:<10} {:>11} {:<BARS$}  {:>18} {}\n",
            "date", "jump height", "", head, ""
        );
        text = text.trim_end().to_owned() + "\n";
        let scales =
            [&self.jump, &self.companion].map(|m| Scale::of(m.dates.iter().map(|d| d.value), BARS));
        let days = self.all_dates();
        let hidden = days.len().saturating_sub(MOST_LINES);
        for day in days.iter().skip(hidden) {
            let height = value_on(&self.jump, *day);
            let value = value_on(&self.companion, *day);
            let bar = |value: Option<f64>, scale: Option<Scale>| {
                let both = value.zip(scale);
                both.map_or(String::new(), |(value, scale)| {
                    scale.bar(value, None, 'o', None)
                })
            };
            let metres = height.map(Metres::from_metres);
            let line = format!(
                "  {day} {:>11} {:<BARS$}  {:>18} {}",
                metres.map_or(String::new(), |m| length(units, m)),
                bar(height, scales[0]),
                value.map_or(String::new(), tidy),
                bar(value, scales[1])
            );
            text += line.trim_end();
            text.push('\n');
        }
        if hidden > 0 {
            text += &wrapped("  ", &format!("{hidden} earlier dates are not listed."));
        }
        text
    }

    fn all_dates(&self) -> Vec<Date> {
        let both = self.jump.dates.iter().chain(&self.companion.dates);
        let mut days: Vec<Date> = both.map(|d| d.date).collect();
        days.sort();
        days.dedup();
        days
    }

    /// Each measure's detectable change and direction, by name.
    pub fn facts(&self, units: Units) -> Vec<(String, String)> {
        let height = |value: f64| length(units, Metres::from_metres(value));
        let unit = &self.companion.unit;
        let other = |value: f64| format!("{} {unit}", tidy(value));
        let say = |measure: &Measure, number: &dyn Fn(f64) -> String| {
            let detectable = match measure.detectable {
                Some(size) => format!("two dates told apart at {}", number(size)),
                None => "no detectable change known: repeat it on a date, or state its typical \
                         error"
                    .to_owned(),
            };
            let direction = measure.direction.map_or("", Direction::label);
            let dates = counted(measure.dates.len(), "date");
            format!("{dates}, {direction}; {detectable}")
        };
        vec![
            ("Jump height".to_owned(), say(&self.jump, &height)),
            (
                elided(&self.companion.name, 28),
                say(&self.companion, &other),
            ),
        ]
    }

    /// The two series above one another over the same dates.
    pub fn plot(&self, units: Units) -> ViewPlot {
        let days: Vec<f64> = self.all_dates().into_iter().map(dates::number).collect();
        let first = days.first().copied().unwrap_or(0.0);
        let last = days.last().copied().unwrap_or(1.0);
        let side = 0.03 * (last - first).max(1.0);
        let height = |value: f64| units.of(Metres::from_metres(value));
        let unit_axis = ValueAxis {
            name: self.companion.name.clone(),
            unit: self.companion.unit.clone(),
        };
        let ends = (first - side, last + side);
        ViewPlot::Chart(Box::new(Chart {
            lettering: 1.0,
            title: format!(
                "{} and {}",
                words::subject(units, &self.subject),
                self.companion.name
            ),
            across: Across {
                name: String::new(),
                from: ends.0,
                to: ends.1,
                ticks: dates::ticks(ends.0, ends.1, first),
            },
            panels: vec![
                panel(&self.jump, height_axis(units), Mark::Dot, ends, &height),
                panel(&self.companion, unit_axis, Mark::Ring, ends, &|value| value),
            ],
        }))
    }
}

/// One measure's dates, joined, and the range that cannot be told from the first.
fn panel(
    measure: &Measure,
    values: ValueAxis,
    mark: Mark,
    ends: (f64, f64),
    number: &dyn Fn(f64) -> f64,
) -> ChartPanel {
    let points: Vec<(f64, f64)> = measure
        .dates
        .iter()
        .map(|date| (dates::number(date.date), number(date.value)))
        .collect();
    let band = measure
        .detectable
        .zip(points.first())
        .map(|(size, first)| Band {
            name: "cannot be told from the first date".to_owned(),
            across: ends,
            values: (first.1 - number(size), first.1 + number(size)),
        });
    let mark_point = |(at, value): &(f64, f64)| MarkPoint::new(*at, *value, None);
    ChartPanel {
        bands: band.into_iter().collect(),
        lines: vec![ChartLine {
            name: String::new(),
            style: 3,
            points: points.clone(),
        }],
        marks: vec![Marks {
            name: values.name.clone(),
            mark,
            points: points.iter().map(mark_point).collect(),
        }],
        values,
    }
}

/// The first day looked at.
fn first_day(values: &[DatedValue]) -> f64 {
    let mut days: Vec<f64> = values.iter().map(|value| value.day.floor()).collect();
    days.sort_by(f64::total_cmp);
    days.dedup();
    match days.len().checked_sub(MOST_DATES) {
        Some(first) => days.get(first).copied().unwrap_or(f64::NEG_INFINITY),
        None => f64::NEG_INFINITY,
    }
}

/// The values from a day on.
fn since(day: f64, values: &[DatedValue]) -> Vec<DatedValue> {
    let late = values.iter().filter(|value| value.day >= day);
    late.copied().collect()
}

fn measure(name: &str, unit: &str, summary: &SeriesSummary) -> Measure {
    let dated = |point: &DatedValue| {
        Some(DateValue {
            date: dates::of_number(point.day)?,
            value: point.value,
        })
    };
    Measure {
        name: name.to_owned(),
        unit: unit.to_owned(),
        dates: summary.dates.iter().filter_map(dated).collect(),
        typical_error: summary.typical_error,
        typical_error_interval95: summary.typical_error_interval95.map(list),
        detectable: summary.detectable,
        direction: summary.trend.map(|trend| trend.direction),
    }
}

fn value_on(measure: &Measure, day: Date) -> Option<f64> {
    let at = measure.dates.binary_search_by(|d| d.date.cmp(&day)).ok()?;
    measure.dates.get(at).map(|d| d.value)
}

fn association(found: &Association) -> AssociationView {
    AssociationView {
        dates: found.dates,
        spearman: found.spearman,
        spearman_interval95: list(found.interval95),
        without_trend: found.without_trend,
        without_trend_interval95: found.without_trend_interval95.map(list),
    }
}

/// What the correlation says, no more.
fn association_words(found: &AssociationView) -> String {
    let [lo, hi] = found.spearman_interval95;
    let together = |lo: f64, hi: f64| {
        if lo > 0.0 {
            "they went up and down together"
        } else if hi < 0.0 {
            "one went up where the other went down"
        } else {
            "whether they hang together is not told apart yet"
        }
    };
    let mut text = format!(
        "Rank correlation over {} dates: {:.2} (95 %: {lo:.2} to {hi:.2}); {}.",
        found.dates,
        found.spearman,
        together(lo, hi)
    );
    if let (Some(r), Some([lo, hi])) = (found.without_trend, found.without_trend_interval95) {
        text += &format!(
            " With each one's own trend taken out: {r:.2} ({lo:.2} to {hi:.2}); {}.",
            together(lo, hi)
        );
    }
    text
}

/// A value of any unit with three figures or so.
fn tidy(value: f64) -> String {
    let places = match value.abs() {
        size if size >= 100.0 => 1,
        size if size >= 1.0 => 2,
        _ => 3,
    };
    fixed(value, places)
}
