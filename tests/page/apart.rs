//! The page reads no clip itself: its decoders sit in cages, and may break down.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use serde_json::json;

use super::http::Visitor;
use super::served::{Served, sample};

/// Processes that the page has started.
fn children(served: &Served) -> Vec<u32> {
    let id = served.id();
    let tasks = std::fs::read_dir(format!("/proc/{id}/task")).expect("its threads");
    let lists = tasks.filter_map(|task| {
        // A thread may have ended since.
        std::fs::read_to_string(task.ok()?.path().join("children")).ok()
    });
    let all = lists.collect::<String>();
    all.split_whitespace()
        .map(|id| id.parse().expect("a number"))
        .collect()
}

/// Files that a process has open.
fn files(id: u32) -> Vec<PathBuf> {
    let open = std::fs::read_dir(format!("/proc/{id}/fd")).expect("its files");
    open.filter_map(|file| std::fs::read_link(file.ok()?.path()).ok())
        .collect()
}

fn is_caged(id: u32) -> bool {
    let status = std::fs::read_to_string(format!("/proc/{id}/status")).unwrap_or_default();
    status.lines().any(|line| line == "Seccomp:\t2")
}

fn end(id: u32) {
    let ended = Command::new("kill").args(["-9", &id.to_string()]).status();
    assert!(ended.expect("kill runs").success());
}

fn brought(visitor: &Visitor, name: &str) -> u64 {
    let bytes = std::fs::read(sample(name)).expect("a clip");
    let id = visitor.bring(name, &bytes);
    visitor.shelf(|shelf| shelf.contains("to be marked"));
    id
}

fn frame(visitor: &Visitor, id: u64, frame: usize) {
    let picture = visitor.get(&format!("clips/{id}/frames/{frame}"));
    assert_eq!(picture.status, 200, "frame {frame}: {}", picture.text());
}

#[test]
fn whoever_has_a_clip_open_sits_in_a_cage_and_is_replaced_when_it_ends() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    let id = brought(&visitor, "cmj_120.mp4");
    frame(&visitor, id, 5);
    let is_clip = |file: &PathBuf| file.ends_with(Path::new("clip-1"));
    assert!(!files(served.id()).iter().any(is_clip));
    let mut readers = children(&served);
    readers.retain(|child| files(*child).iter().any(is_clip));
    let [reader] = readers[..] else {
        panic!("{readers:?}");
    };
    assert!(is_caged(reader));
    end(reader);
    // Far from what was decoded ahead.
    frame(&visitor, id, 200);
    let others = children(&served);
    assert!(
        !others.contains(&reader) && !others.is_empty(),
        "{others:?}"
    );
}

#[test]
fn a_measuring_decoder_that_breaks_down_is_an_error_and_the_page_goes_on() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    let id = brought(&visitor, "cmj_240.mp4");
    let known = children(&served);
    let patch = json!({ "x": 289, "y": 301, "w": 62, "h": 26 });
    let measured = || visitor.post(&format!("clips/{id}/floor"), &patch);
    assert_eq!(measured().status, 202);
    let patience = Instant::now() + Duration::from_secs(20);
    let decoder = loop {
        let new = children(&served).into_iter().find(|c| !known.contains(c));
        match new.filter(|child| is_caged(*child)) {
            Some(decoder) => break decoder,
            None => assert!(Instant::now() < patience, "nobody measures"),
        }
    };
    end(decoder);
    visitor.shelf(|shelf| shelf.contains("broke down"));
    let panel = visitor.get(&format!("clips/{id}/floor")).text();
    assert!(panel.contains("ended from outside"), "{panel}");
    assert_eq!(measured().status, 202);
    visitor.shelf(|shelf| shelf.contains("1 jump"));
}

/// Many clips may lie on the shelf; not every one of them keeps a process.
#[test]
fn only_a_few_clips_are_held_open() {
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    let ids: Vec<u64> = (0..6).map(|_| brought(&visitor, "cmj_60.mp4")).collect();
    let patience = Instant::now() + Duration::from_secs(20);
    while children(&served).len() > 3 {
        assert!(Instant::now() < patience, "{:?}", children(&served));
        std::thread::sleep(Duration::from_millis(50));
    }
    for id in ids {
        frame(&visitor, id, 40);
    }
}
