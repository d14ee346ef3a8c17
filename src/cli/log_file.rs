//! The option that names the log, shared by the commands that use one.

use std::path::PathBuf;

use anyhow::Context;

use super::output;
use crate::log::{LOG_VARIABLE, Log, place};

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
        let log = Log::open(&self.path()?)?;
        say_upgraded(&log);
        Ok(log)
    }

    /// Opens a log that must be there.
    pub fn open_existing(&self) -> anyhow::Result<Log> {
        let log = Log::open_existing(&self.path()?)?;
        say_upgraded(&log);
        Ok(log)
    }

    fn path(&self) -> anyhow::Result<PathBuf> {
        place(self.log.clone(), std::env::var_os(LOG_VARIABLE).map(PathBuf::from))
            .context("this system has no data folder for you; name the log with --log FILE")
    }
}

fn say_upgraded(log: &Log) {
    if let Some(upgrade) = log.upgraded() {
        output::complain(&format!(
            "the log was brought from form {} to this program's; the log as it was is kept in {}",
            upgrade.from,
            upgrade.backup.display()
        ));
    }
}
