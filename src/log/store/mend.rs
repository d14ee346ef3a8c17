//! What a check finds wrong put right where it can be, and what is lost said.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OpenFlags};

use super::audio::file_hash;
use super::change::{Writing, from_whole};
use super::check::files as files_in;
use super::rows::{Kept, READING, TAKE, Table, from_row};
use super::{Log, rebuild};
use crate::files;
use crate::log::LogError;
use crate::log::history::LoggedTake;

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

impl Log {
    /// Mends the log at `path` as far as it can be. What could not be read is kept beside it.
    ///
    /// * `copies`: folders in which recordings may be found again: exports, copies of the log's folder.
    ///
    /// Errors: no log, or one that a newer program wrote; a disk that refuses.
    pub fn mend(path: &Path, copies: &[PathBuf]) -> Result<Mended, LogError> {
        let mut mended = Mended::default();
        let is_sound = match Self::open_existing(path) {
            Ok(log) => log.is_sound(),
            Err(LogError::Damaged(_)) => false,
            Err(other) => return Err(other),
        };
        if !is_sound {
            rebuild::rebuild(path, &mut mended)?;
        }
        let mut log = Self::open_existing(path)?;
        log.rows_as_written(&mut mended)?;
        log.recordings_found(copies, &mut mended)?;
        log.leftovers_removed(&mut mended);
        Ok(mended)
    }

    /// Whether the database's own pages and indexes are whole.
    fn is_sound(&self) -> bool {
        let verdict: Result<String, _> =
            self.connection.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0));
        matches!(verdict.as_deref(), Ok("ok"))
    }

    /// Puts back what the last change to each row wrote.
    fn rows_as_written(&mut self, mended: &mut Mended) -> Result<(), LogError> {
        let writing = self.write()?;
        let connection = writing.connection();
        for (table, id, written) in last_written(connection)? {
            let label = label_of(connection, table, &written);
            match table.get(connection, id) {
                Ok(Some(kept)) if kept.holds(&written) => {}
                Ok(None) => {
                    table.insert(connection, Some(id), written.gone, &written.row)?;
                    mended.mended.push(Mend::RowAgain {
                        label,
                        table: table.name,
                        row: id,
                        from: None,
                    });
                }
                Ok(Some(_)) | Err(LogError::Row { .. }) => {
                    let held = differing(connection, table, &written)?;
                    table.update(connection, &written)?;
                    mended.mended.push(Mend::Row { label, table: table.name, row: id, held });
                }
                Err(other) => return Err(other),
            }
        }
        rebuild::without_parents(connection, mended)?;
        taken_as_they_stand(&writing, mended)?;
        writing.commit()
    }

    /// Finds recordings that are missing or damaged: where they came from, in the log's folder under
    /// other names, and in `copies`.
    fn recordings_found(&self, copies: &[PathBuf], mended: &mut Mended) -> Result<(), LogError> {
        let mut wanted: BTreeMap<String, (String, LoggedTake)> = BTreeMap::new();
        for (id, label) in TAKE.keys(&self.connection)? {
            let Ok(Some(kept)) = TAKE.get(&self.connection, id) else { continue };
            let Ok(take) = from_row::<LoggedTake>(&TAKE, &kept) else { continue };
            let path = self.audio_path(&take.sha256);
            if !wanted.contains_key(&take.sha256)
                && !file_hash(&path).is_ok_and(|found| found == take.sha256)
            {
                let whose = format!("{label}, take {}", take.number);
                wanted.insert(take.sha256.clone(), (whose, take));
            }
        }
        if wanted.is_empty() {
            return Ok(());
        }
        for place in self.places(copies, &wanted) {
            let Ok(hash) = file_hash(&place) else { continue };
            let Some((take, _)) = wanted.get(&hash) else { continue };
            let file = File::open(&place).map_err(LogError::file(&place, "could not be read"))?;
            self.audio.keep(file)?;
            mended.mended.push(Mend::Recording { take: take.clone(), from: place });
            wanted.remove(&hash);
        }
        let lost = wanted.into_iter();
        mended.lost.extend(lost.map(|(sha256, (take, _))| Mend::RecordingLost { take, sha256 }));
        Ok(())
    }

    /// Files that may hold what is wanted, each once.
    fn places(
        &self,
        copies: &[PathBuf],
        wanted: &BTreeMap<String, (String, LoggedTake)>,
    ) -> BTreeSet<PathBuf> {
        let mut places: BTreeSet<PathBuf> =
            wanted.values().map(|(_, take)| PathBuf::from(&take.source)).collect();
        let sizes: BTreeSet<u64> = wanted.values().map(|(_, take)| take.bytes).collect();
        let own = [self.audio.folder().to_owned(), self.recording_folder()];
        for folder in own.iter().chain(copies) {
            for below in walkdir::WalkDir::new(folder).into_iter().flatten() {
                places.insert(below.into_path());
            }
        }
        // Hashing whole archives takes minutes; a file of another size is another recording.
        places.retain(|path| {
            path.metadata().is_ok_and(|about| about.is_file() && sizes.contains(&about.len()))
        });
        places
    }

    fn leftovers_removed(&self, mended: &mut Mended) {
        let folders = [
            files::folder_of(&self.path).to_owned(),
            self.audio.folder().to_owned(),
            self.audio.unfinished(),
        ];
        let count = || -> usize {
            let there = folders.iter().filter_map(|folder| files_in(folder).ok());
            there.flatten().filter(|path| is_unfinished(path)).count()
        };
        let before = count();
        folders.iter().for_each(|folder| files::remove_abandoned(folder));
        if let removed @ 1.. = before.saturating_sub(count()) {
            mended.mended.push(Mend::Leftovers { files: removed });
        }
    }
}

