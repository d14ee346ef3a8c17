//! An export read back: the same reeds, rows and changes, so that even undo goes on.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{BufRead, BufReader, ErrorKind, Read, Split};
use std::path::{Path, PathBuf};

use rusqlite::{Connection, params};
use serde_json::Value;

use super::audio::recording_in;
use super::change::{Did, Writing, whole};
use super::check::is_audited;
use super::export::{AUDIO, LOG_LINES};
use super::exported::{ExportHead, ExportedReed, ExportedRow, ExportedSetting, FORMAT};
use super::merge::{Kin, kin, merge};
use super::reeds::{kept_again, standing};
use super::rows::{Form, Kept, REED, Table};
use super::schema::VERSION;
use super::sense::reed_values;
use super::ways::WORTH_KEEPING;
use super::{Log, export, settings};
use crate::files;
use crate::log::{Damage, LogError, NoExport, Refused, Tried};

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

/// The reeds of an export, one after the other: years of work are never held whole.
struct ExportedReeds {
    path: PathBuf,
    settings: Vec<ExportedSetting>,
    left: Left,
}

enum Left {
    /// `read` of `named` reeds were read so far, a line each.
    Lines {
        lines: Split<BufReader<File>>,
        read: usize,
        named: usize,
        line: usize,
    },
    /// Of an export that earlier versions wrote, all of it one value.
    Whole(std::vec::IntoIter<ExportedReed>),
    Nothing,
}

impl ExportedReeds {
    /// Errors: no export, or a newer one.
    fn of(folder: &Path) -> Result<Self, LogError> {
        let path = folder.join(LOG_LINES);
        match files::open(&path) {
            Ok(file) => Self::of_lines(file, path),
            Err(error) if error.kind() == ErrorKind::NotFound => Self::of_earlier(folder),
            Err(error) => Err(LogError::file(&path, Tried::Read)(error)),
        }
    }

    fn of_lines(file: File, path: PathBuf) -> Result<Self, LogError> {
        let mut lines = BufReader::new(file).split(b'\n');
        let first = lines.next().ok_or_else(|| no_export(&path, NoExport::Empty))?;
        let first = first.map_err(LogError::file(&path, Tried::Read))?;
        let first: Value = serde_json::from_slice(&first).map_err(|_| damaged(&path, 1))?;
        is_known(&first, &path)?;
        let head: ExportHead = serde_json::from_value(first).map_err(|_| damaged(&path, 1))?;
        let left = Left::Lines { lines, read: 0, named: head.reeds, line: 1 };
        Ok(Self { path, settings: head.settings, left })
    }

    fn of_earlier(folder: &Path) -> Result<Self, LogError> {
        let path = folder.join(EARLIER);
        let read = || {
            let mut text = Vec::new();
            files::open(&path)?.read_to_end(&mut text)?;
            Ok(text)
        };
        let text = read().map_err(|error: std::io::Error| match error.kind() {
            ErrorKind::NotFound => no_export(&folder.join(LOG_LINES), NoExport::NotThere),
            _ => LogError::file(&path, Tried::Read)(error),
        })?;
        let wrong = |error: serde_json::Error| damaged(&path, error.line());
        let whole: Value = serde_json::from_slice(&text).map_err(wrong)?;
        is_known(&whole, &path)?;
        let whole: Earlier = serde_json::from_slice(&text).map_err(wrong)?;
        let left = Left::Whole(whole.reeds.into_iter());
        Ok(Self { path, settings: whole.settings, left })
    }

    /// The reed of the next line that holds one.
    fn next_line(&mut self) -> Result<Option<ExportedReed>, LogError> {
        let Left::Lines { lines, read, named, line } = &mut self.left else { return Ok(None) };
        for text in lines {
            *line += 1;
            let text = text.map_err(LogError::file(&self.path, Tried::Read))?;
            if !text.trim_ascii().is_empty() {
                *read += 1;
                let reed = serde_json::from_slice(&text);
                return reed.map(Some).map_err(|_| damaged(&self.path, *line));
            }
        }
        if read != named {
            let lacks = NoExport::Lacks { read: *read, named: *named };
            return Err(no_export(&self.path, lacks));
        }
        Ok(None)
    }
}

impl Iterator for ExportedReeds {
    type Item = Result<ExportedReed, LogError>;

    fn next(&mut self) -> Option<Self::Item> {
        let next = match &mut self.left {
            Left::Lines { .. } => self.next_line(),
            Left::Whole(reeds) => Ok(reeds.next()),
            Left::Nothing => Ok(None),
        };
        // After a fault, or the end, nothing more is read.
        if !matches!(next, Ok(Some(_))) {
            self.left = Left::Nothing;
        }
        next.transpose()
    }
}

/// The file of exports that earlier versions wrote, all of it one value.
const EARLIER: &str = "log.json";

