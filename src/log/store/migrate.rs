//! From any earlier version to this one, with a copy made first.

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use rusqlite::{Connection, ErrorCode, TransactionBehavior};

use super::schema::{APPLICATION_ID, UPGRADES, VERSION};
use super::{PATIENCE, Upgrade};
use crate::files;
use crate::log::{LogError, Tried};

/// Checks what the file is, makes the tables in an empty one, and brings an earlier version up.
///
/// Errors: an empty file where none `may_make` a log of it; no log, or a later one.
pub fn bring_up(
    connection: &mut Connection,
    path: &Path,
    may_make: bool,
) -> Result<Option<Upgrade>, LogError> {
    // In one look: another program may be making the log just now.
    let look = connection.transaction_with_behavior(TransactionBehavior::Deferred)?;
    let found = version(&look, path)?;
    look.rollback()?;
    if found == 0 && !may_make {
        return Err(LogError::Missing(path.to_owned()));
    }
    connection.pragma_update(None, "foreign_keys", true)?;
    write_ahead(connection)?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    if found == VERSION {
        return Ok(None);
    }
    let backup = if found == 0 { None } else { Some(copy_before(connection, path, found)?) };
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Another program may have done it meanwhile.
    let found = version(&transaction, path)?;
    for upgrade in UPGRADES.iter().skip(usize::try_from(found).unwrap_or(0)) {
        transaction.execute_batch(upgrade)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", VERSION)?;
    transaction.commit()?;
    if found == 0 {
        let folder = files::folder_of(path);
        files::sync_folder(folder).map_err(LogError::file(folder, Tried::Synced))?;
    }
    Ok(backup.map(|backup| Upgrade { from: found, backup }))
}

/// The schema version of the file; 0 for an empty one.
pub fn version(connection: &Connection, path: &Path) -> Result<i64, LogError> {
    let number = |name: &str| -> Result<i64, LogError> {
        Ok(connection.pragma_query_value(None, name, |row| row.get(0))?)
    };
    let application = number("application_id").map_err(|error| match error {
        LogError::Damaged(_) if !begins_as_database(path) => LogError::NotALog(path.to_owned()),
        other => other,
    })?;
    let version = number("user_version")?;
    let tables: i64 =
        connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    match (application, version, tables) {
        (0, 0, 0) => Ok(0),
        (APPLICATION_ID, 1..=VERSION, _) => Ok(version),
        (APPLICATION_ID, newer, _) if newer > VERSION => {
            Err(LogError::Newer { path: path.to_owned(), found: newer, known: VERSION })
        }
        _ => Err(LogError::NotALog(path.to_owned())),
    }
}

/// Whether a file begins as every database of SQLite does.
pub fn begins_as_database(path: &Path) -> bool {
    use std::io::Read;
    let mut head = [0; 16];
    std::fs::File::open(path).and_then(|mut file| file.read_exact(&mut head)).is_ok()
        && head == *b"SQLite format 3\0"
}

/// Turns on write-ahead logging. SQLite answers "busy" here without waiting when another program
/// does the same at the same moment.
fn write_ahead(connection: &Connection) -> Result<(), LogError> {
    let start = Instant::now();
    loop {
        let answer = connection
            .pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get::<_, String>(0));
        match answer {
            Ok(_) => return Ok(()),
            Err(error)
                if error.sqlite_error_code() == Some(ErrorCode::DatabaseBusy)
                    && start.elapsed() < PATIENCE =>
            {
                std::thread::sleep(Duration::from_millis(5));
            }
            Err(error) => return Err(error.into()),
        }
    }
}

/// Copies the log to `reeds.form-1.db` beside it; an earlier copy is kept under its own name.
fn copy_before(connection: &Connection, path: &Path, found: i64) -> Result<PathBuf, LogError> {
    let numbered = |n: u32| {
        let stem = path.file_stem().unwrap_or_default().to_string_lossy();
        let more = if n == 0 { String::new() } else { format!("-{n}") };
        path.with_file_name(format!("{stem}.form-{found}{more}.db"))
    };
    let copy = (0..).map(numbered).find(|copy| !copy.exists()).unwrap_or_else(|| numbered(0));
    super::backup::copy(connection, &copy, &AtomicBool::new(false))?;
    Ok(copy)
}
