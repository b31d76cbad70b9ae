//! A squad: who rose, who fell, who has too few trials; how well the test repeats.

use jiff::civil::Date;
use serde::Serialize;

use super::change::{Figures, smallest_words};
use super::reliability::{Reliability, reliability, reliability_facts};
use super::words::{self, Scale, length, line, signed, signed_span};
use super::{Day, SCHEMA, Subject, ViewPlot};
use crate::report::plot::ValueAxis;
use crate::report::plot::rows::{MOST_ROWS, Row as PlotRow, RowChange, RowMark, RowsPlot};
use crate::report::terminal::wrap::elided;
use crate::report::terminal::{TextOptions, Units};
use crate::trials::squad::{Member, squad};
use crate::trials::{ChangeOptions, Session, SmallestWorthwhile, TrialsError, Verdict};
use crate::units::Metres;

/// Columns of names and bars in the text.
const NAMES: usize = 20;
const BARS: usize = 17;

/// One athlete as the log has her.
#[derive(Clone, Debug, PartialEq)]
pub struct SquadMember {
    /// Name.
    pub name: String,
    /// Sessions to start from.
    pub baseline: Vec<Day>,
    /// The session to compare; none if she was not there.
    pub later: Option<Day>,
}

/// One athlete.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SquadRow {
    /// Name.
    pub name: String,
    /// The answer.
    pub verdict: Verdict,
    /// Date of the session compared.
    pub later: Option<Date>,
    /// Dates of the baseline.
    pub baseline: Vec<Date>,
    /// Everything claimed; none where a side has no usable trial.
    pub change: Option<Figures>,
}

/// A squad's changes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SquadView {
    /// [`SCHEMA`].
    pub schema: u32,
    /// `squad`.
    pub view: &'static str,
    /// What sort of jumps.
    #[serde(flatten)]
    pub subject: Subject,
    /// Those who rose, largest rise first; who fell; not told apart; too few trials.
    pub rows: Vec<SquadRow>,
    /// How many rose.
    pub rose: usize,
    /// How many fell.
    pub fell: usize,
    /// How many are not told apart yet.
    pub not_told_apart: usize,
    /// How many have too few trials.
    pub too_few_trials: usize,
    /// How many would be called higher or lower if nobody had changed.
    pub expected_by_chance: f64,
    /// How well trials repeat; none if the data do not carry it.
    pub reliability: Option<Reliability>,
    /// Why not.
    pub no_reliability: Option<String>,
}

impl SquadView {
    /// Judges everybody.
    ///
    /// # Errors
    /// As [`squad`].
    pub fn of(
        subject: Subject,
        members: &[SquadMember],
        options: &ChangeOptions,
    ) -> Result<Self, TrialsError> {
        let baselines: Vec<Vec<Session>> = members
            .iter()
            .map(|member| member.baseline.iter().map(Day::session).collect())
            .collect();
        let asked: Vec<Member> = members
            .iter()
            .zip(&baselines)
            .map(|(member, baseline)| Member {
                name: &member.name,
                baseline,
                today: member.later.as_ref().map(Day::session),
            })
            .collect();
        let judged = squad(&asked, options)?;
        let reliability = reliability(members);
        let rows = judged.rows.iter().map(|row| {
            let member = members.iter().find(|member| member.name == row.name);
            let baseline = member.map_or(&[][..], |member| &member.baseline);
            SquadRow {
                name: row.name.clone(),
                verdict: row.verdict,
                later: member.and_then(|m| m.later.as_ref()).map(|day| day.date),
                baseline: baseline.iter().map(|day| day.date).collect(),
                change: row.change.as_ref().map(Figures::of),
            }
        });
        Ok(Self {
            schema: SCHEMA,
            view: "squad",
            subject,
            rows: rows.collect(),
            rose: judged.rose,
            fell: judged.fell,
            not_told_apart: judged.not_told_apart,
            too_few_trials: judged.too_few,
            expected_by_chance: judged.expected_by_chance,
            no_reliability: reliability.as_ref().err().cloned(),
            reliability: reliability.ok(),
        })
    }

    /// Whether anybody could be judged.
    pub fn is_usable(&self) -> bool {
        self.too_few_trials < self.rows.len()
    }

