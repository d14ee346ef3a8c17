//! The option that names the log, shared by the commands that use one.

use std::path::PathBuf;

use anyhow::Context;

use super::output;
use crate::log::{LOG_VARIABLE, Log, place};
use crate::words::commands as words;

/// Which log.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct LogFile {
    /// The log's file [default: $REEDCROW_LOG, else reeds.db in your data folder]
    #[arg(long, global = true, value_name = "FILE")]
    log: Option<PathBuf>,
}

impl LogFile {
    /// Opens the log, made where there is none.
    pub fn open(&self) -> anyhow::Result<Log> {
        let path = self.path()?;
        // Only the usual place is made: a folder that was named and is not there is a slip, or a disk
        // that is not connected.
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        if self.is_named() && folder.is_some_and(|folder| !folder.is_dir()) {
            anyhow::bail!(words::no_folder_of_log(&path));
        }
        let log = Log::open(&path)?;
        say_upgraded(&log);
        Ok(log)
    }

    /// Opens a log that must be there.
    pub fn open_existing(&self) -> anyhow::Result<Log> {
        let log = Log::open_existing(&self.path()?)?;
        say_upgraded(&log);
        Ok(log)
    }

    fn is_named(&self) -> bool {
        self.log.is_some() || named().is_some_and(|path| !path.as_os_str().is_empty())
    }

    /// The file.
    pub fn path(&self) -> anyhow::Result<PathBuf> {
        place(self.log.clone(), named()).context(words::NO_PLACE)
    }
}

fn named() -> Option<PathBuf> {
    std::env::var_os(LOG_VARIABLE).map(PathBuf::from)
}

fn say_upgraded(log: &Log) {
    if let Some(upgrade) = log.upgraded() {
        output::complain(&words::upgraded(upgrade.from, &upgrade.backup));
    }
}
