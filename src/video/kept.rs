//! The patch of a clip, kept beside it for next time.
//!
//! `jump.mp4` gets `jump.mp4.floor.json`: a few lines of JSON with a marker that
//! tells our file from anybody else's, the picture size the patch was meant for,
//! the patch, and how it came about. A file of that name without the marker is
//! somebody else's and is neither used nor overwritten.

use std::ffi::OsString;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::patch::{FloorPatch, PatchError};

/// Version of the file's format, under the marker key.
const FORMAT: u64 = 1;
/// The marker key.
const MARKER: &str = "underfoot_floor_patch";
/// What is added to the clip's name.
const ENDING: &str = ".floor.json";
/// Longest file that is read, in bytes; ours has about two hundred.
const LONGEST: u64 = 16 * 1024;

/// How a patch came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PatchOrigin {
    /// A person marked it.
    Marked,
    /// The program suggested it.
    Suggested,
}

/// A patch with the picture size it was meant for.
///
/// The patch comes out through [`KeptPatch::for_size`] only, so that it cannot
/// be used in a picture of another size by mistake.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KeptPatch {
    picture: (u32, u32),
    patch: FloorPatch,
    origin: PatchOrigin,
}

impl KeptPatch {
    /// A patch for pictures of `picture` (width, height in pixels, upright).
    ///
    /// # Errors
    /// As [`FloorPatch::check`].
    pub fn new(
        patch: FloorPatch,
        picture: (u32, u32),
        origin: PatchOrigin,
    ) -> Result<Self, PatchError> {
        Ok(Self {
            picture,
            patch: patch.check(picture)?,
            origin,
        })
    }

    /// How it came about.
    pub fn origin(&self) -> PatchOrigin {
        self.origin
    }

    /// Size of the upright picture that it was meant for.
    pub fn picture(&self) -> (u32, u32) {
        self.picture
    }

    /// The patch, if the picture still has the size it was meant for.
    ///
    /// # Errors
    /// [`OtherSize`] when it has not: a warning to be shown, and no patch.
    pub fn for_size(&self, size: (u32, u32)) -> Result<FloorPatch, OtherSize> {
        match size == self.picture {
            true => Ok(self.patch),
            false => Err(OtherSize {
                kept: self.picture,
                now: size,
            }),
        }
    }
}

/// A kept patch that does not fit the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[error(
    "the kept floor patch is for a picture of {} by {} pixels, this one has {} by {}: it is \
     not used — state the patch anew with `--floor`", .kept.0, .kept.1, .now.0, .now.1
)]
pub struct OtherSize {
    /// Size the patch was kept for.
    pub kept: (u32, u32),
    /// Size of the picture at hand.
    pub now: (u32, u32),
}

/// Why a patch could not be read from beside the clip, or not be kept there.
#[derive(Debug, Error)]
pub enum KeptError {
    /// A file of that name lacks our marker.
    #[error(
        "the file where the floor patch is kept is not one of ours and is left alone — \
         rename it, or state the patch with `--floor` each time: {}", .path.display()
    )]
    NotOurs {
        /// The file.
        path: PathBuf,
    },
    /// Written by a later version of this program.
    #[error(
        "the kept floor patch has format {found}, this program reads {FORMAT} — install the \
         newer program, or delete the file: {}", .path.display()
    )]
    NewerFormat {
        /// The version that was found.
        found: u64,
        /// The file.
        path: PathBuf,
    },
    /// Ours, but its values contradict each other or are missing.
    #[error(
        "the kept floor patch makes no sense ({reason}) — delete the file, or state the patch \
         with `--floor`: {}", .path.display()
    )]
    Damaged {
        /// What is wrong.
        reason: String,
        /// The file.
        path: PathBuf,
    },
    /// The system does not hand it out.
    #[error("the kept floor patch cannot be read ({source}) — check its permissions: {}", .path.display())]
    Unreadable {
        /// The system's reason.
        source: io::Error,
        /// The file.
        path: PathBuf,
    },
    /// The folder does not take it: the measurement stands, the patch is not kept.
    #[error(
        "the floor patch cannot be kept beside the clip ({source}) — state it with `--floor` \
         next time, or copy the clip to a folder of your own: {}", .path.display()
    )]
    NotKept {
        /// The system's reason.
        source: io::Error,
        /// The file.
        path: PathBuf,
    },
}

/// What stands in the file.
#[derive(Serialize, Deserialize)]
struct Content {
    underfoot_floor_patch: u64,
    picture: [u32; 2],
    patch: [u32; 4],
    origin: PatchOrigin,
}

/// Name of the file beside `clip`.
pub fn kept_path(clip: &Path) -> PathBuf {
    let mut name = OsString::from(clip.as_os_str());
    name.push(ENDING);
    PathBuf::from(name)
}

