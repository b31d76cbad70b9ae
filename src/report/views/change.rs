//! Is it really higher? A baseline and a later session.

use serde::Serialize;

use super::rows::{SessionRow, table};
use super::trials::height_axis;
use super::words::{self, counted, length, line, signed, signed_span};
use super::{Day, SCHEMA, Subject, ViewPlot, list};
use crate::report::plot::chart::{Across, Band, ChartLine, ChartPanel, Mark, MarkPoint, Marks};
use crate::report::terminal::wrap::wrapped;
use crate::report::terminal::{TextOptions, Units};
use crate::trials::verdict::chance_in_words;
use crate::trials::{
    Change, ChangeOptions, Session, SmallestWorthwhile, TrialsError, Verdict, compare,
};
use crate::units::Metres;

/// A change with the sessions it rests on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChangeView {
    /// [`SCHEMA`].
    pub schema: u32,
    /// `change`.
    pub view: &'static str,
    /// Whose, and what sort.
    #[serde(flatten)]
    pub subject: Subject,
    /// Sessions to start from, those without a usable trial left out.
    pub baseline_sessions: Vec<SessionRow>,
    /// The session compared.
    pub later_session: SessionRow,
    /// Where the baseline came from: `stated`, or `recent` for the program's choice.
    pub baseline_from: &'static str,
    /// Where trial scatter comes from: `sessions` compared, or the athlete's other
    /// days in the `log` where these have single trials only.
    pub scatter_from: &'static str,
    /// The verdict in a sentence or two, lengths in centimetres.
    pub sentence: String,
    /// Everything claimed.
    #[serde(flatten)]
    pub figures: Figures,
    #[serde(skip)]
    change: Change,
}

/// What is claimed about a change.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Figures {
    /// The answer.
    pub verdict: Verdict,
    /// Mean of the baseline sessions' means.
    pub baseline_mean_m: Metres,
    /// Mean of the later session.
    pub later_mean_m: Metres,
    /// Later less baseline.
    pub difference_m: Metres,
    /// Its standard uncertainty; none with too few trials.
    pub difference_u_m: Option<Metres>,
    /// Its degrees of freedom; none with too few trials, or if they are endless.
    pub dof: Option<f64>,
    /// 95 % interval of the true difference.
    pub difference_interval95_m: Option<[Metres; 2]>,
    /// Minimal detectable change.
    pub detectable_m: Option<Metres>,
    /// Smallest worthwhile change.
    pub smallest_worthwhile_m: Metres,
    /// Where that comes from.
    pub smallest_from: SmallestWorthwhile,
    /// Day-to-day standard deviation in the interval; none if left out.
    pub day_to_day_sd_m: Option<Metres>,
    /// Chance that the true change is above 0.
    pub p_higher: Option<f64>,
    /// Chance that it is a rise above the smallest worthwhile change.
    pub p_worthwhile_rise: Option<f64>,
    /// Chance that it is a fall of more than that.
    pub p_worthwhile_fall: Option<f64>,
    /// What to beware of: code and text.
    pub warnings: Vec<Warning>,
}

/// Something to beware of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Warning {
    /// Stable name.
    pub code: String,
    /// A sentence, lengths in centimetres.
    pub text: String,
}

impl Figures {
    /// The figures of a change.
    pub fn of(change: &Change) -> Self {
        let text = |m| length(Units::Metric, m);
        Self {
            verdict: change.verdict,
            baseline_mean_m: change.baseline.mean,
            later_mean_m: change.today.mean,
            difference_m: change.difference,
            difference_u_m: change.u.map(|u| u.0),
            dof: change.dof.filter(|dof| dof.is_finite()),
            difference_interval95_m: change.interval95.map(list),
            detectable_m: change.detectable,
            smallest_worthwhile_m: change.smallest_worthwhile,
            smallest_from: change.smallest,
            day_to_day_sd_m: change.day_to_day_sd,
            p_higher: change.p_higher,
            p_worthwhile_rise: change.p_worthwhile_rise,
            p_worthwhile_fall: change.p_worthwhile_fall,
            warnings: change
                .warnings
                .iter()
                .map(|warning| Warning {
                    code: warning.code().to_owned(),
                    text: warning.text(&text),
                })
                .collect(),
        }
    }
}

