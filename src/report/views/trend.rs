//! Where an athlete's sessions are going.

use jiff::civil::Date;
use serde::Serialize;

use super::change::{means, specks};
use super::rows::{SessionRow, table};
use super::trials::height_axis;
use super::words::{self, counted, length, line, signed};
use super::{Day, SCHEMA, Subject, ViewPlot, dates, list};
use crate::report::plot::chart::{Across, Band, ChartLine, ChartPanel, Mark, Marks};
use crate::report::terminal::wrap::wrapped;
use crate::report::terminal::{TextOptions, Units};
use crate::trials::trend::{DAYS_FOR_INTERVAL, DatedValue, Direction, Trend, trend};
use crate::trials::{Session, TrialsError, typical_error};
use crate::units::Metres;

/// Normal quantile of the minimal detectable change, by convention.
const DETECTABLE_Z: f64 = 1.96;
/// Most days looked at, the last ones: every pair of them is, and two thousand take a
/// good part of a second.
const MOST_DAYS: usize = 2000;
/// Most sessions listed in the text; the plot and the JSON have them all.
const MOST_LINES: usize = 24;
/// Most sessions whose trials are drawn one by one.
const MOST_SPECKED: usize = 60;
const WEEK: f64 = 7.0;

/// What a detectable change was worked out from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DetectableFrom {
    /// How far the sessions lie from the line: trials, days and film together.
    ScatterAboutLine,
    /// Trial noise within the sessions; days are not in it.
    TrialNoise,
}

/// A point of the line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LinePoint {
    /// The day.
    pub date: Date,
    /// The line's height there.
    pub height_m: Metres,
}

/// A trend over sessions.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrendView {
    /// [`SCHEMA`].
    pub schema: u32,
    /// `trend`.
    pub view: &'static str,
    /// Whose, and what sort.
    #[serde(flatten)]
    pub subject: Subject,
    /// The sessions with a usable trial, by date.
    pub sessions: Vec<SessionRow>,
    /// The answer.
    pub direction: Direction,
    /// Median slope.
    pub slope_m_per_week: Metres,
    /// Its 95 % interval; none with fewer than five days.
    pub slope_interval95_m_per_week: Option<[Metres; 2]>,
    /// Kendall's tau-b of dates and means.
    pub tau: f64,
    /// First and last point of the line; beyond them nothing is claimed.
    pub line: [LinePoint; 2],
    /// Standard deviation of one session's mean; none with too few trials.
    pub session_sd_m: Option<Metres>,
    /// How far two sessions must differ to be told apart: 1.96 √2 times that.
    pub detectable_m: Option<Metres>,
    /// What it comes from.
    pub detectable_from: Option<DetectableFrom>,
    /// What to beware of.
    pub warnings: Vec<String>,
}

impl TrendView {
    /// The trend of the sessions' means.
    ///
    /// # Errors
    /// [`TrialsError::TooFew`] unless two days have a usable trial, and
    /// [`TrialsError::BadValue`] for heights that are no numbers.
    pub fn of(subject: Subject, days: &[Day]) -> Result<Self, TrialsError> {
        let recent = days
            .get(days.len().saturating_sub(MOST_DAYS)..)
            .unwrap_or(days);
        let sessions: Vec<SessionRow> = recent.iter().filter_map(SessionRow::of).collect();
        let points: Vec<DatedValue> = sessions.iter().map(point).collect();
        let found = trend(&points)?;
        let per_week = |slope: f64| Metres::from_metres(WEEK * slope);
        let (session_sd, detectable_from) = scatter(&found, recent, &sessions).unzip();
        let mut warnings = warnings(&sessions, &found);
        if recent.len() < days.len() {
            warnings.push(format!("Only the last {MOST_DAYS} days are looked at."));
        }
        let end = |row: Option<&SessionRow>| {
            let date = row.map_or(Date::default(), |row| row.date);
            LinePoint {
                date,
                height_m: Metres::from_metres(found.at(dates::number(date))),
            }
        };
        Ok(Self {
            schema: SCHEMA,
            view: "trend",
            subject,
            direction: found.direction,
            slope_m_per_week: per_week(found.slope_per_day),
            slope_interval95_m_per_week: found
                .slope_interval95
                .map(|slope| list(slope).map(per_week)),
            tau: found.tau,
            line: [end(sessions.first()), end(sessions.last())],
            session_sd_m: session_sd,
            detectable_m: session_sd.map(|sd| sd * (DETECTABLE_Z * 2f64.sqrt())),
            detectable_from,
            warnings,
            sessions,
        })
    }

