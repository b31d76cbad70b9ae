//! Pictures of the page at both sizes, light and dark, kept as test output.

use super::browser::{Page, Screen, browse, pictures};
use super::loads::{show_session, squad};
use super::served::{Served, sample};
use super::whole::{bring, measure};

async fn walk(page: &Page, served: &Served, name: &str, width: u32) {
    page.open(&served.address).await;
    page.find("#shelf .empty").await;
    page.picture(&format!("{name}-1-empty")).await;
    bring(page, "cmj_120.mp4").await;
    page.picture(&format!("{name}-2-mark")).await;
    measure(page).await;
    page.until("document.querySelectorAll('#trace svg').length === 1")
        .await;
    page.until("document.querySelectorAll('#strip img').length > 6 && [...document.querySelectorAll('#strip img')].every((one) => one.naturalWidth > 0)")
        .await;
    page.script("window.scrollTo(0, 0)", &[]).await;
    page.picture(&format!("{name}-3-jump")).await;
    page.click("#event-1-take-off").await;
    page.click("[data-view=event]").await;
    page.click("#set-right-1 summary").await;
    page.click("[data-set=take_off][data-offset='0.5']").await;
    page.find(".by-hand").await;
    page.press("#mark-1-take-off", 30.0, 0.0).await;
    page.picture(&format!("{name}-7-held")).await;
    page.keys("\u{e00c}").await;
    page.release().await;
    page.click("[data-undo=as_found]").await;
    page.until("!document.querySelector('.by-hand')").await;
    page.fill("#athlete", "Mia Vogel").await;
    page.click("#keep button[type=submit]").await;
    page.find(".day-view").await;
    page.find(".loads").await;
    page.whole_height(width).await;
    page.picture(&format!("{name}-4-all")).await;
}

/// The squad's loads.
async fn walk_on(page: &Page, served: &Served, name: &str, width: u32) {
    show_session(page, served).await;
    page.whole_height(width).await;
    page.script(
        "document.querySelector('.loads').scrollIntoView({ block: 'start' })",
        &[],
    )
    .await;
    page.picture(&format!("{name}-6-loads")).await;
}

fn look(screen: Screen, name: &str, width: u32) {
    let served = Served::start(&[]);
    browse(screen, async |page| walk(&page, &served, name, width).await);
    let served = squad();
    browse(screen, async |page| {
        walk_on(&page, &served, name, width).await
    });
    for step in ["1-empty", "2-mark", "3-jump", "4-all", "6-loads", "7-held"] {
        let picture = pictures().join(format!("{name}-{step}.png"));
        let size = std::fs::metadata(picture).expect("a picture").len();
        assert!(size > 10_000, "{name}-{step} shows nothing");
    }
}

#[test]
fn on_a_laptop() {
    look(Screen::Laptop, "laptop", 1366);
}

#[test]
fn on_a_laptop_in_the_dark() {
    look(Screen::LaptopDark, "laptop-dark", 1366);
}

#[test]
fn on_a_phone() {
    look(Screen::Phone, "phone", 390);
}

#[test]
fn on_a_phone_in_the_dark() {
    look(Screen::PhoneDark, "phone-dark", 390);
}

/// Several clips in all their states at once.
#[test]
fn a_full_shelf() {
    let served = Served::start(&["--threads", "1"]);
    let folder = tempfile::tempdir().expect("a folder");
    let broken = folder.path().join("broken.mp4");
    std::fs::write(&broken, "words, no pictures").expect("written");
    browse(Screen::Laptop, async |page| {
        page.open(&served.address).await;
        page.choose("#choose", &broken).await;
        for clip in [
            "cmj_60.mp4",
            "cmj_240.mp4",
            "portrait_60.mp4",
            "two_jumps_120.mp4",
        ] {
            page.choose("#choose", &sample(clip)).await;
        }
        page.until("document.querySelectorAll('#shelf li').length === 5")
            .await;
        page.picture("laptop-5-shelf").await;
    });
}
