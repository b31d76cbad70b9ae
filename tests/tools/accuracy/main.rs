//! Measures every clip of a folder that has a truth beside it and reports how
//! far the results are from it, per frame rate and in all.
//!
//! `cargo run --release --example accuracy -- FOLDER...`
//!
//! Ends with 0 if every jump was found, none was invented and every true flight
//! time lay within its bounds; with 1 if not; with 2 if there was nothing to
//! measure or the call was wrong. docs/accuracy.md explains the columns.

mod figures;
mod measure;
mod plot;
mod table;
mod truth;

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::{Context, Result, bail};
use clap::Parser;

use figures::Figures;
use measure::{Marking, Outcome};
use truth::TrueClip;

/// Compares measured flight times with the truth beside each clip.
#[derive(Parser)]
struct Arguments {
    /// Folders of clips with a truth sidecar each.
    #[arg(required = true)]
    folders: Vec<PathBuf>,
    /// Print one JSON document instead of tables.
    #[arg(long)]
    json: bool,
    /// Write a plot of each error divided by its uncertainty.
    #[arg(long, value_name = "FILE.svg")]
    plot: Option<PathBuf>,
    /// Mark the floor badly: patch width and height times these factors, about its centre.
    #[arg(long, value_name = "W[,H]", default_value = "1", value_parser = pair)]
    floor_scale: (f64, f64),
    /// Mark the floor badly: move the patch by these shares of its width and height.
    #[arg(long, value_name = "X,Y", default_value = "0,0", value_parser = pair, allow_hyphen_values = true)]
    floor_shift: (f64, f64),
}

/// Two numbers with a comma between; one number counts twice.
fn pair(text: &str) -> Result<(f64, f64), String> {
    let number = |part: &str| match part.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(format!("`{part}` is not a number")),
    };
    match text.split_once(',') {
        Some((first, second)) => Ok((number(first)?, number(second)?)),
        None => number(text).map(|value| (value, value)),
    }
}

fn main() -> ExitCode {
    match run(&Arguments::parse()) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(1),
        Err(error) => {
            eprintln!("accuracy: {error:#}");
            ExitCode::from(2)
        }
    }
}

/// Whether nothing was missed, invented or out of bounds.
fn run(arguments: &Arguments) -> Result<bool> {
    let marking = Marking {
        scale: arguments.floor_scale,
        shift: arguments.floor_shift,
    };
    if marking.scale.0 <= 0.0 || marking.scale.1 <= 0.0 {
        bail!("--floor-scale needs factors above 0");
    }
    let clips = clips(&arguments.folders)?;
    let mut outcomes: Vec<Outcome> = Vec::new();
    if !arguments.json {
        println!("{}", table::HEADING);
    }
    for clip in &clips {
        let outcome = measure::outcome(clip, marking);
        if !arguments.json {
            print!("{}", table::lines(&outcome));
        }
        outcomes.push(outcome);
    }
    let figures = Figures::by_rate(&outcomes);
    if arguments.json {
        println!("{}", table::json(&outcomes, &figures)?);
    } else {
        print!("\n{}", table::summary(&figures));
    }
    if let Some(path) = &arguments.plot {
        plot::write(&outcomes, path)?;
    }
    Ok(figures.iter().all(Figures::is_faultless))
}

fn clips(folders: &[PathBuf]) -> Result<Vec<TrueClip>> {
    let mut clips = Vec::new();
    for folder in folders {
        let found = TrueClip::all_in(folder)
            .with_context(|| format!("{} cannot be read", folder.display()))?;
        if found.is_empty() {
            bail!(
                "{} holds no clip with a truth beside it (NAME.json with `truth.jumps`)",
                folder.display()
            );
        }
        clips.extend(found);
    }
    Ok(clips)
}
