//! `--shard`: parts that are apart, and together the whole.

use super::folder::{Folder, names};

#[test]
fn the_parts_together_are_the_whole_and_no_clip_is_in_two() {
    let folder = Folder::mixed(7);
    folder.measure("--out whole.jsonl");
    let mut lines = Vec::new();
    for part in 1..=3 {
        let ran = folder.measure(&format!("--out part{part}.jsonl --shard {part}/3"));
        assert!([0, 2].contains(&ran.code), "{}", ran.err);
        let part = folder.lines(&format!("part{part}.jsonl"));
        assert!(part.len() < 9, "all of it in one part");
        assert!(names(&part).is_sorted(), "in the order of the files");
        lines.extend(part);
    }
    lines.sort_by_key(|line| line["clip"].as_str().map(str::to_owned));
    assert_eq!(lines, folder.lines("whole.jsonl"));
}

/// Slurm would call an empty part a failed one.
#[test]
fn a_part_without_clips_is_done() {
    let folder = Folder::of(1);
    let mut lines = 0;
    for part in 1..=2 {
        let ran = folder.measure(&format!("--out part{part}.parquet --shard {part}/2"));
        assert_eq!(ran.code, 0, "{}", ran.err);
        assert!(folder.path(&format!("part{part}.parquet")).exists());
        lines += folder.lines(&format!("part{part}.jsonl")).len();
    }
    assert_eq!(lines, 1);
    folder.measure("--shard 3/2").refused("--shard");
    folder.measure("--shard 0/2").refused("such as 1/8 to 8/8");
}