    fn smallest(&self) -> Option<(Metres, SmallestWorthwhile)> {
        let mut figures = self.rows.iter().filter_map(|row| row.change.as_ref());
        figures
            .next()
            .map(|f| (f.smallest_worthwhile_m, f.smallest_from))
    }

    /// The view for the terminal.
    pub fn text(&self, options: TextOptions) -> String {
        let units = options.units;
        let title = format!(
            "{}: {} rose, {} fell",
            words::subject(units, &self.subject),
            self.rose,
            self.fell
        );
        let mut text = words::heading(options, &title);
        text += &self.table(units);
        text += "  open: not told apart yet\n\n";
        for (name, value) in self.facts(units) {
            text += &line(name, &value);
        }
        for remark in self.remarks() {
            text += &words::remark(options, &remark);
        }
        text
    }

    fn table(&self, units: Units) -> String {
        let ends = self.rows.iter().filter_map(|row| row.change.as_ref());
        let ends = ends.flat_map(|c| match c.difference_interval95_m {
            Some([lo, hi]) => [lo, hi],
            None => [c.difference_m; 2],
        });
        let most = ends.map(|m| m.metres().abs()).fold(0.0, f64::max);
        let scale = Scale::of([-most, most].into_iter(), BARS);
        let mut text = format!(
            "  {:<NAMES$} {:>9} {:>16}  {:<BARS$} {}\n",
            "athlete", "change", "95 %", "  lower : higher", "verdict"
        );
        for row in &self.rows {
            let (change, interval, bar) = match &row.change {
                None => (String::new(), String::new(), String::new()),
                Some(figures) => cells(figures, scale, units),
            };
            let line = format!(
                "  {:<NAMES$} {change:>9} {interval:>16}  {bar:<BARS$} {}",
                elided(&row.name, NAMES),
                short(row.verdict)
            );
            text += line.trim_end();
            text.push('\n');
        }
        text
    }

    /// The figures by name.
    pub fn facts(&self, units: Units) -> Vec<(&'static str, String)> {
        let judged = self.rows.len() - self.too_few_trials;
        let mut facts = vec![
            ("Compared", self.days_compared()),
            (
                "Counts",
                format!(
                    "{} rose, {} fell, {} open, {} with too few trials",
                    self.rose, self.fell, self.not_told_apart, self.too_few_trials
                ),
            ),
            (
                "By chance alone",
                format!(
                    "{:.1} of {judged} would rise or fall if nobody had changed",
                    self.expected_by_chance
                ),
            ),
        ];
        if let Some((size, from)) = self.smallest() {
            let value = match from {
                SmallestWorthwhile::Default => smallest_words(&from),
                _ => format!("{}  ({})", length(units, size), smallest_words(&from)),
            };
            facts.push(("Smallest worthwhile change", value));
        }
        if let Some(found) = &self.reliability {
            facts.extend(reliability_facts(found, units));
        }
        facts
    }

    /// Between which days later sessions and baselines lie.
    fn days_compared(&self) -> String {
        let later = range(self.rows.iter().filter_map(|row| row.later));
        let baseline = range(
            self.rows
                .iter()
                .flat_map(|row| row.baseline.iter().copied()),
        );
        format!("{later} with {baseline}")
    }

