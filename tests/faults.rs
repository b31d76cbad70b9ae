//! What the world does to a program that measures: full disks, files that vanish,
//! people who press ctrl-C, names that no one expects.

#![cfg(unix)]

#[allow(dead_code)]
#[path = "cli/bench.rs"]
mod bench;
#[path = "faults/names.rs"]
mod names;
#[path = "faults/stops.rs"]
mod stops;
#[path = "faults/surroundings.rs"]
mod surroundings;

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use bench::{Bench, Ran, floor};

/// The program about to measure these clips in the folder, for the sample's patch.
fn measuring(bench: &Bench, sample: &str, arguments: &[&str]) -> Command {
    let mut program = Command::new(assert_cmd::cargo::cargo_bin!("underfoot"));
    program
        .args(["measure", "--floor", &floor(sample)])
        .args(arguments)
        .current_dir(bench.path())
        .env("UNDERFOOT_LOG", "log.sqlite")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    program
}

/// Makes the log of this name, which knows Mia.
fn add_mia(bench: &Bench, log: &str) {
    let mut program = bench.program();
    program.env("UNDERFOOT_LOG", log);
    program
        .args(["log", "athlete", "add", "Mia"])
        .assert()
        .success();
}

/// Runs it to its end; a signal counts as 128 and its number, as in a shell.
fn run(command: &mut Command) -> Ran {
    ended(command.output().expect("the program runs"))
}

fn ended(output: std::process::Output) -> Ran {
    use std::os::unix::process::ExitStatusExt;
    let code = output.status.code();
    Ran {
        code: code.unwrap_or_else(|| 128 + output.status.signal().unwrap_or(0)),
        out: String::from_utf8(output.stdout).expect("UTF-8"),
        err: String::from_utf8(output.stderr).expect("UTF-8"),
    }
}

/// Names of files in a folder that were begun and not finished.
fn unfinished(folder: &Path) -> Vec<String> {
    let Ok(entries) = fs::read_dir(folder) else {
        return Vec::new();
    };
    let names = entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    names
        .filter(|name| name.contains(".part") || name.contains(".probe"))
        .collect()
}

/// Every picture in the folder is whole.
fn pictures_are_whole(folder: &Path) -> usize {
    let mut whole = 0;
    for entry in fs::read_dir(folder).into_iter().flatten() {
        let path = entry.unwrap().path();
        let bytes = fs::read(&path).unwrap();
        match path.extension().and_then(|ending| ending.to_str()) {
            // The last chunk of a PNG, with its check sum; the last tag of an SVG.
            Some("png") => assert!(bytes.ends_with(b"IEND\xae\x42\x60\x82"), "{path:?}"),
            Some("svg") => assert!(bytes.trim_ascii_end().ends_with(b"</svg>"), "{path:?}"),
            _ => panic!("{path:?}"),
        }
        whole += 1;
    }
    whole
}

/// Measures into a folder of 48 KiB, in a place of its own where nobody else sees it.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_said_and_leaves_no_half_picture() {
    let bench = Bench::new();
    bench.sample("cmj_60");
    fs::create_dir(bench.path().join("small")).unwrap();
    let program = assert_cmd::cargo::cargo_bin!("underfoot");
    let script = format!(
        "mount -t tmpfs -o size=48k none small || exit 77
         {} measure --floor {} --pictures small cmj_60.mp4
         code=$?; ls -A small; exit $code",
        program.display(),
        floor("cmj_60")
    );
    let mut shell = Command::new("unshare");
    shell.args(["--map-root-user", "--mount", "sh", "-c", &script]);
    let ran = match shell.current_dir(bench.path()).output() {
        Ok(output) => ended(output),
        Err(error) => return eprintln!("not tested: no unshare ({error})"),
    };
    if ran.code == 77 || ran.err.contains("unshare") {
        return eprintln!("not tested: no disk may be made here ({})", ran.err);
    }
    ran.refused("cannot be written");
    assert!(
        ran.err.contains("hint: make room on the disk"),
        "{}",
        ran.err
    );
    assert!(
        ran.out.contains("Jump 1"),
        "the height is lost: {}",
        ran.out
    );
    assert!(!ran.out.contains(".part"), "{}", ran.out);
}

/// Runs a copy of the program as somebody who may not write here.
fn as_stranger(bench: &Bench, arguments: &[&str]) -> Ran {
    use std::os::unix::fs::MetadataExt;
    use std::os::unix::process::CommandExt;
    let bin = bench.path().join("bin/underfoot");
    fs::create_dir_all(bin.parent().unwrap()).unwrap();
    fs::copy(assert_cmd::cargo::cargo_bin!("underfoot"), &bin).unwrap();
    let mut command = Command::new(bin);
    command
        .args(arguments)
        .current_dir(bench.path().join("clips"));
    if fs::metadata("/proc/self").is_ok_and(|data| data.uid() == 0) {
        command.uid(65534).gid(65534);
    }
    run(&mut command)
}

