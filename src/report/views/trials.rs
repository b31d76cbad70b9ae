//! The trials of one day.

use jiff::civil::Date;
use serde::Serialize;

use super::words::{self, Scale, counted, length, line, span};
use super::{SCHEMA, Subject, ViewPlot, list};
use crate::report::plot::ValueAxis;
use crate::report::plot::chart::{Across, Band, ChartLine, ChartPanel, Mark, MarkPoint, Marks};
use crate::report::terminal::wrap::wrapped;
use crate::report::terminal::{TextOptions, Units};
use crate::trials::components::{Components, separate};
use crate::trials::{DaySummary, Session, TrialHeight, TrialsError, summarise};
use crate::units::Metres;

/// Columns of the bars in the text.
const BARS: usize = 30;

/// One trial as it comes from the log.
#[derive(Clone, Debug, PartialEq)]
pub struct DayTrial {
    /// Number in the log.
    pub id: i64,
    /// Height, film error and doubts.
    pub height: TrialHeight,
    /// 95 % interval of the film, if the log has one.
    pub interval95: Option<[Metres; 2]>,
    /// What each flag of the trial advises, by code.
    pub advice: Vec<(String, String)>,
}

/// One trial.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrialRow {
    /// Place in the day, from 1.
    pub number: usize,
    /// Number in the log.
    pub id: i64,
    /// Height.
    pub height_m: Metres,
    /// 95 % interval of the film's error about it.
    pub height_interval95_m: [Metres; 2],
    /// Whether it counts.
    pub counts: bool,
    /// Why it does not: codes of flags, or "set aside" with a person's reason.
    pub reasons: Vec<String>,
    /// What the flags among the reasons advise.
    pub advice: Vec<String>,
}

/// A day's trials in figures.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// Trials that count.
    pub trials: usize,
    /// Their mean, the figure to compare.
    pub mean_m: Metres,
    /// Its 95 % interval; none for a single trial.
    pub mean_interval95_m: Option<[Metres; 2]>,
    /// The best of them.
    pub best_m: Metres,
    /// Its place in the day.
    pub best_number: usize,
    /// Standard deviation of the trials; none for a single one.
    pub typical_error_m: Option<Metres>,
    /// Its 95 % interval.
    pub typical_error_interval95_m: Option<[Metres; 2]>,
    /// Typical error over mean.
    pub cv: Option<f64>,
    /// Its 95 % interval.
    pub cv_interval95: Option<[f64; 2]>,
    /// Film error of one trial (standard uncertainty), drawn anew with each clip.
    pub film_u_m: Metres,
    /// Film error that all trials share.
    pub shared_u_m: Metres,
    /// The athlete's own standard deviation, film error taken out.
    pub athlete_sd_m: Option<Metres>,
    /// Its 95 % interval.
    pub athlete_sd_interval95_m: Option<[Metres; 2]>,
    /// Film's share of one trial's variance.
    pub film_share: Option<f64>,
}

/// The trials of one day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrialsView {
    /// [`SCHEMA`].
    pub schema: u32,
    /// `trials`.
    pub view: &'static str,
    /// Whose, and what sort.
    #[serde(flatten)]
    pub subject: Subject,
    /// The day.
    pub date: Date,
    /// All trials in their order.
    pub trials: Vec<TrialRow>,
    /// In figures; none if no trial counts.
    pub summary: Option<Summary>,
    /// What to beware of.
    pub warnings: Vec<String>,
}

impl TrialsView {
    /// The view of a day.
    ///
    /// # Errors
    /// [`TrialsError::BadTrial`] for figures that are no numbers.
    pub fn of(subject: Subject, date: Date, trials: &[DayTrial]) -> Result<Self, TrialsError> {
        let heights: Vec<TrialHeight> = trials.iter().map(|t| t.height.clone()).collect();
        let day = match summarise(&heights) {
            Err(TrialsError::NoUsableTrials { .. }) => None,
            other => Some(other?),
        };
        let session = Session {
            day: 0.0,
            trials: &heights,
        };
        let parts = separate(&[session]).ok();
        Ok(Self {
            schema: SCHEMA,
            view: "trials",
            subject,
            date,
            trials: trials.iter().map(row).collect(),
            warnings: warnings(day.as_ref(), parts.as_ref()),
            summary: day.map(|day| summary(&day, parts.as_ref())),
        })
    }

