//! Recordings added to a reed.

use std::path::PathBuf;
use std::process::ExitCode;

use super::conditions::Said;
use crate::cli::log_file::LogFile;
use crate::cli::measured::Unit;
use crate::cli::recording::analyse;
use crate::cli::{expectations, output};
use crate::log::{Became, Known, NewTake, effects};
use crate::report::history::ruled;
use crate::report::terminal;
use crate::take::{Channel, STANDARD_INPUT};
use crate::words::commands as words_of;
use crate::words::stage::stage_name;

/// `reed take`.
#[derive(Debug, clap::Args)]
pub struct Take {
    /// The reed
    label: String,
    /// Recordings of the reed as it is now
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    #[command(flatten)]
    said: Said,
    #[command(flatten)]
    unit: Unit,
}

impl Take {
    /// Runs it: a recording that cannot be added is said so, and the rest go on.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let mut log = log.open_existing()?;
        let card = log.reed(&self.label)?.card;
        let (mut profile, a4) = expectations::of_card(&card)?;
        profile.ear = log.ear(&profile.name)?;
        profile.blowing = log.blowing()?;
        let (others, _) = output::whole(log.facts(|_| true)?);
        let effects = effects(&others);
        let mut known = Known::of(&log.history(&self.label)?, &effects);
        let conditions = self.said.conditions();
        let conditions = conditions.as_ref();
        let style = output::style();
        let mut any_added = false;
        let mut failed = false;
        if self.files.iter().any(|file| file.as_os_str() == STANDARD_INPUT) {
            anyhow::bail!(words_of::TAKE_IS_A_FILE);
        }
        for file in &self.files {
            let added = analyse(file, Channel::default(), &profile, a4).and_then(|analysis| {
                let reading = analysis.reading;
                let advice = known.advise_after(&reading, &profile);
                let advised = Some(&advice);
                let take = NewTake { file, reading: &reading, advice: advised, conditions };
                Ok((log.take(&self.label, take)?, reading))
            });
            let (added, reading) = match added {
                Ok(added) => added,
                Err(error) => {
                    output::complain(&format!("{error:#}"));
                    failed = true;
                    continue;
                }
            };
            let head = words_of::take(
                &self.label,
                added.number,
                &stage_name(added.after_step),
                added.became == Became::Added,
                added.became == Became::Corrected,
            );
            let short = terminal::short(&reading, &profile, &style);
            let told = style.letters(format!("{head}\n{short}"));
            output::tells(&told);
            output::print_done(&told)?;
            // What is told of the next one, and at the end, is what the card says of all so far.
            known = Known::of(&log.history(&self.label)?, &effects);
            any_added = true;
        }
        // A recording that the reed had already counts at the stage it was added to.
        if let Some(advice) = known.advise(&profile).filter(|_| any_added) {
            let found = ruled(&log.history(&self.label)?, &profile);
            output::print_done(&terminal::next_move(&advice, &found, self.unit.unit(), &style))?;
        }
        Ok(if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS })
    }
}
