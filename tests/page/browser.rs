//! A real browser without a window, driven through WebDriver.

use std::future::Future;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use fantoccini::actions::{
    InputSource, KeyAction, KeyActions, MouseActions, PointerAction, TouchActions,
};
use fantoccini::elements::Element;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};

use super::driver::Driver;
pub use super::driver::Screen;

/// Runs a journey in a browser of its own.
pub fn browse<F: Future<Output = ()>>(screen: Screen, journey: impl FnOnce(Page) -> F) {
    let driver = Driver::start();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .expect("a runtime");
    runtime.block_on(async {
        let client = ClientBuilder::new(HttpConnector::new())
            .capabilities(driver.capabilities(screen))
            .connect(&driver.address)
            .await
            .unwrap_or_else(|error| {
                panic!(
                    "the browser does not start ({error}): install the Debian package \
                     `chromium`, or name another with CHROMIUM=path"
                )
            });
        journey(Page {
            client: client.clone(),
            mark: driver.mark.clone(),
        })
        .await;
        client.close().await.expect("the browser closes");
    });
}

/// The page in a browser.
#[derive(Clone)]
pub struct Page {
    pub client: Client,
    /// Line of the environment by which the browser's processes are known.
    pub mark: String,
}

impl Page {
    pub async fn open(&self, address: &str) {
        self.client.goto(address).await.expect("the page opens");
    }

    /// Waits for an element and gives it.
    pub async fn find(&self, css: &str) -> Element {
        let wait = self.client.wait().at_most(Duration::from_secs(60));
        let found = wait.for_element(Locator::Css(css)).await;
        match found {
            Ok(element) => element,
            Err(error) => panic!("no {css} ({error}); the page says:\n{}", self.words().await),
        }
    }

    /// What stands on the page.
    async fn words(&self) -> String {
        let words = self.script("return document.body.innerText", &[]).await;
        words.as_str().unwrap_or_default().to_owned()
    }

    pub async fn click(&self, css: &str) {
        let element = self.find(css).await;
        // Not under the head of the page, which stays where it is.
        self.script(
            "document.querySelector(arguments[0])?.scrollIntoView({ block: 'center' })",
            &[json!(css)],
        )
        .await;
        if let Err(error) = element.click().await {
            // A panel may have been put there anew between finding and clicking.
            let again = self.find(css).await.click().await;
            assert!(again.is_ok(), "{css} cannot be clicked: {error}");
        }
    }

    /// The text of an element, once it is there.
    pub async fn text(&self, css: &str) -> String {
        let shown = format!("document.querySelector({})?.innerText || null", json!(css));
        let text = self.until(&shown).await;
        text.as_str().expect("text").to_owned()
    }

    /// Types into a field.
    pub async fn fill(&self, css: &str, text: &str) {
        self.find(css).await.send_keys(text).await.expect("typed");
    }

    /// Puts a file into a file field.
    pub async fn choose(&self, css: &str, file: &Path) {
        let file = file.to_str().expect("a plain name");
        let element = self.find(css).await;
        element.send_keys(file).await.expect("the file is taken");
    }

    pub async fn script(&self, script: &str, arguments: &[Value]) -> Value {
        let done = self.client.execute(script, arguments.to_vec()).await;
        done.unwrap_or_else(|error| panic!("{script}: {error}"))
    }

    /// Waits until a condition in the page's own language holds; gives its value.
    pub async fn until(&self, condition: &str) -> Value {
        let end = Instant::now() + Duration::from_secs(60);
        loop {
            let value = self.script(&format!("return {condition}"), &[]).await;
            let holds = !matches!(value, Value::Null | Value::Bool(false));
            if holds {
                return value;
            }
            if Instant::now() > end {
                panic!("never: {condition}; the page says:\n{}", self.words().await);
            }
            tokio::time::sleep(Duration::from_millis(25)).await;
        }
    }

    /// The middle of an element, which must be there to be touched.
    pub async fn middle(&self, css: &str) -> (f64, f64) {
        self.find(css).await;
        let middle = self
            .script(
                "const e = document.querySelector(arguments[0]);
                 e.scrollIntoView({block: 'center'});
                 const b = e.getBoundingClientRect();
                 const [x, y] = [b.left + b.width / 2, b.top + b.height / 2];
                 const hit = document.elementFromPoint(x, y);
                 return [x, y, e === hit || e.contains(hit), hit?.outerHTML.slice(0, 200)]",
                &[json!(css)],
            )
            .await;
        assert_eq!(middle[2], json!(true), "{css} is covered by {}", middle[3]);
        let at = |k: usize| middle[k].as_f64().expect("a number").round();
        (at(0), at(1))
    }

