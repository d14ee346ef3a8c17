//! Cuts and takes that were written down wrongly.

use std::process::ExitCode;

use anyhow::ensure;

use super::conditions::Said;
use super::words;
use super::work::work;
use crate::bench::grammar::help_on_cuts;
use crate::cli::log_file::LogFile;
use crate::cli::measured::Typed;
use crate::cli::output;
use crate::log::Step;
use crate::words::commands::NOTHING_TO_CORRECT;

/// `reed correct`.
#[derive(Debug, clap::Args)]
#[command(after_help = help_on_cuts())]
pub struct Correct {
    /// The reed
    label: String,
    /// The cut that is wrong, by its number
    #[arg(long, value_name = "NUMBER", required_unless_present = "take", conflicts_with = "take")]
    step: Option<u32>,
    /// What was done instead, in the words of the bench: clip 0.2, tip corners
    #[arg(value_name = "WORK", requires = "step")]
    done: Vec<String>,
    /// Only how much, in mm or inches
    #[arg(long, value_name = "AMOUNT", requires = "step")]
    amount: Option<Typed>,
    /// Where, how, why
    #[arg(long, value_name = "TEXT", value_parser = words, requires = "step")]
    note: Option<String>,
    /// The take of which something is wrong, by its number
    #[arg(long, value_name = "NUMBER")]
    take: Option<u32>,
    /// After how many cuts it was made
    #[arg(long, value_name = "NUMBER", requires = "take")]
    after_step: Option<u32>,
    #[command(flatten)]
    said: Said,
}

impl Correct {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let mut log = log.open_existing()?;
        if let Some(number) = self.step {
            let done = work(&self.done, "correct")?;
            ensure!(
                done.is_some() || self.amount.is_some() || self.note.is_some(),
                NOTHING_TO_CORRECT
            );
            log.correct_step(&self.label, number, |step| {
                if let Some(done) = done {
                    *step = Step { note: done.note.or(step.note.take()), ..done };
                }
                step.amount_mm = self.amount.map(|typed| typed.length.0).or(step.amount_mm);
                step.note = self.note.or(step.note.take());
            })?;
        }
        if let Some(number) = self.take {
            let said = self.said.conditions();
            ensure!(self.after_step.is_some() || said.is_some(), NOTHING_TO_CORRECT);
            log.correct_take(&self.label, number, self.after_step, said)?;
        }
        let told = log.corrections(&self.label)?.pop();
        let told = told.map(|correction| correction.what).unwrap_or_default();
        output::print_done(&format!("{}: {told}\n", self.label))?;
        Ok(ExitCode::SUCCESS)
    }
}
