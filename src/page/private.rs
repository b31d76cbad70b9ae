//! The folder for everything that the page writes: nobody else's to read, and gone when
//! the page is.

use std::fs::{self, DirBuilder, File};
use std::path::{Path, PathBuf};

use super::secret;
use crate::report::model::Failure;

/// What names of such folders begin with.
const PREFIX: &str = "page-";
/// A file in each that is locked for as long as its page runs.
const LOCK: &str = "lock";

/// A private folder, removed with all that is in it when it is dropped.
#[derive(Debug)]
pub(super) struct PrivateFolder {
    path: PathBuf,
    /// Held open, and with it the lock.
    _lock: File,
}

impl PrivateFolder {
    /// Makes one inside `base`, and takes away those that pages left there which no
    /// longer run.
    pub(super) fn make(base: &Path) -> Result<Self, Failure> {
        let failed = |error: std::io::Error| Failure {
            message: format!("{} cannot be used for clips ({error})", base.display()),
            hint: "make room on the disk, or see that the folder is yours".to_owned(),
        };
        let mut builder = DirBuilder::new();
        builder.recursive(true);
        private(&mut builder);
        builder.create(base).map_err(failed)?;
        sweep(base);
        let path = base.join(format!("{PREFIX}{}", secret::word()?));
        let mut builder = DirBuilder::new();
        private(&mut builder);
        builder.create(&path).map_err(failed)?;
        let lock = File::create_new(path.join(LOCK)).map_err(failed)?;
        lock.lock().map_err(failed)?;
        Ok(Self { path, _lock: lock })
    }

    /// Where it lies.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }
}

impl Drop for PrivateFolder {
    fn drop(&mut self) {
        // Should the system refuse, the next page that starts takes it away.
        let _ = fs::remove_dir_all(&self.path);
    }
}

#[cfg(unix)]
fn private(builder: &mut DirBuilder) {
    use std::os::unix::fs::DirBuilderExt;
    builder.mode(0o700);
}

/// Elsewhere a person's own folders are private as they are.
#[cfg(not(unix))]
fn private(_: &mut DirBuilder) {}

/// Removes folders whose page was ended without being able to tidy up.
fn sweep(base: &Path) {
    let Ok(entries) = fs::read_dir(base) else {
        return;
    };
    for entry in entries.flatten() {
        let ours = entry.file_name().to_string_lossy().starts_with(PREFIX);
        let is_folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
        if !(ours && is_folder) {
            continue;
        }
        let lock = File::open(entry.path().join(LOCK));
        if lock.is_ok_and(|lock| lock.try_lock().is_ok()) {
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_dead_page_left_goes_and_what_a_living_one_holds_stays() {
        let base = tempfile::tempdir().unwrap();
        let dead = base.path().join("page-dead");
        fs::create_dir(&dead).unwrap();
        fs::write(dead.join(LOCK), "").unwrap();
        let other = base.path().join("not-ours");
        fs::create_dir(&other).unwrap();
        let living = PrivateFolder::make(base.path()).unwrap();
        assert!(!dead.exists() && other.exists());
        fs::write(living.path.join("clip-1"), "x").unwrap();
        let second = PrivateFolder::make(base.path()).unwrap();
        assert!(living.path.join("clip-1").exists());
        let path = living.path.clone();
        drop(living);
        assert!(!path.exists() && second.path.exists());
    }

    #[cfg(unix)]
    #[test]
    fn nobody_else_can_look_in() {
        use std::os::unix::fs::PermissionsExt;
        let base = tempfile::tempdir().unwrap();
        let folder = PrivateFolder::make(base.path()).unwrap();
        let mode = fs::metadata(&folder.path).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o700);
    }
}
