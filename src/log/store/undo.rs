//! Taking changes back, and making them again. Both are changes themselves, with their own audit.

use rusqlite::{Connection, OptionalExtension};

use super::Log;
use super::change::{Did, Writing, from_whole};
use super::reeds::find;
use super::rows::{Kept, Table};
use crate::log::LogError;

/// What was taken back or made again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Undone {
    /// The change, as it was described when it was made.
    pub what: String,
    /// When it was made (UTC, ISO 8601).
    pub at: String,
}

// Of the changes to a reed, those that stand: neither an undo nor a redo, and not undone, or undone
// and made again.
const LAST_STANDING: &str = "
SELECT id, what, at FROM change AS done
WHERE reed_id = ?1 AND undoes IS NULL
  AND NOT EXISTS (
    SELECT 1 FROM change AS undo WHERE undo.undoes = done.id
      AND NOT EXISTS (SELECT 1 FROM change AS redo WHERE redo.undoes = undo.id))
ORDER BY id DESC LIMIT 1";

// The last undo that was not made good since, if nothing else was done to the reed after it.
const LAST_UNDO: &str = "
SELECT undo.id, done.what, done.at FROM change AS undo
JOIN change AS done ON done.id = undo.undoes AND done.undoes IS NULL
WHERE undo.reed_id = ?1
  AND NOT EXISTS (SELECT 1 FROM change AS redo WHERE redo.undoes = undo.id)
  AND NOT EXISTS (
    SELECT 1 FROM change AS later
    WHERE later.reed_id = ?1 AND later.id > undo.id AND later.undoes IS NULL)
ORDER BY undo.id DESC LIMIT 1";

impl Log {
    /// What [`Log::undo`] would take back; `None` where nothing is left.
    pub fn would_undo(&self, label: &str) -> Result<Option<Undone>, LogError> {
        let reed = find(&self.connection, label)?.id;
        Ok(one(&self.connection, LAST_STANDING, reed)?.map(|(_, undone)| undone))
    }

    /// What [`Log::redo`] would make again; `None` where there is nothing.
    pub fn would_redo(&self, label: &str) -> Result<Option<Undone>, LogError> {
        let reed = find(&self.connection, label)?.id;
        Ok(one(&self.connection, LAST_UNDO, reed)?.map(|(_, undone)| undone))
    }

    /// Takes back the last change to a reed: every row it touched is again what it was.
    pub fn undo(&mut self, label: &str) -> Result<Undone, LogError> {
        let writing = self.write()?;
        let reed = find(writing.connection(), label)?.id;
        let (id, undone) = one(writing.connection(), LAST_STANDING, reed)?
            .ok_or_else(|| LogError::NothingToUndo(label.to_owned()))?;
        invert(&writing, reed, id, &Did::Undid(&undone.what), label)?;
        writing.commit()?;
        Ok(undone)
    }

    /// Makes again what the last undo took back, if nothing was done to the reed since.
    pub fn redo(&mut self, label: &str) -> Result<Undone, LogError> {
        let writing = self.write()?;
        // A reed whose entering was undone is not found by its label among those that stand.
        let reed = match find(writing.connection(), label) {
            Ok(kept) => kept.id,
            Err(LogError::NoReed(_)) => gone(writing.connection(), label)?,
            Err(error) => return Err(error),
        };
        let (id, redone) = one(writing.connection(), LAST_UNDO, reed)?
            .ok_or_else(|| LogError::NothingToRedo(label.to_owned()))?;
        invert(&writing, reed, id, &Did::Redid(&redone.what), label)?;
        writing.commit()?;
        Ok(redone)
    }
}

fn one(connection: &Connection, sql: &str, reed: i64) -> Result<Option<(i64, Undone)>, LogError> {
    Ok(connection
        .query_row(sql, [reed], |row| {
            Ok((row.get(0)?, Undone { what: row.get(1)?, at: row.get(2)? }))
        })
        .optional()?)
}

fn gone(connection: &Connection, label: &str) -> Result<i64, LogError> {
    connection
        .query_row(
            "SELECT id FROM reed WHERE label = ?1 COLLATE NOCASE ORDER BY id DESC LIMIT 1",
            [label],
            |row| row.get(0),
        )
        .optional()?
        .ok_or_else(|| LogError::NoReed(label.to_owned()))
}

/// Puts every row that change `id` touched back to what it was before it, last one first.
fn invert(
    writing: &Writing<'_>,
    reed: i64,
    id: i64,
    did: &Did<'_>,
    label: &str,
) -> Result<(), LogError> {
    let not_as_written = || LogError::NotAsWritten(label.to_owned());
    let mut statement = writing.connection().prepare(
        "SELECT in_table, row_id, before, after FROM change_row WHERE change_id = ?1 \
         ORDER BY id DESC",
    )?;
    let mut rows = statement.query([id])?;
    let change = writing.change(Some(reed), did, Some(id))?;
    while let Some(row) = rows.next()? {
        let (table, key): (String, i64) = (row.get(0)?, row.get(1)?);
        let (before, after): (Option<String>, String) = (row.get(2)?, row.get(3)?);
        let table = Table::named(&table).ok_or_else(not_as_written)?;
        let after = from_whole(key, &after).ok_or_else(not_as_written)?;
        let found = table.get(writing.connection(), key)?.ok_or_else(not_as_written)?;
        if !found.holds(&after) {
            return Err(not_as_written());
        }
        let earlier = match before {
            Some(before) => from_whole(key, &before).ok_or_else(not_as_written)?,
            // The change made the row: it stays, as one that is gone.
            None => Kept { gone: true, ..after },
        };
        change.update(table, &earlier)?;
    }
    Ok(())
}
