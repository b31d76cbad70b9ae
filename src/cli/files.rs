//! Files: which clips were meant.

use std::path::{Path, PathBuf};

use crate::report::model::Failure;

/// How names of clips end, in a folder; a file given by name may end otherwise.
const CLIP_ENDINGS: [&str; 11] = [
    "mp4", "mov", "m4v", "mkv", "webm", "avi", "3gp", "mts", "m2ts", "ts", "mpg",
];

/// One thing to measure, or why a name gave none.
pub(super) type Wanted = (PathBuf, Result<(), Failure>);

/// The clips that the names mean, in the order given; a folder stands for the
/// clips directly inside it, sorted by name.
pub(super) fn clips(names: &[PathBuf]) -> Vec<Wanted> {
    let mut wanted = Vec::new();
    for name in names {
        if !name.is_dir() {
            wanted.push((name.clone(), Ok(())));
            continue;
        }
        match inside(name) {
            Ok(clips) => wanted.extend(clips.into_iter().map(|clip| (clip, Ok(())))),
            Err(failure) => wanted.push((name.clone(), Err(failure))),
        }
    }
    wanted
}

fn inside(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    let unreadable = |error: std::io::Error| Failure {
        message: format!("the folder cannot be read ({error})"),
        hint: "copy the clips to your own folder and try again".to_owned(),
    };
    let mut clips = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(unreadable)? {
        let path = entry.map_err(unreadable)?.path();
        if is_clip(&path) && !path.is_dir() {
            clips.push(path);
        }
    }
    clips.sort();
    if clips.is_empty() {
        return Err(Failure {
            message: "the folder holds no clips".to_owned(),
            hint: format!(
                "give a folder with files that end in {} or the like; folders inside it are \
                 not searched",
                CLIP_ENDINGS[..4].join(", ")
            ),
        });
    }
    Ok(clips)
}

/// Hidden files are left out: some systems put a shadow of each clip beside it.
fn is_clip(path: &Path) -> bool {
    let hidden = path
        .file_name()
        .is_none_or(|name| name.as_encoded_bytes().starts_with(b"."));
    let ending = path.extension().and_then(|ending| ending.to_str());
    !hidden
        && ending.is_some_and(|ending| {
            CLIP_ENDINGS
                .iter()
                .any(|known| ending.eq_ignore_ascii_case(known))
        })
}
