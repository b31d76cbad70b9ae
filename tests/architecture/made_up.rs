//! The rules held against made-up sources: each must be able to fail.

use super::{Source, faults};

fn of(path: &str, text: &str) -> Vec<String> {
    faults(&[Source::new(path, text)])
}

#[track_caller]
fn is_fault(path: &str, text: &str, says: &str) {
    let found = of(path, text);
    assert!(
        found.len() == 1 && found[0].contains(says),
        "{path} with {text:?}: {found:?}"
    );
}

#[track_caller]
fn is_fine(path: &str, text: &str) {
    let found = of(path, text);
    assert!(found.is_empty(), "{path} with {text:?}: {found:?}");
}

#[test]
fn dependencies_run_leftward() {
    is_fault(
        "video/clip.rs",
        "use crate::jump::Flight;",
        "video must not use jump",
    );
    is_fault(
        "jump/a.rs",
        "\nfn f() -> crate::cli::X {}",
        "a.rs:2: jump must not use cli",
    );
    is_fault(
        "jump/a.rs",
        "use super::super::report::Jump;",
        "jump must not use report",
    );
    is_fault(
        "jump/mod.rs",
        "use super::log::Log;",
        "jump must not use log",
    );
    is_fault(
        "units.rs",
        "use super::video::Clip;",
        "units must not use video",
    );
    is_fault(
        "trials/a.rs",
        "use crate::{jump::{Flight, log}, page::Page, units::Span};",
        "trials must not use page",
    );
    is_fault(
        "synth/a.rs",
        "use crate::video::Clip;",
        "synth must not use video",
    );
    is_fault(
        "report/a.rs",
        "use crate::synth::Scene;",
        "report must not use synth",
    );
    is_fault("extra/a.rs", "", "extra has no place in the flow");

    is_fine(
        "jump/a.rs",
        "use crate::video::Clip; use crate::units::Span; use super::log;",
    );
    is_fine(
        "jump/a.rs",
        "use std::{fmt, log::X}; pub(in crate::jump) struct A;",
    );
    is_fine(
        "synth/a.rs",
        "use crate::units::Span; use crate::synth::Scene;",
    );
    is_fine("cli/samples.rs", "use crate::synth::samples;");
    is_fine("main.rs", "use underfoot::cli; use underfoot::synth;");
    is_fine("lib.rs", "pub mod units; pub use crate::cli::run;");
}

#[test]
fn words_in_comments_texts_and_tests_do_not_count() {
    is_fine(
        "jump/a.rs",
        "// use crate::cli::X;\n/* println!() /* crate::cli::X */ */",
    );
    is_fine(
        "jump/a.rs",
        r##"const A: &str = "crate::cli::X \" println!()"; "##,
    );
    is_fine(
        "jump/a.rs",
        r##"const A: &str = r#"crate::cli::X " println!()"#;"##,
    );
    is_fine(
        "jump/a.rs",
        "#[cfg(test)]\n#[allow(x)]\nmod tests { use crate::cli::X; }",
    );
    is_fine(
        "jump/a.rs",
        "#[cfg(test)] mod tests;\nfn f<'a>(x: &'a u8) { let _ = '\"'; }",
    );
    is_fine("jump/a_tests.rs", "use crate::cli::X;");
    is_fault(
        "jump/a.rs",
        "#[cfg(test)]\nmod tests { fn f() {} }\nuse crate::cli::X;",
        "a.rs:3:",
    );
    is_fault(
        "jump/a.rs",
        "fn f<'a>(c: char) { c == '\"'; c == '\\''; println!() }",
        "println",
    );
}

