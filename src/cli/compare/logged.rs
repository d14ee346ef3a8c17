//! Sides of a comparison that are stages of logged reeds.

use std::path::{Path, PathBuf};

use anyhow::{Context, bail};

use crate::cli::log_file::LogFile;
use crate::cli::output;
use crate::log::{Card, History, Log, latest_pair, pair as logged_pair};
use crate::profile::Blowing;
use crate::reading::Reading;
use crate::words::comparison as words;
use crate::words::stage::stage_name;

/// A logged reed between two cuts.
pub struct Stage {
    /// The reed and the last cut.
    pub label: String,
    /// Its card.
    pub card: Card,
    /// The latest readings of the takes made there.
    pub readings: Vec<Reading>,
    /// Their recordings.
    pub recordings: Vec<PathBuf>,
    /// What blowing does to the pitch, where the crows of its log tell it.
    pub blowing: Option<Blowing>,
}

impl Stage {
    /// `LABEL@2`, or `LABEL@` for the reed as it is; `None` where a file or folder has that name,
    /// or where it is no such name.
    pub fn named(place: &Path, log: &LogFile) -> anyhow::Result<Option<Self>> {
        let named = if place.exists() { None } else { place.to_str() };
        let Some((label, digits)) = named.and_then(|name| name.rsplit_once('@')) else {
            return Ok(None);
        };
        let number = match digits {
            "" => None,
            digits => match digits.parse() {
                Ok(number) => Some(number),
                Err(_) => return Ok(None),
            },
        };
        let log = log.open_existing()?;
        let history = log.history(label)?;
        let number = number.unwrap_or_else(|| history.stage());
        Self::of(&log, &history, number).map(Some)
    }

    /// Errors: a stage that the reed has not, or in which it was not crowed.
    fn of(log: &Log, history: &History, number: u32) -> anyhow::Result<Self> {
        let label = &history.reed.card.label;
        let last = history.stage();
        if number > last {
            bail!(words::no_step(label, number, last));
        }
        let readings: Vec<Reading> = history.readings_at(number).into_iter().cloned().collect();
        if readings.is_empty() {
            bail!(words::not_crowed_at(label, number));
        }
        let takes = history.takes.iter().filter(|take| take.take.after_step == number);
        Ok(Self {
            label: format!("{label} {}", stage_name(number)),
            card: history.reed.card.clone(),
            readings,
            blowing: history.blowing,
            recordings: takes.map(|take| log.audio_path(&take.take.sha256)).collect(),
        })
    }
}

/// Two stages of one reed; the last two in which it was crowed where none are named. Says what else
/// differed between them.
pub fn pair(label: &str, steps: Option<&[u32]>, log: &LogFile) -> anyhow::Result<(Stage, Stage)> {
    let log = log.open_existing()?;
    let history = log.history(label)?;
    let pair = match steps {
        Some([before, after]) => logged_pair(&history, *before, *after),
        _ => latest_pair(&history).with_context(|| words::not_crowed_both(label))?,
    };
    let (before, after) = pair.stages;
    let sides = (Stage::of(&log, &history, before)?, Stage::of(&log, &history, after)?);
    for different in &pair.beware {
        output::complain(&format!("{} {different}", words::BEWARE));
    }
    Ok(sides)
}
