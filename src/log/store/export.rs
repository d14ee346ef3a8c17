//! The log as plain files, for other programs, other machines and later years.
//!
//! Each reed is written with every row it ever had and every change to it, under keys counted from
//! 1 within the reed, so that the same reed gives the same text whatever log it is in.

use std::collections::BTreeMap;
use std::io;
use std::path::Path;

use rusqlite::Connection;
use serde_json::Value;

use super::audio::file_name;
use super::change::from_whole;
use super::exported::PassedOver;
use super::exported::{self, Exported, ExportedAudit, ExportedChange, ExportedReed, ExportedRow};
use super::reeds::find;
use super::rows::{Form, Kept, REED, Table};
use super::sense::reed_types;
use super::{Log, settings};
use crate::files;
use crate::log::{LogError, Refused};

/// The file that [`Log::import`] reads: JSON, one line for the head, then one for each reed.
pub const LOG_LINES: &str = "log.jsonl";

/// The JSON Schema of each line of it, beside it.
pub const LOG_SCHEMA: &str = "log.schema.json";

/// The folder of recordings in an export.
pub const AUDIO: &str = "audio";

impl Log {
    /// The reeds of those labels, or all of them, as values.
    pub fn exported(&self, labels: &[String]) -> Result<Exported, LogError> {
        let view = self.connection.unchecked_transaction()?;
        let mut exported = Exported::of(Vec::new());
        if labels.is_empty() {
            exported.settings = settings::all(&view)?;
        }
        let read = |kept: &Kept| {
            let reed = exported_reed(&view, kept)?;
            // What cannot be read back is not an export.
            match reed_types(&reed) {
                Ok(()) => Ok(reed),
                Err(what) => Err(LogError::Row { reed: None, table: "reed", row: kept.id, what }),
            }
        };
        for label in labels {
            let reed = find(&view, label).and_then(|kept| read(&kept));
            exported.reeds.push(reed.map_err(|error| error.of_reed(label))?);
        }
        for (id, label) in if labels.is_empty() { REED.keys(&view)? } else { Vec::new() } {
            let reed = REED.get(&view, id).and_then(|kept| kept.as_ref().map(read).transpose());
            match reed {
                Ok(reed) => exported.reeds.extend(reed),
                Err(error) => exported.passed_over.push(PassedOver::new(label, error)?),
            }
        }
        Ok(exported)
    }

    /// Writes an export to a folder that is not there yet, with the recordings and what else
    /// `files` says (name and contents). The folder appears whole or not at all.
    ///
    /// Returns the recordings that are missing or damaged and so are not in it.
    pub fn export(
        &self,
        exported: &Exported,
        files: &[(&str, String)],
        to: &Path,
    ) -> Result<Vec<String>, LogError> {
        if to.exists() {
            return Err(Refused::FolderExists(to).into());
        }
        let failed = || LogError::file(to, "could not be written");
        let mut unfinished = tempfile::Builder::new()
            .prefix(files::UNFINISHED)
            .tempdir_in(files::folder_of(to))
            .map_err(failed())?;
        let audio = unfinished.path().join(AUDIO);
        std::fs::create_dir(&audio).map_err(failed())?;
        let mut missing = Vec::new();
        for hash in exported.recordings() {
            let from = self.audio_path(&hash);
            if !files::sha256(&from).is_ok_and(|found| found == hash) {
                missing.push(hash);
                continue;
            }
            let copy = audio.join(file_name(&hash, &from).map_err(failed())?);
            files::copy_synced(&from, &copy).map_err(failed())?;
        }
        files::sync_folder(&audio).map_err(failed())?;
        let lines = unfinished.path().join(LOG_LINES);
        let mut writing = files::Unfinished::begin(unfinished.path()).map_err(failed())?;
        exported.write(io::BufWriter::new(&mut writing)).map_err(failed())?;
        writing.becomes(&lines).map_err(failed())?;
        // Windows renames no folder in which a file is open.
        drop(writing);
        let write = |name: &str, contents: &str| {
            files::write_whole(&unfinished.path().join(name), contents.as_bytes()).map_err(failed())
        };
        write(LOG_SCHEMA, &format!("{:#}\n", exported::schema()))?;
        for (name, contents) in files {
            write(name, contents)?;
        }
        files::rename_synced(unfinished.path(), to).map_err(failed())?;
        unfinished.disable_cleanup(true);
        Ok(missing)
    }
}

