//! Cards: entered, found, changed, closed; and a reed's whole history.

use rusqlite::{Connection, OptionalExtension};

use super::Log;
use super::change::{Did, now};
use super::exported::PassedOver;
use super::rows::{
    HEARD, INSPECTION, Kept, MEASUREMENT, RATING, READING, REED, STEP, TAKE, of, to_row,
};
use super::sense::from_row;
use crate::log::card::{Card, Ending};
use crate::log::conditions::Conditions;
use crate::log::history::{History, LoggedReed, LoggedStep, ReadTake};
use crate::log::step::Step;
use crate::log::{Damage, LogError};
use crate::text::composed;

impl Log {
    /// Enters a reed.
    pub fn add(&mut self, card: &Card) -> Result<(), LogError> {
        card.check()?;
        let writing = self.write()?;
        free_label(writing.connection(), &card.label, None)?;
        let reed = LoggedReed {
            uid: writing.connection().query_row(
                "SELECT lower(hex(randomblob(16)))",
                [],
                |row| row.get(0),
            )?,
            at: now(writing.connection())?,
            card: Card { label: composed(&card.label), ..card.clone() },
            ended_at: None,
            conditions: None,
            conditions_at: None,
        };
        let change = writing.change(None, &Did::Entered, None)?;
        let id = change.insert(&REED, &to_row(&reed)?)?;
        change.about(id)?;
        writing.commit()
    }

    /// Every reed, in the order in which they were entered.
    pub fn reeds(&self) -> Result<Vec<LoggedReed>, LogError> {
        REED.select(&self.connection, "gone = 0", [])?
            .iter()
            .map(|kept| from_row(&REED, kept))
            .collect()
    }

