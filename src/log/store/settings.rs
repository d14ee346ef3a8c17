//! What is said once of the whole log.

use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::Log;
use super::change::now;
use super::exported::ExportedSetting;
use crate::log::LogError;

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
        let text = serde_json::to_string(value)
            .map_err(|error| LogError::Invalid(format!("cannot be kept: {error}")))?;
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
