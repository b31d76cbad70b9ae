//! The rules of the house that no compiler checks: which way dependencies run,
//! who may print or look at the clock, where pixels end, how long a file may be.
//!
//! DEVELOPERS.md says why. The rules are read from the words of the source, so
//! they can be fooled; they are there for mistakes, not for malice.

#[path = "architecture/tokens.rs"]
mod tokens;

use std::collections::HashSet;
use std::fs;
use std::path::Path;

use tokens::{Token, closing, end_of_item, tokens as tokens_of, without_tests};

/// The flow: each may use what stands left of it.
const FLOW: [&str; 11] = [
    "units", "trace", "video", "jump", "trials", "log", "report", "workflow", "page", "cli", "main",
];
/// Off the flow: uses units only, used by whoever needs sample clips.
const OFF_THE_FLOW: &str = "synth";
/// From here on (`cli`) the flow may render sample clips.
const MAY_RENDER: usize = 9;
/// The last of those that neither print nor exit nor look at the clock.
const LAST_QUIET: &str = "log";
const LONGEST_FILE: usize = 450;
/// Words that hold a picture, or part of one.
const PIXELS: [&str; 9] = [
    "RgbImage",
    "RgbaImage",
    "GrayImage",
    "DynamicImage",
    "ImageBuffer",
    "Strip",
    "Grey",
    "UprightFrame",
    "DecodedFrame",
];
/// Crates that handle pictures, and where they may be named.
const PICTURE_CRATES: [&str; 2] = ["image", "imageproc"];
const PICTURE_PLACES: [&str; 2] = ["video/", "report/plot"];

/// One source file: its path below `src`, and what it holds.
struct Source {
    path: String,
    code: Vec<Token>,
    lines: usize,
}

impl Source {
    fn new(path: &str, text: &str) -> Self {
        let is_test = path.ends_with("tests.rs");
        let code = if is_test {
            Vec::new()
        } else {
            without_tests(&tokens_of(text))
        };
        Self {
            path: path.to_owned(),
            code,
            lines: text.lines().count(),
        }
    }

    fn module(&self) -> &str {
        let first = self.path.split('/').next().unwrap_or_default();
        first.trim_end_matches(".rs")
    }

    fn word(&self, at: usize) -> &str {
        self.code.get(at).map_or("", |token| &token.text)
    }

    /// Whether these words follow one another from `at` on.
    fn reads(&self, at: usize, words: &[&str]) -> bool {
        words
            .iter()
            .enumerate()
            .all(|(i, word)| self.word(at + i) == *word)
    }

    fn fault(&self, at: usize, what: impl std::fmt::Display) -> String {
        format!(
            "src/{}:{}: {what}",
            self.path,
            self.code.get(at).map_or(0, |t| t.line)
        )
    }

    /// How many `super` lead from here to the crate's root.
    fn depth(&self) -> usize {
        let levels = self.path.split('/').count();
        if self.path.ends_with("/mod.rs") {
            levels - 1
        } else {
            levels
        }
    }
}

/// All that is wrong with these sources.
fn faults(sources: &[Source]) -> Vec<String> {
    let exported = exported_types(sources);
    let mut all = Vec::new();
    for source in sources {
        if source.lines > LONGEST_FILE {
            let what = format!("{} lines, more than {LONGEST_FILE}: split it", source.lines);
            all.push(format!("src/{}: {what}", source.path));
        }
        all.extend(wrong_ways(source));
        all.extend(loud_or_clocked(source));
        all.extend(pictures_elsewhere(source));
        all.extend(trusting(source));
        if source.module() == "video" {
            all.extend(escaping_pixels(source, &exported));
        }
    }
    all
}

