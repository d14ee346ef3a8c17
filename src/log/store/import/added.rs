//! A reed of an export added to the log: its rows under new keys, and every change to them.

use std::collections::BTreeMap;

use rusqlite::{Connection, params};
use serde_json::Value;

use super::label;
use crate::log::store::change::{Did, Writing, whole};
use crate::log::store::check::is_audited;
use crate::log::store::exported::{ExportedReed, ExportedRow};
use crate::log::store::reeds::{kept_again, standing};
use crate::log::store::rows::{Form, Kept, REED, Table};
use crate::log::{Damage, LogError, Refused};

/// Places within the reed to keys of rows in the log, by table.
type Keys = BTreeMap<String, Vec<i64>>;

/// Adds a reed that is not here, with all that was done to it. Returns the label it has here.
pub(super) fn add(writing: &Writing<'_>, reed: &ExportedReed) -> Result<String, LogError> {
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
