//! What a check finds wrong put right where it can be, and what is lost said.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::path::{Path, PathBuf};

use rusqlite::Connection;

use super::Log;
use super::change::{Did, Writing};
use super::check::files as files_in;
use super::rebuild::{Mend, Mended, label_of, last_written, rebuild, without_parents};
use super::rows::{Kept, READING, TAKE, Table};
use super::sense::from_row;
use crate::files;
use crate::log::history::LoggedTake;
use crate::log::{LogError, Tried};

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
            rebuild(path, &mut mended)?;
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
        without_parents(connection, mended)?;
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
                && !files::sha256(&path).is_ok_and(|found| found == take.sha256)
            {
                let whose = format!("{label}, take {}", take.number);
                wanted.insert(take.sha256.clone(), (whose, take));
            }
        }
        if wanted.is_empty() {
            return Ok(());
        }
        for place in self.places(copies, &wanted) {
            let Ok(hash) = files::sha256(&place) else { continue };
            let Some((take, _)) = wanted.get(&hash) else { continue };
            let file = File::open(&place).map_err(LogError::file(&place, Tried::Read))?;
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
        let change = writing.change(Some(reed), &Did::RecordBegins, None)?;
        for (table, kept) in rows {
            change.update(table, &kept)?;
        }
    }
    if rows > 0 {
        mended.lost.push(Mend::RecordLost { rows });
    }
    Ok(())
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