/// Modules of this crate that the source names, with the place.
fn named_modules(source: &Source) -> Vec<(usize, &str)> {
    let mut named = Vec::new();
    for at in 0..source.code.len() {
        let starts_path = source.word(at.wrapping_sub(1)) != "::";
        let root = match source.word(at) {
            "crate" => at,
            "underfoot" if source.module() == "main" => at,
            "super" if starts_path => {
                let up = source.depth() - 1;
                let chain = (0..=up).all(|i| source.reads(at + 2 * i, &["super", "::"]));
                if !chain {
                    continue;
                }
                at + 2 * up
            }
            _ => continue,
        };
        if source.word(root + 1) != "::" {
            continue;
        }
        if source.word(root + 2) != "{" {
            named.push((root + 2, source.word(root + 2)));
            continue;
        }
        let end = closing(&source.code, root + 2);
        let mut item = root + 3;
        while item < end {
            named.push((item, source.word(item)));
            while item < end && source.word(item) != "," {
                let opens = source.word(item) == "{";
                item = if opens {
                    closing(&source.code, item)
                } else {
                    item + 1
                };
            }
            item += 1;
        }
    }
    named
}

fn wrong_ways(source: &Source) -> Vec<String> {
    let rank = |module: &str| FLOW.iter().position(|m| *m == module);
    let own = source.module();
    if own == "lib" {
        return Vec::new();
    }
    if own != OFF_THE_FLOW && rank(own).is_none() {
        return vec![format!(
            "src/{}: {own} has no place in the flow",
            source.path
        )];
    }
    let allowed = |module: &str| {
        module == own
            || module == "units"
            || match (rank(own), rank(module)) {
                (Some(from), Some(to)) => to < from,
                // A name that is no module of the flow; only the program itself
                // renders samples.
                (Some(from), None) => module != OFF_THE_FLOW || from >= MAY_RENDER,
                (None, to) => to.is_none(),
            }
    };
    let wrong = named_modules(source)
        .into_iter()
        .filter(|(_, m)| !allowed(m));
    wrong
        .map(|(at, m)| source.fault(at, format!("{own} must not use {m}")))
        .collect()
}

fn loud_or_clocked(source: &Source) -> Vec<String> {
    let quiet = FLOW
        .iter()
        .take_while(|m| **m != LAST_QUIET)
        .chain([&LAST_QUIET]);
    if !quiet.into_iter().any(|m| *m == source.module()) {
        return Vec::new();
    }
    const FORBIDDEN: [&[&str]; 10] = [
        &["println", "!"],
        &["eprintln", "!"],
        &["print", "!"],
        &["eprint", "!"],
        &["dbg", "!"],
        &["process", "::", "exit"],
        &["process", "::", "abort"],
        &["SystemTime", "::", "now"],
        &["Instant", "::", "now"],
        &["static", "mut"],
    ];
    let mut all = Vec::new();
    for at in 0..source.code.len() {
        for words in FORBIDDEN.iter().filter(|words| source.reads(at, words)) {
            all.push(source.fault(
                at,
                format!("{} has no place before report", words.join(" ")),
            ));
        }
    }
    all
}

fn pictures_elsewhere(source: &Source) -> Vec<String> {
    if PICTURE_PLACES
        .iter()
        .any(|place| source.path.starts_with(place))
    {
        return Vec::new();
    }
    let names_crate = |at: &usize| {
        PICTURE_CRATES.contains(&source.word(*at))
            && source.word(at + 1) == "::"
            && source.word(at.wrapping_sub(1)) != "::"
    };
    let places = (0..source.code.len()).filter(names_crate);
    places
        .map(|at| source.fault(at, "pictures are handled in video and report/plot"))
        .collect()
}

/// Words that may break the program, or let it reach out, and where they may stand.
fn trusting(source: &Source) -> Vec<String> {
    const RULES: [(&[&str], &[&str], &str); 10] = [
        (
            &["unsafe"],
            &["video/ffmpeg.rs"],
            "unsafe lives in video/ffmpeg.rs alone",
        ),
        (
            &[".", "unwrap", "("],
            &[],
            "what is not there is an error, not a panic",
        ),
        (
            &[".", "expect", "("],
            &[],
            "what is not there is an error, not a panic",
        ),
        (
            &["panic", "!"],
            &[],
            "what cannot be is an error, not a panic",
        ),
        (
            &["unreachable", "!"],
            &[],
            "what cannot be is an error, not a panic",
        ),
        (&["todo", "!"], &[], "nothing is left undone"),
        (
            &["std", "::", "net"],
            &["page"],
            "only the page has to do with networks",
        ),
        (
            &["TcpStream"],
            &["page"],
            "only the page has to do with networks",
        ),
        (
            &["UdpSocket"],
            &["page"],
            "only the page has to do with networks",
        ),
        (
            &["UnixStream"],
            &["page"],
            "only the page has to do with networks",
        ),
    ];
    let mut all = Vec::new();
    for (words, places, why) in RULES {
        if places.iter().any(|place| source.path.starts_with(place)) {
            continue;
        }
        let found = (0..source.code.len()).filter(|at| source.reads(*at, words));
        all.extend(found.map(|at| source.fault(at, why)));
    }
    all
}

