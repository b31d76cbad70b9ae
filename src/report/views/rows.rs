//! Sessions as rows: shared by the views over several days.

use jiff::civil::Date;
use serde::Serialize;

use super::{Day, list, words};
use crate::report::terminal::TextOptions;
use crate::report::views::words::Scale;
use crate::trials::summarise;
use crate::units::Metres;

/// Columns of the bars.
const BARS: usize = 34;

/// One session in figures.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SessionRow {
    /// Its date.
    pub date: Date,
    /// Trials that count.
    pub trials: usize,
    /// Trials that do not.
    pub left_out: usize,
    /// Mean of those that count.
    pub mean_m: Metres,
    /// 95 % interval of the mean about these trials alone; none for a single one.
    pub mean_interval95_m: Option<[Metres; 2]>,
    /// The best.
    pub best_m: Metres,
    /// Heights that count, in their order.
    pub heights_m: Vec<Metres>,
}

impl SessionRow {
    /// The row of a session; none if no trial counts.
    pub fn of(day: &Day) -> Option<Self> {
        let summary = summarise(&day.trials).ok()?;
        Some(Self {
            date: day.date,
            trials: summary.n,
            left_out: summary.left_out.len(),
            mean_m: summary.mean,
            mean_interval95_m: summary.mean_interval95.map(list),
            best_m: summary.best,
            heights_m: day.heights(),
        })
    }
}

/// One line for each session: date, count, mean, and the trials as dots on a scale.
pub fn table(rows: &[&SessionRow], marked: Option<Date>, options: TextOptions) -> String {
    let units = options.units;
    let heights = || {
        rows.iter()
            .flat_map(|row| &row.heights_m)
            .map(|h| h.metres())
    };
    let scale = Scale::of(heights(), BARS);
    let mut text = format!(
        "  {:<10}  {:>6}  {:>9}  {:>9}   {}\n",
        "date",
        "trials",
        "mean",
        "best",
        axis(scale, units, heights())
    );
    for row in rows {
        let bar = scale.map_or(String::new(), |scale| dots(scale, row));
        let arrow = if marked == Some(row.date) { '>' } else { ' ' };
        let line = format!(
            "{arrow} {}  {:>6}  {:>9}  {:>9}   {bar}",
            row.date,
            row.trials,
            words::length(units, row.mean_m),
            words::length(units, row.best_m)
        );
        text += line.trim_end();
        text.push('\n');
    }
    if scale.is_some() {
        text += &format!("{:45}. a trial   o the mean\n", "");
    }
    text
}

/// The ends of the scale.
fn axis(
    scale: Option<Scale>,
    units: crate::report::terminal::Units,
    heights: impl Iterator<Item = f64>,
) -> String {
    if scale.is_none() {
        return String::new();
    }
    let (lo, hi) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), h| {
        (lo.min(h), hi.max(h))
    });
    let end = |metres| words::length(units, Metres::from_metres(metres));
    let (left, right) = (end(lo), end(hi));
    format!(
        "{left}{right:>room$}",
        room = BARS.saturating_sub(left.len())
    )
}

/// Every trial a dot, the mean over them.
fn dots(scale: Scale, row: &SessionRow) -> String {
    let mut cells: Vec<char> = vec![' '; BARS];
    let mut lay = |value: f64, mark: char| {
        for (cell, new) in cells
            .iter_mut()
            .zip(scale.bar(value, None, mark, None).chars())
        {
            if new == mark {
                *cell = new;
            }
        }
    };
    row.heights_m
        .iter()
        .for_each(|height| lay(height.metres(), '.'));
    lay(row.mean_m.metres(), 'o');
    cells.into_iter().collect::<String>().trim_end().to_owned()
}
