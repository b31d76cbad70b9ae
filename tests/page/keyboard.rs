//! The whole job by the keyboard alone.

use super::browser::{Screen, browse};
use super::served::{Served, sample};

const RIGHT: &str = "\u{e014}";
const DOWN: &str = "\u{e015}";
const ENTER: &str = "\u{e007}";

#[test]
fn everything_is_done_without_a_mouse() {
    let served = Served::start(&[]);
    browse(Screen::Laptop, async |page| {
        page.open(&served.address).await;
        page.tab_to("#choose").await;
        // The system's own window for files is beyond a test; the field is reached.
        page.choose("#choose", &sample("cmj_120.mp4")).await;
        page.until("document.querySelector('.origin')?.textContent.includes('suggestion')")
            .await;
        let before = page.patch().await;
        page.tab_to("#grip").await;
        page.keys(RIGHT).await;
        page.keys(DOWN).await;
        let moved = page.patch().await;
        assert_eq!(moved, [before[0] + 1, before[1] + 1, before[2], before[3]]);
        page.tab_to(".edge.bottom").await;
        page.keys(DOWN).await;
        assert_eq!(
            page.patch().await,
            [moved[0], moved[1], moved[2], moved[3] + 1]
        );
        page.tab_to("#timeline").await;
        for _ in 0..3 {
            page.keys(RIGHT).await;
        }
        page.until("document.getElementById('frame').dataset.shown === '3'")
            .await;
        page.tab_to("#measure").await;
        page.keys(ENTER).await;
        page.find("article.jump").await;
        page.tab_to("#event-1-landing").await;
        page.keys(ENTER).await;
        page.until("document.querySelector('#event-1-landing[aria-pressed=true]')")
            .await;
        page.tab_to("#set-right-1 summary").await;
        page.keys(ENTER).await;
        page.tab_to("[data-set=landing][data-offset='0']").await;
        page.keys(ENTER).await;
        page.find(".by-hand").await;
        // The keyboard is not lost when the panel changes.
        page.tab_to("[data-undo=undo]").await;
        page.keys(ENTER).await;
        page.until("!document.querySelector('.by-hand')").await;
        page.tab_to("#athlete").await;
        page.keys("Mia Vogel").await;
        page.tab_to("#keep button[type=submit]").await;
        page.keys(ENTER).await;
        page.find(".day-view").await;
        page.tab_to(".day-view a.button").await;
    });
}
