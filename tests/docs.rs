//! Every `underfoot` command that the README and the pages in `docs` show is run, in the
//! order of its page and in a folder that holds what the page speaks of; and every output
//! shown below a command is what the program prints.

#[path = "docs/fences.rs"]
mod fences;
#[path = "docs/stage.rs"]
mod stage;

use std::path::Path;

use fences::{Shown, shown};
use stage::Stage;

fn page(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// Runs all that a page shows.
fn follow(name: &str, mut stage: Stage) {
    let commands = shown(&page(name));
    assert!(!commands.is_empty(), "{name} shows no command");
    for Shown { command, output } in commands {
        if let Some(told) = command.strip_prefix("export ") {
            stage.export(told);
            continue;
        }
        if command.starts_with("underfoot page") {
            stage.opens_a_page(&command);
            continue;
        }
        let printed = stage.run(&command);
        if let Some(output) = output {
            assert_eq!(printed.trim_end(), output.trim_end(), "{name}: {command}");
        }
    }
}

#[test]
fn the_readme() {
    follow("README.md", Stage::new());
}

#[test]
fn the_page_on_trials() {
    follow("docs/trials.md", Stage::new());
}

#[test]
fn the_page_on_the_log() {
    follow("docs/log.md", Stage::new().with_season_of("Jule Brandt"));
}

#[test]
fn the_page_on_loads() {
    follow("docs/load.md", Stage::new().with_season_of("Mia Vogel"));
}

#[test]
fn the_page_on_mats() {
    let stage = Stage::new().with_season_of("Mia Vogel").with_mat();
    follow("docs/mat.md", stage);
}

#[test]
fn the_page_on_the_page() {
    follow("docs/page.md", Stage::new());
}

#[test]
fn the_page_on_many_clips() {
    let mut stage = Stage::new();
    stage.export("SLURM_ARRAY_TASK_ID=2");
    follow("docs/scale.md", stage);
}

#[test]
fn the_page_on_installing() {
    follow("docs/install.md", Stage::new());
}

/// A page that begins to show commands has to be followed above.
#[test]
fn no_page_is_left_out() {
    const FOLLOWED: [&str; 7] = [
        "install.md",
        "trials.md",
        "log.md",
        "load.md",
        "mat.md",
        "page.md",
        "scale.md",
    ];
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs");
    for entry in std::fs::read_dir(folder).expect("docs") {
        let name = entry.expect("a file").file_name();
        let name = name.to_string_lossy();
        if name.ends_with(".md") && !FOLLOWED.contains(&&*name) {
            let commands = shown(&page(&format!("docs/{name}")));
            let commands: Vec<&str> = commands.iter().map(|c| c.command.as_str()).collect();
            assert!(commands.is_empty(), "{name}: {commands:?}");
        }
    }
}
