//! A damaged database built anew from what can still be read of it, from the log's own record of
//! changes and from the weekly copies.
//!
//! Rows are never deleted and keys are counted without gaps, so a key that is missing is a row lost.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use rusqlite::types::Value as Cell;
use rusqlite::{Connection, OpenFlags, params_from_iter};

use super::change::from_whole;
use super::rows::{Kept, REED, Table};
use super::schema::{APPLICATION_ID, UPGRADES, VERSION};
use super::{Log, migrate};
use crate::files::{self, Unfinished};
use crate::log::{Damage, LogError, Refused, Tried};

/// The tables besides those of rows, and the column that counts them.
const CHANGES: [&str; 2] = ["change", "change_row"];

/// Rows of one table by key, each with its cells in the order of the table's columns.
type Rows = BTreeMap<i64, Vec<Cell>>;

/// Builds the log at `path` anew, and keeps the damaged file beside it.
pub(super) fn rebuild(path: &Path, mended: &mut Mended) -> Result<(), LogError> {
    let failed = || LogError::file(path, Tried::Rebuilt);
    let damaged = open_raw(path)?;
    // What a program wrote last may still stand beside the file.
    let _ = damaged.execute_batch("PRAGMA wal_checkpoint(TRUNCATE)");
    let form: i64 = damaged.pragma_query_value(None, "user_version", |row| row.get(0))?;
    if form != VERSION {
        return Err(LogError::Damaged(Damage::EarlierForm(form)));
    }
    let unfinished = Unfinished::begin(files::folder_of(path)).map_err(failed())?.close();
    let mut new = Connection::open(unfinished.path())?;
    let copies = weekly(path);
    // Told outside a transaction, or it is not heard.
    new.pragma_update(None, "foreign_keys", false)?;
    let writing = new.transaction()?;
    writing.execute_batch(&UPGRADES.concat())?;
    writing.pragma_update(None, "application_id", APPLICATION_ID)?;
    writing.pragma_update(None, "user_version", VERSION)?;
    let (mut from_copies, mut read) = (Vec::new(), 0);
    let mut salvaged: BTreeMap<String, (Vec<String>, Rows)> = BTreeMap::new();
    for name in Table::ALL.iter().map(|table| table.name).chain(CHANGES) {
        let columns = columns(&writing, name)?;
        let mut rows = readable(&damaged, name, &columns);
        read += rows.len();
        for (copy_path, copy) in &copies {
            for (id, row) in readable(copy, name, &columns) {
                if let Entry::Vacant(place) = rows.entry(id) {
                    place.insert(row);
                    from_copies.push((name, id, copy_path.clone()));
                }
            }
        }
        salvaged.insert(name.to_owned(), (columns, rows));
    }
    if read == 0 && copies.is_empty() {
        return Err(Refused::NothingReadable(path).into());
    }
    for (name, (columns, rows)) in &salvaged {
        let lost = missing(rows) + refused(&writing, name, columns, rows)?;
        // A row that the record of changes still has is no loss.
        if lost > 0 && CHANGES.contains(&name.as_str()) {
            mended.lost.push(Mend::RowsLost { table: name.clone(), rows: lost });
        }
    }
    for (name, row, copy) in from_copies {
        let Some(table) = Table::named(name) else { continue };
        let Ok(Some(kept)) = table.get(&writing, row) else { continue };
        let label = label_of(&writing, table, &kept);
        mended.mended.push(Mend::RowAgain { label, table: table.name, row, from: Some(copy) });
    }
    settings(&damaged, &copies, &writing);
    from_changes(&writing, mended)?;
    lost_rows(&writing, &salvaged, mended)?;
    without_parents(&writing, mended)?;
    writing.commit()?;
    new.pragma_update(None, "journal_mode", "DELETE")?;
    new.close().map_err(|(_, error)| LogError::from(error))?;
    drop(damaged);
    mended.damaged = Some(put_aside(path)?);
    unfinished.becomes(path).map_err(failed())
}

/// The weekly copies that open, the newest first.
fn weekly(path: &Path) -> Vec<(PathBuf, Connection)> {
    let mut copies = Log::backups_of(path);
    copies.reverse();
    let open = |path: PathBuf| {
        let copy = open_raw(&path).ok()?;
        (migrate::version(&copy, &path).ok()? == VERSION).then_some((path, copy))
    };
    copies.into_iter().filter_map(|copy| open(copy.path)).collect()
}

fn columns(connection: &Connection, table: &str) -> Result<Vec<String>, LogError> {
    let mut statement = connection.prepare("SELECT name FROM pragma_table_info(?1)")?;
    let names = statement.query_map([table], |row| row.get(0))?;
    Ok(names.collect::<Result<_, _>>()?)
}

