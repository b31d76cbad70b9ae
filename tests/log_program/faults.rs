//! Many writers, sudden deaths, broken, foreign and locked files.

use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use jiff::civil::date;
use underfoot::log::{Log, LogError, NewAthlete, TrialQuery};

use super::club::{Club, csv, jump, now};

#[test]
fn eight_writers_lose_nothing() {
    const WRITERS: usize = 8;
    const EACH: usize = 1000;
    let club = Club::with(&["Mia"]);
    let mia = club.log().athlete("Mia").unwrap().id;
    std::thread::scope(|scope| {
        for writer in 0..WRITERS {
            let path = club.path();
            scope.spawn(move || {
                let mut log = Log::open(&path).unwrap();
                // All of them on one day, so that they fight for its places; some one by
                // one, some ten at a time.
                let day = date(2026, 3, 2);
                let record = jump(0.2 + writer as f64 / 100.0);
                for _ in 0..EACH / 10 {
                    log.add_trial(mia, day, None, &record, now()).unwrap();
                }
                let ten = vec![(mia, day, record); 10];
                for _ in 0..EACH * 9 / 100 {
                    log.add_trials(&ten, now()).unwrap();
                }
            });
        }
    });
    let trials = club.log().trials(&TrialQuery::of(mia)).unwrap();
    let places: Vec<usize> = trials.iter().map(|trial| trial.order as usize).collect();
    assert_eq!(places, (1..=WRITERS * EACH).collect::<Vec<_>>());
    for writer in 0..WRITERS {
        let height = 0.2 + writer as f64 / 100.0;
        let own = trials
            .iter()
            .filter(|t| t.record.height.best.metres() == height);
        assert_eq!(own.count(), EACH, "writer {writer}");
    }
    club.log().check().unwrap();
}

#[test]
fn eight_who_make_the_log_at_once_make_one() {
    for _ in 0..10 {
        let club = Club::new();
        std::thread::scope(|scope| {
            for maker in 0..8 {
                let path = club.path();
                scope.spawn(move || {
                    let name = NewAthlete::named(&format!("Player {maker}"));
                    Log::open(&path).unwrap().add_athlete(&name, now()).unwrap();
                });
            }
        });
        assert_eq!(club.log().athletes().unwrap().len(), 8);
    }
}