    fn remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        if let Some(why) = &self.no_reliability {
            remarks.push(format!("No ICC: {why}."));
        } else if self.reliability.as_ref().is_some_and(|r| r.athletes < 50) {
            remarks.push(
                "The typical error and the ICC of a squad become sharp from some 50 athletes \
                 with three trials on (Hopkins 2000); read the intervals."
                    .to_owned(),
            );
        }
        let mut codes: Vec<&str> = Vec::new();
        let warnings = self.rows.iter().filter_map(|row| row.change.as_ref());
        for warning in warnings.flat_map(|figures| &figures.warnings) {
            if !codes.contains(&warning.code.as_str()) {
                codes.push(&warning.code);
            }
        }
        for (code, text) in COMMON_REMARKS {
            if codes.contains(&code) {
                remarks.push(text.to_owned());
            }
        }
        let returning: Vec<&str> = self
            .rows
            .iter()
            .filter(|row| {
                let warnings = row.change.iter().flat_map(|figures| &figures.warnings);
                warnings
                    .into_iter()
                    .any(|w| w.code == "regression_to_the_mean")
            })
            .map(|row| row.name.as_str())
            .collect();
        if !returning.is_empty() {
            remarks.push(format!(
                "Began far from the squad, so part of the change is only a return to the usual \
                 (regression to the mean): {}.",
                returning.join(", ")
            ));
        }
        remarks
    }

    /// One row for each athlete about the line of no change.
    pub fn plot(&self, units: Units) -> ViewPlot {
        let shown = |metres: Metres| units.of(metres);
        let (named, hidden) = self.rows.split_at(self.rows.len().min(MOST_ROWS));
        let rows = named.iter().map(|row| PlotRow {
            name: row.name.clone(),
            note: note(row, units),
            change: row.change.as_ref().map(|figures| {
                let interval = figures
                    .difference_interval95_m
                    .map(|[lo, hi]| (shown(lo), shown(hi)));
                RowChange {
                    value: shown(figures.difference_m),
                    interval,
                    mark: mark(row.verdict),
                }
            }),
        });
        let band = self
            .smallest()
            .filter(|(_, from)| *from != SmallestWorthwhile::Default);
        let and_more = match hidden.len() {
            0 => String::new(),
            more => format!(" (and {more} more)"),
        };
        ViewPlot::Rows(RowsPlot {
            title: format!("{}: change{and_more}", words::subject(units, &self.subject)),
            values: ValueAxis {
                name: "change of mean height with 95 % interval".to_owned(),
                unit: units.symbol().to_owned(),
            },
            band_name: "below the smallest worthwhile".to_owned(),
            band: band.map(|(size, _)| shown(size)),
            rows: rows.collect(),
        })
    }
}

/// Warnings that may hold for several athletes, in words for all of them.
const COMMON_REMARKS: [(&str, &str); 5] = [
    (
        "few_trials",
        "Some sessions have fewer than three trials; those intervals are wide.",
    ),
    (
        "day_to_day_left_out",
        "Where the baseline has fewer than three sessions, an athlete's ups and downs from day \
         to day are not in the interval.",
    ),
    (
        "trials_left_out",
        "Trials were left out for their flags, none for height alone; `underfoot trials` lists \
         them.",
    ),
    (
        "improbable_height",
        "A trial of improbable height counts. Look at its clip.",
    ),
    (
        "scatter_borrowed",
        "Where a session has a single trial, its scatter was taken from the other sessions.",
    ),
];

/// From the first day to the last.
fn range(days: impl Iterator<Item = Date> + Clone) -> String {
    match (days.clone().min(), days.max()) {
        (Some(first), Some(last)) if first == last => first.to_string(),
        (Some(first), Some(last)) => format!("{first} to {last}"),
        _ => "no day".to_owned(),
    }
}

fn cells(figures: &Figures, scale: Option<Scale>, units: Units) -> (String, String, String) {
    let change = format!("{} {}", signed(units, figures.difference_m), units.symbol());
    let value = figures.difference_m.metres();
    let interval = figures.difference_interval95_m;
    let ends = interval.map(|[lo, hi]| (lo.metres(), hi.metres()));
    let bar = scale.map_or(String::new(), |scale| {
        scale.bar(value, ends, 'o', Some(0.0))
    });
    let text = interval.map_or(String::new(), |interval| {
        let span = signed_span(units, interval);
        span.trim_end_matches(units.symbol()).trim_end().to_owned()
    });
    (change, text, bar)
}

/// The verdict in one word or two, for a column.
fn short(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Higher => "rose",
        Verdict::Lower => "fell",
        Verdict::NotToldApart => "open",
        Verdict::TooFewTrials => "too few",
    }
}

fn note(row: &SquadRow, units: Units) -> String {
    match (&row.change, row.verdict) {
        (Some(figures), Verdict::Higher | Verdict::Lower | Verdict::NotToldApart) => {
            let change = signed(units, figures.difference_m).replace('-', "\u{2212}");
            format!("{change} {}  {}", units.symbol(), short(row.verdict))
        }
        _ => Verdict::TooFewTrials.label().to_owned(),
    }
}

fn mark(verdict: Verdict) -> RowMark {
    match verdict {
        Verdict::Higher => RowMark::Rose,
        Verdict::Lower => RowMark::Fell,
        Verdict::NotToldApart | Verdict::TooFewTrials => RowMark::Open,
    }
}