/// All rows of a table that can be read: from below up to the damage, from above down to it, and
/// between them one by one.
fn readable(damaged: &Connection, table: &str, columns: &[String]) -> Rows {
    let mut rows = Rows::new();
    let columns = columns.join(", ");
    let mut scan = |filter: &str, order: &str| -> Option<i64> {
        let sql = format!("SELECT {columns} FROM {table} NOT INDEXED {filter} ORDER BY id {order}");
        let mut statement = damaged.prepare(&sql).ok()?;
        let count = statement.column_count();
        let mut found = statement.query([]).ok()?;
        let mut last = None;
        while let Ok(Some(record)) = found.next() {
            let cells: Result<Vec<Cell>, _> = (0..count).map(|n| record.get(n)).collect();
            let Ok(cells) = cells else { break };
            let Some(Cell::Integer(id)) = cells.first() else { break };
            last = Some(*id);
            rows.insert(*id, cells);
        }
        last
    };
    let below = scan("", "ASC").unwrap_or(0);
    if let Some(above) = scan("", "DESC") {
        for id in below + 1..above {
            scan(&format!("WHERE id = {id}"), "ASC");
        }
    }
    rows
}

/// Keys that are missing below the highest.
fn missing(rows: &Rows) -> usize {
    let highest = rows.keys().next_back().copied().unwrap_or(0);
    usize::try_from(highest).unwrap_or(0).saturating_sub(rows.len())
}

/// Adds the rows; returns how many the tables refuse, such as a second one of a number.
fn refused(
    new: &Connection,
    table: &str,
    columns: &[String],
    rows: &Rows,
) -> Result<usize, LogError> {
    let marks = vec!["?"; columns.len()].join(", ");
    let sql = format!("INSERT OR IGNORE INTO {table} ({}) VALUES ({marks})", columns.join(", "));
    let mut statement = new.prepare(&sql)?;
    let mut refused = 0;
    for cells in rows.values() {
        // A cell of the wrong type is refused too.
        refused += usize::from(statement.execute(params_from_iter(cells)).unwrap_or(0) == 0);
    }
    Ok(refused)
}

/// What was said once of the whole log: of the damaged file, else of the newest copy that has it.
fn settings(damaged: &Connection, copies: &[(PathBuf, Connection)], new: &Connection) {
    for from in std::iter::once(damaged).chain(copies.iter().map(|(_, copy)| copy)) {
        let Ok(found) = super::settings::all(from) else { continue };
        let _ = super::settings::keep(new, &found);
    }
}

/// Adds rows of which only the record of changes is left.
fn from_changes(new: &Connection, mended: &mut Mended) -> Result<(), LogError> {
    for (table, id, written) in last_written(new)? {
        let is_there = matches!(table.get(new, id), Ok(Some(_)) | Err(LogError::Row { .. }));
        if !is_there && table.insert(new, Some(id), written.gone, &written.row).is_ok() {
            let label = label_of(new, table, &written);
            mended.mended.push(Mend::RowAgain { label, table: table.name, row: id, from: None });
        }
    }
    Ok(())
}

/// Counts the rows that are nowhere, and changes of which only a part is left.
fn lost_rows(
    new: &Connection,
    salvaged: &BTreeMap<String, (Vec<String>, Rows)>,
    mended: &mut Mended,
) -> Result<(), LogError> {
    // Keys at the end of a table that are gone leave no gap; what names them, or should be named, tells.
    for (table, sql) in [
        (
            "change",
            "SELECT count(DISTINCT change_id) FROM change_row WHERE change_id NOT IN (SELECT id FROM change)",
        ),
        (
            "change_row",
            "SELECT count(*) FROM change WHERE reed_id IS NOT NULL AND id NOT IN (SELECT change_id FROM change_row)",
        ),
    ] {
        let lost: i64 = new.query_row(sql, [], |row| row.get(0))?;
        if let Ok(rows @ 1..) = usize::try_from(lost) {
            mended.lost.push(Mend::RowsLost { table: table.into(), rows });
        }
    }
    for name in salvaged.keys().filter(|name| !CHANGES.contains(&name.as_str())) {
        let sql = format!("SELECT coalesce(max(id), 0) - count(*) FROM {name}");
        let lost: i64 = new.query_row(&sql, [], |row| row.get(0))?;
        if let Ok(rows @ 1..) = usize::try_from(lost) {
            mended.lost.push(Mend::RowsLost { table: name.clone(), rows });
        }
    }
    Ok(())
}

/// Rows whose reed is lost get a card that says so; readings whose take is lost go with it.
pub(super) fn without_parents(new: &Connection, mended: &mut Mended) -> Result<(), LogError> {
    let mut reeds = BTreeSet::new();
    for table in Table::ALL.into_iter().filter(|table| table.name != REED.name) {
        let sql = format!(
            "SELECT DISTINCT reed_id FROM {} WHERE reed_id NOT IN (SELECT id FROM reed)",
            table.name
        );
        let mut statement = new.prepare(&sql)?;
        reeds.extend(statement.query_map([], |row| row.get::<_, i64>(0))?.flatten());
        if table.columns.iter().any(|(column, _)| *column == "take_id") {
            let sql =
                format!("DELETE FROM {} WHERE take_id NOT IN (SELECT id FROM take)", table.name);
            if let rows @ 1.. = new.execute(&sql, [])? {
                mended.lost.push(Mend::RowsLost { table: table.name.into(), rows });
            }
        }
    }
    for reed in reeds {
        let now = super::change::now(new)?;
        let label = LostCard(reed).to_string();
        let row = serde_json::json!({
            "uid": new.query_row("SELECT lower(hex(randomblob(16)))", [], |row| row.get::<_, String>(0))?,
            "at": now,
            "label": label,
        });
        if let serde_json::Value::Object(row) = row {
            let kept = Kept { id: reed, gone: false, row };
            REED.insert(new, Some(reed), false, &kept.row)?;
            mended.lost.push(Mend::CardLost { label });
        }
    }
    new.execute("UPDATE change SET reed_id = NULL WHERE reed_id NOT IN (SELECT id FROM reed)", [])?;
    new.execute("UPDATE change SET undoes = NULL WHERE undoes NOT IN (SELECT id FROM change)", [])?;
    new.execute("DELETE FROM change_row WHERE change_id NOT IN (SELECT id FROM change)", [])?;
    Ok(())
}

