//! Take-off and landing taken hold of below the trace and moved.

use serde_json::json;

use super::browser::{Page, Screen, browse};
use super::served::{Served, sample};
use super::whole::{bring, measure};

const LEFT: &str = "\u{e012}";
const RIGHT: &str = "\u{e014}";
const ENTER: &str = "\u{e007}";
const ESCAPE: &str = "\u{e00c}";

/// Brings a clip in, measures it, and shows a jump whole.
async fn measured(page: &Page, served: &Served, clip: &str, jump: usize) {
    page.open(&served.address).await;
    bring(page, clip).await;
    measure(page).await;
    page.click(&format!("#event-{jump}-take-off")).await;
    page.find(&format!("#mark-{jump}-landing:not([hidden])"))
        .await;
    page.until("document.querySelector('[data-view=jump][aria-pressed=true]')")
        .await;
    page.until("document.querySelectorAll('#trace svg').length === 1")
        .await;
}

/// Where a mark says that it is.
async fn place(page: &Page, mark: &str) -> String {
    let place = page
        .script(
            "return document.querySelector(arguments[0]).getAttribute('aria-valuetext')",
            &[json!(mark)],
        )
        .await;
    place.as_str().expect("a place").to_owned()
}

async fn height(page: &Page, jump: usize) -> String {
    page.text(&format!("article.jump[data-jump='{jump}'] .height"))
        .await
}

/// How often the page has asked for an event to be set.
async fn corrections(page: &Page) -> u64 {
    let asked = page
        .script(
            "return performance.getEntriesByType('resource').filter((one) => /jumps\\/\\d+$/.test(one.name)).length",
            &[],
        )
        .await;
    asked.as_u64().expect("a count")
}

async fn until_height(page: &Page, jump: usize, is: &str, wanted: &str) {
    page.until(&format!(
        "document.querySelector('article.jump[data-jump=\"{jump}\"] .height').textContent {is} '{wanted}'"
    ))
    .await;
}

#[test]
fn an_event_is_dragged_to_a_place_and_taken_back() {
    let served = Served::start(&[]);
    browse(Screen::Laptop, async |page| {
        measured(&page, &served, "two_jumps_120.mp4", 2).await;
        let (first, found) = (height(&page, 1).await, height(&page, 2).await);
        let before = place(&page, "#mark-2-landing").await;
        page.press("#mark-2-landing", 60.0, 0.0).await;
        // Which one is held is seen, and where it would be set.
        let held = page.text("#held-says").await;
        assert!(held.starts_with("Landing of jump 2: "), "{held}");
        let marked = page
            .script(
                "return [...document.querySelectorAll('.mark.held')].map((one) => one.id)",
                &[],
            )
            .await;
        assert_eq!(marked, json!(["mark-2-landing"]));
        let line = page
            .script("return document.getElementById('held-line').hidden", &[])
            .await;
        assert_eq!(line, json!(false));
        assert_eq!(corrections(&page).await, 0, "set before it was let go");
        let there = place(&page, "#mark-2-landing").await;
        assert_ne!(there, before);
        page.release().await;
        page.find("article.jump[data-jump='2'] .by-hand").await;
        until_height(&page, 2, "!==", &found).await;
        assert_eq!(height(&page, 1).await, first, "the other jump changed");
        // It stands where it was let go.
        let words = there.split(',').next().expect("words");
        assert!(held.contains(words), "{held}: {there}");
        page.until(&format!(
            "document.querySelector('#mark-2-landing').getAttribute('aria-valuetext').startsWith('{words}')"
        ))
        .await;
        page.click("article.jump[data-jump='2'] [data-undo=undo]")
            .await;
        until_height(&page, 2, "===", &found).await;
        page.until("!document.querySelector('.by-hand')").await;
        page.until(&format!(
            "document.querySelector('#mark-2-landing').getAttribute('aria-valuetext') === '{before}'"
        ))
        .await;
        // No jump lands before it takes off: that is refused, and the mark goes back.
        let flight = page
            .script(
                "const at = (what) => document.querySelector(`#mark-2-${what} .stem`).getBoundingClientRect().left;
                 return at('landing') - at('take-off')",
                &[],
            )
            .await;
        let flight = flight.as_f64().expect("a distance");
        assert!(flight > 50.0, "{flight} px");
        page.press("#mark-2-landing", -flight.round() - 40.0, 0.0)
            .await;
        page.release().await;
        page.find("#trouble:not([hidden])").await;
        assert_eq!(place(&page, "#mark-2-landing").await, before);
        assert_eq!(height(&page, 2).await, found);
    });
}

