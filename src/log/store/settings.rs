//! What is said once of the whole log: among it what the last check said of each microphone, and the
//! model of each profile, a finished good reed that the next ones of its kind are told against.

use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::Log;
use super::change::now;
use super::exported::ExportedSetting;
use crate::log::{LogError, NotOnCard, Unfit};
use crate::reading::{CheckedMicrophone, Reading};

impl Log {
    /// What was said under `name`; `None` where nothing was, or nothing that is understood.
    pub fn setting<T: DeserializeOwned>(&self, name: &str) -> Result<Option<T>, LogError> {
        let found: Option<String> = self
            .connection
            .query_row("SELECT value FROM setting WHERE name = ?1", [name], |row| row.get(0))
            .optional()?;
        Ok(found.and_then(|text| serde_json::from_str(&text).ok()))
    }

    /// Says it, in place of what was said before.
    pub fn set<T: Serialize>(&mut self, name: &str, value: &T) -> Result<(), LogError> {
        let text = serde_json::to_string(value).map_err(Unfit::NotKept)?;
        let writing = self.write()?;
        let at = now(writing.connection())?;
        writing.connection().execute(
            "INSERT OR REPLACE INTO setting (name, at, value) VALUES (?1, ?2, ?3)",
            params![name, at, text],
        )?;
        writing.commit()
    }
}

/// Everything that was said of the whole log and is understood.
pub(super) fn all(view: &Connection) -> Result<Vec<ExportedSetting>, LogError> {
    let mut statement = view.prepare("SELECT name, at, value FROM setting ORDER BY name")?;
    let mut found = statement.query([])?;
    let mut settings = Vec::new();
    while let Some(record) = found.next()? {
        let value: String = record.get(2)?;
        if let Ok(value) = serde_json::from_str(&value) {
            settings.push(ExportedSetting { name: record.get(0)?, at: record.get(1)?, value });
        }
    }
    Ok(settings)
}

/// Keeps what an export says of its whole log, where this one says nothing of that.
pub(super) fn keep(connection: &Connection, settings: &[ExportedSetting]) -> Result<(), LogError> {
    for ExportedSetting { name, at, value } in settings {
        connection.execute(
            "INSERT OR IGNORE INTO setting (name, at, value) VALUES (?1, ?2, ?3)",
            params![name, at, value.to_string()],
        )?;
    }
    Ok(())
}

/// The name of the setting for a device.
fn of_microphone(device: &str) -> String {
    format!("microphone {device}")
}

impl Log {
    /// What the last check said of this device; `None` where it was never checked.
    pub fn microphone(&self, device: &str) -> Result<Option<CheckedMicrophone>, LogError> {
        self.setting(&of_microphone(device))
    }

    /// Keeps what a check said, in place of what the one before it said.
    pub fn keep_microphone(&mut self, checked: &CheckedMicrophone) -> Result<(), LogError> {
        self.set(&of_microphone(&checked.device), checked)
    }
}

/// Under what the log keeps the model of a profile.
fn of_model(profile: &str) -> String {
    format!("model:{profile}")
}

impl Log {
    /// The model of a profile; `None` where none was named, or it is there no more.
    pub fn model(&self, profile: &str) -> Result<Option<String>, LogError> {
        let label: Option<String> = self.setting(&of_model(profile))?;
        Ok(label.filter(|label| self.reed(label).is_ok()))
    }

    /// Names the model of a profile, in place of the one before.
    ///
    /// Errors: there is no such reed, or it was never crowed.
    pub fn set_model(&mut self, profile: &str, label: &str) -> Result<(), LogError> {
        let label = self.reed(label)?.card.label;
        if self.last_crowed(&label)?.is_empty() {
            return Err(NotOnCard::NeverCrowed(&label).into());
        }
        self.set(&of_model(profile), &label)
    }

    /// The readings of a reed as it was crowed last; empty where it never was.
    pub fn last_crowed(&self, label: &str) -> Result<Vec<Reading>, LogError> {
        let history = self.history(label)?;
        let at = |stage| -> Vec<Reading> {
            let readings = history.readings_at(stage).into_iter();
            readings.filter(|reading| reading.summary.crow_count > 0).cloned().collect()
        };
        let stages = (0..=history.stage()).rev().map(at);
        Ok(stages.into_iter().find(|readings| !readings.is_empty()).unwrap_or_default())
    }
}
