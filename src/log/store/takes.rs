//! Recordings and what they say.

use std::path::Path;

use rusqlite::{Connection, OptionalExtension, params};

use super::Log;
use super::change::{Did, Writing, now};
use super::reeds::{find_open, stage};
use super::rows::{Kept, READING, REED, Row, TAKE, of, to_row};
use super::sense::from_row;
use crate::advice::Advice;
use crate::files;
use crate::log::conditions::Conditions;
use crate::log::history::{LoggedReading, LoggedReed, LoggedTake, PROGRAM};
use crate::log::{LogError, Tried};
use crate::reading::Reading;

/// A recording to be kept, with what it says.
#[derive(Debug, Clone, Copy)]
pub struct NewTake<'a> {
    /// The recording, a file that [`take::open`](crate::take::open) reads.
    pub file: &'a Path,
    /// Its reading.
    pub reading: &'a Reading,
    /// What was advised, where advice was given.
    pub advice: Option<&'a Advice>,
    /// How it was crowed, where this differs from what was last said of the reed.
    pub conditions: Option<&'a Conditions>,
}

/// What became of a recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Added {
    /// The take's number on its reed.
    pub number: u32,
    /// The cuts made before it.
    pub after_step: u32,
    /// Whether the reed had it already.
    pub became: Became,
}

/// What a recording that is to be added becomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Became {
    /// A take.
    Added,
    /// The reed had this very recording already, under that number.
    Known,
    /// The same, and how it was crowed is now told as it was said this time.
    Corrected,
}

impl Log {
    /// Adds a take to a reed as it is now. On return recording and row are on the disk. A recording
    /// that the reed has already is not added twice; what is said of how it was crowed corrects what
    /// was said before.
    pub fn take(&mut self, label: &str, take: NewTake<'_>) -> Result<Added, LogError> {
        let audio = self.audio.clone();
        // Before the lock is taken: a full disk or an unknown reed shall not hold others up.
        find_open(&self.connection, label)?;
        let recording = files::open(take.file).map_err(LogError::file(take.file, Tried::Read))?;
        let stored = audio.keep(recording)?;
        let writing = self.write()?;
        let kept = find_open(writing.connection(), label)?;
        let reed = kept.id;
        if let Some(known) = known(writing.connection(), reed, &stored.sha256)? {
            let corrected = match take.conditions {
                Some(said) => correct(&writing, reed, &known, said)?,
                None => false,
            };
            if corrected {
                writing.commit()?;
            }
            let logged: LoggedTake = from_row(&TAKE, &known)?;
            let became = if corrected { Became::Corrected } else { Became::Known };
            return Ok(Added { number: logged.number, after_step: logged.after_step, became });
        }
        let logged = LoggedTake {
            number: writing.connection().query_row(
                "SELECT coalesce(max(number), 0) + 1 FROM take WHERE reed_id = ?1 AND gone = 0",
                [reed],
                |row| row.get(0),
            )?,
            after_step: stage(writing.connection(), reed)?,
            at: now(writing.connection())?,
            sha256: stored.sha256,
            bytes: stored.bytes,
            source: take.reading.source.clone(),
            conditions: conditions(writing.connection(), &kept, take.conditions)?,
        };
        let change = writing.change(Some(reed), &Did::Took(logged.number), None)?;
        let id = change.insert(&TAKE, &of(reed, to_row(&logged)?))?;
        let reading = reading_row(&writing, reed, id, take.reading, take.advice)?;
        change.insert(&READING, &reading)?;
        writing.commit()?;
        Ok(Added { number: logged.number, after_step: logged.after_step, became: Became::Added })
    }
}

/// The row of a reading made now, by this program.
pub fn reading_row(
    writing: &Writing<'_>,
    reed: i64,
    take: i64,
    reading: &Reading,
    advice: Option<&Advice>,
) -> Result<Row, LogError> {
    let mut row = of(
        reed,
        to_row(&LoggedReading {
            at: now(writing.connection())?,
            program: PROGRAM.into(),
            reading: reading.clone(),
            advice: advice.cloned(),
        })?,
    );
    row.insert("take_id".into(), take.into());
    Ok(row)
}

/// What was said with the take, over what was said of the reed on the same day. Yesterday's weather
/// and soaking are not taken for today's: after half a day they must be said again.
fn conditions(
    connection: &Connection,
    reed: &Kept,
    said: Option<&Conditions>,
) -> Result<Option<Conditions>, LogError> {
    if let Some(said) = said {
        said.check()?;
    }
    let reed: LoggedReed = from_row(&REED, reed)?;
    let fresh: bool = connection.query_row(
        "SELECT coalesce(julianday('now') - julianday(?1) < 0.5, 0)",
        [&reed.conditions_at],
        |row| row.get(0),
    )?;
    let standing = reed.conditions.filter(|_| fresh);
    Ok(match (said, standing) {
        (Some(said), Some(standing)) => Some(said.clone().over(&standing)),
        (Some(said), None) => Some(said.clone()),
        (None, standing) => standing,
    })
}

/// Writes what is `said` of a take that is there over what was; whether that changed anything.
fn correct(
    writing: &Writing<'_>,
    reed: i64,
    take: &Kept,
    said: &Conditions,
) -> Result<bool, LogError> {
    said.check()?;
    let mut logged: LoggedTake = from_row(&TAKE, take)?;
    let before = logged.conditions.clone().unwrap_or_default();
    let now = said.clone().over(&before);
    if now == before {
        return Ok(false);
    }
    logged.conditions = Some(now);
    let change = writing.change(Some(reed), &Did::SaidOfTake(logged.number), None)?;
    change.update(&TAKE, &Kept { row: of(reed, to_row(&logged)?), ..take.clone() })?;
    Ok(true)
}

fn known(connection: &Connection, reed: i64, sha256: &str) -> Result<Option<Kept>, LogError> {
    let id: Option<i64> = connection
        .query_row(
            "SELECT id FROM take WHERE reed_id = ? AND sha256 = ? AND gone = 0",
            params![reed, sha256],
            |row| row.get(0),
        )
        .optional()?;
    id.map_or(Ok(None), |id| TAKE.get(connection, id))
}
