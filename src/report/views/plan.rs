//! Before filming: what error to expect, how many trials, is this phone good enough.

use serde::Serialize;

use super::words::{self, length, line};
use super::{SCHEMA, Subject, ViewPlot};
use crate::report::plot::ValueAxis;
use crate::report::plot::chart::{Across, Band, ChartLine, ChartPanel, Mark, MarkPoint, Marks};
use crate::report::terminal::wrap::wrapped;
use crate::report::terminal::{TextOptions, Units};
use crate::trials::TrialsError;
use crate::trials::plan::{
    DEFAULT_CV, FilmError, PhoneVerdict, PlannedNoise, Question, RatePlan, Reading, TrialsNeeded,
    VariationSource, plan,
};
use crate::units::{Metres, StandardUncertainty};

/// Trials per session up to which the plot shows what is seen.
const MOST_PLOTTED: u32 = 12;

/// What the log says of a phone: the usual film error of one trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoggedFilm {
    /// Standard uncertainty of the middle trial.
    pub u: StandardUncertainty<Metres>,
    /// Trials it comes from.
    pub trials: usize,
}

/// What to expect of one way of filming.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlanRow {
    /// Frames per second; none for the clips that are in the log already.
    pub frames_per_second: Option<f64>,
    /// Trials in the log behind the row, if that is what it rests on.
    pub logged_trials: Option<usize>,
    /// Film error of one trial, standard uncertainty.
    pub film_u_m: Metres,
    /// A height cannot lie outside, given the frames; none for logged clips.
    pub film_bounds_m: Option<[Metres; 2]>,
    /// Standard deviation of one trial, athlete and film together.
    pub trial_sd_m: Metres,
    /// Trials on each day to see the wanted change.
    pub trials_needed: TrialsNeeded,
    /// Smallest change that three trials on each day see with the same chance.
    pub seen_with_three_m: Metres,
    /// Whether the phone is good enough for this athlete.
    pub phone: PhoneVerdict,
    /// That in words.
    pub phone_words: &'static str,
    #[serde(skip)]
    noise: PlannedNoise,
}

/// A plan.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlanView {
    /// [`SCHEMA`].
    pub schema: u32,
    /// `plan`.
    pub view: &'static str,
    /// For whom, and what sort.
    #[serde(flatten)]
    pub subject: Subject,
    /// The usual height planned for.
    pub height_m: Metres,
    /// Where it comes from: `log`, `stated` or `default`.
    pub height_from: &'static str,
    /// The athlete's own variation from trial to trial, film error taken out.
    pub athlete_sd_m: Metres,
    /// Variation from day to day beyond that; 0 leaves it out.
    pub day_sd_m: Metres,
    /// Where the variation comes from.
    pub variation_from: VariationSource,
    /// The change to be seen.
    pub change_m: Metres,
    /// With what chance.
    pub power: f64,
    /// How events are taken to be read.
    pub reading: Reading,
    /// Each way of filming.
    pub rows: Vec<PlanRow>,
}

impl PlanView {
    /// Answers a question at several frame rates, and for the clips logged so far.
    ///
    /// # Errors
    /// As [`plan`].
    pub fn of(
        subject: Subject,
        question: &Question,
        height_from: &'static str,
        rates: &[f64],
        logged: Option<LoggedFilm>,
    ) -> Result<Self, TrialsError> {
        let plans = plan(question, rates)?;
        let mut rows: Vec<PlanRow> = plans.iter().map(|plan| row(plan, question)).collect();
        if let Some((logged, first)) = logged.zip(plans.first()) {
            rows.push(logged_row(logged, &first.film, question)?);
        }
        Ok(Self {
            schema: SCHEMA,
            view: "plan",
            subject,
            height_m: question.height,
            height_from,
            athlete_sd_m: question.own.trial_sd,
            day_sd_m: question.own.day_sd,
            variation_from: question.own.source,
            change_m: question.change,
            power: question.power,
            reading: question.reading,
            rows,
        })
    }