fn set_mode(path: &Path, mode: u32) {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
}

#[test]
fn a_folder_that_may_only_be_read_costs_the_patch_and_nothing_else() {
    let bench = Bench::new();
    fs::create_dir(bench.path().join("clips")).unwrap();
    bench.sample_as("cmj_60", "clips/jump.mp4");
    set_mode(bench.path(), 0o755);
    set_mode(&bench.path().join("clips"), 0o555);
    let patch = floor("cmj_60");
    let measured = as_stranger(&bench, &["measure", "--floor", &patch, "jump.mp4"]);
    let pictures = ["measure", "--floor", &patch, "jump.mp4", "--pictures", "p"];
    let pictures = as_stranger(&bench, &pictures);
    let marked = as_stranger(&bench, &["mark", "jump.mp4"]);
    set_mode(&bench.path().join("clips"), 0o755);
    assert_eq!(measured.code, 0, "{}", measured.err);
    assert!(measured.out.contains("Jump 1"));
    assert!(
        measured.err.contains("cannot be kept beside the clip"),
        "{}",
        measured.err
    );
    pictures.refused("cannot be written");
    marked.refused("cannot be written");
    assert_eq!(bench.names("clips"), ["jump.mp4"]);
}

#[test]
fn a_clip_that_vanishes_or_shrinks_while_it_is_read() {
    for (way, delay_ms) in (0..8).map(|at| (at % 2, 40 * at)) {
        let bench = Bench::new();
        let clip = bench.sample_as("slowmo_240as30", "jump.mp4");
        let arguments = ["--json", "--full", "--pictures", "p", "jump.mp4"];
        let child = measuring(&bench, "slowmo_240as30", &arguments)
            .spawn()
            .unwrap();
        std::thread::sleep(std::time::Duration::from_millis(delay_ms));
        match way {
            0 => fs::remove_file(&clip).unwrap(),
            _ => fs::File::options()
                .write(true)
                .open(&clip)
                .unwrap()
                .set_len(20_000)
                .unwrap(),
        }
        let ran = ended(child.wait_with_output().unwrap());
        assert!(
            ran.code <= 2 && !ran.err.contains("panicked"),
            "{}",
            ran.err
        );
        assert!(!ran.err.contains("broke down"), "{}", ran.err);
        let documents = ran.documents();
        if ran.code == 2 {
            let lines: Vec<&str> = ran.err.lines().collect();
            assert!(
                lines.iter().any(|line| line.starts_with("hint: ")),
                "{}",
                ran.err
            );
        } else {
            let warned = !documents[0]["warnings"].as_array().unwrap().is_empty();
            let jumps = documents[0]["jumps"].as_array().unwrap().len();
            assert!(warned || jumps == 1, "{}", ran.out);
        }
        assert_eq!(unfinished(&bench.path().join("p")), [""; 0]);
    }
}

#[test]
fn links_lead_to_clips_and_away_from_other_peoples_files() {
    use std::os::unix::fs::symlink;
    let bench = Bench::new();
    let place = |name: &str| bench.path().join(name);
    fs::create_dir(place("elsewhere")).unwrap();
    bench.sample_as("cmj_60", "elsewhere/clip.mp4");
    bench.write("elsewhere/diary", "not for you");
    symlink("elsewhere/clip.mp4", place("jump.mp4")).unwrap();
    symlink("nowhere", place("gone.mp4")).unwrap();
    symlink("round.mp4", place("round.mp4")).unwrap();
    let ran = run(&mut measuring(&bench, "cmj_60", &["--no-keep", "jump.mp4"]));
    assert_eq!(ran.code, 0, "{}", ran.err);
    run(&mut measuring(&bench, "cmj_60", &["gone.mp4"])).refused("no such file");
    run(&mut measuring(&bench, "cmj_60", &["round.mp4"])).refused("cannot be read");
    // Pictures and patches are not written through links into other people's files.
    fs::create_dir(place("p")).unwrap();
    symlink(place("elsewhere/diary"), place("p/jump-trace.png")).unwrap();
    symlink(place("elsewhere/new"), place("p/jump-jump1.png")).unwrap();
    symlink(place("elsewhere/diary"), place("jump.mp4.floor.json")).unwrap();
    let ran = run(&mut measuring(
        &bench,
        "cmj_60",
        &["--pictures", "p", "jump.mp4"],
    ));
    ran.refused("not made by this program");
    assert!(ran.err.contains("not one of ours"), "{}", ran.err);
    assert_eq!(bench.read("elsewhere/diary"), b"not for you");
    assert_eq!(bench.names("elsewhere"), ["clip.mp4", "diary"]);
}
