//! One self-contained page about an athlete, to print or hand out.
//!
//! It asks nothing of the network (its own policy forbids it), prints in black and
//! grey, and says beside every figure what it means.

mod style;

use std::fmt::Write;

use jiff::civil::Date;

use super::plot::PlotError;
use super::terminal::Units;
use super::views::ViewPlot;
use super::views::change::ChangeView;
use super::views::trend::TrendView;
use super::views::trials::{Summary, TrialsView};
use super::views::words::{self, length, percent, span};
use crate::trials::load::cautions::{CAUTIONS, Caution};

/// Cautions that hold without a load, by key.
const WITHOUT_LOAD: [&str; 6] = ["screening", "warm_up", "surface", "rest", "pain", "medical"];

/// What stands on the page.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// The day on which the page is made.
    pub made: Date,
    /// The day's trials.
    pub trials: TrialsView,
    /// The comparison, if there is a baseline.
    pub change: Option<ChangeView>,
    /// Why not.
    pub no_change: Option<String>,
    /// The trend, if there are two days.
    pub trend: Option<TrendView>,
}

impl Sheet {
    /// The page.
    ///
    /// # Errors
    /// [`PlotError`] where a plot cannot be drawn.
    pub fn html(&self, units: Units) -> Result<String, PlotError> {
        let name = self.trials.subject.athlete.as_deref().unwrap_or("Athlete");
        let title = format!("{name}: jump height, {}", self.trials.date);
        let mut page = format!(
            "<!DOCTYPE html>\n<!-- Software: underfoot -->\n<html lang=\"en\">\n<head>\n\
             <meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; \
             style-src 'unsafe-inline'\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <title>{}</title>\n<style>{}</style>\n</head>\n<body>\n<main>\n",
            escaped(&title),
            style::CSS
        );
        page += &self.head(units, name);
        page += &self.results(units)?;
        page += &self.meaning(units);
        page += &self.over_time(units)?;
        page += &self.measured(units);
        page += &self.cautions();
        page += &format!(
            "<footer>Made on {} with underfoot {}. Nothing on this page is medical advice.\
             </footer>\n</main>\n</body>\n</html>\n",
            self.made,
            env!("CARGO_PKG_VERSION")
        );
        Ok(page)
    }

    fn head(&self, units: Units, name: &str) -> String {
        let subject = words::subject(units, &self.trials.subject);
        let sort = subject.split_once(", ").map_or("", |(_, sort)| sort);
        let mut head = format!(
            "<header>\n<h1>{}</h1>\n<p class=\"sort\">{}, {}</p>\n",
            escaped(name),
            escaped(&capital(sort)),
            self.trials.date
        );
        if let Some(summary) = &self.trials.summary {
            let _ = writeln!(
                head,
                "<p class=\"figure\"><strong>{}</strong> mean of {}, best {}</p>",
                length(units, summary.mean_m),
                words::counted(summary.trials, "trial"),
                length(units, summary.best_m)
            );
        }
        if let Some(change) = &self.change {
            let _ = writeln!(
                head,
                "<p class=\"verdict\">Compared with before: <strong>{}</strong></p>",
                change.figures.verdict.label()
            );
        }
        head + "</header>\n"
    }

    /// The day's trials: plot, table, figures.
    fn results(&self, units: Units) -> Result<String, PlotError> {
        let mut part = String::from("<section>\n<h2>The trials</h2>\n");
        part += &figure(&self.trials.plot(units), "Each trial with its film error.")?;
        part += "<table>\n<thead><tr><th scope=\"col\">Trial</th><th scope=\"col\">Height</th>\
                 <th scope=\"col\">Film error, 95 %</th><th scope=\"col\">Counts</th></tr></thead>\n\
                 <tbody>\n";
        for trial in &self.trials.trials {
            let counts = if trial.counts {
                "yes".to_owned()
            } else {
                format!("no: {}", trial.reasons.join(", ").replace('_', " "))
            };
            let _ = writeln!(
                part,
                "<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>",
                trial.number,
                length(units, trial.height_m),
                span(units, trial.height_interval95_m),
                escaped(&counts)
            );
        }
        part += "</tbody>\n</table>\n";
        if let Some(summary) = &self.trials.summary {
            part += &list(&day_facts(summary, units));
        }
        Ok(part + "</section>\n")
    }

    /// The comparison and what it means.
    fn meaning(&self, units: Units) -> String {
        let mut part = String::from("<section>\n<h2>Is it really higher?</h2>\n");
        match (&self.change, &self.no_change) {
            (Some(change), _) => {
                let _ = writeln!(part, "<p>{}</p>", escaped(&change.sentence(units)));
                let facts = change.facts(units);
                let facts = facts
                    .into_iter()
                    .map(|(name, value)| (name.to_owned(), value));
                part += &list(&facts.collect::<Vec<_>>());
                let dates: Vec<String> = change
                    .baseline_sessions
                    .iter()
                    .map(|session| session.date.to_string())
                    .collect();
                let _ = writeln!(
                    part,
                    "<p class=\"small\">Compared with {}.</p>",
                    dates.join(", ")
                );
                part += &bullets(&change.cautions(units));
            }
            (None, Some(why)) => {
                let _ = writeln!(part, "<p>Not answered yet: {}.</p>", escaped(why));
            }
            (None, None) => {}
        }
        part + "</section>\n"
    }