    /// Label of the open reed to which something was done last; `None` where none is open.
    pub fn last_worked_on(&self) -> Result<Option<String>, LogError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT label FROM reed JOIN change ON change.reed_id = reed.id \
             WHERE gone = 0 AND ending IS NULL ORDER BY change.id DESC LIMIT 1",
        )?;
        Ok(statement.query_row([], |row| row.get(0)).optional()?)
    }

    /// Whether any reed has a take.
    pub fn has_takes(&self) -> Result<bool, LogError> {
        let sql = "SELECT EXISTS (SELECT 1 FROM take WHERE gone = 0)";
        Ok(self.connection.query_row(sql, [], |row| row.get(0))?)
    }

    /// A number that changes whenever another connection, of this program or another, has changed the
    /// log.
    pub fn seen_version(&self) -> Result<i64, LogError> {
        Ok(self.connection.query_row("PRAGMA data_version", [], |row| row.get(0))?)
    }

    /// The card of that label.
    pub fn reed(&self, label: &str) -> Result<LoggedReed, LogError> {
        from_row(&REED, &find(&self.connection, label)?)
    }

    /// Changes a card: `edit` is given the card and leaves it as it shall be.
    pub fn edit(
        &mut self,
        label: &str,
        edit: impl FnOnce(&mut Card),
    ) -> Result<LoggedReed, LogError> {
        self.rewrite(label, |reed, _| {
            let before = reed.card.clone();
            edit(&mut reed.card);
            Ok(Did::Edited(changed_fields(&before, &reed.card)))
        })
    }

    /// Ends the work on a reed; `None` opens it again, and what is written down from then on counts apart.
    /// A note without a word is none.
    pub fn close(
        &mut self,
        label: &str,
        ending: Option<Ending>,
        note: Option<String>,
    ) -> Result<LoggedReed, LogError> {
        let note = note.filter(|note| !note.trim().is_empty());
        self.rewrite(label, |reed, now| {
            // What it ended by is not written over unseen.
            if ending.is_some() && reed.card.ending.is_some() {
                let is_said_again = reed.card.ending == ending && reed.card.ending_note == note;
                return match ending.filter(|_| is_said_again) {
                    Some(ending) => Ok(Did::Closed(ending)),
                    None => Err(LogError::Closed(label.to_owned())),
                };
            }
            reed.ended_at = ending.map(|_| now);
            reed.card.ending = ending;
            reed.card.ending_note = note;
            Ok(ending.map_or(Did::Reopened, Did::Closed))
        })
    }

    /// Says how the reed is crowed from now on; what is not said stays as it was.
    pub fn conditions(
        &mut self,
        label: &str,
        conditions: Conditions,
    ) -> Result<Conditions, LogError> {
        conditions.check()?;
        let reed = self.rewrite(label, |reed, now| {
            reed.conditions = Some(conditions.over(&reed.conditions.clone().unwrap_or_default()));
            reed.conditions_at = Some(now);
            Ok(Did::Said)
        })?;
        Ok(reed.conditions.unwrap_or_default())
    }

    /// * `edit`: given the reed and the time, changes it and says what was done.
    fn rewrite(
        &mut self,
        label: &str,
        edit: impl FnOnce(&mut LoggedReed, String) -> Result<Did<'static>, LogError>,
    ) -> Result<LoggedReed, LogError> {
        let writing = self.write()?;
        let kept = find(writing.connection(), label)?;
        let mut reed: LoggedReed = from_row(&REED, &kept)?;
        let did = edit(&mut reed, now(writing.connection())?)?;
        reed.card.check()?;
        reed.card.label = composed(&reed.card.label);
        free_label(writing.connection(), &reed.card.label, Some(kept.id))?;
        let after = Kept { row: to_row(&reed)?, ..kept };
        if after != kept_again(writing.connection(), after.id)? {
            let change = writing.change(Some(after.id), &did, None)?;
            change.update(&REED, &after)?;
            if matches!(did, Did::Reopened) {
                let number = Some(stage(writing.connection(), after.id)? + 1);
                let at = now(writing.connection())?;
                let back = LoggedStep { at, number, step: Step::came_back(), advised: None };
                change.insert(&STEP, &of(after.id, to_row(&back)?))?;
            }
        }
        writing.commit()?;
        Ok(reed)
    }

    /// Everything of one reed, as it stands.
    pub fn history(&self, label: &str) -> Result<History, LogError> {
        // One read transaction: another program's writes in between would tear the picture.
        let view = self.connection.unchecked_transaction()?;
        let kept = find(&view, label)?;
        Ok(History { blowing: self.blowing_in(&view)?, ..history(&view, &kept)? })
    }
}

/// Many reeds.
#[derive(Debug, Clone)]
pub struct Reeds<T> {
    /// Those that can be read, in the order in which they were entered.
    pub whole: Vec<T>,
    /// The others.
    pub passed_over: Vec<PassedOver>,
}

impl<T> Default for Reeds<T> {
    fn default() -> Self {
        Self { whole: Vec::new(), passed_over: Vec::new() }
    }
}

/// The fields of a card that changed, in the order of their names.
fn changed_fields(before: &Card, after: &Card) -> Vec<String> {
    let fields = |card: &Card| match serde_json::to_value(card) {
        Ok(serde_json::Value::Object(fields)) => fields,
        _ => serde_json::Map::new(),
    };
    let (before, after) = (fields(before), fields(after));
    let changed = after.iter().filter(|(name, value)| before.get(*name) != Some(*value));
    let mut changed: Vec<String> = changed.map(|(name, _)| name.clone()).collect();
    changed.sort();
    changed
}

/// Everything of one reed, as `view` sees it.
pub fn history(view: &Connection, kept: &Kept) -> Result<History, LogError> {
    let label = kept.row.get("label").and_then(serde_json::Value::as_str).unwrap_or("?");
    read_history(view, kept).map_err(|error| error.of_reed(label))
}