    /// Whether any trial counts.
    pub fn is_usable(&self) -> bool {
        self.summary.is_some()
    }

    /// The view for the terminal.
    pub fn text(&self, options: TextOptions) -> String {
        let units = options.units;
        let mut text = words::heading(options, &self.title(units));
        text += &self.table(units);
        match &self.summary {
            None => text += &wrapped("  ", "No trial of this day counts."),
            Some(summary) => text += &summary_text(summary, units),
        }
        text += &self.left_out_text();
        for warning in &self.warnings {
            text += &words::remark(options, warning);
        }
        text
    }

    fn table(&self, units: Units) -> String {
        let ends = self.trials.iter().flat_map(|t| t.height_interval95_m);
        let scale = Scale::of(ends.map(Metres::metres), BARS);
        let mean = self.summary.as_ref().map(|s| s.mean_m.metres());
        let mut text = format!(
            "  {:>5}  {:>9}  {:>17}   {}\n",
            "trial", "height", "film error, 95 %", "o counts, x does not, : mean"
        );
        for trial in &self.trials {
            let [lo, hi] = trial.height_interval95_m;
            let mark = if trial.counts { 'o' } else { 'x' };
            let bar = scale.map_or(String::new(), |scale| {
                let interval = Some((lo.metres(), hi.metres()));
                scale.bar(trial.height_m.metres(), interval, mark, mean)
            });
            let line = format!(
                "  {:>5}  {:>9}  {:>17}   {bar}",
                trial.number,
                length(units, trial.height_m),
                span(units, [lo, hi]),
            );
            text += line.trim_end();
            text.push('\n');
        }
        text
    }

    fn left_out_text(&self) -> String {
        let mut text = String::new();
        for trial in self.trials.iter().filter(|trial| !trial.counts) {
            let mut why = format!(
                "Trial {} is left out ({}).",
                trial.number,
                trial.reasons.join(", ").replace('_', " ")
            );
            for advice in &trial.advice {
                why += &format!(" {advice}");
            }
            text += &wrapped("  ", &why);
        }
        text
    }

    /// The trials with error bars, their mean and its interval.
    pub fn plot(&self, units: Units) -> ViewPlot {
        let shown = |metres: Metres| units.of(metres);
        // Places in a day may have gaps; on the plot the trials stand in a row.
        let places: Vec<(f64, &TrialRow)> = (1..).map(f64::from).zip(&self.trials).collect();
        let marks = |name: &str, mark, counts: bool| {
            let of_them = places.iter().filter(|(_, trial)| trial.counts == counts);
            Marks {
                name: name.to_owned(),
                mark,
                points: of_them
                    .map(|(at, trial)| mark_point(*at, trial, units))
                    .collect(),
            }
        };
        let end = places.len() as f64 + 0.5;
        let all = [
            marks("trial, 95 % of film error", Mark::Dot, true),
            marks("left out", Mark::Cross, false),
        ];
        let mut panel = ChartPanel {
            values: height_axis(units),
            bands: Vec::new(),
            lines: Vec::new(),
            marks: all.into_iter().filter(|m| !m.points.is_empty()).collect(),
        };
        if let Some(summary) = &self.summary {
            let mean = shown(summary.mean_m);
            panel.lines.push(ChartLine {
                name: format!("mean {}", length(units, summary.mean_m)),
                style: 1,
                points: vec![(0.5, mean), (end, mean)],
            });
            panel
                .bands
                .extend(summary.mean_interval95_m.map(|[lo, hi]| Band {
                    name: "95 % of the mean".to_owned(),
                    across: (0.5, end),
                    values: (shown(lo), shown(hi)),
                }));
        }
        let numbers = places
            .iter()
            .map(|(at, trial)| (*at, trial.number.to_string()));
        let across = Across {
            name: "trial".to_owned(),
            from: 0.5,
            to: end,
            ticks: numbers.collect(),
        };
        ViewPlot::chart(self.title(units), across, panel)
    }

    fn title(&self, units: Units) -> String {
        format!("{}, {}", words::subject(units, &self.subject), self.date)
    }
}

/// The upright axis of heights.
pub(super) fn height_axis(units: Units) -> ValueAxis {
    ValueAxis {
        name: "jump height".to_owned(),
        unit: units.symbol().to_owned(),
    }
}