/// The patch kept beside `clip`; `None` when there is none.
///
/// # Errors
/// [`KeptError`] when a file of that name is not ours, not of this version,
/// damaged or not readable.
pub fn load(clip: &Path) -> Result<Option<KeptPatch>, KeptError> {
    let path = kept_path(clip);
    let file = match File::open(&path) {
        Ok(file) => file,
        // A name too long to exist is told when something is to be kept under it.
        Err(error) if is_absence(&error) => return Ok(None),
        Err(source) => return Err(KeptError::Unreadable { source, path }),
    };
    let mut bytes = Vec::new();
    match file.take(LONGEST + 1).read_to_end(&mut bytes) {
        Ok(_) => read(&bytes, path).map(Some),
        Err(error) if error.kind() == io::ErrorKind::IsADirectory => {
            Err(KeptError::NotOurs { path })
        }
        Err(source) => Err(KeptError::Unreadable { source, path }),
    }
}

fn is_absence(error: &io::Error) -> bool {
    use io::ErrorKind::{InvalidFilename, NotFound};
    matches!(error.kind(), NotFound | InvalidFilename)
}

fn read(bytes: &[u8], path: PathBuf) -> Result<KeptPatch, KeptError> {
    let short = bytes.len() as u64 <= LONGEST;
    let value = serde_json::from_slice::<serde_json::Value>(bytes).ok();
    let marker = value.as_ref().and_then(|v| v.get(MARKER)?.as_u64());
    let (Some(value), Some(format), true) = (value, marker, short) else {
        return Err(KeptError::NotOurs { path });
    };
    if format > FORMAT {
        return Err(KeptError::NewerFormat {
            found: format,
            path,
        });
    }
    let content: Content = match serde_json::from_value(value) {
        Ok(content) => content,
        Err(error) => {
            let reason = error.to_string();
            return Err(KeptError::Damaged { reason, path });
        }
    };
    let ([x, y, w, h], [width, height]) = (content.patch, content.picture);
    KeptPatch::new(FloorPatch { x, y, w, h }, (width, height), content.origin).map_err(|error| {
        let reason = match error {
            PatchError::OutsidePicture { .. } => "the patch leaves the picture",
            PatchError::TooSmall { .. } => "the patch is too small",
            _ => "the patch takes more than half of the picture",
        };
        let reason = reason.to_string();
        KeptError::Damaged { reason, path }
    })
}

/// Keeps `patch` beside `clip`, in place of what was kept there before, and
/// returns the file's name. The file is whole or not there at any moment.
///
/// # Errors
/// [`KeptError::NotOurs`] or [`KeptError::NewerFormat`] when a file of that name
/// must not be overwritten, [`KeptError::NotKept`] when the folder does not take
/// it (read-only, full): the caller goes on and passes it on as a warning.
pub fn save(clip: &Path, patch: &KeptPatch) -> Result<PathBuf, KeptError> {
    match load(clip) {
        Ok(_) | Err(KeptError::Damaged { .. }) => {}
        Err(error) => return Err(error),
    }
    let path = kept_path(clip);
    match replace(&path, &text(patch)) {
        Ok(()) => Ok(path),
        Err(source) => Err(KeptError::NotKept { source, path }),
    }
}

fn text(kept: &KeptPatch) -> String {
    let FloorPatch { x, y, w, h } = kept.patch;
    let (width, height) = kept.picture;
    let origin = match kept.origin {
        PatchOrigin::Marked => "marked",
        PatchOrigin::Suggested => "suggested",
    };
    format!(
        "{{\n  \"{MARKER}\": {FORMAT},\n  \"picture\": [{width}, {height}],\n  \
         \"patch\": [{x}, {y}, {w}, {h}],\n  \"origin\": \"{origin}\"\n}}\n"
    )
}

/// Writes a new file and gives it the name only once it is complete.
fn replace(path: &Path, text: &str) -> io::Result<()> {
    let mut name = OsString::from(path.as_os_str());
    name.push(format!(".{}.part", std::process::id()));
    let part = PathBuf::from(name);
    let written = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(&part)
        .and_then(|mut file| {
            file.write_all(text.as_bytes())?;
            file.sync_all()
        })
        .and_then(|()| fs::rename(&part, path));
    // A name that was taken already belongs to another run of this program.
    let foreign = |error: &io::Error| error.kind() == io::ErrorKind::AlreadyExists;
    if written.as_ref().is_err_and(|error| !foreign(error)) {
        // What failed is told; that its remains could not be removed adds nothing.
        let _ = fs::remove_file(&part);
    }
    written
}