fn read_history(view: &Connection, kept: &Kept) -> Result<History, LogError> {
    let mine = "reed_id = ?1 AND gone = 0";
    let takes = TAKE.select(view, mine, [kept.id])?;
    let takes = takes
        .iter()
        .map(|take| {
            let latest = READING
                .select(
                    view,
                    "id = (SELECT max(id) FROM reading WHERE take_id = ?1 AND gone = 0)",
                    [take.id],
                )
                // A reading of a form this program no longer knows counts as none, a damaged one
                // too: the audio is there, and 'log reread' reads it again.
                .ok()
                .and_then(|found| from_row(&READING, found.first()?).ok());
            // A word that cannot be read is none; the take stands without it.
            let said = HEARD.select(view, "take_id = ?1 AND gone = 0", [take.id])?;
            let heard = said.iter().filter_map(|kept| from_row(&HEARD, kept).ok()).collect();
            Ok(ReadTake { take: from_row(&TAKE, take)?, reading: latest, heard })
        })
        .collect::<Result<_, LogError>>()?;
    Ok(History {
        reed: from_row(&REED, kept)?,
        measurements: all(view, &MEASUREMENT, kept.id)?,
        inspections: all(view, &INSPECTION, kept.id)?,
        steps: all(view, &STEP, kept.id)?,
        takes,
        ratings: all(view, &RATING, kept.id)?,
        blowing: None,
    })
}

fn all<T: serde::de::DeserializeOwned>(
    view: &Connection,
    table: &super::rows::Table,
    reed: i64,
) -> Result<Vec<T>, LogError> {
    table
        .select(view, "reed_id = ?1 AND gone = 0", [reed])?
        .iter()
        .map(|kept| from_row(table, kept))
        .collect()
}

/// The row of the reed of that label, whatever its capitals.
pub fn find(connection: &Connection, label: &str) -> Result<Kept, LogError> {
    let id = standing(connection, label)?.ok_or_else(|| LogError::NoReed(label.to_owned()))?;
    kept_again(connection, id)
}

/// The key of the reed of that label, whatever its capitals and however its accents are written.
pub fn standing(connection: &Connection, label: &str) -> Result<Option<i64>, LogError> {
    // As it was typed, save for capitals: found by index.
    let mut statement = connection
        .prepare_cached("SELECT id FROM reed WHERE gone = 0 AND label = ?1 COLLATE NOCASE")?;
    let wanted = composed(label);
    for known in [label, &wanted] {
        if let Some(id) = statement.query_row([known], |row| row.get(0)).optional()? {
            return Ok(Some(id));
        }
    }
    // A label of plain ASCII is written in one way only; the others are gone through.
    let mut statement = connection
        .prepare_cached("SELECT id, label FROM reed WHERE gone = 0 AND label GLOB '*[^ -~]*'")?;
    let (mut found, mut alike) = (statement.query([])?, None);
    while let Some(record) = found.next()? {
        let Ok(known) = record.get_ref(1)?.as_str() else { continue };
        if composed(known).eq_ignore_ascii_case(&wanted) {
            alike = Some(record.get(0)?);
        }
    }
    Ok(alike)
}

/// The row of a reed that is open for work.
pub fn find_open(connection: &Connection, label: &str) -> Result<Kept, LogError> {
    let kept = find(connection, label)?;
    match from_row::<LoggedReed>(&REED, &kept)?.card.ending {
        None => Ok(kept),
        Some(_) => Err(LogError::Closed(label.to_owned())),
    }
}

/// The row of that key, which must be there.
pub(super) fn kept_again(connection: &Connection, id: i64) -> Result<Kept, LogError> {
    REED.get(connection, id)?
        .ok_or_else(|| LogError::Damaged(Damage::NoRow { table: REED.name, row: id }))
}

fn free_label(connection: &Connection, label: &str, but: Option<i64>) -> Result<(), LogError> {
    match standing(connection, label)? {
        Some(id) if Some(id) != but => Err(LogError::LabelTaken(label.to_owned())),
        _ => Ok(()),
    }
}

/// How many cuts have been made on a reed.
pub fn stage(connection: &Connection, reed: i64) -> Result<u32, LogError> {
    Ok(connection.query_row(
        "SELECT coalesce(max(number), 0) FROM step WHERE reed_id = ?1 AND gone = 0",
        [reed],
        |row| row.get(0),
    )?)
}