impl ChangeView {
    /// Compares a later session with a baseline.
    ///
    /// # Errors
    /// As [`compare`].
    pub fn of(
        subject: Subject,
        baseline: &[Day],
        later: &Day,
        is_stated: bool,
        options: &ChangeOptions,
    ) -> Result<Self, TrialsError> {
        let sessions: Vec<Session> = baseline.iter().map(Day::session).collect();
        let change = compare(&sessions, &later.session(), options)?;
        let later_session = SessionRow::of(later).ok_or(TrialsError::NoUsableTrials {
            day: Some(later.session().day),
        })?;
        Ok(Self {
            schema: SCHEMA,
            view: "change",
            subject,
            baseline_sessions: baseline.iter().filter_map(SessionRow::of).collect(),
            later_session,
            baseline_from: if is_stated { "stated" } else { "recent" },
            scatter_from: "sessions",
            sentence: change.sentence(&|m| length(Units::Metric, m)),
            figures: Figures::of(&change),
            change,
        })
    }

    /// The verdict in plain words.
    pub fn sentence(&self, units: Units) -> String {
        self.change.sentence(&|m| length(units, m))
    }

    /// Says that scatter was lent by the athlete's other days.
    pub fn with_scatter_from_log(mut self) -> Self {
        self.scatter_from = "log";
        self
    }

    /// What to beware of, in plain words.
    pub fn cautions(&self, units: Units) -> Vec<String> {
        let text = |m| length(units, m);
        let mut all: Vec<String> = self.change.warnings.iter().map(|w| w.text(&text)).collect();
        if self.scatter_from == "log" {
            all.push(
                "With single trials on these days, how far trials scatter was taken from the \
                 athlete's other days in the log."
                    .to_owned(),
            );
        }
        all
    }

    /// The view for the terminal.
    pub fn text(&self, options: TextOptions) -> String {
        let units = options.units;
        let mut text = words::heading(options, &self.title(units));
        let mut rows: Vec<&SessionRow> = self.baseline_sessions.iter().collect();
        rows.push(&self.later_session);
        text += &table(&rows, Some(self.later_session.date), options);
        text += &wrapped("  ", &self.baseline_words());
        text += "\n";
        text += &wrapped("  ", &self.sentence(units));
        text += "\n";
        for (name, value) in self.facts(units) {
            text += &line(name, &value);
        }
        for caution in self.cautions(units) {
            text += &words::remark(options, &caution);
        }
        text
    }

    fn baseline_words(&self) -> String {
        let count = counted(self.baseline_sessions.len(), "session");
        let how = match self.baseline_from {
            "stated" => "as stated",
            _ => "the first ones of the 120 days before; --from states others",
        };
        format!(
            "Compared: {} (>) with a baseline of {count} ({how}).",
            self.later_session.date
        )
    }

    /// The figures by name.
    pub fn facts(&self, units: Units) -> Vec<(&'static str, String)> {
        let figures = &self.figures;
        let mut facts = Vec::new();
        let mut difference = format!("{} {}", signed(units, figures.difference_m), units.symbol());
        if let Some(interval) = figures.difference_interval95_m {
            difference += &format!("  (95 %: {})", signed_span(units, interval));
        }
        facts.push(("Difference of means", difference));
        if let Some(detectable) = figures.detectable_m {
            facts.push(("Minimal detectable change", length(units, detectable)));
        }
        let smallest = length(units, figures.smallest_worthwhile_m);
        let from = smallest_words(&figures.smallest_from);
        facts.push((
            "Smallest worthwhile change",
            format!("{smallest}  ({from})"),
        ));
        if let Some(days) = figures.day_to_day_sd_m {
            facts.push(("Day-to-day variation", length(units, days)));
        }
        for (name, p) in [
            ("Chance that it is higher", figures.p_higher),
            ("Chance of a worthwhile rise", figures.p_worthwhile_rise),
            ("Chance of a worthwhile fall", figures.p_worthwhile_fall),
        ] {
            facts.extend(p.map(|p| (name, chance_in_words(p))));
        }
        facts
    }

