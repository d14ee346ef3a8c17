//! An export read back: the same reeds, rows and changes, so that even undo goes on.

mod added;
mod read_back;

use std::collections::BTreeSet;
use std::path::Path;

use rusqlite::Connection;
use serde_json::Value;

use super::audio::recording_in;
use super::change::{Did, Writing};
use super::export::{AUDIO, LOG_LINES};
use super::exported::{ExportedReed, ExportedSetting};
use super::merge::{Kin, kin, merge};
use super::rows::REED;
use super::sense::reed_values;
use super::ways::WORTH_KEEPING;
use super::{Log, export, settings};
use crate::files;
use crate::log::{LogError, Refused, Tried};
use added::add;
use read_back::ExportedReeds;

/// What an import did.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Imported {
    /// Labels of the reeds that were added.
    pub added: Vec<String>,
    /// Those whose label another reed has here, with the label they were given instead.
    pub renamed: Vec<(String, String)>,
    /// Labels of those that were here already, and to which work was added.
    pub merged: Vec<String>,
    /// Labels of those that were here already with all that was done to them.
    pub known: Vec<String>,
    /// Hashes of recordings that the export lacks or holds damaged.
    pub missing: Vec<String>,
}

impl Log {
    /// Adds the reeds of an export. All are added, or none. Work on a reed that is here already is
    /// added to it; one whose label another reed has here gets a number behind it.
    ///
    /// Errors: no export, or a newer one; a field that holds what cannot be there.
    pub fn import(&mut self, folder: &Path) -> Result<Imported, LogError> {
        let checked = checked(folder)?;
        let mut imported = Imported::default();
        for hash in checked.recordings {
            let path = recording_in(&folder.join(AUDIO), &hash);
            if files::sha256(&path).is_ok_and(|found| found == hash) {
                let file = files::open(&path).map_err(LogError::file(&path, Tried::Read))?;
                self.audio.keep(file)?;
            } else {
                imported.missing.push(hash);
            }
        }
        let writing = self.write()?;
        // A log that has reeds has its own sender; a new one carries on for the one exported.
        if REED.keys(writing.connection())?.is_empty() {
            settings::keep(writing.connection(), &checked.settings)?;
        }
        for reed in ExportedReeds::of(folder)? {
            add_or_merge(&writing, reed?, &mut imported)?;
        }
        if !imported.added.is_empty() {
            writing.change(None, &Did::Imported(&imported.added), None)?;
        }
        writing.commit()?;
        if imported.added.len() >= WORTH_KEEPING as usize {
            // So that the first question does not wait for it; it is not part of what was asked.
            let _ = self.facts(|_| true);
        }
        Ok(imported)
    }
}

/// What is asked of an export before anything is written: every reed of it makes sense.
///
/// Errors: no export, or a newer one; a field that holds what cannot be there.
pub fn check_export(folder: &Path) -> Result<(), LogError> {
    checked(folder).map(|_| ())
}

/// What an export whose reeds all make sense holds beside them.
struct Checked {
    settings: Vec<ExportedSetting>,
    /// The hashes of all recordings it names, each once.
    recordings: BTreeSet<String>,
}

fn checked(folder: &Path) -> Result<Checked, LogError> {
    let mut reeds = ExportedReeds::of(folder)?;
    let mut recordings = BTreeSet::new();
    for reed in &mut reeds {
        let reed = reed?;
        reed_values(&reed).map_err(|what| {
            let label = label(&reed);
            LogError::from(Refused::SenselessExport { folder, label, what, lines: LOG_LINES })
        })?;
        recordings.extend(reed.recordings().map(str::to_owned));
    }
    Ok(Checked { settings: reeds.settings, recordings })
}

fn add_or_merge(
    writing: &Writing<'_>,
    reed: ExportedReed,
    imported: &mut Imported,
) -> Result<(), LogError> {
    let label = label(&reed).to_owned();
    match here(writing.connection(), &reed)? {
        Here::Absent => {
            let named = add(writing, &reed)?;
            if named != label {
                imported.renamed.push((label, named.clone()));
            }
            imported.added.push(named);
        }
        Here::Is(id, found) => {
            let there = reed.without_nulls();
            match kin(&found, &there) {
                Kin::Same | Kin::HereIsLater => imported.known.push(label),
                Kin::ThereIsLater | Kin::Parted => {
                    merge(writing, id, &found, &there)?;
                    imported.merged.push(label);
                }
            }
        }
    }
    Ok(())
}

enum Here {
    Absent,
    /// Under that key, and as it would be exported.
    Is(i64, Box<ExportedReed>),
}

fn here(connection: &Connection, reed: &ExportedReed) -> Result<Here, LogError> {
    let Some(kept) = REED.select(connection, "uid = ?1", [&reed.uid])?.into_iter().next() else {
        return Ok(Here::Absent);
    };
    let found = export::exported_reed(connection, &kept)?.without_nulls();
    Ok(Here::Is(kept.id, Box::new(found)))
}

fn label(reed: &ExportedReed) -> &str {
    let row = reed.tables.get("reed").and_then(|rows| rows.first());
    row.and_then(|row| row.row.get("label")).and_then(Value::as_str).unwrap_or("?")
}
