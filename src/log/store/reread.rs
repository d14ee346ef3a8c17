//! Readings made again from the recordings.

use std::path::Path;

use super::Log;
use super::change::Did;
use super::reeds::{find, find_open};
use super::rows::{Kept, READING, REED, TAKE};
use super::sense::from_row;
use super::takes::reading_row;
use crate::log::card::Card;
use crate::log::difference::{FigureChange, changed_figures};
use crate::log::history::{LoggedReading, LoggedReed, LoggedTake};
use crate::log::{LogError, NotOnCard};
use crate::reading::Reading;

/// A take that was read again.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Reread {
    /// Its reed.
    pub label: String,
    /// Its number.
    pub take: u32,
    /// What came of it.
    pub outcome: Outcome,
}

/// What came of reading a take again.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// The same figures; nothing was written.
    Same,
    /// Other figures; the earlier reading is kept beside them.
    Changed {
        /// The version that made the earlier one; `None` where none was readable.
        earlier_program: Option<String>,
        /// The figures of the summary that changed; empty where only single crows did.
        figures: Vec<FigureChange>,
    },
    /// It could not be read.
    Failed(String),
}

impl Log {
    /// Reads the takes of one reed, or of all, again.
    ///
    /// * `read`: reads a recording as its card asks; the last argument is whether the maker said that
    ///   tones in it which would be set aside were the reed.
    ///
    /// Each reed's new readings are one change. A recording that cannot be read is told among the
    /// outcomes and does not stop the rest.
    pub fn reread(
        &mut self,
        label: Option<&str>,
        read: impl Fn(&Card, &Path, bool) -> Result<Reading, String>,
    ) -> Result<Vec<Reread>, LogError> {
        let reeds = match label {
            Some(label) => vec![find(&self.connection, label)?],
            None => REED.select(&self.connection, "gone = 0", [])?,
        };
        let mut outcomes = Vec::new();
        for reed in reeds {
            outcomes.extend(self.reread_reed(&reed, &read)?);
        }
        Ok(outcomes)
    }

    fn reread_reed(
        &mut self,
        reed: &Kept,
        read: &impl Fn(&Card, &Path, bool) -> Result<Reading, String>,
    ) -> Result<Vec<Reread>, LogError> {
        let card = from_row::<LoggedReed>(&REED, reed)?.card;
        let mine = "reed_id = ?1 AND gone = 0";
        let mut outcomes = Vec::new();
        let mut found = Vec::new();
        for kept in TAKE.select(&self.connection, mine, [reed.id])? {
            let take: LoggedTake = from_row(&TAKE, &kept)?;
            let earlier = self.latest(kept.id)?;
            let tones_kept = earlier.as_ref().is_some_and(|earlier| earlier.reading.tones_kept);
            let outcome = match read(&card, &self.audio_path(&take.sha256), tones_kept) {
                Err(error) => Outcome::Failed(error),
                Ok(reading) => {
                    let reading = Reading { source: take.source, ..reading };
                    let outcome = outcome(earlier, &reading);
                    found.push((kept.id, reading, outcome != Outcome::Same));
                    outcome
                }
            };
            outcomes.push(Reread { label: card.label.clone(), take: take.number, outcome });
        }
        found.retain(|(_, _, is_new)| *is_new);
        if found.is_empty() {
            return Ok(outcomes);
        }
        let writing = self.write()?;
        let change = writing.change(Some(reed.id), &Did::ReadAgain, None)?;
        for (take, reading, _) in &found {
            // Another program may have undone the take meanwhile.
            if TAKE.get(writing.connection(), *take)?.is_some_and(|kept| !kept.gone) {
                change.insert(&READING, &reading_row(&writing, reed.id, *take, reading, None)?)?;
            }
        }
        writing.commit()?;
        Ok(outcomes)
    }

    /// Puts a reading of a take in which what was set aside counts beside the earlier one, which stays.
    pub fn count_aside(
        &mut self,
        label: &str,
        number: u32,
        reading: &Reading,
    ) -> Result<(), LogError> {
        let writing = self.write()?;
        let reed = find_open(writing.connection(), label)?;
        let mine = "reed_id = ?1 AND number = ?2 AND gone = 0";
        let take = TAKE
            .select(writing.connection(), mine, [reed.id, i64::from(number)])?
            .pop()
            .ok_or_else(|| LogError::from(NotOnCard::NoSuch { label, what: TAKE.name, number }))?;
        let logged: LoggedTake = from_row(&TAKE, &take)?;
        let reading = Reading { source: logged.source, ..reading.clone() };
        let change = writing.change(Some(reed.id), &Did::Counted(number), None)?;
        change.insert(&READING, &reading_row(&writing, reed.id, take.id, &reading, None)?)?;
        writing.commit()
    }

    fn latest(&self, take: i64) -> Result<Option<LoggedReading>, LogError> {
        let latest = "id = (SELECT max(id) FROM reading WHERE take_id = ?1 AND gone = 0)";
        match READING.select(&self.connection, latest, [take]) {
            Ok(readings) => Ok(readings.last().and_then(|kept| from_row(&READING, kept).ok())),
            // A damaged one counts as none.
            Err(LogError::Row { .. }) => Ok(None),
            Err(other) => Err(other),
        }
    }
}

fn outcome(earlier: Option<LoggedReading>, now: &Reading) -> Outcome {
    match earlier {
        Some(earlier) if earlier.reading == *now => Outcome::Same,
        Some(earlier) => Outcome::Changed {
            figures: changed_figures(&earlier.reading, now),
            earlier_program: Some(earlier.program),
        },
        None => Outcome::Changed { earlier_program: None, figures: Vec::new() },
    }
}
