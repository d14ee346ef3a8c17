//! Is the log whole: its tables, its audit, its recordings.

use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OptionalExtension};

use super::Log;
use super::audio::{Audio, hash_in_name};
use super::change::from_whole;
use super::migrate::begins_as_database;
use super::rows::{Kept, READING, REED, TAKE, Table};
use super::sense::{from_row, types};
use crate::files::{self, UNFINISHED, folder_of};
use crate::log::history::{LoggedReading, LoggedTake};
use crate::log::{LogError, Senseless, Tried};

/// What was looked at, and what is wrong.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct CheckUp {
    /// Reeds looked at.
    pub reeds: usize,
    /// Recordings whose hash was compared.
    pub recordings: usize,
    /// What is wrong, in the order in which it was found.
    pub faults: Vec<Fault>,
    /// What is not wrong but in the way: files that no take names.
    pub leftovers: Vec<Fault>,
}

impl CheckUp {
    /// Of a log that cannot be looked through.
    pub fn damaged(what: &str) -> Self {
        Self { faults: vec![Found::Database(what.to_owned()).into()], ..Self::default() }
    }
}

/// What may be wrong, before it is worded.
#[derive(Debug)]
pub(crate) enum Found {
    /// The database itself, in its own words.
    Database(String),
    /// A row of this table points to one that is not there.
    Dangling(String),
    /// A row that cannot be read.
    Unreadable { row: RowOf, what: Senseless },
    /// A row that something else changed.
    Altered(RowOf),
    /// A take whose recording is not as it was.
    Recording { whose: String, is_undone: bool, path: PathBuf, why: Lost },
    /// A take without a reading.
    NoReading { whose: String },
    /// A file that was being written when its program was ended.
    HalfWritten(PathBuf),
    /// A recording that no take names; another log that may have kept it here.
    Unnamed { path: PathBuf, other: Option<PathBuf> },
    /// A recording that is on no card.
    OnNoCard(PathBuf),
}

/// A row, by its reed's label, its table and its key.
#[derive(Debug)]
pub(crate) struct RowOf {
    pub label: String,
    pub table: &'static str,
    pub id: i64,
}

/// What became of a recording.
#[derive(Debug)]
pub(crate) enum Lost {
    Changed,
    Missing,
    Unreadable(io::Error),
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Fault {
    /// What.
    pub what: String,
    /// How to mend it.
    pub mend: String,
}

impl Log {
    /// Reads everything and changes nothing.
    pub fn check(&self) -> Result<CheckUp, LogError> {
        let view = self.connection.unchecked_transaction()?;
        let mut check_up = CheckUp { faults: tables(&view)?, ..CheckUp::default() };
        for table in Table::ALL {
            for (id, label) in table.keys(&view)? {
                check_up.faults.extend(row(&view, table, id, &label)?);
            }
        }
        check_up.reeds = REED.keys(&view)?.len();
        let mut named = BTreeSet::new();
        for (id, label) in TAKE.keys(&view)? {
            // What cannot be read is told already.
            let Ok(Some(kept)) = TAKE.get(&view, id) else { continue };
            let Ok(take) = from_row::<LoggedTake>(&TAKE, &kept) else { continue };
            let whose = format!("{label}, take {}", take.number);
            if named.insert(take.sha256.clone()) {
                check_up.recordings += 1;
                check_up.faults.extend(self.recording(&take, &whose, kept.gone));
            }
            if !kept.gone {
                check_up.faults.extend(reading(&view, &kept, &whose)?);
            }
        }
        check_up.leftovers = self.leftovers(&named)?;
        Ok(check_up)
    }

    /// Labels of the reeds with a take that is there and has no reading that is understood.
    pub fn unread(&self) -> Result<BTreeSet<String>, LogError> {
        let view = self.connection.unchecked_transaction()?;
        let mut unread = BTreeSet::new();
        for (id, label) in TAKE.keys(&view)? {
            let Ok(Some(kept)) = TAKE.get(&view, id) else { continue };
            if !kept.gone && reading(&view, &kept, "")?.is_some() {
                unread.insert(label);
            }
        }
        Ok(unread)
    }

    fn recording(&self, take: &LoggedTake, whose: &str, gone: bool) -> Option<Fault> {
        let path = self.audio_path(&take.sha256);
        let why = match files::sha256(&path) {
            Ok(found) if found == take.sha256 => return None,
            Ok(_) => Lost::Changed,
            Err(error) if error.kind() == io::ErrorKind::NotFound => Lost::Missing,
            Err(error) => Lost::Unreadable(error),
        };
        Some(Found::Recording { whose: whose.to_owned(), is_undone: gone, path, why }.into())
    }

