//! `load drops`: from which height the athlete rebounds best.

use super::{dated, drawn, load_failure, none_logged, of_log, text_options};
use crate::cli::args::Drops;
use crate::cli::{Outcome, output, scatter};
use crate::log::JumpKind;
use crate::report::load::{DropsView, drops_json, drops_text};
use crate::report::mat::left_out_text;
use crate::report::model::Failure;
use crate::report::plot::loads::drops_chart;
use crate::report::terminal::TextOptions;
use crate::trials::load::reactive;
use crate::workflow;
use crate::workflow::loads::{choose, drop_days, drop_days_of_log};
use crate::workflow::table::Table;

/// Reads the jumps and compares the heights.
///
/// # Errors
/// When there are none, numbers cannot be, or a file cannot be used.
pub(super) fn run(call: &Drops) -> Result<Outcome, Failure> {
    let source = &call.source;
    let (athlete, days) = match &source.table {
        Some(path) => {
            let table = Table::open(path)?;
            let name = source.athlete.clone();
            let days = drop_days(&table, name.as_deref(), call.moment_u)?;
            (name.unwrap_or_default(), days)
        }
        None => {
            let (athlete, trials) = of_log(source, JumpKind::Drop)?;
            if trials.is_empty() {
                let how = "--kind drop --drop-height-cm 40";
                return Err(none_logged(&athlete.name, "drop jumps", how));
            }
            (athlete.name, drop_days_of_log(&trials))
        }
    };
    let (day, _) = choose(days, |day| day.date, source.date, None)?;
    output::murmur(&left_out_text(&day.left_out, TextOptions::default()));
    let result = reactive(&day.sets, source.gravity).map_err(load_failure)?;
    let date = dated(day.date);
    let view = DropsView {
        athlete: &athlete,
        date: &date,
        result: &result,
        left_out: &day.left_out,
    };
    if let Some(path) = &source.plot {
        let title = match athlete.as_str() {
            "" => "Drop jumps".to_owned(),
            name => format!("{name}: drop jumps"),
        };
        scatter::write(path, &drops_chart(&result, &title, call.units))?;
        drawn(path, call.json);
    }
    if call.json {
        output::say(&(drops_json(&view).map_err(workflow::failure)? + "\n"))?;
    } else {
        output::say(&drops_text(&view, text_options(call.units)))?;
    }
    Ok(Outcome::Done)
}
