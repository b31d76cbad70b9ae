//! The file: opened with care, private, brought up to date.

use std::fs::{self, OpenOptions};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use super::error::LogError;

/// How SQLite's files begin (https://www.sqlite.org/fileformat2.html, 1.3.1).
const HEAD: &[u8] = b"SQLite format 3\0";

/// Marks our files among SQLite's (`PRAGMA application_id`): "ufot".
const APPLICATION_ID: i64 = 0x7566_6f74;

/// The layouts, oldest first; a file's `user_version` counts those it has.
const MIGRATIONS: [Migration; 1] = [(
    "2026-11-25 first",
    include_str!("migrations/2026-11-25-first.sql"),
)];

/// Date and name, and the script.
type Migration = (&'static str, &'static str);

/// Longest pause between two attempts to write. SQLite's own pauses grow to a tenth of
/// a second, so that eight writers mostly sleep.
const LONGEST_PAUSE_MS: u32 = 10;
/// How often a writer tries: for half a minute.
const ATTEMPTS: i32 = 3000;

/// Pages that a backup copies before others get their turn.
const PAGES_AT_ONCE: i32 = 512;

/// Opens the log for reading and writing; makes it, and its folder, if there is none.
pub(super) fn open(path: &Path) -> Result<Connection, LogError> {
    prepare_file(path)?;
    look_at_head(path)?;
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags)?;
    set_up(&mut connection)?;
    if layout_at_once(&connection)? < MIGRATIONS.len() as i64 {
        migrate(&mut connection, &MIGRATIONS)?;
    }
    // What is kept is on the disk before the call returns, power cut or not.
    write_ahead(&connection)?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    Ok(connection)
}

/// Opens a log that is there, for reading only.
///
/// SQLite keeps two files beside a log in use and would like to make them even for
/// reading. Where the folder does not let it and they are not there, nobody is
/// writing, and the file can be read as one that never changes.
pub(super) fn open_read_only(path: &Path) -> Result<Connection, LogError> {
    if !path.exists() {
        return Err(LogError::Missing(path.to_owned()));
    }
    look_at_head(path)?;
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    let connection = match looked_over(connection) {
        Err(LogError::ReadOnly) if is_at_rest(path) => {
            let flags = flags | OpenFlags::SQLITE_OPEN_URI;
            looked_over(Connection::open_with_flags(unchanging(path), flags)?)?
        }
        other => other?,
    };
    Ok(connection)
}

/// The connection, if there is a log of ours behind it.
fn looked_over(mut connection: Connection) -> Result<Connection, LogError> {
    set_up(&mut connection)?;
    match layout_at_once(&connection)? {
        0 => Err(LogError::NotALog),
        _ => Ok(connection),
    }
}

/// Whether all that was ever written stands in the log itself.
fn is_at_rest(path: &Path) -> bool {
    let waiting = fs::metadata(beside(path, "-wal"));
    waiting.map_or(true, |file| file.len() == 0)
}

/// The name of a file that SQLite keeps beside the log.
fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// The address of a file that does not change (https://www.sqlite.org/uri.html).
fn unchanging(path: &Path) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"/._-~".contains(&byte);
    let mut address = "file:".to_owned();
    for byte in path.as_os_str().as_encoded_bytes() {
        if plain(*byte) {
            address.push(char::from(*byte));
        } else {
            address.push_str(&format!("%{byte:02x}"));
        }
    }
    address + "?immutable=1"
}