fn is_unfinished(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default();
    name.as_encoded_bytes().starts_with(files::UNFINISHED.as_bytes())
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

/// A reading that is not understood, in place of one that cannot be read.
const BLANK_READING: &str = "UPDATE reading SET gone = 1, program = '?', reading = '{}', advice = NULL, \
                             at = CAST(at AS TEXT) WHERE id = ?1";

/// Rows of whose making no record is left are taken as they stand: a change of its own says so, and undo
/// does not reach behind it.
fn taken_as_they_stand(writing: &Writing<'_>, mended: &mut Mended) -> Result<(), LogError> {
    let connection = writing.connection();
    let mut by_reed: BTreeMap<i64, Vec<(&'static Table, Kept)>> = BTreeMap::new();
    for table in Table::ALL {
        let sql = format!(
            "SELECT id FROM {} AS kept WHERE NOT EXISTS (SELECT 1 FROM change_row \
             WHERE in_table = ?1 AND row_id = kept.id)",
            table.name
        );
        let mut statement = connection.prepare(&sql)?;
        let ids: Vec<i64> =
            statement.query_map([table.name], |row| row.get(0))?.collect::<Result<_, _>>()?;
        for id in ids {
            if table.name == READING.name && table.get(connection, id).is_err() {
                // It can be made again from its recording.
                connection.execute(BLANK_READING, [id])?;
            }
            // What else cannot be read stays a fault.
            let Ok(Some(kept)) = table.get(connection, id) else { continue };
            let reed = kept.row.get("reed_id").and_then(serde_json::Value::as_i64).unwrap_or(id);
            by_reed.entry(reed).or_default().push((table, kept));
        }
    }
    let rows = by_reed.values().map(Vec::len).sum();
    for (reed, rows) in by_reed {
        let change = writing.change(Some(reed), "the record of changes begins again", None)?;
        for (table, kept) in rows {
            change.update(table, &kept)?;
        }
    }
    if rows > 0 {
        mended.lost.push(Mend::RecordLost { rows });
    }
    Ok(())
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

/// The columns of a row that hold something else than what was written, with what they hold.
fn differing(
    connection: &Connection,
    table: &Table,
    written: &Kept,
) -> Result<BTreeMap<String, String>, LogError> {
    let mut held = BTreeMap::new();
    for (column, _) in table.columns {
        let sql = format!("SELECT CAST({column} AS TEXT) FROM {} WHERE id = ?1", table.name);
        let now: Option<Vec<u8>> = connection.query_row(&sql, [written.id], |row| {
            Ok(row.get_ref(0)?.as_bytes_or_null().ok().flatten().map(<[u8]>::to_vec))
        })?;
        let now = now.map(|bytes| String::from_utf8_lossy(&bytes).into_owned());
        let then = written.row.get(*column).filter(|value| !value.is_null());
        let is_same = match (&now, then) {
            (None, None) => true,
            (Some(now), Some(serde_json::Value::String(then))) => now == then,
            (Some(now), Some(then)) => {
                now.parse::<f64>().ok().is_some_and(|now| Some(now) == then.as_f64())
                    || serde_json::from_str::<serde_json::Value>(now).is_ok_and(|now| now == *then)
            }
            _ => false,
        };
        if !is_same {
            held.insert((*column).to_owned(), now.unwrap_or_default());
        }
    }
    Ok(held)
}

/// A database opened to be read as it lies, whatever is in it.
pub(super) fn open_raw(path: &Path) -> Result<Connection, LogError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    Ok(Connection::open_with_flags(path, flags)?)
}
