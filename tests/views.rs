//! The coach's views, the program run as a whole.

#[path = "cli/bench.rs"]
#[allow(dead_code)]
mod bench;
#[path = "views/club.rs"]
mod club;
#[path = "support/draws.rs"]
mod draws;

use bench::{Bench, Ran, ran};

/// A folder with the club's log in it.
fn club() -> Bench {
    let bench = Bench::new();
    club::season(&bench.path().join("club.sqlite"));
    bench
}

/// Runs a view of the club's log; names hold blanks.
fn ask(bench: &Bench, arguments: &[&str]) -> Ran {
    ran(bench
        .program()
        .args(arguments)
        .args(["--log", "club.sqlite"]))
}

#[test]
fn keep_a_club_to_look_at() {
    if let Some(path) = std::env::var_os("UNDERFOOT_KEEP_CLUB") {
        club::season(std::path::Path::new(&path));
    }
}