/// Copies the log to a new file, page by page, while others may go on writing; sees
/// whether the copy is whole. `progress` is told pages done and pages in all.
pub(super) fn backup(
    from: &Connection,
    to: &Path,
    progress: &mut dyn FnMut(usize, usize),
) -> Result<(), LogError> {
    prepare_file(to)?;
    let mut copy = Connection::open_with_flags(to, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    {
        let backup = Backup::new(from, &mut copy)?;
        loop {
            let step = backup.step(PAGES_AT_ONCE)?;
            let state = backup.progress();
            let pages = |count| usize::try_from(count).unwrap_or(0);
            let of = pages(state.pagecount);
            progress(of - pages(state.remaining).min(of), of);
            match step {
                StepResult::Done => break,
                StepResult::More => {}
                // Somebody is writing; it does not take long.
                _ => std::thread::sleep(Duration::from_millis(20)),
            }
        }
    }
    // One file, with nothing beside it.
    copy.pragma_update(None, "journal_mode", "DELETE")?;
    check(&copy)
}

/// Reads all of the file and sees whether it is whole.
pub(super) fn check(connection: &Connection) -> Result<(), LogError> {
    let told: String = connection.query_row("PRAGMA quick_check(1)", [], |row| row.get(0))?;
    match told.as_str() {
        "ok" => Ok(()),
        fault => Err(LogError::damaged(fault)),
    }
}

/// Refuses a file that does not begin as SQLite's do; SQLite itself would take one
/// that is shorter than its head for an empty one, and write over it.
fn look_at_head(path: &Path) -> Result<(), LogError> {
    let mut head = Vec::new();
    let read = fs::File::open(path).and_then(|file| file.take(16).read_to_end(&mut head));
    match read {
        Err(error) => Err(refused(path, &error)),
        Ok(_) if head.is_empty() || head == HEAD => Ok(()),
        Ok(_) => Err(LogError::NotALog),
    }
}

/// What holds for this connection, not for the file.
fn set_up(connection: &mut Connection) -> Result<(), LogError> {
    be_patient(connection)?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "secure_delete", true)?;
    connection.set_prepared_statement_cache_capacity(64);
    Ok(())
}

/// Lets the connection wait for others who write.
pub(super) fn be_patient(connection: &mut Connection) -> Result<(), LogError> {
    connection.busy_handler(Some(wait_for_others))?;
    Ok(())
}

/// Pauses before the next attempt to write, if there is to be one.
fn wait_for_others(attempts: i32) -> bool {
    let pause = u32::try_from(attempts).map_or(1, |n| (n + 1).min(LONGEST_PAUSE_MS));
    std::thread::sleep(Duration::from_millis(pause.into()));
    attempts < ATTEMPTS
}

/// Lets readers read while somebody writes. SQLite does not wait for others when it
/// changes to this way of writing, which happens once in a log's life.
fn write_ahead(connection: &Connection) -> Result<(), LogError> {
    let mut attempts = 0;
    loop {
        let done = connection.pragma_update(None, "journal_mode", "WAL");
        match done.map_err(LogError::from) {
            Err(LogError::Busy) if wait_for_others(attempts) => attempts += 1,
            done => return done,
        }
    }
}

/// The file's layout as of one moment, while others may be making it.
fn layout_at_once(connection: &Connection) -> Result<i64, LogError> {
    let moment = connection.unchecked_transaction()?;
    layout(&moment)
}

/// The file's layout; 0 for an empty file. Several statements: call it within a
/// transaction.
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

/// Brings the file to the last of these layouts; all steps or none.
fn migrate(connection: &mut Connection, steps: &[Migration]) -> Result<(), LogError> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Somebody else may have done it while this one waited.
    let from = usize::try_from(layout(&transaction)?).unwrap_or(0);
    for (_, script) in steps.iter().skip(from) {
        transaction.execute_batch(script)?;
    }
    if from < steps.len() {
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", steps.len() as i64)?;
    }
    transaction.commit()?;
    Ok(())
}

/// What it means that the system refuses a file or folder.
fn refused(path: &Path, error: &io::Error) -> LogError {
    LogError::File {
        path: path.to_owned(),
        cause: error.to_string(),
        remedy: match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
                "make room on the disk and try again"
            }
            io::ErrorKind::IsADirectory => "name a file, not a folder",
            _ => "name a file in a folder of your own",
        },
    }
}

