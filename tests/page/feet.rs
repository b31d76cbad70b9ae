//! Each foot on the page as in the command's output.

use std::process::Command;

use serde_json::json;

use super::browser::{Screen, browse};
use super::served::{Served, sample};
use super::whole::{bring, measure};

/// The patch in which both feet of `cmj_120.mp4` are told apart.
const PATCH: [u32; 4] = [289, 301, 62, 26];

/// What the command says of the feet, in one line.
fn printed() -> String {
    let [x, y, w, h] = PATCH;
    let printed = Command::new(env!("CARGO_BIN_EXE_underfoot"))
        .args(["measure", "--no-keep", "--floor"])
        .arg(format!("{x},{y},{w},{h}"))
        .arg(sample("cmj_120.mp4"))
        .output()
        .expect("the program runs");
    let printed = String::from_utf8(printed.stdout).expect("text");
    let mut lines = printed
        .lines()
        .skip_while(|line| !line.starts_with("  Feet  "));
    let first = lines
        .next()
        .unwrap_or_else(|| panic!("no feet in {printed}"));
    let more = lines.take_while(|line| line.starts_with("        "));
    let words = std::iter::once(first.trim_start_matches("  Feet  ")).chain(more);
    words.map(str::trim).collect::<Vec<_>>().join(" ")
}

#[test]
fn both_feet_are_told_apart_as_the_command_does() {
    let wanted = printed();
    assert!(wanted.contains("left the floor"), "{wanted}");
    let served = Served::start(&[]);
    browse(Screen::Laptop, async |page| {
        page.open(&served.address).await;
        bring(&page, "cmj_120.mp4").await;
        page.script(
            "for (const [at, id] of ['x', 'y', 'w', 'h'].entries()) {
               const field = document.getElementById(`patch-${id}`);
               field.value = arguments[0][at];
               field.dispatchEvent(new Event('change', { bubbles: true }));
             }",
            &[json!(PATCH)],
        )
        .await;
        measure(&page).await;
        assert_eq!(page.text("article.jump dd.feet").await, wanted);
        // Where the feet are not told apart, nothing is said of them.
        page.choose("#choose", &sample("cmj_60.mp4")).await;
        page.until("document.querySelector('.origin')?.textContent.includes('your last clip')")
            .await;
        measure(&page).await;
        let feet = page
            .script("return document.querySelectorAll('dd.feet').length", &[])
            .await;
        assert_eq!(feet, json!(0));
    });
}