#[test]
fn stages_up_to_log_are_quiet_and_timeless() {
    for bad in [
        "println!(\"a\")",
        "eprintln!()",
        "print!(\"\")",
        "dbg!(1)",
        "std::process::exit(1)",
        "std::time::SystemTime::now()",
        "Instant::now()",
    ] {
        let text = format!("fn f() {{ {bad}; }}");
        is_fault("video/a.rs", &text, "no place before report");
        is_fault("log/a.rs", &text, "no place before report");
        is_fine("cli/a.rs", &text);
    }
    is_fault("units.rs", "static mut COUNT: u8 = 0;", "static mut");
    is_fine(
        "jump/a.rs",
        "fn f(now: Instant, out: &mut String) { writeln!(out); }",
    );
}

#[test]
fn pixels_stay_in_video() {
    is_fault(
        "jump/a.rs",
        "use image::RgbImage;",
        "pictures are handled in video",
    );
    is_fault(
        "cli/a.rs",
        "fn f() { imageproc::drawing::x(); }",
        "pictures are handled",
    );
    is_fine("report/plot.rs", "use image::RgbImage;");
    is_fine(
        "cli/a.rs",
        "use crate::video::image::X; struct A { image: u8 }",
    );

    let leaks = "leaves video";
    is_fault(
        "video/a.rs",
        "pub fn f() -> Option<RgbImage> { g() }",
        leaks,
    );
    is_fault("video/a.rs", "pub fn f(strip: &mut Strip) {}", leaks);
    is_fault(
        "video/a.rs",
        "pub struct A { pub picture: image::RgbImage }",
        leaks,
    );
    is_fault("video/a.rs", "pub struct A(pub Grey);", leaks);
    is_fault("video/a.rs", "pub enum A { B(RgbImage) }", leaks);
    is_fault("video/a.rs", "pub use image::RgbImage;", leaks);
    is_fault(
        "video/a.rs",
        "pub struct A; impl A { pub fn f(&self) -> Grey { g() } }",
        leaks,
    );

    is_fine(
        "video/a.rs",
        "pub fn f() -> Vec<u8> { let a = RgbImage::new(1, 1); g(a) }",
    );
    is_fine(
        "video/a.rs",
        "pub(in crate::video) fn f() -> RgbImage { g() }",
    );
    is_fine(
        "video/a.rs",
        "pub(super) struct A { pub picture: RgbImage }",
    );
    is_fine(
        "video/a.rs",
        "struct A; impl A { pub fn f(&self) -> Grey { g() } }",
    );
    is_fine(
        "video/a.rs",
        "pub struct A; impl A { fn f(&self) -> Grey { g() } }",
    );
}

#[test]
fn a_leak_is_seen_when_the_type_stands_in_another_file() {
    let at_home = Source::new("video/a.rs", "pub struct A;");
    let elsewhere = Source::new("video/b.rs", "impl A { pub fn f(&self) -> Grey { g() } }");
    assert_eq!(faults(&[at_home, elsewhere]).len(), 1);
}

#[test]
fn a_long_file_is_a_fault() {
    is_fine("jump/a.rs", &"\n".repeat(450));
    is_fault("jump/a.rs", &"\n".repeat(451), "split it");
}

#[test]
fn nothing_trusts_a_file_or_reaches_out() {
    let unsafe_block = "fn f() { unsafe { g() } }";
    is_fine("video/ffmpeg.rs", unsafe_block);
    is_fault("workflow/apart/cage.rs", unsafe_block, "alone");
    is_fault("video/a.rs", "fn f() { g().unwrap(); }", "not a panic");
    is_fault("jump/a.rs", "fn f() { g().expect(\"x\"); }", "not a panic");
    is_fault("cli/a.rs", "fn f() { panic!(\"x\") }", "not a panic");
    is_fine(
        "jump/a.rs",
        "#[cfg(test)] mod tests { fn f() { g().unwrap(); } }",
    );
    is_fine("jump/a.rs", "fn f() { g().unwrap_or(1); }");
    is_fault("cli/a.rs", "use std::net::IpAddr;", "networks");
    is_fine("page/a.rs", "use std::net::IpAddr;");
}