    /// How far the line rises over the series.
    pub fn rise(&self) -> Metres {
        let [first, last] = self.line;
        last.height_m - first.height_m
    }

    /// The answer in a sentence or two.
    pub fn sentence(&self, units: Units) -> String {
        let [first, last] = self.line;
        let days = words::counted(
            (dates::number(last.date) - dates::number(first.date)) as usize,
            "day",
        );
        let sessions = counted(self.sessions.len(), "session");
        let rise = format!("{} {}", signed(units, self.rise()), units.symbol());
        match self.direction {
            Direction::Rising => format!(
                "Rising: {rise} along the line, over {sessions} in {days}. That the order came \
                 about by chance is less likely than 1 in 20."
            ),
            Direction::Falling => format!(
                "Falling: {rise} along the line, over {sessions} in {days}. That the order came \
                 about by chance is less likely than 1 in 20."
            ),
            Direction::NotToldApart => format!(
                "No trend told apart yet over {sessions} in {days} ({rise} along the line). That \
                 does not prove that nothing changes."
            ),
            Direction::TooFewDays => format!(
                "Too few days for a trend: {sessions}. From {DAYS_FOR_INTERVAL} different days \
                 on there is an answer."
            ),
        }
    }

    /// The view for the terminal.
    pub fn text(&self, options: TextOptions) -> String {
        let units = options.units;
        let mut text = words::heading(options, &self.title(units));
        let hidden = self.sessions.len().saturating_sub(MOST_LINES);
        let rows: Vec<&SessionRow> = self.sessions.iter().skip(hidden).collect();
        text += &table(&rows, None, options);
        if hidden > 0 {
            text += &wrapped("  ", &format!("{hidden} earlier sessions are not listed."));
        }
        text += "\n";
        text += &wrapped("  ", &self.sentence(units));
        text += "\n";
        for (name, value) in self.facts(units) {
            text += &line(name, &value);
        }
        for warning in &self.warnings {
            text += &words::remark(options, warning);
        }
        text
    }

    /// The figures by name.
    pub fn facts(&self, units: Units) -> Vec<(&'static str, String)> {
        let mut slope = format!(
            "{} {} a week",
            slope_words(units, self.slope_m_per_week),
            units.symbol()
        );
        if let Some([lo, hi]) = self.slope_interval95_m_per_week {
            let (lo, hi) = (slope_words(units, lo), slope_words(units, hi));
            slope += &format!("  (95 %: {lo} to {hi} {})", units.symbol());
        }
        let mut facts = vec![("Slope (median)", slope)];
        if let (Some(detectable), Some(from)) = (self.detectable_m, self.detectable_from) {
            let from = match from {
                DetectableFrom::ScatterAboutLine => "from scatter about the line",
                DetectableFrom::TrialNoise => "from trial noise only, days left out",
            };
            let value = format!("{}  ({from})", length(units, detectable));
            facts.push(("Two sessions told apart at", value));
        }
        facts
    }

    /// Sessions over time, the line, and what cannot be told from its start.
    pub fn plot(&self, units: Units) -> ViewPlot {
        let places: Vec<(f64, &SessionRow)> = self
            .sessions
            .iter()
            .map(|row| (dates::number(row.date), row))
            .collect();
        let [first, last] = self.line;
        let (from, to) = (dates::number(first.date), dates::number(last.date));
        let side = 0.03 * (to - from).max(1.0);
        let start = units.of(first.height_m);
        let bands = self.detectable_m.map(|detectable| {
            let half = units.of(detectable);
            Band {
                name: "cannot be told from the line's start".to_owned(),
                across: (from - side, to + side),
                values: (start - half, start + half),
            }
        });
        let panel = ChartPanel {
            values: height_axis(units),
            bands: bands.into_iter().collect(),
            lines: vec![ChartLine {
                name: "robust trend".to_owned(),
                style: 1,
                points: vec![(from, start), (to, units.of(last.height_m))],
            }],
            marks: session_marks(&places, side, units),
        };
        let across = Across {
            name: String::new(),
            from: from - side,
            to: to + side,
            ticks: dates::ticks(from - side, to + side, from),
        };
        ViewPlot::chart(self.title(units), across, panel)
    }