    fn leftovers(&self, named: &BTreeSet<String>) -> Result<Vec<Fault>, LogError> {
        let mut found = Vec::new();
        let shares =
            |other: &Audio| other.is_shared_with(&self.audio) || other.was_shared_with(&self.audio);
        let other = log_beside(&self.path, shares);
        for path in files(self.audio.folder())? {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            if name.starts_with(UNFINISHED) {
                found.push(Found::HalfWritten(path).into());
            } else if !hash_in_name(&name).is_some_and(|hash| named.contains(hash)) {
                found.push(Found::Unnamed { path, other: other.clone() }.into());
            }
        }
        let recorded = files(&self.recording_folder())?.into_iter();
        found.extend(recorded.map(|path| Found::OnNoCard(path).into()));
        Ok(found)
    }
}

/// Another log beside the one at `path`, of whose recordings `shares` holds.
pub(super) fn log_beside(path: &Path, shares: impl Fn(&Audio) -> bool) -> Option<PathBuf> {
    let is_it = |other: &PathBuf| {
        other.file_name() != path.file_name()
            && shares(&Audio::beside(other))
            && begins_as_database(other)
    };
    files(folder_of(path)).ok()?.into_iter().find(is_it)
}

fn tables(view: &Connection) -> Result<Vec<Fault>, LogError> {
    let mut found = Vec::new();
    let mut statement = view.prepare("PRAGMA integrity_check(20)")?;
    for line in statement.query_map([], |row| row.get::<_, String>(0))? {
        let line = line?;
        if line != "ok" {
            found.push(Found::Database(line).into());
        }
    }
    let mut statement = view.prepare("PRAGMA foreign_key_check")?;
    for table in statement.query_map([], |row| row.get::<_, String>(0))? {
        found.push(Found::Dangling(table?).into());
    }
    Ok(found)
}

/// Whether a row can be read, and holds what the last change to it wrote.
fn row(
    view: &Connection,
    table: &'static Table,
    id: i64,
    label: &str,
) -> Result<Option<Fault>, LogError> {
    let row = RowOf { label: label.to_owned(), table: table.name, id };
    match table.get(view, id) {
        Ok(Some(kept)) => match types(table, &kept.row) {
            Ok(()) => audit(view, table, &kept, label),
            Err(what) => Ok(Some(Found::Unreadable { row, what }.into())),
        },
        Ok(None) => Ok(None),
        Err(LogError::Row { what, .. }) => Ok(Some(Found::Unreadable { row, what }.into())),
        Err(other) => Err(other),
    }
}

/// Whether the row holds what the last change to it wrote.
fn audit(
    view: &Connection,
    table: &'static Table,
    kept: &Kept,
    label: &str,
) -> Result<Option<Fault>, LogError> {
    if is_audited(view, table, kept)? {
        return Ok(None);
    }
    let row = RowOf { label: label.to_owned(), table: table.name, id: kept.id };
    Ok(Some(Found::Altered(row).into()))
}

/// Whether a row holds what the last change to it wrote.
pub(super) fn is_audited(view: &Connection, table: &Table, kept: &Kept) -> Result<bool, LogError> {
    let after: Option<String> = view
        .prepare_cached(
            "SELECT after FROM change_row WHERE in_table = ?1 AND row_id = ?2 \
             ORDER BY id DESC LIMIT 1",
        )?
        .query_row((table.name, kept.id), |row| row.get(0))
        .optional()?;
    let written = after.as_deref().and_then(|after| from_whole(kept.id, after));
    Ok(written.is_some_and(|written| kept.holds(&written)))
}

fn reading(view: &Connection, take: &Kept, whose: &str) -> Result<Option<Fault>, LogError> {
    let latest = "id = (SELECT max(id) FROM reading WHERE take_id = ?1 AND gone = 0)";
    let readings = READING.select(view, latest, [take.id]);
    let latest = readings
        .as_ref()
        .ok()
        .and_then(|readings| readings.last())
        .map(|kept| from_row::<LoggedReading>(&READING, kept));
    Ok(match latest {
        Some(Ok(_)) => None,
        None | Some(Err(_)) => Some(Found::NoReading { whose: whose.to_owned() }.into()),
    })
}

/// Every file in a folder, in order of their names; none where there is no folder.
pub(super) fn files(folder: &Path) -> Result<Vec<PathBuf>, LogError> {
    if !folder.exists() {
        return Ok(Vec::new());
    }
    let unreadable = || LogError::file(folder, Tried::Listed);
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).map_err(unreadable())? {
        files.push(entry.map_err(unreadable())?.path());
    }
    files.retain(|path| path.is_file());
    files.sort();
    Ok(files)
}
