//! One consistent file of a log that may be in use.

use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use rusqlite::Connection;
use rusqlite::backup::{Backup, StepResult};

use super::Log;
use crate::files::{Unfinished, folder_of};
use crate::log::LogError;

impl Log {
    /// Copies the log (cards, cuts, readings; not the recordings) to `to`, which must not be there
    /// yet. Programs that write meanwhile are waited for, not disturbed.
    ///
    /// * `stop`: once true, what was copied is thrown away.
    pub fn backup(&self, to: &Path, stop: &AtomicBool) -> Result<(), LogError> {
        if to.symlink_metadata().is_ok() {
            return Err(LogError::Invalid(format!(
                "{}: is there already; name a new file",
                to.display()
            )));
        }
        copy(&self.connection, to, stop)
    }
}

/// Pages copied in one go, and the pause after them, in which others may write.
const PAGES: i32 = 256;
const PAUSE: Duration = Duration::from_millis(2);

/// Copies a database page by page under a temporary name, checks the copy, syncs and renames it.
pub fn copy(from: &Connection, to: &Path, stop: &AtomicBool) -> Result<(), LogError> {
    let failed = || LogError::file(to, "could not be written");
    let file = Unfinished::begin(folder_of(to)).map_err(failed())?.close();
    let mut target = Connection::open(file.path())?;
    let copying = Backup::new(from, &mut target)?;
    while copying.step(PAGES)? != StepResult::Done {
        if stop.load(Ordering::Relaxed) {
            return Err(LogError::Invalid(format!(
                "{}: stopped, and no copy was made; do it again",
                to.display()
            )));
        }
        std::thread::sleep(PAUSE);
    }
    drop(copying);
    // The copy says it is in WAL mode; a single file is wanted.
    target.pragma_update(None, "journal_mode", "DELETE")?;
    let verdict: String = target.pragma_query_value(None, "quick_check", |row| row.get(0))?;
    if verdict != "ok" {
        return Err(LogError::Damaged(verdict));
    }
    target.close().map_err(|(_, error)| LogError::from(error))?;
    file.becomes(to).map_err(failed())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_copy_that_is_stopped_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let from = Connection::open_in_memory().unwrap();
        // More than is copied in one go.
        from.execute_batch("CREATE TABLE t AS SELECT zeroblob(8000000) AS b").unwrap();
        let to = folder.path().join("copy.db");
        let stopped = copy(&from, &to, &AtomicBool::new(true)).unwrap_err().to_string();
        assert!(stopped.contains("no copy was made"), "{stopped}");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
        copy(&from, &to, &AtomicBool::new(false)).unwrap();
        assert!(to.exists());
    }
}
