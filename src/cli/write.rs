//! Writing pictures and pages: whole or not at all, and never over somebody else's file.
//!
//! Each picture says inside that this program made it, so that a later run can
//! tell its own from others: a text chunk in PNG (ISO/IEC 15948, 11.3.4.3), a
//! comment in SVG.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use crate::report::model::Failure;
use crate::workflow::interrupt;

/// Key and value of the text chunk; the specification names the key.
const PNG_TEXT: &[u8] = b"Software\0underfoot";
/// First line of an SVG of ours.
const SVG_COMMENT: &[u8] = b"<!-- Software: underfoot -->\n";
/// What a page or a manual of ours says near its beginning.
pub(super) const TEXT_MARK: &str = "Software: underfoot";
/// Signature and header chunk, which come first in any PNG.
const PNG_HEAD: usize = 8 + 25;

/// What may happen to a file that is there already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Existing {
    /// Replaced if this program made it.
    OursOnly,
    /// Replaced whatever it is.
    Replace,
}

/// Refuses a name that is taken by a file of somebody else.
///
/// # Errors
/// When the file must not be overwritten.
pub(super) fn check(path: &Path, existing: Existing) -> Result<(), Failure> {
    let taken = path.symlink_metadata().is_ok();
    if !taken || existing == Existing::Replace && !path.is_dir() || is_ours(path) {
        return Ok(());
    }
    Err(Failure {
        message: format!(
            "{} is there already and was not made by this program; it is left alone",
            path.display()
        ),
        hint: "move it away, or name another place".to_owned(),
    })
}

/// Writes a PNG or SVG under `path`.
///
/// # Errors
/// When the name is taken by somebody else's file, or the system refuses.
pub(super) fn picture(path: &Path, bytes: &[u8], existing: Existing) -> Result<(), Failure> {
    check(path, existing)?;
    replace(path, &signed(bytes)).map_err(|error| unwritable(path, &error))
}

/// Writes a text that holds [`TEXT_MARK`] near its beginning under `path`.
///
/// # Errors
/// As [`picture`].
pub(super) fn text(path: &Path, text: &str, existing: Existing) -> Result<(), Failure> {
    check(path, existing)?;
    replace(path, text.as_bytes()).map_err(|error| unwritable(path, &error))
}

/// Makes the folder if needed and sees whether it takes files.
///
/// # Errors
/// When it does not.
pub(super) fn folder(path: &Path) -> Result<(), Failure> {
    let probe = path.join(format!(".underfoot.{}.probe", std::process::id()));
    make_folder(path)
        .and_then(|()| OpenOptions::new().write(true).create_new(true).open(&probe))
        .and_then(|_| fs::remove_file(&probe))
        .map_err(|error| unwritable(path, &error))
}

/// Makes a folder that nobody else may look into; one that is there stays as it is.
fn make_folder(path: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)
}

/// Pictures and pages show people: only their owner may read them.
fn for_own_eyes(options: &mut OpenOptions) -> &mut OpenOptions {
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(options, 0o600);
    options
}

/// What it means that something cannot be written.
pub(super) fn unwritable(path: &Path, error: &io::Error) -> Failure {
    let hint = match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => "make room on the disk",
        io::ErrorKind::FileTooLarge => "choose a disk that takes files of this size",
        _ => "choose a folder of your own",
    };
    Failure {
        message: format!("{} cannot be written ({error})", path.display()),
        hint: format!("{hint} and try again"),
    }
}

/// Removes pictures of ours that an earlier run left under these names, up to
/// the first name that is free or somebody else's.
pub(super) fn remove_ours(names: impl IntoIterator<Item = PathBuf>) {
    for path in names {
        if !is_ours(&path) || fs::remove_file(&path).is_err() {
            return;
        }
    }
}

