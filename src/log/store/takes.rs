//! Recordings and what they say.

use std::fs::File;
use std::path::Path;

use rusqlite::{Connection, OptionalExtension, params};

use super::Log;
use super::change::{PROGRAM, Writing, now};
use super::reeds::{find_open, stage};
use super::rows::{READING, Row, TAKE, to_row};
use super::steps::of;
use crate::advice::Advice;
use crate::log::LogError;
use crate::log::history::{LoggedReading, LoggedTake};
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
}

/// What became of a recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Added {
    /// The take's number on its reed.
    pub number: u32,
    /// The cuts made before it.
    pub after_step: u32,
    /// Whether the reed had this very recording already, under that number.
    pub known: bool,
}

impl Log {
    /// Adds a take to a reed as it is now. On return recording and row are on the disk. A recording
    /// that the reed has already is not added twice.
    pub fn take(&mut self, label: &str, take: NewTake<'_>) -> Result<Added, LogError> {
        let audio = self.audio.clone();
        // Before the lock is taken: a full disk or an unknown reed shall not hold others up.
        find_open(&self.connection, label)?;
        let recording =
            File::open(take.file).map_err(LogError::file(take.file, "could not be read"))?;
        let stored = audio.keep(recording)?;
        let writing = self.write()?;
        let reed = find_open(writing.connection(), label)?.id;
        if let Some(added) = known(writing.connection(), reed, &stored.sha256)? {
            return Ok(added);
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
        };
        let change = writing.change(Some(reed), &format!("take {}", logged.number), None)?;
        let id = change.insert(&TAKE, &of(reed, to_row(&logged)?))?;
        let reading = reading_row(&writing, reed, id, take.reading, take.advice)?;
        change.insert(&READING, &reading)?;
        writing.commit()?;
        Ok(Added { number: logged.number, after_step: logged.after_step, known: false })
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

fn known(connection: &Connection, reed: i64, sha256: &str) -> Result<Option<Added>, LogError> {
    Ok(connection
        .query_row(
            "SELECT number, after_step FROM take WHERE reed_id = ? AND sha256 = ? AND gone = 0",
            params![reed, sha256],
            |row| Ok(Added { number: row.get(0)?, after_step: row.get(1)?, known: true }),
        )
        .optional()?)
}
