//! What the log holds, shown.

use std::process::ExitCode;

use crate::cli::log_file::LogFile;
use crate::cli::output;
use crate::report::{history, json};

/// `reed list`.
#[derive(Debug, clap::Args)]
pub struct List {
    /// One line of JSON per reed
    #[arg(long)]
    json: bool,
}

impl List {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let histories = log.open_existing()?.histories()?;
        let text = if self.json {
            histories.iter().map(|history| json::one_line(history) + "\n").collect()
        } else {
            history::list(&histories)
        };
        output::print(&output::style().letters(text))?;
        Ok(ExitCode::SUCCESS)
    }
}

/// `reed show`.
#[derive(Debug, clap::Args)]
pub struct Show {
    /// The reed
    label: String,
    /// One line of JSON
    #[arg(long)]
    json: bool,
}

impl Show {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let history = log.open_existing()?.history(&self.label)?;
        let text = if self.json {
            json::one_line(&history) + "\n"
        } else {
            output::style().letters(history::sheet(&history))
        };
        output::print(&text)?;
        Ok(ExitCode::SUCCESS)
    }
}