/// Removes what runs that were killed left of this file while it was not complete. Ask
/// only where no other run can be writing it.
pub(super) fn remove_parts(path: &Path) {
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    let Ok(entries) = fs::read_dir(folder.unwrap_or(Path::new("."))) else {
        return;
    };
    let begins = [
        b".",
        path.file_name().unwrap_or_default().as_encoded_bytes(),
        b".",
    ]
    .concat();
    for entry in entries.flatten() {
        let name = entry.file_name();
        let middle = name.as_encoded_bytes().strip_prefix(&begins[..]);
        let number = middle.and_then(|rest| rest.strip_suffix(b".part"));
        if number.is_some_and(|number| number.iter().all(u8::is_ascii_digit)) {
            // What cannot be removed does no harm.
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// Whether this program made the file.
fn is_ours(path: &Path) -> bool {
    let mut head = Vec::new();
    let read = File::open(path).and_then(|file| file.take(128).read_to_end(&mut head));
    let holds = |wanted: &[u8]| head.windows(wanted.len()).any(|window| window == wanted);
    read.is_ok() && (holds(TEXT_MARK.as_bytes()) || holds(PNG_TEXT))
}

/// The picture with this program's name in it.
fn signed(bytes: &[u8]) -> Vec<u8> {
    match bytes.split_at_checked(PNG_HEAD) {
        Some((head, rest)) if head.starts_with(b"\x89PNG\r\n\x1a\n") => {
            let mut chunk = b"tEXt".to_vec();
            chunk.extend(PNG_TEXT);
            let length = (PNG_TEXT.len() as u32).to_be_bytes();
            let check = crc32(&chunk).to_be_bytes();
            [head, &length, &chunk, &check, rest].concat()
        }
        _ => [SVG_COMMENT, bytes].concat(),
    }
}

/// The check sum of PNG chunks (ISO/IEC 15948, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |sum, &byte| {
        (0..8).fold(sum ^ u32::from(byte), |sum, _| {
            (sum >> 1) ^ (0xedb8_8320 * (sum & 1))
        })
    })
}

/// Writes a new file and gives it the name once it is complete.
fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    whole(path, |file| file.write_all(bytes))
}

/// Lets `fill` write a new file, and gives it the name once it is complete and on the
/// disk; no signal ends the program meanwhile. Whatever had the name before is then gone;
/// ask [`check`] first.
///
/// # Errors
/// What `fill` or the system says; nothing of the new file is left then.
pub(super) fn whole(path: &Path, fill: impl FnOnce(&mut File) -> io::Result<()>) -> io::Result<()> {
    interrupt::whole(|| replaced(path, fill))
}

fn replaced(path: &Path, fill: impl FnOnce(&mut File) -> io::Result<()>) -> io::Result<()> {
    let name = path.file_name().ok_or(io::ErrorKind::InvalidFilename)?;
    let mut part = std::ffi::OsString::from(".");
    part.push(name);
    part.push(format!(".{}.part", std::process::id()));
    let part = path.with_file_name(part);
    let written = for_own_eyes(OpenOptions::new().write(true).create_new(true))
        .open(&part)
        .and_then(|mut file| {
            fill(&mut file)?;
            file.sync_all()
        })
        .and_then(|()| fs::rename(&part, path));
    if let Err(error) = &written
        && error.kind() != io::ErrorKind::AlreadyExists
    {
        // What failed is told; that its remains could not be removed adds nothing.
        let _ = fs::remove_file(&part);
    }
    written
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn check_sum_is_the_published_one() {
        // Check value of CRC-32 for "123456789", as catalogues of such sums give
        // it (from memory); and the sum that ends every PNG, of the empty IEND.
        assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
        assert_eq!(crc32(b"IEND"), 0xae42_6082);
    }

    #[test]
    fn a_signed_picture_still_decodes_and_is_known_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.png");
        image::RgbImage::new(3, 2).save(&path).unwrap();
        assert!(check(&path, Existing::OursOnly).is_err());
        let plain = fs::read(&path).unwrap();
        picture(&path, &plain, Existing::Replace).unwrap();
        assert!(check(&path, Existing::OursOnly).is_ok());
        assert_eq!(image::open(&path).unwrap().to_rgb8().dimensions(), (3, 2));
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