    /// The plan for the terminal.
    pub fn text(&self, options: TextOptions) -> String {
        let units = options.units;
        let who = match &self.subject.athlete {
            Some(_) => words::subject(units, &self.subject),
            None => "Any athlete".to_owned(),
        };
        let change = length(units, self.change_m);
        let mut text = words::heading(options, &format!("{who}: to see a change of {change}"));
        for (name, value) in self.facts(units) {
            text += &line(name, &value);
        }
        text += "\n";
        text += &self.table(units);
        text += "\n";
        for group in self.rows.chunk_by(|a, b| a.phone == b.phone) {
            let names: Vec<String> = group.iter().map(|row| row_name(row, "")).collect();
            let words = group.first().map_or("", |row| row.phone_words);
            text += &wrapped("  ", &format!("{}: {words}", names.join(", ")));
        }
        for remark in self.remarks(units) {
            text += &words::remark(options, &remark);
        }
        text
    }

    /// The figures by name.
    pub fn facts(&self, units: Units) -> Vec<(&'static str, String)> {
        let height = length(units, self.height_m);
        let height_from = match self.height_from {
            "log" => "mean of the last sessions in the log",
            "stated" => "as stated",
            _ => "a default; --height states another",
        };
        let own = length(units, self.athlete_sd_m);
        let own_from = match self.variation_from {
            VariationSource::Logged { dof } => {
                format!("from the log, {dof:.0} degrees of freedom")
            }
            VariationSource::Default => {
                format!("a default, {} of the height", words::percent(DEFAULT_CV))
            }
            VariationSource::Stated => "as stated".to_owned(),
        };
        let mut facts = vec![
            ("Usual height", format!("{height}  ({height_from})")),
            ("Own variation, one trial", format!("{own}  ({own_from})")),
        ];
        if self.day_sd_m > Metres::default() {
            facts.push(("Variation of days", length(units, self.day_sd_m)));
        }
        facts.push((
            "Chance of seeing it",
            format!("{:.0} in 100", 100.0 * self.power),
        ));
        let reading = match self.reading {
            Reading::WholeFrames => "to whole frames, the careful side".to_owned(),
            Reading::FittedFrames(share) => format!("by a fit good to {share} frames"),
        };
        facts.push(("Events read", reading));
        facts
    }

    fn table(&self, units: Units) -> String {
        let mut text = format!(
            "  {:<18} {:>10} {:>18} {:>14}   {}\n",
            "frames per second", "film error", "trials on each day", "seen with three", "phone"
        );
        for row in &self.rows {
            text += &format!(
                "  {:<18} {:>10} {:>18} {:>15}   {}\n",
                row_name(row, ""),
                length(units, row.film_u_m),
                needed_words(&row.trials_needed),
                length(units, row.seen_with_three_m),
                phone_word(row.phone)
            );
        }
        text
    }

    /// What to beware of.
    pub fn remarks(&self, units: Units) -> Vec<String> {
        let mut remarks = Vec::new();
        for row in &self.rows {
            if let TrialsNeeded::HiddenByDays { smallest } = row.trials_needed {
                remarks.push(format!(
                    "The athlete's ups and downs from day to day hide a change of {}: one day on \
                     each side shows {} at best, however many trials. Plan several days.",
                    length(units, self.change_m),
                    length(units, smallest)
                ));
                break;
            }
        }
        if self.day_sd_m == Metres::default() {
            remarks.push(
                "Ups and downs from day to day are left out (--day-sd states them): the plan is \
                 for telling two days apart. Plan for a trial or two more, and several days."
                    .to_owned(),
            );
        }
        if self.variation_from == VariationSource::Default {
            remarks.push(
                "Athletes differ a good deal; a few logged sessions give this athlete's own \
                 variation."
                    .to_owned(),
            );
        }
        remarks
    }

