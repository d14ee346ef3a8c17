//! Changes: each is one transaction that holds, beside the rows it writes, an audit row with the
//! whole row before and after.

use std::path::Path;

use rusqlite::{Connection, Transaction, TransactionBehavior, params};
use serde_json::{Value, json};

use super::Log;
use super::rows::{Kept, Row, Table};
use super::schema::INDEXES;
use crate::clock::BeyondCalendar;
use crate::log::history::PROGRAM;
use crate::log::{Damage, Ending, HeardAs, LogError, LoggedTake, Rating, Step};
use crate::reed::{Inspection, Sizes};

/// A transaction that holds the log's write lock from its start, so that what is read in it is
/// still true when it writes. Dropped without [`Writing::commit`], it changes nothing.
pub struct Writing<'l> {
    transaction: Transaction<'l>,
    /// The log's file, which a refusal names.
    path: &'l Path,
}

/// One change inside it.
pub struct Change<'w> {
    connection: &'w Connection,
    id: i64,
}

/// What a change did, before it is worded: the words are kept with the change, and *undo* tells them.
#[derive(Debug, Clone)]
pub(crate) enum Did<'a> {
    /// A reed was entered.
    Entered,
    /// Fields of a card were written, by their names.
    Edited(Vec<String>),
    /// The work on a reed ended, ...
    Closed(Ending),
    /// ... or goes on.
    Reopened,
    /// How a reed is crowed was said, of the takes to come ...
    Said,
    /// ... or of a take.
    SaidOfTake(u32),
    Stepped(&'a Step),
    Measured(&'a Sizes),
    Saw(&'a Inspection),
    Rated(&'a Rating),
    Heard(HeardAs),
    Took(u32),
    /// What was set aside in a take counts as crows.
    Counted(u32),
    CorrectedStep {
        number: u32,
        now: &'a Step,
        before: &'a Step,
    },
    CorrectedTake {
        number: u32,
        now: &'a LoggedTake,
        before: &'a LoggedTake,
    },
    /// What was measured after so many cuts; before, only what it says otherwise now.
    CorrectedMeasurement {
        after_step: u32,
        now: &'a Sizes,
        before: &'a Sizes,
    },
    /// Takes were read by another version.
    ReadAgain,
    /// A change was taken back, by its own words, ...
    Undid(&'a str),
    /// ... or made again.
    Redid(&'a str),
    /// Reeds were added, by their labels.
    Imported(&'a [String]),
    /// A reed was added whose label another one has.
    Renamed(&'a str),
    /// Rows stand as an export has them.
    AsExported,
    /// Work on a reed was added from another log.
    Merged,
    /// How rows came to be is lost: they are taken as they stand.
    RecordBegins,
}

impl Log {
    /// Takes the write lock; waits for another program to give it up.
    pub(crate) fn write(&mut self) -> Result<Writing<'_>, LogError> {
        // A copy that cannot be made is no reason to refuse the work; 'log check' tells how old the
        // last one is.
        let _ = self.back_up_weekly();
        let named = |error| LogError::from(error).in_file(&self.path);
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(named)?;
        transaction.execute_batch(INDEXES).map_err(named)?;
        Ok(Writing { transaction, path: &self.path })
    }
}

impl Writing<'_> {
    /// For reading inside the transaction.
    pub fn connection(&self) -> &Connection {
        &self.transaction
    }

    /// Begins a change to `reed`, kept with the words of what was done; `undoes` names the change it takes
    /// back.
    pub fn change(
        &self,
        reed: Option<i64>,
        did: &Did<'_>,
        undoes: Option<i64>,
    ) -> Result<Change<'_>, LogError> {
        self.transaction
            .prepare_cached(
                "INSERT INTO change (reed_id, at, program, what, undoes) VALUES (?, ?, ?, ?, ?)",
            )?
            .execute(params![reed, now(&self.transaction)?, PROGRAM, did.to_string(), undoes])
            .map_err(|error| LogError::from(error).in_file(self.path))?;
        Ok(Change { connection: &self.transaction, id: self.transaction.last_insert_rowid() })
    }

    /// Makes it so; returns once it is on the disk.
    pub fn commit(self) -> Result<(), LogError> {
        self.transaction.commit().map_err(|error| LogError::from(error).in_file(self.path))
    }
}

impl Change<'_> {
    /// Says which reed the change is about, where it was made by the change itself.
    pub fn about(&self, reed: i64) -> Result<(), LogError> {
        self.connection
            .execute("UPDATE change SET reed_id = ? WHERE id = ?", params![reed, self.id])?;
        Ok(())
    }

    /// Adds a row and returns its key.
    pub fn insert(&self, table: &Table, row: &Row) -> Result<i64, LogError> {
        let id = table.insert(self.connection, None, false, row)?;
        let after = Kept { id, gone: false, row: row.clone() };
        self.audit(table, None, &after)?;
        Ok(id)
    }

    /// Overwrites a row.
    pub fn update(&self, table: &Table, after: &Kept) -> Result<(), LogError> {
        let before = table
            .get(self.connection, after.id)?
            .ok_or_else(|| LogError::Damaged(Damage::NoRow { table: table.name, row: after.id }))?;
        table.update(self.connection, after)?;
        self.audit(table, Some(&before), after)
    }

    fn audit(&self, table: &Table, before: Option<&Kept>, after: &Kept) -> Result<(), LogError> {
        self.connection
            .prepare_cached(
                "INSERT INTO change_row (change_id, in_table, row_id, before, after) \
                 VALUES (?, ?, ?, ?, ?)",
            )?
            .execute(params![
                self.id,
                table.name,
                after.id,
                before.map(|kept| whole(kept).to_string()),
                whole(after).to_string(),
            ])?;
        Ok(())
    }
}

/// A row with its `gone`, as the audit keeps it.
pub fn whole(kept: &Kept) -> Value {
    json!({ "gone": kept.gone, "row": kept.row })
}

/// The other way; `None` where the text is no such row.
pub fn from_whole(id: i64, text: &str) -> Option<Kept> {
    let mut value: Value = serde_json::from_str(text).ok()?;
    let gone = value.get("gone")?.as_bool()?;
    match value.get_mut("row")?.take() {
        Value::Object(row) => Some(Kept { id, gone, row }),
        _ => None,
    }
}

/// The time in UTC, to the millisecond, ISO 8601.
pub fn now(connection: &Connection) -> Result<String, LogError> {
    moment(connection, "now")
}

/// * `of`: a moment as the database knows it.
fn moment(connection: &Connection, of: &str) -> Result<String, LogError> {
    let moment: Option<String> =
        connection
            .query_row("SELECT strftime('%Y-%m-%dT%H:%M:%fZ', ?1)", [of], |row| row.get(0))?;
    moment.ok_or_else(|| LogError::Invalid(BeyondCalendar.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Julian day 2451544.5 is the first of January 2000, 5373484.5 the one of 10000 (from memory).
    #[test]
    fn a_year_that_the_log_cannot_hold_is_told_in_a_makers_words() {
        let database = Connection::open_in_memory().unwrap();
        assert_eq!(moment(&database, "2451544.5").unwrap(), "2000-01-01T00:00:00.000Z");
        let refused = moment(&database, "5373484.5").unwrap_err().to_string();
        assert_eq!(refused, BeyondCalendar.to_string());
    }
}
