//! Jumps under load on the page: the command's numbers, and what to do where some are missing.

use serde_json::json;
use underfoot::synth::squad::PLAYERS;
use underfoot::trials::load::cautions::CAUTIONS;

use super::browser::{Page, Screen, browse};
use super::served::{Served, also, sample};
use super::whole::measure;

/// A page whose log is the made-up squad's, with a second session across loads of one
/// player, whose push-off distance is known.
pub fn squad() -> Served {
    let served = Served::start(&[]);
    let file = |name: &str| {
        let path = served.folder.path().join(name);
        path.to_str().expect("a plain name").to_owned()
    };
    also(&served, &["log", "demo", &file("log.sqlite")]);
    also(&served, &["log", "export", &file("all.csv")]);
    let rows = std::fs::read_to_string(file("all.csv")).expect("the rows");
    let first = format!("{},{},", loaded_player(), day_of(&printed(&served)));
    let again = format!("{},{LATER},", loaded_player());
    let head = rows.lines().take(1).map(str::to_owned);
    let session = rows.lines().filter(|row| row.starts_with(&first));
    let session = session.map(|row| row.replacen(&first, &again, 1));
    let later: Vec<String> = head.chain(session).collect();
    assert!(later.len() > 6, "{first} has no session across loads");
    std::fs::write(file("later.csv"), later.join("\n")).expect("written");
    also(&served, &["log", "import", &file("later.csv")]);
    let known = [
        "log",
        "athlete",
        "set",
        loaded_player(),
        "--push-off-cm",
        "38",
    ];
    also(&served, &known);
    served
}

/// Day of the second session.
const LATER: &str = "2026-11-16";

/// The day in the heading that the command prints.
fn day_of(printed: &str) -> String {
    let head = printed.lines().next().expect("a heading");
    head.split(", ").nth(1).expect("a day").to_owned()
}

/// The first of those who jumped with a bar on the shoulders.
pub fn loaded_player() -> &'static str {
    PLAYERS[0].name
}

/// What the command says of her.
fn printed(served: &Served) -> String {
    also(served, &["load", "series", "--athlete", loaded_player()])
}

/// Shows her session across loads; the day on which it was.
pub async fn show_session(page: &Page, served: &Served) -> String {
    let day = day_of(&printed(served));
    page.open(&served.address).await;
    page.find("#day-choice").await;
    page.script(
        "const form = document.getElementById('day-choice');
         form.elements.athlete.value = arguments[0];
         form.elements.date.value = arguments[1];",
        &[json!(loaded_player()), json!(day)],
    )
    .await;
    page.click("#day-choice button[type=submit]").await;
    page.until("document.querySelector('.loads table.heights')")
        .await;
    page.until(&format!(
        "document.querySelector('.loads').textContent.includes('{day}')"
    ))
    .await;
    day
}

fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// All of the command's words and numbers are on the page.
async fn agrees(page: &Page, printed: &str) {
    let shown = flat(&page.text(".loads").await);
    let head = printed.lines().next().expect("a heading");
    let subject = flat(head.trim_start_matches("Jumps under load"));
    assert!(shown.contains(&subject), "{subject}: {shown}");
    let table = |begins: &str| -> Vec<&str> {
        let rest = printed.lines().skip_while(|line| !line.starts_with(begins));
        rest.skip(1)
            .skip_while(|line| !line.contains(" kg "))
            .take_while(|line| line.contains(" kg "))
            .collect()
    };
    has_rows(page, ".heights", &table("Jumps under load")).await;
    has_rows(page, ".changes", &table("Change since")).await;
    has_rows(page, ".pushes", &table("Means over")).await;
    let text = flat(printed);
    let scatter = "Single jumps at one load scatter by";
    let (_, rest) = text.split_once(scatter).expect("the scatter");
    let sentence = format!(
        "{scatter}{}.",
        rest.split(" (").next().expect("a number").to_owned()
            + " (standard deviation, film included)"
    );
    assert!(shown.contains(&sentence), "{sentence}: {shown}");
    for warning in text.split("warning: ").skip(1) {
        // Sentences begin with a capital letter here.
        let words = &warning[1..40.min(warning.len())];
        assert!(shown.contains(words), "{words}: {shown}");
    }
    let (_, line) = text.split_once("Force against velocity ").expect("a line");
    let line = line.split(" Before anyone").next().expect("its end");
    assert!(shown.contains(line), "{line}: {shown}");
    for caution in &CAUTIONS {
        assert!(shown.contains(caution.text), "{}: {shown}", caution.key);
    }
}

/// A table of the page has these rows of the command's, number by number.
async fn has_rows(page: &Page, table: &str, rows: &[&str]) {
    assert!(rows.len() > 2, "{table}: {rows:?}");
    let count = page
        .script(
            "return document.querySelectorAll(`.loads ${arguments[0]} tbody tr`).length",
            &[json!(table)],
        )
        .await;
    assert_eq!(count, json!(rows.len()), "{table}");
    for (at, row) in rows.iter().enumerate() {
        let row_of = format!(".loads {table} tbody tr:nth-child({})", at + 1);
        let cells = flat(&page.text(&row_of).await);
        let parts = row.split("  ").flat_map(|part| part.split(" ("));
        let parts = parts.map(|part| part.trim().trim_end_matches(')'));
        let parts: Vec<&str> = parts.filter(|part| !part.is_empty()).collect();
        assert!(parts.len() >= 4, "{row}");
        for part in parts {
            assert!(
                cells.contains(part),
                "{part} of {row:?} is not in {cells:?}"
            );
        }
    }
}

