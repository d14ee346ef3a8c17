//! An export read back: the same reeds, rows and changes, so that even undo goes on.

use std::collections::BTreeMap;
use std::fs::File;
use std::path::Path;

use rusqlite::{Connection, params};
use serde_json::Value;

use super::audio::{file_hash, recording_in};
use super::change::{Writing, whole};
use super::export::{AUDIO, Exported, ExportedReed, ExportedRow, FORMAT, LOG_JSON};
use super::reeds::standing;
use super::rows::{Form, Kept, REED, Table};
use super::schema::VERSION;
use super::sense::reed_values;
use super::{Log, export};
use crate::log::LogError;

/// What an import did.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Imported {
    /// Labels of the reeds that were added.
    pub added: Vec<String>,
    /// Labels of those that were here already, the same in everything.
    pub known: Vec<String>,
    /// Hashes of recordings that the export lacks or holds damaged.
    pub missing: Vec<String>,
}

impl Log {
    /// Adds the reeds of an export. All are added, or none.
    ///
    /// Errors: no export, or a newer one; a field that holds what cannot be there; a reed that is here already but differs; a label that
    /// another reed has here.
    pub fn import(&mut self, folder: &Path) -> Result<Imported, LogError> {
        let exported = read_export(folder)?;
        for reed in &exported.reeds {
            reed_values(reed).map_err(|what| {
                LogError::Invalid(format!(
                    "{}: {}: {what}; nothing was imported: export it anew, or put that right in {}",
                    folder.display(),
                    label(reed),
                    LOG_JSON
                ))
            })?;
        }
        let mut imported = Imported::default();
        for hash in exported.recordings() {
            let path = recording_in(&folder.join(AUDIO), &hash);
            if file_hash(&path).is_ok_and(|found| found == hash) {
                let file = File::open(&path).map_err(LogError::file(&path, "could not be read"))?;
                self.audio.keep(file)?;
            } else {
                imported.missing.push(hash);
            }
        }
        let path = self.path.clone();
        let writing = self.write()?;
        for reed in &exported.reeds {
            let label = label(reed).to_owned();
            match here(writing.connection(), reed)? {
                Here::Same => imported.known.push(label),
                Here::Different => {
                    return Err(LogError::Invalid(format!(
                        "{label}: is in {} already with other work on it; nothing was imported: \
                         import into a new log with --log, or export the one reed you want",
                        path.display()
                    )));
                }
                Here::Absent => {
                    add(&writing, reed)?;
                    imported.added.push(label);
                }
            }
        }
        if !imported.added.is_empty() {
            writing.change(None, &format!("import {}", imported.added.join(", ")), None)?;
        }
        writing.commit()?;
        Ok(imported)
    }
}

/// The export in a folder, as [`Log::import`] reads it.
///
/// Errors: no export, or a newer one.
pub fn read_export(folder: &Path) -> Result<Exported, LogError> {
    let path = folder.join(LOG_JSON);
    let text = std::fs::read(&path).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => {
            no_export(&path, &"it is not there; name a folder that 'reedcrow reed export' wrote")
        }
        _ => LogError::file(&path, "could not be read")(error),
    })?;
    let damaged = |error: &serde_json::Error| {
        let line = error.line();
        no_export(&path, &format!("it is damaged in line {line}; copy it again, or export anew"))
    };
    let head: Value = serde_json::from_slice(&text).map_err(|error| damaged(&error))?;
    if head.get("format").and_then(Value::as_str) != Some(FORMAT) {
        return Err(no_export(&path, &"it does not say that it is one"));
    }
    match head.get("form").and_then(Value::as_i64) {
        Some(found) if found > VERSION => Err(LogError::Newer { path, found, known: VERSION }),
        _ => serde_json::from_slice(&text).map_err(|error| damaged(&error)),
    }
}

fn no_export(path: &Path, why: &dyn std::fmt::Display) -> LogError {
    LogError::Invalid(format!("{}: no export of a reed log: {why}", path.display()))
}

enum Here {
    Absent,
    Same,
    Different,
}