    /// Sessions over time.
    fn over_time(&self, units: Units) -> Result<String, PlotError> {
        let Some(trend) = &self.trend else {
            return Ok(String::new());
        };
        let mut part = String::from("<section>\n<h2>Over time</h2>\n");
        part += &figure(
            &trend.plot(units),
            "Each session's mean; in the shaded band a session cannot be told from the start.",
        )?;
        let _ = writeln!(part, "<p>{}</p>", escaped(&trend.sentence(units)));
        Ok(part + "</section>\n")
    }

    fn measured(&self, units: Units) -> String {
        let mut part = String::from(
            "<section>\n<h2>How it was measured</h2>\n\
             <p>A phone filmed the floor round the feet. The time between their leaving it and \
             meeting it again gives the height: the rise of the centre of mass after take-off. \
             It holds for a landing in the posture of the take-off; bent knees at landing read \
             too high by up to several centimetres. Heights by other methods, such as reach, \
             are not comparable.</p>\n",
        );
        if let Some(summary) = &self.trials.summary {
            let _ = writeln!(
                part,
                "<p>The film itself may be off by {} on one trial (standard uncertainty). The \
                 mean of the day is what is compared; the best is shown beside it, since the \
                 best of more trials is higher by luck alone. No trial was left out for its \
                 height.</p>",
                length(units, summary.film_u_m)
            );
        }
        part + "</section>\n"
    }

    fn cautions(&self) -> String {
        let loaded = self.trials.subject.load_kg > 0.0;
        let holds = |caution: &&Caution| loaded || WITHOUT_LOAD.contains(&caution.key);
        let texts: Vec<String> = CAUTIONS
            .iter()
            .filter(holds)
            .map(|caution| caution.text.to_owned())
            .collect();
        format!(
            "<section>\n<h2>Cautions</h2>\n{}</section>\n",
            bullets(&texts)
        )
    }
}

fn day_facts(summary: &Summary, units: Units) -> Vec<(String, String)> {
    let mut facts = Vec::new();
    if let Some(interval) = summary.mean_interval95_m {
        facts.push(("Mean, 95 % interval".to_owned(), span(units, interval)));
    }
    if let Some(error) = summary.typical_error_m {
        let cv = summary
            .cv
            .map_or(String::new(), |cv| format!(", CV {}", percent(cv)));
        let value = format!("{}{cv}: how far the trials scatter", length(units, error));
        facts.push(("Typical error".to_owned(), value));
    }
    if let Some(own) = summary.athlete_sd_m {
        let value = format!(
            "{} the athlete's own, {} the film's",
            length(units, own),
            length(units, summary.film_u_m)
        );
        facts.push(("Of that".to_owned(), value));
    }
    facts
}

/// A plot with its caption; the plot scales with the page.
fn figure(plot: &ViewPlot, caption: &str) -> Result<String, PlotError> {
    Ok(format!(
        "<figure>\n{}\n<figcaption>{}</figcaption>\n</figure>\n",
        plot.svg_for_print()?,
        escaped(caption)
    ))
}

/// Names and values in two columns.
fn list(facts: &[(String, String)]) -> String {
    let rows: Vec<String> = facts
        .iter()
        .map(|(name, value)| format!("<dt>{}</dt><dd>{}</dd>\n", escaped(name), escaped(value)))
        .collect();
    format!("<dl>\n{}</dl>\n", rows.concat())
}

fn bullets(texts: &[String]) -> String {
    if texts.is_empty() {
        return String::new();
    }
    let items: Vec<String> = texts
        .iter()
        .map(|text| format!("<li>{}</li>\n", escaped(text)))
        .collect();
    format!("<ul>\n{}</ul>\n", items.concat())
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// Text that a browser takes for text.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars().filter(|c| !c.is_control()) {
        match letter {
            '&' => safe += "&amp;",
            '<' => safe += "&lt;",
            '>' => safe += "&gt;",
            '"' => safe += "&quot;",
            other => safe.push(other),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_become_markup() {
        assert_eq!(
            escaped("<b>\"A\" & B</b>\u{7}"),
            "&lt;b&gt;&quot;A&quot; &amp; B&lt;/b&gt;"
        );
        assert_eq!(capital("drop jump"), "Drop jump");
    }

    #[test]
    fn cautions_without_load_are_all_known() {
        for key in WITHOUT_LOAD {
            assert!(CAUTIONS.iter().any(|caution| caution.key == key), "{key}");
        }
    }
}