    fn title(&self, units: Units) -> String {
        let subject = words::subject(units, &self.subject);
        format!("{subject}: {}", self.direction.label())
    }
}

/// Means with their intervals and the trials beside them; of many sessions the means
/// alone.
fn session_marks(places: &[(f64, &SessionRow)], side: f64, units: Units) -> Vec<Marks> {
    if places.len() > MOST_SPECKED {
        let mut all = means("session", Mark::Speck, places, units);
        all.points
            .iter_mut()
            .for_each(|point| point.interval = None);
        return vec![all];
    }
    let mut trials = specks(places, units);
    // Beside the mean, by a share of the whole span.
    trials
        .points
        .iter_mut()
        .for_each(|point| point.at += 0.3 * side - 0.07);
    vec![
        trials,
        means("session, 95 % of its mean", Mark::Dot, places, units),
    ]
}

/// A slope needs a decimal more than a height.
fn slope_words(units: Units, slope: Metres) -> String {
    let number = units.of(slope);
    let text = format!("{:.2}", number.abs());
    let sign = match number {
        _ if text == "0.00" => "",
        n if n < 0.0 => "-",
        _ => "+",
    };
    format!("{sign}{text}")
}

fn point(row: &SessionRow) -> DatedValue {
    DatedValue {
        day: dates::number(row.date),
        value: row.mean_m.metres(),
    }
}

/// Standard deviation of one session's mean.
///
/// From five sessions on it is what the sessions show about the line, but never less
/// than trial noise alone makes it: few sessions can lie on a line by luck. The line
/// has taken two degrees of freedom.
fn scatter(found: &Trend, days: &[Day], rows: &[SessionRow]) -> Option<(Metres, DetectableFrom)> {
    let sessions: Vec<Session> = days.iter().map(Day::session).collect();
    let per_trial = rows.iter().map(|row| 1.0 / row.trials as f64).sum::<f64>() / rows.len() as f64;
    let noise = typical_error(&sessions)
        .ok()
        .map(|error| error.sd.metres() * per_trial.sqrt());
    let n = found.n as f64;
    let about_line = (found.n >= DAYS_FOR_INTERVAL)
        .then(|| found.residual_sd * (n / (n - 2.0)).sqrt())
        .filter(|sd| *sd > 0.0);
    match (about_line, noise) {
        (Some(sd), Some(noise)) => Some((sd.max(noise), DetectableFrom::ScatterAboutLine)),
        (Some(sd), None) => Some((sd, DetectableFrom::ScatterAboutLine)),
        (None, Some(noise)) => Some((noise, DetectableFrom::TrialNoise)),
        (None, None) => None,
    }
    .map(|(sd, from)| (Metres::from_metres(sd), from))
}

fn warnings(rows: &[SessionRow], found: &Trend) -> Vec<String> {
    let mut warnings = Vec::new();
    let small = rows.iter().filter(|row| row.trials < 3).count();
    if small > 0 {
        warnings.push(format!(
            "{} fewer than three trials that count; such days scatter more.",
            if small == 1 {
                "1 session has".to_owned()
            } else {
                format!("{small} sessions have")
            }
        ));
    }
    let left_out: usize = rows.iter().map(|row| row.left_out).sum();
    if left_out > 0 {
        warnings.push(format!(
            "{} left out for their flags, none for height alone; `underfoot trials` lists them \
             day by day.",
            if left_out == 1 {
                "1 trial was".to_owned()
            } else {
                format!("{left_out} trials were")
            }
        ));
    }
    if found.direction != Direction::TooFewDays {
        warnings.push(
            "The line describes these days. It says nothing of the days to come, nor why the \
             height moved."
                .to_owned(),
        );
    }
    warnings
}
