//! The file: opened with care, private, brought up to date.

use std::fs::{self, OpenOptions};
use std::io;
use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use super::error::LogError;

/// Marks our files among SQLite's (`PRAGMA application_id`): "ufot".
const APPLICATION_ID: i64 = 0x7566_6f74;

/// The layouts, oldest first; a file's `user_version` counts those it has.
const MIGRATIONS: [(&str, &str); 1] = [(
    "2026-11-25 first",
    include_str!("migrations/2026-11-25-first.sql"),
)];

/// How long a writer waits for the others.
const PATIENCE: Duration = Duration::from_secs(30);

/// Opens the log for reading and writing; makes it, and its folder, if there is none.
pub(super) fn open(path: &Path) -> Result<Connection, LogError> {
    prepare_file(path)?;
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags)?;
    set_up(&connection)?;
    if layout(&connection)? < MIGRATIONS.len() as i64 {
        migrate(&mut connection, MIGRATIONS.len())?;
    }
    connection.pragma_update(None, "journal_mode", "WAL")?;
    Ok(connection)
}

/// Opens a log that is there, for reading only.
pub(super) fn open_read_only(path: &Path) -> Result<Connection, LogError> {
    if !path.exists() {
        return Err(LogError::Missing(path.to_owned()));
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    set_up(&connection)?;
    Ok(connection)
}

/// What holds for this connection, not for the file.
fn set_up(connection: &Connection) -> Result<(), LogError> {
    connection.busy_timeout(PATIENCE)?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "secure_delete", true)?;
    connection.set_prepared_statement_cache_capacity(64);
    Ok(())
}

/// The file's layout; 0 for an empty file.
fn layout(connection: &Connection) -> Result<i64, LogError> {
    let pragma = |name| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let found = pragma("user_version")?;
    let known = MIGRATIONS.len() as i64;
    let tables: i64 =
        connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    if tables == 0 {
        return Ok(0);
    }
    if pragma("application_id")? != APPLICATION_ID || found < 1 {
        return Err(LogError::NotALog);
    }
    if found > known {
        return Err(LogError::Newer { found, known });
    }
    Ok(found)
}

/// Brings the file to the layout `to`; all steps or none.
fn migrate(connection: &mut Connection, to: usize) -> Result<(), LogError> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Somebody else may have done it while this one waited.
    let from = usize::try_from(layout(&transaction)?).unwrap_or(0);
    for (_, script) in MIGRATIONS.iter().take(to).skip(from) {
        transaction.execute_batch(script)?;
    }
    if from < to {
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", to as i64)?;
    }
    transaction.commit()?;
    Ok(())
}

/// Makes folder and file if they are not there, for nobody else's eyes.
fn prepare_file(path: &Path) -> Result<(), LogError> {
    let refused = |path: &Path, error: &io::Error| LogError::File {
        path: path.to_owned(),
        cause: error.to_string(),
        remedy: match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
                "make room on the disk and try again"
            }
            io::ErrorKind::IsADirectory => "name a file, not a folder",
            _ => "name a file in a folder of your own",
        },
    };
    if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
        make_private_folder(folder).map_err(|error| refused(folder, &error))?;
    }
    let mut options = OpenOptions::new();
    options.read(true).append(true).create(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    match options.open(path) {
        Ok(_) => Ok(()),
        Err(error) if path.is_file() && error.kind() == io::ErrorKind::PermissionDenied => {
            Err(LogError::ReadOnly)
        }
        Err(error) => Err(refused(path, &error)),
    }
}

fn make_private_folder(folder: &Path) -> io::Result<()> {
    if folder.is_dir() {
        return Ok(());
    }
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}