#[test]
fn loads_on_the_page_are_those_of_the_command() {
    let served = squad();
    browse(Screen::Laptop, async |page| {
        show_session(&page, &served).await;
        agrees(&page, &printed(&served)).await;
        let drawn = page
            .script(
                "const svg = document.querySelector('.loads figure svg');
                 return [svg.querySelectorAll('polygon').length,
                         document.querySelectorAll('.loads .heights tbody tr').length, svg.textContent]",
                &[],
            )
            .await;
        // A mark for each load of both sessions, and one in the legend.
        let loads = drawn[1].as_u64().expect("a count");
        assert_eq!(drawn[0].as_u64(), Some(2 * loads + 1), "{drawn}");
        let words = drawn[2].as_str().expect("text");
        assert!(words.contains("load beyond the body"), "{drawn}");
        // Drawn from the log: a trial that does not count is not in it.
        let before = page.text(".loads table.heights tbody tr:first-child").await;
        page.click(".day-view [data-aside]").await;
        page.until(&format!(
            "document.querySelector('.loads table.heights tbody tr').innerText !== {}",
            json!(before)
        ))
        .await;
        agrees(&page, &printed(&served)).await;
        let left_out = page.text(".loads").await;
        assert!(left_out.contains("Left out: "), "{left_out}");
    });
}

#[test]
fn loads_fit_a_phone() {
    let served = squad();
    browse(Screen::Phone, async |page| {
        show_session(&page, &served).await;
        let wide = page
            .script("return document.documentElement.scrollWidth - 390", &[])
            .await;
        assert!(wide.as_i64().expect("a number") <= 0, "{wide} px too wide");
        // Letters of the plot can be read: none below 9 px.
        let least = page
            .script(
                "const svg = document.querySelector('.loads figure svg');
                 const scale = svg.getBoundingClientRect().width / Number(svg.getAttribute('width'));
                 return scale * Math.min(...[...svg.querySelectorAll('text')].map((one) => Number(one.getAttribute('font-size'))))",
                &[],
            )
            .await;
        assert!(
            least.as_f64().expect("a size") > 9.0,
            "letters of {least} px"
        );
        let cut = page
            .script(
                "return [...document.querySelectorAll('.loads table')].filter((one) => one.scrollWidth > one.parentElement.clientWidth + 1).length",
                &[],
            )
            .await;
        assert_eq!(cut, json!(0), "a table is wider than its place");
    });
}

/// Keeps what is measured with a load, all on one day.
async fn keep(page: &Page, load: &str) {
    page.script(
        "const form = document.getElementById('keep');
         form.elements.date.value = '2026-11-20';
         form.elements.athlete.value = 'Mia Vogel';
         form.elements.load_kg.value = arguments[0];",
        &[json!(load)],
    )
    .await;
    page.click("#keep button[type=submit]").await;
    page.find("#keep .good").await;
}

#[test]
fn too_few_loads_say_what_to_film_next() {
    let served = Served::start(&[]);
    browse(Screen::Laptop, async |page| {
        page.open(&served.address).await;
        page.choose("#choose", &sample("cmj_120.mp4")).await;
        page.until("document.querySelector('.origin')?.textContent.includes('suggestion')")
            .await;
        measure(&page).await;
        keep(&page, "0").await;
        let loads = page.text(".loads").await;
        assert!(
            loads.contains("1 jump without a load") && loads.contains("two loads at least"),
            "{loads}"
        );
        // Nobody is talked into a load.
        assert!(!loads.contains("To film next"), "{loads}");
        page.click("#loads-next summary").await;
        let loads = page.text(".loads").await;
        for wanted in [
            "To film next",
            "2 more without a load",
            "a load that the coach has chosen",
            CAUTIONS[0].text,
            CAUTIONS[9].text,
        ] {
            assert!(loads.contains(wanted), "no {wanted:?} in {loads}");
        }
        page.choose("#choose", &sample("cmj_60.mp4")).await;
        page.until("document.querySelector('.origin')?.textContent.includes('your last clip')")
            .await;
        measure(&page).await;
        keep(&page, "20").await;
        // The command cannot do without the body mass either; here it is entered at once.
        let asked = page.text(".loads #body-mass").await;
        assert!(asked.contains("Body mass on 2026-11-20, kg"), "{asked}");
        page.fill("#body-mass input", "62").await;
        page.click("#body-mass button").await;
        page.find(".loads table.heights").await;
        let focus = page.script("return document.activeElement.id", &[]).await;
        assert_eq!(focus, json!("loads-title"));
        let printed = also(&served, &["load", "series", "--athlete", "Mia Vogel"]);
        let shown = flat(&page.text(".loads").await);
        for row in printed.lines().skip(2).take(2) {
            for part in row
                .split("  ")
                .map(str::trim)
                .filter(|part| !part.is_empty())
            {
                assert!(shown.contains(part), "{part}: {shown}");
            }
        }
        assert!(
            shown.contains("2 loads make no curve") && shown.contains("One jump at each load"),
            "{shown}"
        );
        // Kinds whose height does not hang on the load alone are not compared.
        page.script(
            "const form = document.getElementById('day-choice');
             form.elements.kind.value = 'drop';
             form.requestSubmit();",
            &[],
        )
        .await;
        page.until("document.querySelector('.loads .empty')?.textContent.includes('squat jumps')")
            .await;
    });
}
