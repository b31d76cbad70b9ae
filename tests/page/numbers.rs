//! The page shows what the command prints.

use std::process::Command;

use serde_json::json;

use super::http::Visitor;
use super::served::{Served, sample};

#[test]
fn page_and_command_agree_on_every_sample() {
    let clips = [
        ("cmj_60.mp4", [289, 301, 62, 26]),
        ("cmj_120.mp4", [289, 301, 62, 26]),
        ("cmj_240.mp4", [289, 301, 62, 26]),
        ("two_jumps_120.mp4", [289, 301, 62, 26]),
    ];
    let served = Served::start(&[]);
    let visitor = Visitor::enter(&served);
    for (name, [x, y, w, h]) in clips {
        let bytes = std::fs::read(sample(name)).expect("a clip");
        let id = visitor.bring(name, &bytes);
        visitor.shelf(|shelf| !shelf.contains("being opened"));
        let asked = visitor.post(
            &format!("clips/{id}/floor"),
            &json!({ "x": x, "y": y, "w": w, "h": h }),
        );
        assert_eq!(asked.status, 202, "{}", asked.text());
        let done = |shelf: &str| {
            let item = shelf
                .split("<li")
                .find(|item| item.contains(name))
                .unwrap_or_default();
            item.contains(" jump")
        };
        visitor.shelf(done);
        let panel = visitor.get(&format!("clips/{id}/jumps")).text();
        let printed = Command::new(env!("CARGO_BIN_EXE_underfoot"))
            .args([
                "measure",
                "--no-keep",
                "--floor",
                &format!("{x},{y},{w},{h}"),
            ])
            .arg(sample(name))
            .output()
            .expect("the program runs");
        let printed = String::from_utf8(printed.stdout).expect("text");
        let heads: Vec<&str> = printed
            .lines()
            .filter(|line| line.starts_with("Jump "))
            .collect();
        assert!(!heads.is_empty(), "{printed}");
        assert_eq!(panel.matches("<article").count(), heads.len(), "{name}");
        for head in heads {
            let height = head.split("  ").nth(1).expect("a height").trim();
            let interval = head
                .split("95 %: ")
                .nth(1)
                .and_then(|rest| rest.split(';').next());
            assert!(
                panel.contains(&format!(">{height}<")),
                "{name}: {height} is not on the page"
            );
            assert!(
                panel.contains(interval.expect("an interval")),
                "{name}: {head}"
            );
        }
        let bounds: Vec<&str> = printed
            .split("cannot be outside ")
            .skip(1)
            .filter_map(|rest| rest.split(')').next())
            .collect();
        for bounds in bounds {
            assert!(panel.contains(bounds), "{name}: {bounds}");
        }
    }
}