    /// Sessions side by side, the baseline's mean, and what cannot be told from it.
    pub fn plot(&self, units: Units) -> ViewPlot {
        let shown = |metres: Metres| units.of(metres);
        let before = &self.baseline_sessions;
        let places: Vec<(f64, &SessionRow)> = (1..)
            .map(f64::from)
            .zip(before.iter().chain([&self.later_session]))
            .collect();
        let end = places.len() as f64 + 0.5;
        let mean = shown(self.figures.baseline_mean_m);
        // Half the interval, so that the verdict can be read off the plot.
        let bands = self.figures.difference_interval95_m.map(|[lo, hi]| {
            let half = 0.5 * shown(hi - lo);
            Band {
                name: "cannot be told from the baseline".to_owned(),
                across: (0.5, end),
                values: (mean - half, mean + half),
            }
        });
        let ticks = places.iter().map(|(at, row)| (*at, row.date.to_string()));
        let (early, late) = places.split_at(before.len());
        let panel = ChartPanel {
            values: height_axis(units),
            bands: bands.into_iter().collect(),
            lines: vec![ChartLine {
                name: "mean of the baseline".to_owned(),
                style: 1,
                points: vec![(0.5, mean), (end, mean)],
            }],
            marks: vec![
                specks(&places, units),
                means(
                    "baseline session, 95 % of its mean",
                    Mark::Ring,
                    early,
                    units,
                ),
                means("compared", Mark::Dot, late, units),
            ],
        };
        let across = Across {
            name: "session".to_owned(),
            from: 0.5,
            to: end,
            ticks: ticks.collect(),
        };
        ViewPlot::chart(self.title(units), across, panel)
    }

    fn title(&self, units: Units) -> String {
        let subject = words::subject(units, &self.subject);
        format!("{subject}: {}", self.figures.verdict.label())
    }
}

/// Where a smallest worthwhile change comes from.
pub(super) fn smallest_words(from: &SmallestWorthwhile) -> String {
    match from {
        SmallestWorthwhile::BetweenAthletes { athletes, .. } => {
            format!("0.2 of the spread between {athletes} athletes")
        }
        SmallestWorthwhile::Stated(_) => "as stated".to_owned(),
        SmallestWorthwhile::Default => "a common default, 3 % of the baseline".to_owned(),
    }
}

/// Single trials, behind their means and a little to the right.
pub(super) fn specks(places: &[(f64, &SessionRow)], units: Units) -> Marks {
    let points = places.iter().flat_map(|(at, row)| {
        let heights = row.heights_m.iter();
        heights.map(move |height| MarkPoint::new(at + 0.07, units.of(*height), None))
    });
    Marks {
        name: "trial".to_owned(),
        mark: Mark::Speck,
        points: points.collect(),
    }
}

/// Means with their intervals.
pub(super) fn means(name: &str, mark: Mark, places: &[(f64, &SessionRow)], units: Units) -> Marks {
    let point = |(at, row): &(f64, &SessionRow)| {
        let interval = row.mean_interval95_m;
        let ends = interval.map(|[lo, hi]| (units.of(lo), units.of(hi)));
        MarkPoint::new(*at, units.of(row.mean_m), ends)
    };
    Marks {
        name: name.to_owned(),
        mark,
        points: places.iter().map(point).collect(),
    }
}
