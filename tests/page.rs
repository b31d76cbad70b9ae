//! The local page: who may come in, what may come in, and the whole job in a browser.

#[path = "page/access.rs"]
mod access;
#[cfg(target_os = "linux")]
#[path = "page/apart.rs"]
mod apart;
#[path = "page/arrivals.rs"]
mod arrivals;
#[path = "page/browser.rs"]
mod browser;
#[path = "page/doors.rs"]
mod doors;
#[path = "page/driver.rs"]
mod driver;
#[path = "page/feet.rs"]
mod feet;
#[path = "page/http.rs"]
mod http;
#[path = "page/keeper.rs"]
mod keeper;
#[path = "page/keyboard.rs"]
mod keyboard;
#[path = "page/loads.rs"]
mod loads;
#[path = "page/looks.rs"]
mod looks;
#[path = "page/marks.rs"]
mod marks;
#[path = "page/numbers.rs"]
mod numbers;
#[path = "page/served.rs"]
mod served;
#[path = "page/whole.rs"]
mod whole;
