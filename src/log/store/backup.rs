//! One consistent file of a log that may be in use.

use std::path::Path;
use std::time::Duration;

use rusqlite::Connection;
use rusqlite::backup::Backup;

use super::{Log, audio};
use crate::log::LogError;

impl Log {
    /// Copies the log (cards, cuts, readings; not the recordings) to `to`, which must not be there
    /// yet. Programs that write meanwhile are waited for, not disturbed.
    pub fn backup(&self, to: &Path) -> Result<(), LogError> {
        if to.exists() {
            return Err(LogError::Invalid(format!(
                "{}: is there already; name a new file",
                to.display()
            )));
        }
        copy(&self.connection, to)
    }
}

/// Copies a database page by page under a temporary name, checks the copy, syncs and renames it.
pub fn copy(from: &Connection, to: &Path) -> Result<(), LogError> {
    let folder = audio::folder_of(to);
    let failed = || LogError::file(to, "could not be written");
    let file = audio::unfinished(folder).map_err(failed())?.into_temp_path();
    let mut target = Connection::open(&file)?;
    Backup::new(from, &mut target)?.run_to_completion(256, Duration::from_millis(2), None)?;
    // The copy says it is in WAL mode; a single file is wanted.
    target.pragma_update(None, "journal_mode", "DELETE")?;
    let verdict: String = target.pragma_query_value(None, "quick_check", |row| row.get(0))?;
    if verdict != "ok" {
        return Err(LogError::Damaged(verdict));
    }
    target.close().map_err(|(_, error)| LogError::from(error))?;
    std::fs::File::open(&file).and_then(|file| file.sync_all()).map_err(failed())?;
    file.persist(to).map_err(|error| failed()(error.error))?;
    audio::sync_folder(folder)
}
