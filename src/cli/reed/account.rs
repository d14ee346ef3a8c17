//! The account for the owner.

use std::io::IsTerminal;
use std::path::PathBuf;
use std::process::ExitCode;

use crate::cli::log_file::LogFile;
use crate::cli::measured::Unit;
use crate::cli::{expectations, output};
use crate::comparison::compare;
use crate::log::first_and_last;
use crate::reed::{Measurements, findings};
use crate::report::account;

/// `reed account`.
#[derive(Debug, clap::Args)]
pub struct Account {
    /// The reed
    label: String,
    /// Write it to a file that is not there yet, in Markdown
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    #[command(flatten)]
    unit: Unit,
}

impl Account {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let history = log.open_existing()?.history(&self.label)?;
        let (profile, _) = expectations::of_card(&history.reed.card)?;
        let ruler_mm = profile.tolerance.measuring_mm;
        let measured = history.without_doubted(*history.measured_now(), ruler_mm);
        let measured = Measurements::new(measured).unwrap_or_default();
        let found = findings(&measured, &history.first_seen(), &profile);
        let left = findings(&measured, &history.seen_now(), &profile);
        let ends = first_and_last(&history);
        let comparison = ends.as_ref().map(|ends| compare(&ends.before, &ends.after, &profile));
        let account = account::Account {
            history: &history,
            profile: &profile,
            findings: &found,
            left: &left,
            comparison: comparison.as_ref().zip(ends.as_ref().map(|ends| ends.stages)),
            unit: self.unit.unit(),
        };
        if let Some(path) = self.out.as_ref().filter(|path| path.symlink_metadata().is_ok()) {
            anyhow::bail!("{}: is there already; name a new file", path.display());
        }
        match self.out {
            // What goes on to a file or a mail is broken there.
            None if std::io::stdout().is_terminal() => {
                output::print(&account.wrapped(&output::style()))?;
            }
            None => output::print(&output::style().letters(account.text()))?,
            Some(path) => {
                output::save_new(&path, account.text().as_bytes()).map_err(|error| {
                    anyhow::anyhow!("{}: {}", path.display(), output::why_not_written(&error))
                })?;
                output::print(&format!("{}: the account\n", path.display()))?;
            }
        }
        Ok(ExitCode::SUCCESS)
    }
}
