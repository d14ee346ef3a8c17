//! What makers said they heard of crows.

use rusqlite::OptionalExtension;

use super::Log;
use super::change::{Did, now};
use super::reeds::find;
use super::rows::{HEARD, READING, TAKE, of, to_row};
use super::sense::from_row;
use crate::log::heard::{self, HeardAs, LoggedHeard};
use crate::log::history::{LoggedReading, LoggedTake};
use crate::log::{LogError, NotOnCard};
use crate::profile::Ear;
use crate::reading::Kind;

/// Which crow of a reed is meant.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Which {
    /// Of the take of that number; of the last where none is named.
    pub take: Option<u32>,
    /// The crow, counted from 1 as the card counts. Where none is named the last one; where the sound
    /// leaves that open, all of the take that it leaves open.
    pub crow: Option<u32>,
}

/// What was written down.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// The take.
    pub take: u32,
    /// The crows, counted from 1.
    pub crows: Vec<u32>,
    /// What the program had said of them.
    pub kind: Kind,
}

/// What a maker said of a crow, and whose it is.
#[derive(Debug, Clone, PartialEq)]
pub struct HeardCrow {
    /// The reed.
    pub label: String,
    /// Number of the take.
    pub take: u32,
    /// What was said.
    pub said: LoggedHeard,
}

impl Log {
    /// Writes down what the maker hears of a crow. What was said of it before counts no more.
    ///
    /// Errors: a reed without takes, no take or crow of that number.
    pub fn heard(&mut self, label: &str, which: Which, heard: HeardAs) -> Result<Named, LogError> {
        let writing = self.write()?;
        let connection = writing.connection();
        let reed = find(connection, label)?.id;
        let takes = TAKE.select(connection, "reed_id = ?1 AND gone = 0", [reed])?;
        let number = |kept| from_row::<LoggedTake>(&TAKE, kept).map(|take| take.number);
        let mut wanted = None;
        for kept in &takes {
            if which.take.is_none_or(|take| number(kept).is_ok_and(|number| number == take)) {
                wanted = Some((kept.id, number(kept)?));
            }
        }
        let Some((take, number)) = wanted else {
            let takes = takes.len();
            return Err(match which.take {
                Some(take) => NotOnCard::NoTake { label, take, takes }.into(),
                None => NotOnCard::NoTakeYet(label).into(),
            });
        };
        let latest = READING.select(
            connection,
            "id = (SELECT max(id) FROM reading WHERE take_id = ?1 AND gone = 0)",
            [take],
        )?;
        let reading: Option<LoggedReading> =
            latest.first().and_then(|kept| from_row(&READING, kept).ok());
        let Some(reading) = reading.map(|logged| logged.reading) else {
            return Err(NotOnCard::NoReading { label, take: number }.into());
        };
        let count = reading.crows.len() as u32;
        let crow = which.crow.unwrap_or(count);
        let kind_of = |crow: u32| Some(reading.crows.get(crow.checked_sub(1)? as usize)?.kind);
        let Some(kind) = kind_of(crow) else {
            return Err(match count {
                0 => NotOnCard::NothingCrows { label, take: number }.into(),
                _ => NotOnCard::NoCrow { label, take: number, crow, crows: count }.into(),
            });
        };
        // Who answers what was asked of a take answers for all of its crows that are in question.
        let crows: Vec<u32> = match which.crow {
            None if kind == Kind::Blended => {
                (1..=count).filter(|crow| kind_of(*crow) == Some(Kind::Blended)).collect()
            }
            _ => vec![crow],
        };
        let change = writing.change(Some(reed), &Did::Heard(heard), None)?;
        for crow in &crows {
            let logged = LoggedHeard {
                at: now(connection)?,
                profile: reading.profile.clone(),
                crow: *crow,
                heard,
                kind,
                measured: reading.crows[*crow as usize - 1].figures.heard(),
            };
            let mut row = of(reed, to_row(&logged)?);
            row.insert("take_id".into(), take.into());
            change.insert(&HEARD, &row)?;
        }
        writing.commit()?;
        Ok(Named { take: number, crows, kind })
    }

    /// The last word on every crow that has one, in the order in which they were said.
    pub fn all_heard(&self) -> Result<Vec<HeardCrow>, LogError> {
        let view = self.connection.unchecked_transaction()?;
        let latest = "gone = 0 AND id = (SELECT max(id) FROM heard AS later WHERE \
                      later.take_id = heard.take_id AND later.crow = heard.crow AND later.gone = 0)";
        let mut all = Vec::new();
        for kept in HEARD.select(&view, latest, [])? {
            let whose: Option<(String, u32)> = view
                .query_row(
                    "SELECT reed.label, take.number FROM heard \
                     JOIN reed ON reed.id = heard.reed_id AND reed.gone = 0 \
                     JOIN take ON take.id = heard.take_id AND take.gone = 0 WHERE heard.id = ?1",
                    [kept.id],
                    |row| Ok((row.get(0)?, row.get(1)?)),
                )
                .optional()?;
            if let Some((label, take)) = whose {
                all.push(HeardCrow { label, take, said: from_row(&HEARD, &kept)? });
            }
        }
        Ok(all)
    }

    /// The ear that the maker's words have taught for crows of a profile.
    pub fn ear(&self, profile: &str) -> Result<Ear, LogError> {
        let words: Vec<LoggedHeard> = self.all_heard()?.into_iter().map(|crow| crow.said).collect();
        Ok(heard::ear(&words, profile))
    }
}
