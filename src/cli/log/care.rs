//! Looking after the log: checked, mended, copied, its recordings read again.

use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::bench::readings::{Tones, read_recording};
use crate::cli::log_file::LogFile;
use crate::cli::recording::analyse;
use crate::cli::{expectations, output};
use crate::log::heard::{self, LoggedHeard};
use crate::log::{CheckUp, Log, LogError, Outcome, Reread as Outcomes};
use crate::report::{json, log_care};
use crate::take::Channel;
use crate::words::commands as words;

/// `log check`.
#[derive(Debug, clap::Args)]
pub struct Check {
    /// Mend what can be mended, say what is lost, then check again
    #[arg(long)]
    mend: bool,
    /// With --mend: a folder to look for missing recordings in, such as an export; again for others
    #[arg(long, value_name = "FOLDER", requires = "mend")]
    from: Vec<PathBuf>,
    /// One line of JSON; with --mend a first one says what was done
    #[arg(long)]
    json: bool,
}

impl Check {
    /// Runs it.
    pub fn run(self, file: &LogFile) -> anyhow::Result<ExitCode> {
        let style = output::style();
        if self.mend {
            for folder in &self.from {
                anyhow::ensure!(folder.is_dir(), words::no_folder_to_mend_from(folder));
            }
            let mended = Log::mend(&file.path()?, &self.from)?;
            let text = match self.json {
                true => json::one_line(&mended) + "\n",
                false => style.letters(log_care::mended(&mended, &style)),
            };
            output::print_done(&text)?;
        }
        let mut log = file.open_existing()?;
        let check_up = match (log.check(), self.mend) {
            (Ok(check_up), true) => self.read_again(&mut log, check_up)?,
            (Err(LogError::Damaged(what)), _) => CheckUp::damaged(&what.to_string()),
            (check_up, _) => check_up?,
        };
        let text = match self.json {
            true => json::one_line(&check_up) + "\n",
            false => style.letters(log_care::check_up(&check_up, &style)),
        };
        output::print(&text)?;
        if check_up.faults.is_empty() {
            return Ok(ExitCode::SUCCESS);
        }
        output::complain(&words::faults(log.path(), check_up.faults.len()));
        Ok(ExitCode::FAILURE)
    }

    /// Reads takes anew whose readings are lost, and checks again.
    fn read_again(&self, log: &mut Log, check_up: CheckUp) -> anyhow::Result<CheckUp> {
        let unread = log.unread()?;
        if unread.is_empty() {
            return Ok(check_up);
        }
        for label in &unread {
            let told = reread(log, Some(label))?;
            if !self.json {
                output::print_done(&output::style().letters(log_care::reread(&told)))?;
            }
        }
        Ok(log.check()?)
    }
}

/// `log backup`.
#[derive(Debug, clap::Args)]
pub struct Backup {
    /// A file that is not there yet
    file: PathBuf,
}

impl Backup {
    /// Runs it.
    pub fn run(self, log: &Log) -> anyhow::Result<ExitCode> {
        let stop = Arc::new(AtomicBool::new(false));
        let told = Arc::clone(&stop);
        // Where nothing can watch for it, Ctrl-C ends the program as it does any other.
        let _ = ctrlc::set_handler(move || told.store(true, Ordering::Relaxed));
        log.backup(&self.file, &stop)?;
        let told = words::backed_up(&self.file, log.audio_folder(), log.path());
        let style = output::style();
        let lines = style.wrapped("", &told);
        output::print(&style.letters(lines.join("\n") + "\n"))?;
        Ok(ExitCode::SUCCESS)
    }
}

/// `log reread`.
#[derive(Debug, clap::Args)]
pub struct Reread {
    /// Only this reed
    label: Option<String>,
    /// One line of JSON per take
    #[arg(long)]
    json: bool,
}

impl Reread {
    /// Runs it.
    pub fn run(self, log: &mut Log) -> anyhow::Result<ExitCode> {
        let outcomes = reread(log, self.label.as_deref())?;
        let text = match self.json {
            true => outcomes.iter().map(|outcome| json::one_line(outcome) + "\n").collect(),
            false => log_care::reread(&outcomes),
        };
        output::print_done(&output::style().letters(text))?;
        let is_failed = |one: &&Outcomes| matches!(one.outcome, Outcome::Failed(_));
        let failed = outcomes.iter().filter(is_failed).count();
        if failed == 0 {
            return Ok(ExitCode::SUCCESS);
        }
        output::complain(&words::not_reread(failed));
        Ok(ExitCode::FAILURE)
    }
}

/// Reads the takes of one reed, or of all, again, each as its card asks.
fn reread(log: &mut Log, label: Option<&str>) -> anyhow::Result<Vec<Outcomes>> {
    let said: Vec<LoggedHeard> = log.all_heard()?.into_iter().map(|crow| crow.said).collect();
    let outcomes = log.reread(label, |card, file, tones_kept| {
        let read = expectations::of_card(card).and_then(|(mut profile, a4)| {
            profile.ear = heard::ear(&said, &profile.name);
            Ok(match tones_kept {
                true => read_recording(file, &card.label, (&profile, a4), Tones::Kept)?,
                false => analyse(file, Channel::default(), &profile, a4)?.reading,
            })
        });
        read.map_err(|error| format!("{error:#}"))
    })?;
    Ok(outcomes)
}