/// Keys of rows in the log to places within the reed, by table.
type Places = BTreeMap<&'static str, BTreeMap<i64, usize>>;

pub(super) fn exported_reed(view: &Connection, reed: &Kept) -> Result<ExportedReed, LogError> {
    let mut places = Places::new();
    let mut tables = BTreeMap::new();
    for table in Table::ALL {
        let kept = match table.name {
            "reed" => vec![reed.clone()],
            _ => table.select(view, "reed_id = ?1", [reed.id])?,
        };
        let place = kept.iter().zip(1..).map(|(kept, place)| (kept.id, place)).collect();
        places.insert(table.name, place);
        let rows = kept.iter().map(|kept| row(table, kept, &places)).collect::<Result<_, _>>()?;
        tables.insert(table.name.to_owned(), rows);
    }
    let uid = reed.row.get("uid").and_then(Value::as_str).unwrap_or_default().to_owned();
    Ok(ExportedReed { uid, tables, changes: changes(view, reed.id, &places)? })
}

fn changes(view: &Connection, reed: i64, places: &Places) -> Result<Vec<ExportedChange>, LogError> {
    let mut statement = view.prepare(
        "SELECT id, at, program, what, undoes FROM change WHERE reed_id = ?1 ORDER BY id",
    )?;
    let mut found = statement.query([reed])?;
    let mut numbers: BTreeMap<i64, usize> = BTreeMap::new();
    let mut changes = Vec::new();
    while let Some(record) = found.next()? {
        let id: i64 = record.get(0)?;
        numbers.insert(id, changes.len() + 1);
        let undoes: Option<i64> = record.get(4)?;
        changes.push(ExportedChange {
            at: record.get(1)?,
            program: record.get(2)?,
            what: record.get(3)?,
            undoes: undoes.and_then(|undoes| numbers.get(&undoes).copied()),
            rows: audits(view, id, places)?,
        });
    }
    Ok(changes)
}

fn audits(view: &Connection, change: i64, places: &Places) -> Result<Vec<ExportedAudit>, LogError> {
    let mut statement = view.prepare_cached(
        "SELECT in_table, row_id, before, after FROM change_row WHERE change_id = ?1 ORDER BY id",
    )?;
    let mut found = statement.query([change])?;
    let mut audits = Vec::new();
    while let Some(record) = found.next()? {
        let (name, id): (String, i64) = (record.get(0)?, record.get(1)?);
        let lost = || LogError::Damaged(format!("change {change}: table {name}, row {id}"));
        let table = Table::named(&name).ok_or_else(lost)?;
        let whole = |text: String| row(table, &from_whole(id, &text).ok_or_else(lost)?, places);
        audits.push(ExportedAudit {
            key: places.get(table.name).and_then(|keys| keys.get(&id)).copied().ok_or_else(lost)?,
            before: record.get::<_, Option<String>>(2)?.map(whole).transpose()?,
            after: whole(record.get(3)?)?,
            table: name.clone(),
        });
    }
    Ok(audits)
}

/// A row whose keys are places within the reed.
fn row(table: &Table, kept: &Kept, places: &Places) -> Result<ExportedRow, LogError> {
    let mut row = kept.row.clone();
    for (column, form) in table.columns {
        let Form::Key(to) = form else { continue };
        let key = row.get(*column).and_then(Value::as_i64);
        let place = key.and_then(|key| places.get(to)?.get(&key));
        let place = place.ok_or_else(|| {
            LogError::Damaged(format!("table {}, row {}: {column}", table.name, kept.id))
        })?;
        row.insert((*column).to_owned(), (*place).into());
    }
    Ok(ExportedRow { gone: kept.gone, row })
}
