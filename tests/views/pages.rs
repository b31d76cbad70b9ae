//! Pages: the sheet, manuals, completions, help.

use super::bench::ran;
use super::{ask, club};

#[test]
fn a_sheet_stands_alone() {
    let bench = club();
    let done = ask(&bench, &["sheet", "Mia Vogel", "--out", "mia.html"]);
    assert_eq!(
        (done.code, done.out.as_str()),
        (0, "Sheet: mia.html\n"),
        "{}",
        done.err
    );
    let page = String::from_utf8(bench.read("mia.html")).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("default-src 'none'"));
    // A name space is no address that anybody asks.
    let asks = page.replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
    for outside in [
        "http:", "https:", "//", "url(", "<script", "<link", "<img", "@import", "src=",
    ] {
        let found = asks.replace("default-src=", "").replace("default-src ", "");
        assert!(!found.contains(outside), "{outside}");
    }
    for part in [
        "The trials",
        "Is it really higher?",
        "Over time",
        "How it was measured",
        "Cautions",
        "no: landing beside",
        "@media print",
    ] {
        assert!(page.contains(part), "{part}");
    }
    assert_eq!(page.matches("<svg").count(), 2);
    assert_eq!(page.matches("<li>").count(), page.matches("</li>").count());
    // Without a load nothing is said of bars; with one all cautions are there.
    assert!(!page.contains("collars closed"));
    let done = ask(
        &bench,
        &["sheet", "Mia Vogel", "--load-kg", "20", "--out", "mia.html"],
    );
    assert_eq!(done.code, 0, "{}", done.err);
    let page = String::from_utf8(bench.read("mia.html")).unwrap();
    assert!(page.contains("collars closed") && page.contains("Not answered yet"));
}

#[test]
fn a_sheet_is_safe_from_names_and_spares_others_files() {
    let bench = club();
    let mut log = underfoot::log::Log::open(&bench.path().join("club.sqlite")).unwrap();
    let id = super::club::athlete(&mut log, "<b>Zed & \"Co\"");
    super::club::days(&mut log, id, &[(super::MONDAY, &[30.0, 31.0])]);
    ask(&bench, &["sheet", "<b>Zed & \"Co\"", "--out", "zed.html"]);
    let page = String::from_utf8(bench.read("zed.html")).unwrap();
    assert!(!page.contains("<b>") && page.contains("&lt;b&gt;Zed &amp; &quot;Co&quot;"));
    bench.write("theirs.html", "<html>");
    ask(&bench, &["sheet", "Mia Vogel", "--out", "theirs.html"]).refused("is left alone");
    assert_eq!(bench.read("theirs.html"), b"<html>");
    let forced = ask(
        &bench,
        &["sheet", "Mia Vogel", "--out", "theirs.html", "--force"],
    );
    assert_eq!(forced.code, 0, "{}", forced.err);
}

const COMMANDS: [&str; 9] = [
    "trials",
    "change",
    "trend",
    "squad",
    "plan",
    "companion",
    "sheet",
    "completions",
    "man",
];

#[test]
fn every_view_has_help_with_an_example() {
    let bench = super::Bench::new();
    for command in COMMANDS {
        let help = bench.run(&format!("{command} --help"));
        assert_eq!((help.code, help.err.as_str()), (0, ""), "{command}");
        let example = format!("Example: underfoot {command}");
        assert!(help.out.contains(&example), "{}", help.out);
    }
}

#[test]
fn shells_complete_and_manuals_are_there() {
    let bench = super::Bench::new();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = bench.run(&format!("completions {shell}"));
        assert_eq!(script.code, 0, "{}", script.err);
        assert!(
            script.out.contains("companion") && script.out.contains("another-phone"),
            "{shell}"
        );
    }
    bench.run("completions tcsh").refused("tcsh");
    let written = bench.run("man pages");
    assert_eq!(written.code, 0, "{}", written.err);
    let names = bench.names("pages");
    for command in COMMANDS {
        let page = format!("underfoot-{command}.1");
        assert!(names.contains(&page), "{page} in {names:?}");
    }
    let page = String::from_utf8(bench.read("pages/underfoot-change.1")).unwrap();
    assert!(
        page.contains(".TH underfoot") && page.contains("another"),
        "{page}"
    );
    // A second run replaces its own pages, and nobody else's.
    assert_eq!(bench.run("man pages").code, 0);
    bench.write("pages/underfoot.1", "theirs");
    ran(bench.program().args(["man", "pages"])).refused("is left alone");
}
