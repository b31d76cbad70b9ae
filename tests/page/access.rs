//! For those who hear the page, or see it poorly: rules of axe-core on every state.

use std::path::Path;

use serde_json::{Value, json};

use super::browser::{Page, Screen, browse};
use super::loads::{show_session, squad};
use super::served::Served;
use super::whole::{bring, measure};

/// The rules, fetched by `tests/tools/prepare` and not part of this repository.
fn rules() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/axe/package/axe.min.js");
    std::fs::read_to_string(&path).unwrap_or_else(|error| {
        panic!(
            "{} is not there ({error}): run `sh tests/tools/prepare test`",
            path.display()
        )
    })
}

/// Fails with every rule that is broken and where.
async fn check(page: &Page, rules: &str, state: &str) {
    // What the head of the page covers for the moment is no fault.
    page.script("window.scrollTo(0, 0)", &[]).await;
    page.script(rules, &[]).await;
    let found = page
        .script(
            "return axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })
               .then((found) => ({
                 broken: found.violations.map((one) => [one.id, one.help, one.nodes.map((n) => n.target.join(' ') + ': ' + n.failureSummary)]),
                 passed: found.passes.length,
               }))",
            &[],
        )
        .await;
    assert_eq!(found["broken"], json!([]), "{state}: {found:#}");
    let passed = found["passed"].as_u64().unwrap_or_default();
    assert!(
        passed > 20,
        "{state}: only {passed} rules looked at anything"
    );
}

fn states(screen: Screen) {
    let rules = rules();
    let served = Served::start(&[]);
    browse(screen, async |page| {
        page.open(&served.address).await;
        page.find("#shelf .empty").await;
        check(&page, &rules, "empty").await;
        bring(&page, "cmj_120.mp4").await;
        check(&page, &rules, "marking").await;
        measure(&page).await;
        page.until("document.querySelectorAll('#strip li').length > 6")
            .await;
        page.click("#set-right-1 summary").await;
        page.click("[data-set=take_off][data-offset='0.5']").await;
        page.find(".by-hand").await;
        check(&page, &rules, "set by hand").await;
        page.fill("#load", "20").await;
        page.find("#cautions:not([hidden])").await;
        page.fill("#athlete", "Mia Vogel").await;
        check(&page, &rules, "with a load").await;
        page.click("#keep button[type=submit]").await;
        page.find(".day-view").await;
        check(&page, &rules, "kept").await;
        headings_in_order(&page).await;
        page.find("#loads-next[open]").await;
        page.press("#mark-1-landing", 10.0, 0.0).await;
        check(&page, &rules, "an event is held").await;
        page.keys("\u{e00c}").await;
    });
    let served = squad();
    browse(screen, async |page| {
        show_session(&page, &served).await;
        check(&page, &rules, "loads").await;
        headings_in_order(&page).await;
    });
}

/// No level of heading is left out, as a reader would miss a part there.
async fn headings_in_order(page: &Page) {
    let levels = page
        .script(
            "return [...document.querySelectorAll('h1,h2,h3,h4')].map((h) => Number(h.tagName[1]))",
            &[],
        )
        .await;
    let levels: Vec<u64> = levels
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(Value::as_u64)
        .collect();
    assert_eq!(levels.first(), Some(&1));
    assert!(
        levels.windows(2).all(|two| two[1] <= two[0] + 1),
        "{levels:?}"
    );
}

#[test]
fn every_state_keeps_the_rules_on_a_laptop() {
    states(Screen::Laptop);
}

#[test]
fn every_state_keeps_the_rules_in_the_dark() {
    states(Screen::LaptopDark);
}

#[test]
fn every_state_keeps_the_rules_on_a_phone() {
    states(Screen::Phone);
}