    /// Smallest change seen against trials on each day.
    ///
    /// # Errors
    /// [`TrialsError::BadSetting`] for a power out of range.
    pub fn plot(&self, units: Units) -> Result<ViewPlot, TrialsError> {
        let (mut lines, mut marks) = (Vec::new(), Vec::new());
        for (style, row) in self.rows.iter().enumerate() {
            let name = row_name(row, "frames per second");
            let points = self.seen(row, units)?;
            if row.frames_per_second.is_some() {
                lines.push(ChartLine {
                    name,
                    style,
                    points,
                });
            } else {
                let points = points.into_iter();
                marks.push(Marks {
                    name,
                    mark: Mark::Ring,
                    points: points
                        .map(|(at, value)| MarkPoint::new(at, value, None))
                        .collect(),
                });
            }
        }
        let wanted = units.of(self.change_m);
        let end = f64::from(MOST_PLOTTED) + 0.5;
        let small_enough = Band {
            name: format!("small enough: {} and less", length(units, self.change_m)),
            across: (1.5, end),
            values: (0.0, wanted),
        };
        let name = self.subject.athlete.as_deref().unwrap_or("any athlete");
        let cases = 100.0 * self.power;
        let title = format!("Smallest change seen in {cases:.0} of 100 cases: {name}");
        let numbers = (2..=MOST_PLOTTED).map(|n| (f64::from(n), n.to_string()));
        let across = Across {
            name: "trials on each day".to_owned(),
            from: 1.5,
            to: end,
            ticks: numbers.collect(),
        };
        let panel = ChartPanel {
            values: ValueAxis {
                name: "smallest change seen".to_owned(),
                unit: units.symbol().to_owned(),
            },
            bands: vec![small_enough],
            lines,
            marks,
        };
        Ok(ViewPlot::chart(title, across, panel))
    }

    /// Smallest change seen by number of trials.
    fn seen(&self, row: &PlanRow, units: Units) -> Result<Vec<(f64, f64)>, TrialsError> {
        (2..=MOST_PLOTTED)
            .map(|n| {
                let seen = row.noise.seen_with(n, self.power)?;
                Ok((f64::from(n), units.of(seen)))
            })
            .collect()
    }
}

fn row(plan: &RatePlan, question: &Question) -> PlanRow {
    let film = &plan.film;
    PlanRow {
        frames_per_second: Some(film.frames_per_second),
        logged_trials: None,
        film_u_m: film.u.0,
        film_bounds_m: Some([film.bounds.lo(), film.bounds.hi()]),
        trial_sd_m: plan.trial_sd,
        trials_needed: plan.trials,
        seen_with_three_m: plan.seen_with_three,
        phone: plan.phone,
        phone_words: plan.phone.text(),
        noise: PlannedNoise::of(&question.own, film),
    }
}

/// The row of the clips logged so far: their film error in place of an expected one.
fn logged_row(
    logged: LoggedFilm,
    any: &FilmError,
    question: &Question,
) -> Result<PlanRow, TrialsError> {
    let film = FilmError {
        u: logged.u,
        ..*any
    };
    let noise = PlannedNoise::of(&question.own, &film);
    let phone = PhoneVerdict::of(&question.own, &film);
    Ok(PlanRow {
        frames_per_second: None,
        logged_trials: Some(logged.trials),
        film_u_m: logged.u.0,
        film_bounds_m: None,
        trial_sd_m: noise.trial_sd,
        trials_needed: noise.trials_to_see(question.change, question.power)?,
        seen_with_three_m: noise.seen_with(3, question.power)?,
        phone,
        phone_words: phone.text(),
        noise,
    })
}

fn row_name(row: &PlanRow, after: &str) -> String {
    match row.frames_per_second {
        Some(rate) => format!("{rate} {after}").trim_end().to_owned(),
        None => "clips so far".to_owned(),
    }
}

fn needed_words(needed: &TrialsNeeded) -> String {
    match needed {
        TrialsNeeded::PerSession(n) => n.to_string(),
        TrialsNeeded::MoreThan(n) => format!("more than {n}"),
        TrialsNeeded::HiddenByDays { .. } => "days hide it".to_owned(),
    }
}

fn phone_word(phone: PhoneVerdict) -> &'static str {
    match phone {
        PhoneVerdict::Good => "good",
        PhoneVerdict::Usable => "usable",
        PhoneVerdict::Coarse => "coarse",
    }
}