    /// Drags from the middle of an element by so many pixels.
    pub async fn drag(&self, css: &str, x: f64, y: f64) {
        self.press(css, x, y).await;
        self.release().await;
    }

    /// Drags like [`Page::drag`] without letting go.
    pub async fn press(&self, css: &str, x: f64, y: f64) {
        let at = self.middle(css).await;
        let mouse = pressing(MouseActions::new("mouse".to_owned()), at, (x, y));
        let done = self.client.perform_actions(mouse).await;
        done.expect("the mouse moves");
    }

    /// Lets go of what was pressed.
    pub async fn release(&self) {
        let mouse = MouseActions::new("mouse".to_owned()).then(PointerAction::Up { button: 0 });
        let done = self.client.perform_actions(mouse).await;
        done.expect("the button goes up");
    }

    /// Drags to the side and back to where it began, and lets go.
    pub async fn there_and_back(&self, css: &str, x: f64) {
        let (at_x, at_y) = self.middle(css).await;
        let back = PointerAction::MoveTo {
            duration: Some(Duration::from_millis(60)),
            x: at_x,
            y: at_y,
        };
        let mouse = MouseActions::new("mouse".to_owned());
        let mouse = pressing(mouse, (at_x, at_y), (x, 0.0))
            .then(back)
            .then(PointerAction::Up { button: 0 });
        let done = self.client.perform_actions(mouse).await;
        done.expect("the mouse moves");
    }

    /// Drags with a finger.
    pub async fn swipe(&self, css: &str, x: f64, y: f64) {
        let at = self.middle(css).await;
        let finger = pressing(TouchActions::new("finger".to_owned()), at, (x, y))
            .then(PointerAction::Up { button: 0 });
        let done = self.client.perform_actions(finger).await;
        done.expect("the finger moves");
    }

    /// Presses keys where the keyboard is.
    pub async fn keys(&self, keys: &str) {
        let mut typing = KeyActions::new("keyboard".to_owned());
        for value in keys.chars() {
            typing = typing
                .then(KeyAction::Down { value })
                .then(KeyAction::Up { value });
        }
        let done = self.client.perform_actions(typing).await;
        done.expect("the keys are taken");
    }

    /// Presses the tabulator until an element has the keyboard.
    pub async fn tab_to(&self, css: &str) {
        for _ in 0..90 {
            let is = self
                .script(
                    "return document.activeElement?.matches(arguments[0]) ?? false",
                    &[json!(css)],
                )
                .await;
            if is == json!(true) {
                return;
            }
            self.keys("\u{e004}").await;
        }
        panic!("{css} is not reached by the keyboard");
    }

    /// The patch as it stands, in pixels of the clip.
    pub async fn patch(&self) -> [i64; 4] {
        let fields = ["x", "y", "w", "h"];
        let mut patch = [0; 4];
        for (side, field) in patch.iter_mut().zip(fields) {
            let value = self
                .script(
                    "return Number(document.getElementById(arguments[0]).value)",
                    &[json!(format!("patch-{field}"))],
                )
                .await;
            *side = value.as_f64().expect("a number") as i64;
        }
        patch
    }

    /// Keeps a picture of the whole page under `target/page-pictures`.
    pub async fn picture(&self, name: &str) -> PathBuf {
        let folder = pictures();
        std::fs::create_dir_all(&folder).expect("a folder");
        let path = folder.join(format!("{name}.png"));
        let png = self.client.screenshot().await.expect("a picture");
        std::fs::write(&path, png).expect("written");
        path
    }

    /// Makes the window as high as the page, so that a picture shows all of it.
    pub async fn whole_height(&self, width: u32) {
        let height = self
            .script("return document.documentElement.scrollHeight", &[])
            .await;
        let height = height.as_u64().expect("a number") as u32 + 140;
        let resized = self.client.set_window_size(width, height).await;
        resized.expect("the window is resized");
        tokio::time::sleep(Duration::from_millis(500)).await;
    }
}

/// Down at a place, and on by so many pixels in two moves.
fn pressing<S>(pointer: S, at: (f64, f64), by: (f64, f64)) -> S
where
    S: InputSource<Action = PointerAction>,
{
    let move_to = |x: f64, y: f64| PointerAction::MoveTo {
        duration: Some(Duration::from_millis(60)),
        x,
        y,
    };
    pointer
        .then(move_to(at.0, at.1))
        .then(PointerAction::Down { button: 0 })
        .then(move_to(at.0 + by.0 / 2.0, at.1 + by.1 / 2.0))
        .then(move_to(at.0 + by.0, at.1 + by.1))
}

/// Where pictures of the page go.
pub fn pictures() -> PathBuf {
    let target = std::env::var_os("CARGO_TARGET_DIR").map(PathBuf::from);
    let target = target.unwrap_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("target"));
    target.join("page-pictures")
}
