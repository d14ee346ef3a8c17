//! Cuts, takes and measurements that were written down wrongly.

use std::process::ExitCode;

use anyhow::{Context, bail, ensure};

use super::conditions::Said;
use super::words;
use super::work::{measured, work};
use crate::bench::grammar::{help_on_cuts, help_on_sizes};
use crate::cli::log_file::LogFile;
use crate::cli::measured::Typed;
use crate::cli::output;
use crate::log::Step;
use crate::words::commands::{CORRECT_WHICH, CROWED_IN_WHICH_TAKE, nothing_to_correct};

/// `reed correct`.
#[derive(Debug, clap::Args)]
#[command(after_help = help_on_cuts() + &help_on_sizes())]
pub struct Correct {
    /// The reed
    label: String,
    /// The cut that is wrong, by its number
    #[arg(long, value_name = "NUMBER", conflicts_with_all = ["take", "after_step"])]
    step: Option<u32>,
    /// What was done or measured instead, in the words of the bench: clip 0.2, tip corners, length 70.6
    #[arg(value_name = "WORK OR WHAT MM", allow_negative_numbers = true, conflicts_with = "take")]
    right: Vec<String>,
    /// Only how much, in mm or inches
    #[arg(long, value_name = "AMOUNT", requires = "step")]
    amount: Option<Typed>,
    /// Where, how, why
    #[arg(long, value_name = "TEXT", value_parser = words, requires = "step")]
    note: Option<String>,
    /// The take of which something is wrong, by its number
    #[arg(long, value_name = "NUMBER")]
    take: Option<u32>,
    /// After how many cuts the take was made; without a take, after how many cuts what is wrong was
    /// measured (0: as it came)
    #[arg(long, value_name = "NUMBER")]
    after_step: Option<u32>,
    #[command(flatten)]
    said: Said,
}

/// The command, behind which the words of the bench stand.
const COMMAND: &str = "correct";

impl Correct {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let said = self.said.conditions();
        ensure!(said.is_none() || self.take.is_some(), CROWED_IN_WHICH_TAKE);
        let mut log = log.open_existing()?;
        if let Some(number) = self.step {
            let done = work(&self.right, COMMAND)?;
            ensure!(
                done.is_some() || self.amount.is_some() || self.note.is_some(),
                nothing_to_correct("clip 0.2")
            );
            log.correct_step(&self.label, number, |step| {
                if let Some(done) = done {
                    *step = Step { note: done.note.or(step.note.take()), ..done };
                }
                step.amount_mm = self.amount.map(|typed| typed.length.0).or(step.amount_mm);
                step.note = self.note.or(step.note.take());
            })?;
        } else if let Some(number) = self.take {
            ensure!(
                self.after_step.is_some() || said.is_some(),
                nothing_to_correct("--after-step 1")
            );
            log.correct_take(&self.label, number, self.after_step, said)?;
        } else if let Some(after_step) = self.after_step {
            let right = measured(&self.right, COMMAND)?;
            let right = right.with_context(|| nothing_to_correct("length 70.6"))?;
            log.correct_measurement(&self.label, after_step, &right)?;
        } else {
            bail!(CORRECT_WHICH);
        }
        let told = log.corrections(&self.label)?.pop();
        let told = told.map(|correction| correction.what).unwrap_or_default();
        let style = output::style();
        let lines = style.wrapped(&format!("{}: ", self.label), &told);
        output::print_done(&style.letters(lines.join("\n") + "\n"))?;
        Ok(ExitCode::SUCCESS)
    }
}