fn import(club: &Club, file: &str) -> Child {
    Command::new(assert_cmd::cargo::cargo_bin("underfoot"))
        .args(["log", "import", file])
        .current_dir(club.bench.path())
        .env("UNDERFOOT_LOG", "log.sqlite")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

#[test]
fn eight_programs_at_once_lose_nothing() {
    let names: Vec<String> = (0..8).map(|at| format!("Player {at}")).collect();
    let club = Club::with(&names.iter().map(String::as_str).collect::<Vec<_>>());
    for name in &names {
        club.bench.write(&format!("{name}.csv"), csv(name, 250));
    }
    let running: Vec<Child> = names
        .iter()
        .map(|name| import(&club, &format!("{name}.csv")))
        .collect();
    for mut child in running {
        assert!(child.wait().unwrap().success());
    }
    let log = club.log();
    for name in &names {
        let id = log.athlete(name).unwrap().id;
        assert_eq!(
            log.trials(&TrialQuery::of(id)).unwrap().len(),
            250,
            "{name}"
        );
    }
}

/// How many places in a row a small generator gives (Knuth's constants).
fn chances(mut seed: u64) -> impl Iterator<Item = f64> {
    std::iter::from_fn(move || {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        Some((seed >> 11) as f64 / (1u64 << 53) as f64)
    })
}

#[test]
fn an_import_that_is_killed_leaves_all_or_nothing() {
    const ROWS: usize = 10_000;
    let whole = Club::with(&["Mia"]);
    whole.bench.write("rows.csv", csv("Mia", ROWS));
    let start = Instant::now();
    assert!(import(&whole, "rows.csv").wait().unwrap().success());
    let takes = start.elapsed();
    assert_eq!(whole.trials(), ROWS);

    let club = Club::with(&["Mia"]);
    club.bench.write("rows.csv", csv("Mia", ROWS));
    let seed = u64::from(std::process::id());
    let mut died = 0;
    for chance in chances(seed).take(12) {
        let mut child = import(&club, "rows.csv");
        std::thread::sleep(takes.mul_f64(1.05 * chance));
        child.kill().unwrap();
        died += usize::from(!child.wait().unwrap().success());
        let count = club.trials();
        assert!(
            [0, ROWS].contains(&count),
            "{count} rows, seed {seed}, at {chance}"
        );
        let mut log = club.log();
        log.check().unwrap();
        if count == ROWS {
            let mia = log.athlete("Mia").unwrap().id;
            log.forget_athlete(mia).unwrap();
            log.add_athlete(&NewAthlete::named("Mia"), now()).unwrap();
        }
    }
    assert!(died >= 6, "only {died} were killed before they were done");
    assert!(import(&club, "rows.csv").wait().unwrap().success());
    assert_eq!(club.trials(), ROWS);
}

#[test]
fn a_log_of_a_newer_version_is_left_alone() {
    let club = Club::with(&["Mia"]);
    let raw = rusqlite::Connection::open(club.path()).unwrap();
    raw.pragma_update(None, "user_version", 99).unwrap();
    drop(raw);
    let before = fs::read(club.path()).unwrap();
    club.run(&["log", "show"]).refused("layout 99");
    club.run(&["log", "athlete", "add", "Lena"])
        .refused("layout 99");
    assert_eq!(fs::read(club.path()).unwrap(), before);
    assert!(matches!(
        Log::open(&club.path()),
        Err(LogError::Newer { found: 99, .. })
    ));
}

#[test]
fn files_of_others_are_left_alone() {
    let club = Club::new();
    for (name, bytes) in [
        ("text", b"my diary\n".repeat(500)),
        ("short", b"x".to_vec()),
    ] {
        club.bench.write(name, &bytes);
        for command in [&["log", "athletes"][..], &["log", "athlete", "add", "Mia"]] {
            let call = [command, &["--log", name]].concat();
            club.run(&call).refused("no log of this program");
        }
        assert_eq!(club.bench.read(name), bytes);
    }
    let other = rusqlite::Connection::open(club.bench.path().join("other")).unwrap();
    other
        .execute_batch("CREATE TABLE trial (x); PRAGMA user_version = 1")
        .unwrap();
    drop(other);
    club.run(&["log", "show", "--log", "other"])
        .refused("no log of this program");
    club.run(&["log", "athletes", "--log", "."]).refused("");
    club.run(&["log", "athletes", "--log", "nowhere/log"])
        .refused("there is no log");
}

#[test]
fn a_damaged_log_is_said_to_be_damaged() {
    let club = Club::with(&["Mia"]);
    club.bench.write("rows.csv", csv("Mia", 2000));
    club.does(&["log", "import", "rows.csv"]);
    let whole = fs::read(club.path()).unwrap();
    let pages = whole.len() / 4096;
    assert!(pages > 50, "{pages}");
    let mut said = 0;
    for chance in chances(7).take(12) {
        let page = 1 + (chance * (pages - 1) as f64) as usize;
        let mut bytes = whole.clone();
        for (at, byte) in bytes[page * 4096..(page + 1) * 4096].iter_mut().enumerate() {
            *byte = (at * 31 % 251) as u8;
        }
        fs::write(club.path(), &bytes).unwrap();
        let out = format!("out{page}.jsonl");
        let ran = club.run(&["log", "export", &out, "--force"]);
        assert!(!ran.err.contains("panicked"), "page {page}: {}", ran.err);
        // A page that is not used for reading may be broken and do no harm.
        if ran.code != 0 {
            ran.refused("damaged");
            assert!(ran.err.contains("backup"), "{}", ran.err);
            assert!(!club.bench.path().join(&out).exists());
            said += 1;
        }
        assert_eq!(fs::read(club.path()).unwrap(), bytes, "page {page}");
    }
    assert!(said >= 6, "only {said} of 12 were noticed");
    fs::write(club.path(), &whole[..whole.len() / 2]).unwrap();
    club.run(&["log", "export", "half.jsonl"])
        .refused("damaged");
}

/// Runs a copy of the program as somebody who may not write here.
#[cfg(unix)]
fn as_stranger(club: &Club, arguments: &[&str]) -> std::process::Output {
    use std::os::unix::process::CommandExt;
    let mut command = Command::new(club.bench.path().join("bin/underfoot"));
    command
        .args(arguments)
        .current_dir(club.bench.path())
        .env("UNDERFOOT_LOG", "kept/log.sqlite");
    // Root may write anywhere.
    if fs::metadata("/proc/self").is_ok_and(|data| std::os::unix::fs::MetadataExt::uid(&data) == 0)
    {
        command.uid(65534).gid(65534);
    }
    command.output().unwrap()
}

#[cfg(unix)]
fn set_mode(path: &Path, mode: u32) {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
}

#[cfg(unix)]
#[test]
fn a_log_that_may_only_be_read_can_be_read_and_no_more() {
    let club = Club::with(&["Mia"]);
    let place = |name: &str| club.bench.path().join(name);
    fs::create_dir(place("bin")).unwrap();
    fs::create_dir(place("kept")).unwrap();
    fs::copy(
        assert_cmd::cargo::cargo_bin("underfoot"),
        place("bin/underfoot"),
    )
    .unwrap();
    fs::rename(club.path(), place("kept/log.sqlite")).unwrap();
    let before = fs::read(place("kept/log.sqlite")).unwrap();
    set_mode(club.bench.path(), 0o755);
    set_mode(&place("kept/log.sqlite"), 0o444);
    set_mode(&place("kept"), 0o555);
    let shown = as_stranger(&club, &["log", "athletes"]);
    let added = as_stranger(&club, &["log", "athlete", "add", "Lena"]);
    set_mode(&place("kept"), 0o755);
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    assert!(shown.status.success(), "{}", text(&shown.stderr));
    assert!(text(&shown.stdout).contains("Mia"));
    assert_eq!(added.status.code(), Some(2));
    let told = text(&added.stderr);
    assert!(
        told.contains("may only be read") && told.contains("hint:"),
        "{told}"
    );
    assert_eq!(fs::read(place("kept/log.sqlite")).unwrap(), before);
}

/// Runs the program where no file may grow beyond so many blocks of 512 bytes.
#[cfg(unix)]
fn cramped(club: &Club, blocks: u32, arguments: &str) -> super::bench::Ran {
    let program = assert_cmd::cargo::cargo_bin("underfoot");
    let line = format!(
        "trap '' XFSZ; ulimit -f {blocks}; exec {} {arguments}",
        program.display()
    );
    let mut shell = assert_cmd::Command::new("sh");
    shell.current_dir(club.bench.path()).args(["-c", &line]);
    super::bench::ran(shell.env("UNDERFOOT_LOG", "log.sqlite"))
}

#[cfg(unix)]
#[test]
fn without_room_nothing_is_changed_and_nothing_left_behind() {
    let club = Club::with(&["Mia"]);
    club.bench.write("rows.csv", csv("Mia", 5000));
    cramped(&club, 400, "log import rows.csv").refused("disk");
    assert_eq!(club.trials(), 0);
    club.log().check().unwrap();
    club.does(&["log", "import", "rows.csv"]);
    assert_eq!(club.trials(), 5000);
    cramped(&club, 400, "log export out.csv").refused("cannot be written");
    cramped(&club, 400, "log backup copy.sqlite").refused("disk");
    let names = club.bench.names(".");
    let left = |name: &&String| name.contains("out") || name.contains("copy");
    assert!(!names.iter().any(|name| left(&name)), "{names:?}");
    assert_eq!(club.trials(), 5000);
}

#[test]
fn a_writer_that_holds_the_log_is_waited_for() {
    let club = Club::with(&["Mia"]);
    let holder = rusqlite::Connection::open(club.path()).unwrap();
    holder.execute_batch("BEGIN IMMEDIATE").unwrap();
    let path = club.path();
    let writer = std::thread::spawn(move || {
        let mut log = Log::open(&path).unwrap();
        let mia = log.athlete("Mia").unwrap().id;
        log.add_trial(mia, date(2026, 3, 2), None, &jump(0.3), now())
            .map(|_| ())
    });
    std::thread::sleep(Duration::from_millis(700));
    // Readers need not wait.
    assert_eq!(club.trials(), 0);
    holder.execute_batch("COMMIT").unwrap();
    writer.join().unwrap().unwrap();
    assert_eq!(club.trials(), 1);
}