/// Makes folder and file if they are not there, for nobody else's eyes.
fn prepare_file(path: &Path) -> Result<(), LogError> {
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

#[cfg(test)]
mod tests {
    use super::*;

    fn tables(connection: &Connection) -> Vec<String> {
        let sql = "SELECT name || ': ' || coalesce(sql, '') FROM sqlite_schema ORDER BY name";
        let mut statement = connection.prepare(sql).unwrap();
        let rows = statement.query_map([], |row| row.get(0)).unwrap();
        rows.collect::<Result<_, _>>().unwrap()
    }

    /// A log as each earlier version left it, brought up to date, has the layout of a
    /// new one.
    #[test]
    fn every_earlier_layout_can_be_brought_up_to_date() {
        let mut new = Connection::open_in_memory().unwrap();
        migrate(&mut new, &MIGRATIONS).unwrap();
        for from in 1..=MIGRATIONS.len() {
            let mut old = Connection::open_in_memory().unwrap();
            migrate(&mut old, &MIGRATIONS[..from]).unwrap();
            assert_eq!(layout(&old).unwrap(), from as i64);
            migrate(&mut old, &MIGRATIONS).unwrap();
            assert_eq!(tables(&old), tables(&new), "from {from}");
        }
        assert!(tables(&new).len() > 8);
    }

    #[test]
    fn migrations_are_dated_and_in_order() {
        let dates = MIGRATIONS.map(|(name, _)| &name[..10]);
        assert!(
            dates
                .iter()
                .all(|date| date.parse::<jiff::civil::Date>().is_ok())
        );
        assert!(dates.is_sorted());
    }

    #[test]
    fn a_migration_that_fails_leaves_nothing_behind() {
        let mut log = Connection::open_in_memory().unwrap();
        migrate(&mut log, &MIGRATIONS).unwrap();
        let before = tables(&log);
        let broken = (
            "2027-01-01 broken",
            "CREATE TABLE more (a); CREATE TABLE trial (a)",
        );
        let steps = [&MIGRATIONS[..], &[broken]].concat();
        assert!(migrate(&mut log, &steps).is_err());
        assert_eq!(tables(&log), before);
        assert_eq!(layout(&log).unwrap(), MIGRATIONS.len() as i64);
    }

    #[test]
    fn a_full_disk_is_said_and_changes_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let connection = open(&folder.path().join("log.sqlite")).unwrap();
        let pages: i64 = connection
            .pragma_query_value(None, "page_count", |row| row.get(0))
            .unwrap();
        // SQLite then does as if the disk had no more pages.
        connection
            .pragma_update(None, "max_page_count", pages)
            .unwrap();
        let long = "x".repeat(100_000);
        let sql = "INSERT INTO athlete (name, name_key, note, added_at) VALUES ('a', 'a', ?1, '')";
        let full = LogError::from(connection.execute(sql, [long]).unwrap_err());
        assert!(matches!(full, LogError::DiskFull), "{full:?}");
        let count: i64 = connection
            .query_row("SELECT count(*) FROM athlete", [], |row| row.get(0))
            .unwrap();
        assert_eq!(count, 0);
        check(&connection).unwrap();
    }

    #[cfg(unix)]
    #[test]
    fn nobody_else_may_look() {
        use std::os::unix::fs::PermissionsExt;
        let outer = tempfile::tempdir().unwrap();
        let path = outer.path().join("new/log.sqlite");
        let log = open(&path).unwrap();
        log.execute_batch("INSERT INTO athlete (name, name_key, added_at) VALUES ('a', 'a', '')")
            .unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
        assert_eq!(mode(path.parent().unwrap()), 0o700);
        let mut files = 0;
        for entry in fs::read_dir(path.parent().unwrap()).unwrap() {
            let file = entry.unwrap().path();
            assert_eq!(mode(&file), 0o600, "{}", file.display());
            files += 1;
        }
        assert_eq!(
            files, 3,
            "the log and the two files that SQLite keeps beside it"
        );
    }

    #[test]
    fn addresses_hold_any_name() {
        let address = unchanging(Path::new("/a b/50%?#ä.sqlite"));
        assert_eq!(address, "file:/a%20b/50%25%3f%23%c3%a4.sqlite?immutable=1");
    }
}
