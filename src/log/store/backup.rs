//! One consistent file of a log that may be in use.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use jiff::civil::Date;
use rusqlite::Connection;
use rusqlite::backup::{Backup, StepResult};

use super::Log;
use crate::files::{Unfinished, folder_of};
use crate::log::{Damage, LogError, Refused, Tried};

impl Log {
    /// Copies the log (cards, cuts, readings; not the recordings) to `to`, which must not be there
    /// yet. Programs that write meanwhile are waited for, not disturbed.
    ///
    /// * `stop`: once true, what was copied is thrown away.
    pub fn backup(&self, to: &Path, stop: &AtomicBool) -> Result<(), LogError> {
        if to.symlink_metadata().is_ok() {
            return Err(Refused::FileExists(to).into());
        }
        copy(&self.connection, to, stop)
    }
}

/// Days after which the next copy is made by itself, and how many of them are kept.
const EVERY_DAYS: i32 = 7;
const KEPT: usize = 8;

/// A copy that was made by itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WeeklyCopy {
    /// Its file.
    pub path: PathBuf,
    /// The day it was made (UTC).
    pub day: Date,
}

impl Log {
    /// The folder of the copies that are made by themselves.
    pub fn backup_folder(&self) -> PathBuf {
        Self::backup_folder_of(&self.path)
    }

    fn backup_folder_of(path: &Path) -> PathBuf {
        // As with recordings, two logs that differ in their ending share no folder.
        if path.extension().is_some_and(|ending| ending == "db") {
            return path.with_extension("backups");
        }
        let mut whole = path.file_name().unwrap_or_default().to_owned();
        whole.push(if path.extension().is_some() { ".backups" } else { "-backups" });
        path.with_file_name(whole)
    }

    /// Those that are there, the oldest first.
    pub fn backups(&self) -> Vec<WeeklyCopy> {
        Self::backups_of(&self.path)
    }

    /// Those of the log at `path`, which itself need not open.
    pub(super) fn backups_of(path: &Path) -> Vec<WeeklyCopy> {
        let folder = Self::backup_folder_of(path);
        let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
        let mut found: Vec<WeeklyCopy> = entries
            .filter_map(|entry| {
                let path = entry.ok()?.path();
                let day = path.file_stem()?.to_str()?.parse().ok()?;
                (path.extension()? == "db").then_some(WeeklyCopy { path, day })
            })
            .collect();
        found.sort_by_key(|copy| copy.day);
        found
    }

    /// Copies the log into its folder of copies where the last one, or the log's first entry, is a week
    /// old; checks the copy, and lets the oldest go where there are more than eight.
    pub(super) fn back_up_weekly(&self) -> Result<Option<PathBuf>, LogError> {
        let today: String =
            self.connection.query_row("SELECT date('now')", [], |row| row.get(0))?;
        let first: Option<String> = self.connection.query_row(
            "SELECT substr(min(at), 1, 10) FROM change WHERE id = 1",
            [],
            |row| row.get(0),
        )?;
        let day = |text: &str| text.parse::<Date>().ok();
        let copies = self.backups();
        let last = copies.last().map(|copy| copy.day).or(first.as_deref().and_then(day));
        let (Some(today), Some(last)) = (day(&today), last) else { return Ok(None) };
        let is_due = last.until(today).is_ok_and(|span| span.get_days() >= EVERY_DAYS);
        if !is_due {
            return Ok(None);
        }
        let folder = self.backup_folder();
        std::fs::create_dir_all(&folder).map_err(LogError::file(&folder, Tried::Made))?;
        let to = folder.join(format!("{today}.db"));
        copy(&self.connection, &to, &AtomicBool::new(false))?;
        for old in copies.iter().rev().skip(KEPT - 1) {
            let _ = std::fs::remove_file(&old.path);
        }
        Ok(Some(to))
    }
}

/// Pages copied in one go, and the pause after them, in which others may write.
const PAGES: i32 = 256;
const PAUSE: Duration = Duration::from_millis(2);

/// Copies a database page by page under a temporary name, checks the copy, syncs and renames it.
pub fn copy(from: &Connection, to: &Path, stop: &AtomicBool) -> Result<(), LogError> {
    let failed = || LogError::file(to, Tried::Written);
    let file = Unfinished::begin(folder_of(to)).map_err(failed())?.close();
    let mut target = Connection::open(file.path())?;
    let copying = Backup::new(from, &mut target)?;
    while copying.step(PAGES)? != StepResult::Done {
        if stop.load(Ordering::Relaxed) {
            return Err(Refused::BackupStopped(to).into());
        }
        std::thread::sleep(PAUSE);
    }
    drop(copying);
    // The copy says it is in WAL mode; a single file is wanted.
    target.pragma_update(None, "journal_mode", "DELETE")?;
    let verdict: String = target.pragma_query_value(None, "quick_check", |row| row.get(0))?;
    if verdict != "ok" {
        return Err(LogError::Damaged(Damage::Says(verdict)));
    }
    target.close().map_err(|(_, error)| LogError::from(error))?;
    file.becomes(to).map_err(failed())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::Card;

    /// What a log of a busy year goes through, its copies put back in time.
    #[test]
    fn a_week_after_the_last_copy_the_next_is_made_and_eight_are_kept() {
        let folder = tempfile::tempdir().unwrap();
        let mut log = Log::open(&folder.path().join("reeds.db")).unwrap();
        log.add(&Card::new("A")).unwrap();
        assert!(log.backups().is_empty(), "a log of today has nothing to lose yet");
        log.connection
            .execute("UPDATE change SET at = '2020-01-01T00:00:00.000Z' WHERE id = 1", [])
            .unwrap();
        log.add(&Card::new("B")).unwrap();
        let first = log.backups();
        assert_eq!(first.len(), 1);
        let copy = Log::open_existing(&first[0].path).unwrap();
        assert_eq!(copy.reeds().unwrap().len(), 1, "made before the change");
        drop(copy);
        log.add(&Card::new("C")).unwrap();
        assert_eq!(log.backups().len(), 1, "one a week is enough");
        for month in 1..=9 {
            let old = log.backup_folder().join(format!("2019-0{month}-01.db"));
            std::fs::copy(&first[0].path, old).unwrap();
        }
        std::fs::remove_file(&first[0].path).unwrap();
        log.add(&Card::new("D")).unwrap();
        let days: Vec<String> = log.backups().iter().map(|copy| copy.day.to_string()).collect();
        assert_eq!((days.len(), days[0].as_str()), (8, "2019-03-01"));
    }

    #[test]
    fn a_copy_that_is_stopped_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let from = Connection::open_in_memory().unwrap();
        // More than is copied in one go.
        from.execute_batch("CREATE TABLE t AS SELECT zeroblob(8000000) AS b").unwrap();
        let to = folder.path().join("copy.db");
        let stopped = copy(&from, &to, &AtomicBool::new(true)).unwrap_err().to_string();
        assert_eq!(stopped, Refused::BackupStopped(&to).to_string());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
        copy(&from, &to, &AtomicBool::new(false)).unwrap();
        assert!(to.exists());
    }
}