fn here(connection: &Connection, reed: &ExportedReed) -> Result<Here, LogError> {
    let Some(kept) = REED.select(connection, "uid = ?1", [&reed.uid])?.into_iter().next() else {
        return Ok(Here::Absent);
    };
    let same =
        export::exported_reed(connection, &kept)?.without_nulls() == reed.clone().without_nulls();
    Ok(if same { Here::Same } else { Here::Different })
}

fn label(reed: &ExportedReed) -> &str {
    let row = reed.tables.get("reed").and_then(|rows| rows.first());
    row.and_then(|row| row.row.get("label")).and_then(Value::as_str).unwrap_or("?")
}

/// Places within the reed to keys of rows in the log, by table.
type Keys = BTreeMap<String, Vec<i64>>;

fn add(writing: &Writing<'_>, reed: &ExportedReed) -> Result<(), LogError> {
    let connection = writing.connection();
    let mut keys = Keys::new();
    for table in Table::ALL {
        for (place, exported) in reed.tables.get(table.name).into_iter().flatten().enumerate() {
            if table.name == "reed" && !exported.gone {
                free(connection, label(reed))?;
            }
            let kept = kept(table, 0, exported, &keys)?;
            let id = table.insert(connection, None, kept.gone, &kept.row)?;
            let known = keys.entry(table.name.to_owned()).or_default();
            debug_assert_eq!(known.len(), place, "rows are added in their order");
            known.push(id);
        }
    }
    let Some(id) = keys.get("reed").and_then(|ids| ids.first()).copied() else {
        return Err(LogError::Invalid(format!("{}: no row of the reed in the export", reed.uid)));
    };
    add_changes(connection, reed, id, &keys)
}

fn add_changes(
    connection: &Connection,
    reed: &ExportedReed,
    reed_id: i64,
    keys: &Keys,
) -> Result<(), LogError> {
    let broken = || LogError::Invalid(format!("{}: a change names what is not there", label(reed)));
    let mut ids: Vec<i64> = Vec::new();
    for change in &reed.changes {
        let undoes = match change.undoes {
            Some(number) => Some(nth(&ids, number).ok_or_else(broken)?),
            None => None,
        };
        connection
            .prepare_cached(
                "INSERT INTO change (reed_id, at, program, what, undoes) VALUES (?, ?, ?, ?, ?)",
            )?
            .execute(params![reed_id, change.at, change.program, change.what, undoes])?;
        let id = connection.last_insert_rowid();
        ids.push(id);
        for audit in &change.rows {
            let table = Table::named(&audit.table).ok_or_else(broken)?;
            let key =
                keys.get(table.name).and_then(|ids| nth(ids, audit.key)).ok_or_else(broken)?;
            let text = |row: &ExportedRow| -> Result<String, LogError> {
                Ok(whole(&kept(table, key, row, keys)?).to_string())
            };
            connection
                .prepare_cached(
                    "INSERT INTO change_row (change_id, in_table, row_id, before, after) \
                 VALUES (?, ?, ?, ?, ?)",
                )?
                .execute(params![
                    id,
                    table.name,
                    key,
                    audit.before.as_ref().map(text).transpose()?,
                    text(&audit.after)?
                ])?;
        }
    }
    Ok(())
}

fn nth(ids: &[i64], place: usize) -> Option<i64> {
    ids.get(place.checked_sub(1)?).copied()
}

/// An exported row with keys of this log.
fn kept(table: &Table, id: i64, exported: &ExportedRow, keys: &Keys) -> Result<Kept, LogError> {
    let mut row = exported.row.clone();
    for (column, form) in table.columns {
        let Form::Key(to) = form else { continue };
        let place = row.get(*column).and_then(Value::as_u64).and_then(|n| usize::try_from(n).ok());
        let key = place.and_then(|place| nth(keys.get(*to)?, place)).ok_or_else(|| {
            LogError::Invalid(format!(
                "table {}: {column} points to a row that the export lacks",
                table.name
            ))
        })?;
        row.insert((*column).to_owned(), key.into());
    }
    Ok(Kept { id, gone: exported.gone, row })
}

fn free(connection: &Connection, label: &str) -> Result<(), LogError> {
    match standing(connection, label)? {
        None => Ok(()),
        Some(_) => Err(LogError::LabelTaken(label.to_owned())),
    }
}