fn mark_point(at: f64, trial: &TrialRow, units: Units) -> MarkPoint {
    let [lo, hi] = trial.height_interval95_m;
    // What does not count needs no error bar, which would hide its cross.
    let interval = trial.counts.then(|| (units.of(lo), units.of(hi)));
    MarkPoint::new(at, units.of(trial.height_m), interval)
}

fn row(trial: &DayTrial) -> TrialRow {
    let height = &trial.height;
    let both = height.film_u.0.metres().hypot(height.shared_u.0.metres());
    let half = Metres::from_metres(1.96 * both);
    let zero = Metres::default();
    let counts = height.is_usable();
    let reasons = if counts {
        Vec::new()
    } else {
        height.doubts.clone()
    };
    let advice = trial
        .advice
        .iter()
        .filter(|(code, _)| reasons.contains(code));
    TrialRow {
        number: height.order,
        id: trial.id,
        height_m: height.height,
        height_interval95_m: trial.interval95.unwrap_or_else(|| {
            let lo = height.height - half;
            [if lo < zero { zero } else { lo }, height.height + half]
        }),
        counts,
        advice: advice.map(|(_, text)| text.clone()).collect(),
        reasons,
    }
}

fn summary(day: &DaySummary, parts: Option<&Components>) -> Summary {
    let error = day.typical_error;
    Summary {
        trials: day.n,
        mean_m: day.mean,
        mean_interval95_m: day.mean_interval95.map(list),
        best_m: day.best,
        best_number: day.best_order,
        typical_error_m: error.map(|te| te.sd),
        typical_error_interval95_m: error.map(|te| list(te.interval95)),
        cv: day.cv,
        cv_interval95: day.cv_interval95.map(list),
        film_u_m: day.film_u.0,
        shared_u_m: day.shared_u.0,
        athlete_sd_m: parts.map(|p| p.athlete_sd),
        athlete_sd_interval95_m: parts.map(|p| list(p.athlete_sd_interval95)),
        film_share: parts.map(|p| p.film_share),
    }
}

fn warnings(day: Option<&DaySummary>, parts: Option<&Components>) -> Vec<String> {
    let mut found = Vec::new();
    let Some(day) = day else {
        return vec!["Look at the flags above, and film the jumps again.".to_owned()];
    };
    if day.n == 1 {
        found.push(
            "A single trial says nothing of how far this athlete's jumps scatter. Film three or \
             more."
                .to_owned(),
        );
    } else if day.n < 4 {
        found.push(format!(
            "From {} the scatter is known only roughly: see its interval.",
            counted(day.n, "trial")
        ));
    }
    if !day.improbable.is_empty() {
        let numbers: Vec<String> = day.improbable.iter().map(usize::to_string).collect();
        found.push(format!(
            "Trial {} is improbably high and counts all the same: nothing is left out for its \
             height. Look at the clip.",
            numbers.join(", ")
        ));
    }
    if parts.is_some_and(Components::agrees_too_well) {
        found.push(
            "The trials agree better than their film error should let them; the film error is \
             probably smaller than stated."
                .to_owned(),
        );
    }
    found
}

fn summary_text(summary: &Summary, units: Units) -> String {
    let with = |value: String, interval: Option<String>| match interval {
        Some(interval) => format!("{value}  (95 %: {interval})"),
        None => value,
    };
    let mut text = line(
        &format!("Mean of {}", counted(summary.trials, "trial")),
        &with(
            length(units, summary.mean_m),
            summary.mean_interval95_m.map(|i| span(units, i)),
        ),
    );
    let best = length(units, summary.best_m);
    text += &line("Best", &format!("{best}  (trial {})", summary.best_number));
    if let Some(error) = summary.typical_error_m {
        let interval = summary.typical_error_interval95_m.map(|i| span(units, i));
        text += &line("Typical error", &with(length(units, error), interval));
    }
    if let Some(cv) = summary.cv {
        let interval = summary
            .cv_interval95
            .map(|[lo, hi]| format!("{} to {}", words::percent(lo), words::percent(hi)));
        text += &line(
            "CV (typical error / mean)",
            &with(words::percent(cv), interval),
        );
    }
    text += &line("Film error of one trial", &length(units, summary.film_u_m));
    if let Some(own) = summary.athlete_sd_m {
        let interval = summary.athlete_sd_interval95_m.map(|i| span(units, i));
        text += &line(
            "The athlete's own scatter",
            &with(length(units, own), interval),
        );
    }
    text
}