/// Renames the damaged file, with what stands beside it, and returns its new name.
fn put_aside(path: &Path) -> Result<PathBuf, LogError> {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let numbered = |n: u32| path.with_file_name(format!("{stem}.damaged-{n}.db"));
    let aside = (1..).map(numbered).find(|aside| !aside.exists()).unwrap_or_else(|| numbered(1));
    for ending in ["-wal", "-shm"] {
        let _ =
            std::fs::rename(files::with_ending(path, ending), files::with_ending(&aside, ending));
    }
    files::rename_synced(path, &aside).map_err(LogError::file(path, Tried::PutAside))?;
    Ok(aside)
}

/// What mending did.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct Mended {
    /// The damaged file, kept under this name, where the log had to be built anew.
    pub damaged: Option<PathBuf>,
    /// What was put right, in the order in which it was done.
    pub mended: Vec<Mend>,
    /// What could not be.
    pub lost: Vec<Mend>,
}

/// What a reed is called whose card is nowhere, by its place in the log.
#[derive(Debug)]
pub(crate) struct LostCard(pub i64);

/// One thing that was put right, or lost.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum Mend {
    /// A row holds again what this program wrote last.
    Row {
        /// Its reed.
        label: String,
        /// Its table.
        table: &'static str,
        /// Its key.
        row: i64,
        /// The fields that held something else, each with that.
        held: BTreeMap<String, String>,
    },
    /// A row that had gone is there again, from the log's own record of changes, or from a weekly copy.
    RowAgain {
        /// Its reed.
        label: String,
        /// Its table.
        table: &'static str,
        /// Its key.
        row: i64,
        /// The copy; `None` for the record of changes.
        from: Option<PathBuf>,
    },
    /// A reed's card is nowhere; what else is known of it stands under a label that says so.
    CardLost {
        /// That label.
        label: String,
    },
    /// Rows of a table that are nowhere.
    RowsLost {
        /// Their table.
        table: String,
        /// How many.
        rows: usize,
    },
    /// Rows of whose making no record is left; they are taken as they stand.
    RecordLost {
        /// How many.
        rows: usize,
    },
    /// A recording was found again, whole.
    Recording {
        /// Whose: the reed and the take.
        take: String,
        /// Where.
        from: PathBuf,
    },
    /// A recording that is nowhere.
    RecordingLost {
        /// Whose.
        take: String,
        /// The SHA-256 of what it held.
        sha256: String,
    },
    /// What a killed program left half written was removed.
    Leftovers {
        /// How many files.
        files: usize,
    },
}

/// Every row of which a change is kept, with what the last one wrote; those that others point to first.
pub(super) fn last_written(
    connection: &Connection,
) -> Result<Vec<(&'static Table, i64, Kept)>, LogError> {
    let mut written = Vec::new();
    for table in Table::ALL {
        let mut statement = connection.prepare_cached(
            "SELECT row_id, after FROM change_row WHERE id IN \
             (SELECT max(id) FROM change_row WHERE in_table = ?1 GROUP BY row_id) ORDER BY row_id",
        )?;
        let mut found = statement.query([table.name])?;
        while let Some(record) = found.next()? {
            let id: i64 = record.get(0)?;
            let after: Option<String> = record.get(1).ok();
            if let Some(kept) = after.and_then(|after| from_whole(id, &after)) {
                written.push((table, id, kept));
            }
        }
    }
    Ok(written)
}

/// The label of a row's reed.
pub(super) fn label_of(connection: &Connection, table: &Table, kept: &Kept) -> String {
    let own = kept.row.get("label").and_then(serde_json::Value::as_str).map(str::to_owned);
    let reed = kept.row.get("reed_id").and_then(serde_json::Value::as_i64);
    own.filter(|_| table.name == "reed")
        .or_else(|| {
            let sql = "SELECT label FROM reed WHERE id = ?1";
            connection.query_row(sql, [reed?], |row| row.get(0)).ok()
        })
        .unwrap_or_else(|| "?".into())
}

/// A database opened to be read as it lies, whatever is in it.
pub(super) fn open_raw(path: &Path) -> Result<Connection, LogError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    Ok(Connection::open_with_flags(path, flags)?)
}