/// What it holds beside its head.
#[derive(serde::Deserialize)]
struct Earlier {
    #[serde(default)]
    settings: Vec<ExportedSetting>,
    reeds: Vec<ExportedReed>,
}

fn damaged(path: &Path, line: usize) -> LogError {
    no_export(path, NoExport::DamagedLine(line))
}

/// Whether a head is that of an export this program knows.
fn is_known(head: &Value, path: &Path) -> Result<(), LogError> {
    if head.get("format").and_then(Value::as_str) != Some(FORMAT) {
        return Err(no_export(path, NoExport::NoMark));
    }
    match head.get("form").and_then(Value::as_i64) {
        Some(found) if found > VERSION => {
            Err(LogError::Newer { path: path.to_owned(), found, known: VERSION })
        }
        _ => Ok(()),
    }
}

fn no_export(path: &Path, why: NoExport) -> LogError {
    Refused::NotAnExport { path, why }.into()
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

/// Places within the reed to keys of rows in the log, by table.
type Keys = BTreeMap<String, Vec<i64>>;

/// Returns the label it has here.
fn add(writing: &Writing<'_>, reed: &ExportedReed) -> Result<String, LogError> {
    let gone = reed.tables.get("reed").into_iter().flatten().all(|exported| exported.gone);
    let named = match gone {
        true => label(reed).to_owned(),
        false => free(writing.connection(), label(reed))?,
    };
    let connection = writing.connection();
    let mut keys = Keys::new();
    for table in Table::ALL {
        for (place, exported) in reed.tables.get(table.name).into_iter().flatten().enumerate() {
            let mut kept = kept(table, 0, exported, &keys)?;
            if table.name == "reed" && !gone {
                // No two stand under one label, not even for a moment.
                kept.row.insert("label".into(), named.clone().into());
            }
            let id = table.insert(connection, None, kept.gone, &kept.row)?;
            let known = keys.entry(table.name.to_owned()).or_default();
            debug_assert_eq!(known.len(), place, "rows are added in their order");
            known.push(id);
        }
    }
    let Some(id) = keys.get("reed").and_then(|ids| ids.first()).copied() else {
        return Err(Refused::BrokenChange(label(reed)).into());
    };
    add_changes(connection, reed, id, &keys)?;
    if named != label(reed) && !gone {
        let now = kept_again(connection, id)?;
        writing.change(Some(id), &Did::Renamed(label(reed)), None)?.update(&REED, &now)?;
    }
    settle(writing, reed, id, &keys)?;
    Ok(named)
}

/// Rows of an export that contradict its own record of changes stand as they are, and the record says
/// since when: else undo would bring back what never was.
fn settle(
    writing: &Writing<'_>,
    reed: &ExportedReed,
    id: i64,
    keys: &Keys,
) -> Result<(), LogError> {
    let audits = reed.changes.iter().flat_map(|change| &change.rows);
    let last: BTreeMap<(&str, usize), &ExportedRow> =
        audits.map(|audit| ((audit.table.as_str(), audit.key), &audit.after)).collect();
    let mut change = None;
    for table in Table::ALL {
        for (place, exported) in reed.tables.get(table.name).into_iter().flatten().enumerate() {
            if last.get(&(table.name, place + 1)) == Some(&exported) {
                continue;
            }
            let key = keys.get(table.name).and_then(|ids| nth(ids, place + 1));
            let Some(now) =
                key.map(|key| kept_row(writing.connection(), table, key)).transpose()?
            else {
                continue;
            };
            if is_audited(writing.connection(), table, &now)? {
                continue;
            }
            if change.is_none() {
                change = Some(writing.change(Some(id), &Did::AsExported, None)?);
            }
            if let Some(change) = &change {
                change.update(table, &now)?;
            }
        }
    }
    Ok(())
}

fn kept_row(connection: &Connection, table: &Table, id: i64) -> Result<Kept, LogError> {
    table
        .get(connection, id)?
        .ok_or_else(|| LogError::Damaged(Damage::NoRow { table: table.name, row: id }))
}

fn add_changes(
    connection: &Connection,
    reed: &ExportedReed,
    reed_id: i64,
    keys: &Keys,
) -> Result<(), LogError> {
    let broken = || LogError::from(Refused::BrokenChange(label(reed)));
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
        let key = place
            .and_then(|place| nth(keys.get(*to)?, place))
            .ok_or_else(|| LogError::from(Refused::BrokenPointer { table: table.name, column }))?;
        row.insert((*column).to_owned(), key.into());
    }
    Ok(Kept { id, gone: exported.gone, row })
}

/// The label, or the first with a number behind it that no reed has.
fn free(connection: &Connection, label: &str) -> Result<String, LogError> {
    let mut named = label.to_owned();
    for number in 2.. {
        if standing(connection, &named)?.is_none() {
            break;
        }
        let room: String = label.chars().take(54).collect();
        named = format!("{room} ({number})");
    }
    Ok(named)
}
