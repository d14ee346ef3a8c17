//! What is said once of the whole log.

use rusqlite::{OptionalExtension, params};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::Log;
use super::change::now;
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