#[test]
fn escape_lets_go_and_other_places_scrub() {
    let served = Served::start(&[]);
    browse(Screen::Laptop, async |page| {
        measured(&page, &served, "cmj_120.mp4", 1).await;
        let found = height(&page, 1).await;
        let before = place(&page, "#mark-1-take-off").await;
        page.press("#mark-1-take-off", -50.0, 0.0).await;
        assert_ne!(place(&page, "#mark-1-take-off").await, before);
        page.keys(ESCAPE).await;
        page.until("document.getElementById('held-says').hidden")
            .await;
        assert_eq!(place(&page, "#mark-1-take-off").await, before);
        page.release().await;
        // A touch is no move either, nor is what comes back to where it was.
        page.drag("#mark-1-take-off", 1.0, 0.0).await;
        page.there_and_back("#mark-1-take-off", 60.0).await;
        assert_eq!(place(&page, "#mark-1-take-off").await, before);
        // The trace itself moves through the frames, and sets nothing.
        page.drag("#timeline", 90.0, 0.0).await;
        let shown = "document.getElementById('frame').dataset.shown";
        let here = page.until(shown).await;
        page.drag("#timeline", -90.0, 0.0).await;
        page.until(&format!(
            "{shown} !== '{}'",
            here.as_str().expect("a frame")
        ))
        .await;
        assert_eq!(corrections(&page).await, 0);
        assert_eq!(height(&page, 1).await, found);
        let by_hand = page
            .script("return document.querySelectorAll('.by-hand').length", &[])
            .await;
        assert_eq!(by_hand, json!(0));
    });
}

#[test]
fn keys_move_an_event_and_set_it() {
    let served = Served::start(&[]);
    browse(Screen::Laptop, async |page| {
        measured(&page, &served, "cmj_120.mp4", 1).await;
        let found = height(&page, 1).await;
        let before = place(&page, "#mark-1-take-off").await;
        page.tab_to("#mark-1-take-off").await;
        page.keys(LEFT).await;
        let held = page.text("#held-says").await;
        assert!(
            held.starts_with("Take-off of jump 1: ") && held.contains("Enter sets it"),
            "{held}"
        );
        page.keys(ESCAPE).await;
        assert_eq!(place(&page, "#mark-1-take-off").await, before);
        assert_eq!(corrections(&page).await, 0);
        for key in [LEFT, LEFT, LEFT, RIGHT] {
            page.keys(key).await;
        }
        let there = place(&page, "#mark-1-take-off").await;
        // Leaving it half done sets nothing.
        page.keys("\u{e004}").await;
        assert_eq!(place(&page, "#mark-1-take-off").await, before);
        assert_eq!(corrections(&page).await, 0);
        page.script("document.getElementById('mark-1-take-off').focus()", &[])
            .await;
        for key in [LEFT, LEFT, LEFT, RIGHT, ENTER] {
            page.keys(key).await;
        }
        page.find(".by-hand").await;
        until_height(&page, 1, "!==", &found).await;
        let words = there.split(',').next().expect("words");
        page.until(&format!(
            "document.querySelector('#mark-1-take-off').getAttribute('aria-valuetext').startsWith('{words}')"
        ))
        .await;
        // The keyboard is still at the mark.
        let at = page.script("return document.activeElement.id", &[]).await;
        assert_eq!(at, json!("mark-1-take-off"));
    });
}

#[test]
fn a_finger_drags_an_event() {
    let served = Served::start(&[]);
    browse(Screen::Phone, async |page| {
        page.open(&served.address).await;
        page.choose("#film", &sample("cmj_120.mp4")).await;
        page.until("document.querySelector('.origin')?.textContent.includes('suggestion')")
            .await;
        let found = measure(&page).await;
        page.click("#event-1-landing").await;
        page.find("#mark-1-landing:not([hidden])").await;
        let tall = page
            .script(
                "return document.querySelector('#mark-1-landing').getBoundingClientRect().height",
                &[],
            )
            .await;
        assert!(
            tall.as_f64().expect("a height") >= 44.0,
            "{tall} px for a finger"
        );
        page.swipe("#mark-1-landing", 24.0, 0.0).await;
        page.find(".by-hand").await;
        until_height(&page, 1, "!==", &found).await;
    });
}
