//! The account for the owner.

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::Context;

use super::take::expectations;
use crate::cli::log_file::LogFile;
use crate::cli::output;
use crate::comparison::compare;
use crate::log::pair;
use crate::reed::findings;
use crate::report::account;

/// `reed account`.
#[derive(Debug, clap::Args)]
pub struct Account {
    /// The reed
    label: String,
    /// Write it to a file that is not there yet, in Markdown
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

impl Account {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let history = log.open_existing()?.history(&self.label)?;
        let (profile, _) = expectations(&history.reed.card)?;
        let found = findings(&history.measured_now(), &history.seen_now(), &profile);
        let ends = pair(&history, 0, history.stage());
        let changed = !ends.before.is_empty() && !ends.after.is_empty() && history.stage() > 0;
        let comparison = changed.then(|| compare(&ends.before, &ends.after, &profile));
        let text = account::Account {
            history: &history,
            profile: &profile,
            findings: &found,
            comparison: comparison.as_ref(),
        }
        .text();
        match self.out {
            None => output::print(&output::style().letters(text))?,
            Some(path) => {
                let mut file =
                    std::fs::File::create_new(&path).with_context(|| path.display().to_string())?;
                std::io::Write::write_all(&mut file, text.as_bytes())
                    .with_context(|| path.display().to_string())?;
                output::print(&format!("{}: the account\n", path.display()))?;
            }
        }
        Ok(ExitCode::SUCCESS)
    }
}