/// Names of types that bare `pub` makes visible outside their module.
fn exported_types(sources: &[Source]) -> HashSet<&str> {
    let mut names = HashSet::new();
    for source in sources.iter().filter(|source| source.module() == "video") {
        for at in 0..source.code.len() {
            for kind in ["struct", "enum", "trait", "union"] {
                if source.reads(at, &["pub", kind]) {
                    names.insert(source.word(at + 2));
                }
            }
        }
    }
    names
}

/// Bare `pub` items of `video` that name pixels. The compiler guards our own
/// types, which are `pub(in crate::video)`; other people's it cannot.
fn escaping_pixels(source: &Source, exported: &HashSet<&str>) -> Vec<String> {
    let code = &source.code;
    let mut all = Vec::new();
    // Where the type or `impl` ends in which the present place lies, and whether
    // what is `pub` in it can be reached from outside.
    let mut body: Option<(usize, bool)> = None;
    for at in 0..code.len() {
        body = body.filter(|(end, _)| at <= *end);
        let is_public = source.word(at.wrapping_sub(1)) == "pub";
        let mut face = None;
        match (source.word(at), body) {
            ("impl", None) => {
                let open = (at..code.len()).find(|&i| source.word(i) == "{");
                let open = open.unwrap_or(at);
                let reached = (at..open).any(|i| exported.contains(source.word(i)));
                body = Some((closing(code, open), reached));
            }
            ("struct" | "union", None) => body = Some((end_of_item(code, at), is_public)),
            ("enum" | "trait", None) => {
                let end = end_of_item(code, at);
                face = is_public.then_some(end);
                body = Some((end, false));
            }
            (word, None | Some((_, true))) if is_public && word != "(" => {
                face = Some(end_of_face(source, at));
            }
            _ => {}
        }
        let pixel = face.and_then(|end| (at..=end).find(|&i| PIXELS.contains(&source.word(i))));
        if let Some(pixel) = pixel {
            all.push(source.fault(pixel, format!("{} leaves video", source.word(pixel))));
        }
    }
    all
}

/// Where the part of a function, constant or field ends that others see.
fn end_of_face(source: &Source, from: usize) -> usize {
    let whole = source.word(from) == "use";
    let mut angles = 0;
    let mut at = from;
    while at < source.code.len() {
        match source.word(at) {
            "{" if whole => at = closing(&source.code, at),
            "(" | "[" => at = closing(&source.code, at),
            "<" => angles += 1,
            ">" if source.word(at - 1) != "-" => angles -= 1,
            "{" | ";" | "=" | "}" | ")" => return at,
            "," if angles == 0 && !whole => return at,
            _ => {}
        }
        at += 1;
    }
    source.code.len().saturating_sub(1)
}

fn read_all(folder: &Path, below: &str, into: &mut Vec<Source>) {
    let mut entries: Vec<_> = fs::read_dir(folder).unwrap().map(Result::unwrap).collect();
    entries.sort_by_key(std::fs::DirEntry::file_name);
    for entry in entries {
        let path = format!("{below}{}", entry.file_name().to_str().unwrap());
        if entry.file_type().unwrap().is_dir() {
            read_all(&entry.path(), &format!("{path}/"), into);
        } else if path.ends_with(".rs") {
            let text = fs::read_to_string(entry.path()).unwrap();
            into.push(Source::new(&path, &text));
        }
    }
}

#[test]
fn the_house_keeps_its_rules() {
    let mut sources = Vec::new();
    read_all(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("src"),
        "",
        &mut sources,
    );
    assert!(sources.len() > 30, "only {} files were read", sources.len());
    let faults = faults(&sources);
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

#[path = "architecture/made_up.rs"]
mod made_up;
