//! The log as plain files, for other programs, other machines and later years.
//!
//! Each reed is written with every row it ever had and every change to it, under keys counted from
//! 1 within the reed, so that the same reed gives the same text whatever log it is in. Reeds are read and
//! written one after the other: years of work are never held whole.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, BufRead, BufReader, BufWriter, Seek, Write};
use std::path::{Path, PathBuf};

use rusqlite::{Connection, Transaction};
use serde_json::Value;
use tempfile::TempDir;

use super::audio::file_name;
use super::change::from_whole;
use super::exported::PassedOver;
use super::exported::{
    self, ExportHead, ExportedAudit, ExportedChange, ExportedReed, ExportedRow, ExportedSetting,
};
use super::reeds::{find, history, kept_again};
use super::rows::{Form, Kept, REED, Table};
use super::sense::reed_types;
use super::{Log, settings};
use crate::files::{self, Unfinished};
use crate::log::{Damage, History, LogError, Refused, Tried};

/// The file that [`Log::import`] reads: JSON, one line for the head, then one for each reed.
pub const LOG_LINES: &str = "log.jsonl";

/// The JSON Schema of each line of it, beside it.
pub const LOG_SCHEMA: &str = "log.schema.json";

/// The folder of recordings in an export.
pub const AUDIO: &str = "audio";

/// An export that is being written. Its folder appears when it is finished, whole, or not at all.
#[derive(Debug)]
pub struct Export<'log> {
    log: &'log Log,
    /// The log as it was when the export was begun, whatever others write meanwhile.
    view: Transaction<'log>,
    to: PathBuf,
    unfinished: TempDir,
    /// Keys of the reeds in it, each once, in the order in which they were entered.
    reeds: Vec<i64>,
    /// The hashes of all recordings that those name.
    recordings: BTreeSet<String>,
    passed_over: Vec<PassedOver>,
}

/// What an export holds and what it lacks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exported {
    /// Recordings in it.
    pub recordings: usize,
    /// Hashes of recordings that are missing or damaged and so are not in it.
    pub missing: Vec<String>,
    /// Reeds of the log that cannot be read and so are not in it.
    pub passed_over: Vec<PassedOver>,
}

/// Lines of all reeds, in heaps on the disk, that files are made of.
#[derive(Debug)]
pub struct PutBy<const HEAPS: usize> {
    heaps: Vec<BufWriter<File>>,
    /// How many reeds were told of.
    pub reeds: usize,
}

impl Log {
    /// Begins an export of the reeds of those labels, or of all, to a folder that is not there yet:
    /// every row and change of each.
    ///
    /// Errors: no reed of a label; a named reed that cannot be read; the folder is there already, or
    /// cannot be written.
    pub fn export(&self, labels: &[String], to: &Path) -> Result<Export<'_>, LogError> {
        let view = self.connection.unchecked_transaction()?;
        let found = |label: &String| match find(&view, label) {
            Ok(kept) => Ok((kept.id, label.clone())),
            Err(error) => Err(error.of_reed(label)),
        };
        let named: Vec<(i64, String)> = labels.iter().map(found).collect::<Result<_, _>>()?;
        if to.symlink_metadata().is_ok() {
            return Err(Refused::FolderExists(to).into());
        }
        let unfinished = tempfile::Builder::new()
            .prefix(files::UNFINISHED)
            .tempdir_in(files::folder_of(to))
            .map_err(LogError::file(to, Tried::Written))?;
        let mut export = Export {
            log: self,
            view,
            to: to.to_owned(),
            unfinished,
            reeds: Vec::new(),
            recordings: BTreeSet::new(),
            passed_over: Vec::new(),
        };
        match labels {
            [] => export.write_all_reeds()?,
            _ => export.write_reeds(&named, Vec::new(), |_, error| Err(error))?,
        }
        export.reeds.sort_unstable();
        export.reeds.dedup();
        Ok(export)
    }

    /// Everything of one reed as it is exported.
    pub fn exported(&self, label: &str) -> Result<ExportedReed, LogError> {
        let view = self.connection.unchecked_transaction()?;
        find(&view, label)
            .and_then(|kept| readable_reed(&view, &kept))
            .map_err(|error| error.of_reed(label))
    }
}

/// What cannot be read back is not an export.
fn readable_reed(view: &Connection, kept: &Kept) -> Result<ExportedReed, LogError> {
    let reed = exported_reed(view, kept)?;
    match reed_types(&reed) {
        Ok(()) => Ok(reed),
        Err(what) => Err(LogError::Row { reed: None, table: "reed", row: kept.id, what }),
    }
}

impl Export<'_> {
    /// All that can be read, gone or not, with what is said once of the whole log.
    fn write_all_reeds(&mut self) -> Result<(), LogError> {
        let settings = settings::all(&self.view)?;
        let mut keys = REED.keys(&self.view)?;
        let mut unread = Vec::new();
        let mut passed_over = Vec::new();
        self.write_reeds(&keys, settings.clone(), |(id, label), error| {
            unread.push(*id);
            passed_over.push(PassedOver::new(label.clone(), error)?);
            Ok(())
        })?;
        if !unread.is_empty() {
            // The head, which stands before them, says how many there are.
            keys.retain(|(id, _)| !unread.contains(id));
            self.write_reeds(&keys, settings, |_, error| Err(error))?;
        }
        self.passed_over = passed_over;
        Ok(())
    }

    /// Writes the lines, in place of what stands there.
    ///
    /// * `keys`: each with its label.
    /// * `unread`: what becomes of an error of the reed of that key.
    fn write_reeds(
        &mut self,
        keys: &[(i64, String)],
        settings: Vec<ExportedSetting>,
        mut unread: impl FnMut(&(i64, String), LogError) -> Result<(), LogError>,
    ) -> Result<(), LogError> {
        let failed = || LogError::file(&self.to, Tried::Written);
        let mut lines = self.begin()?;
        let head = ExportHead { settings, ..ExportHead::of(keys.len()) };
        exported::write_line(&mut lines, &head).map_err(failed())?;
        self.reeds.clear();
        for key in keys {
            let reed = kept_again(&self.view, key.0)
                .and_then(|kept| readable_reed(&self.view, &kept))
                .map_err(|error| error.of_reed(&key.1));
            match reed {
                Ok(reed) => {
                    exported::write_line(&mut lines, &reed).map_err(failed())?;
                    self.recordings.extend(reed.recordings().map(str::to_owned));
                    self.reeds.push(key.0);
                }
                Err(error) => unread(key, error)?,
            }
        }
        self.end(lines, LOG_LINES)
    }

    /// A file in the folder, which has not its name yet.
    fn begin(&self) -> Result<BufWriter<Unfinished>, LogError> {
        let file = Unfinished::begin(self.unfinished.path());
        Ok(BufWriter::new(file.map_err(LogError::file(&self.to, Tried::Written))?))
    }

    fn end(&self, file: BufWriter<Unfinished>, name: &str) -> Result<(), LogError> {
        file.into_inner()
            .map_err(io::IntoInnerError::into_error)
            .and_then(|mut file| file.becomes(&self.unfinished.path().join(name)))
            .map_err(LogError::file(&self.to, Tried::Written))
    }

    /// What is told of each reed that is not gone, one after the other in the order in which they were
    /// entered, put by on the disk.
    ///
    /// * `of`: of one reed any number of lines for each of the heaps; a line ends in its only `\n`.
    pub fn put_by<const HEAPS: usize>(
        &self,
        mut of: impl FnMut(&History) -> [String; HEAPS],
    ) -> Result<PutBy<HEAPS>, LogError> {
        let failed = || LogError::file(&self.to, Tried::Written);
        let mut heaps = Vec::new();
        for _ in 0..HEAPS {
            let file = tempfile::tempfile_in(self.unfinished.path()).map_err(failed())?;
            heaps.push(BufWriter::new(file));
        }
        let mut put_by = PutBy { heaps, reeds: 0 };
        for id in &self.reeds {
            let kept = kept_again(&self.view, *id)?;
            if kept.gone {
                continue;
            }
            put_by.reeds += 1;
            for (heap, lines) in put_by.heaps.iter_mut().zip(of(&history(&self.view, &kept)?)) {
                heap.write_all(lines.as_bytes()).map_err(failed())?;
            }
        }
        Ok(put_by)
    }

    /// Writes a file for each heap beside the lines of the log.
    ///
    /// * `begun`: name and first contents of each file.
    /// * `of`: what the file of that place gets of one line that was put by.
    pub fn add_files<const HEAPS: usize>(
        &self,
        put_by: PutBy<HEAPS>,
        begun: [(&str, String); HEAPS],
        of: impl Fn(usize, &str) -> io::Result<String>,
    ) -> Result<(), LogError> {
        for (place, (heap, (name, contents))) in put_by.heaps.into_iter().zip(begun).enumerate() {
            let mut file = self.begin()?;
            let write = || {
                file.write_all(contents.as_bytes())?;
                let mut heap = heap.into_inner().map_err(io::IntoInnerError::into_error)?;
                heap.rewind()?;
                for line in BufReader::new(heap).lines() {
                    file.write_all(of(place, &line?)?.as_bytes())?;
                }
                Ok(())
            };
            write().map_err(LogError::file(&self.to, Tried::Written))?;
            self.end(file, name)?;
        }
        Ok(())
    }

    /// Adds the recordings and the schema, and gives the folder its name.
    pub fn finish(mut self) -> Result<Exported, LogError> {
        let failed = || LogError::file(&self.to, Tried::Written);
        let audio = self.unfinished.path().join(AUDIO);
        std::fs::create_dir(&audio).map_err(failed())?;
        let mut exported = Exported {
            recordings: 0,
            missing: Vec::new(),
            passed_over: std::mem::take(&mut self.passed_over),
        };
        for hash in &self.recordings {
            let from = self.log.audio_path(hash);
            if !files::sha256(&from).is_ok_and(|found| found == *hash) {
                exported.missing.push(hash.clone());
                continue;
            }
            let copy = audio.join(file_name(hash, &from).map_err(failed())?);
            files::copy_synced(&from, &copy).map_err(failed())?;
            exported.recordings += 1;
        }
        files::sync_folder(&audio).map_err(failed())?;
        let schema = format!("{:#}\n", exported::schema());
        files::write_whole(&self.unfinished.path().join(LOG_SCHEMA), schema.as_bytes())
            .map_err(failed())?;
        files::rename_synced(self.unfinished.path(), &self.to).map_err(failed())?;
        self.unfinished.disable_cleanup(true);
        Ok(exported)
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
        let lost = || LogError::Damaged(Damage::Change { change, table: name.clone(), row: id });
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
            LogError::Damaged(Damage::Pointer { table: table.name, row: kept.id, column })
        })?;
        row.insert((*column).to_owned(), (*place).into());
    }
    Ok(ExportedRow { gone: kept.gone, row })
}
