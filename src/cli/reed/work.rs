//! What was measured, seen and done, and taken back.

use std::process::ExitCode;

use super::words::words;
use crate::cli::log_file::LogFile;
use crate::cli::measured::{Lengths, Looks, Typed, Unit};
use crate::cli::{expectations, output};
use crate::log::{self, History, Observed, Wetness};
use crate::reed::moves::{Row, WORK};
use crate::reed::{Cut, Sizes};
use crate::report::history;
use crate::report::terminal::Style;

/// `reed measure`.
#[derive(Debug, clap::Args)]
pub struct Measure {
    /// The reed
    label: String,
    #[command(flatten)]
    lengths: Lengths,
    /// Whether the cane is wet or dry: compare only lengths of one state
    #[arg(long, value_enum, value_name = "STATE")]
    state: Option<Wetness>,
    #[command(flatten)]
    unit: Unit,
}

impl Measure {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let measurements = self.lengths.measurements()?;
        let unit = self.unit.or(self.lengths.unit());
        anyhow::ensure!(
            measurements != Default::default(),
            "nothing to write down; give at least one, such as --length-mm 70"
        );
        let mut log = log.open_existing()?;
        let earlier = log.history(&self.label)?;
        let corrected = here(&earlier, History::measured).corrected_by(*measurements);
        log.measure(&self.label, &measurements, self.state)?;
        let words = |sizes: &Sizes| history::measurements(sizes, unit);
        // A card whose profile can no longer be read is measured as usual.
        let (profile, _) = expectations::of_card(&earlier.reed.card).unwrap_or_default();
        let (now, style) = (log.history(&self.label)?, output::style());
        let doubts = history::doubts(&now, &profile, &measurements, unit, &style);
        let written = written(&self.label, &words(&measurements), &words(&corrected), &style);
        output::print_done(&style.letters(written + &doubts))?;
        Ok(ExitCode::SUCCESS)
    }
}

/// `reed inspect`.
#[derive(Debug, clap::Args)]
pub struct Inspect {
    /// The reed
    label: String,
    #[command(flatten)]
    looks: Looks,
}

impl Inspect {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let inspection = self.looks.inspection();
        anyhow::ensure!(
            inspection != Default::default(),
            "nothing to write down; give at least one, such as --leak none"
        );
        let mut log = log.open_existing()?;
        let corrected = here(&log.history(&self.label)?, History::seen).corrected_by(inspection);
        log.inspect(&self.label, &inspection)?;
        let words = history::inspection;
        let style = output::style();
        let written = written(&self.label, &words(&inspection), &words(&corrected), &style);
        output::print_done(&style.letters(written))?;
        Ok(ExitCode::SUCCESS)
    }
}

/// What holds at the stage the reed is in; the default where nothing was observed there.
fn here<T: Default>(history: &History, observed: fn(&History) -> Vec<Observed<T>>) -> T {
    let stage = history.stage();
    let here = observed(history).into_iter().find(|here| here.after_step == stage);
    here.map(|here| here.now).unwrap_or_default()
}

/// What was written down, and instead of what.
fn written(label: &str, given: &str, corrected: &str, style: &Style) -> String {
    let instead = match corrected {
        "" => String::new(),
        before => format!(" (corrected; before, it said {before})"),
    };
    let lines = style.wrapped(&format!("{label}: "), &format!("{given}{instead}"));
    lines.join("\n") + "\n"
}

/// `reed step`.
#[derive(Debug, clap::Args)]
pub struct Step {
    /// The reed
    label: String,
    /// What was done: clip, tip sides, heart sides ... (as the bench types it), or note
    #[arg(value_name = "WORK", value_parser = is_work)]
    work: String,
    /// Where, of work that has places; how much in mm, or inches (0.01in): a clip needs it. For a
    /// note, its words
    #[arg(value_name = "WHERE|AMOUNT|WORDS", allow_negative_numbers = true)]
    more: Option<String>,
    /// Where, how, why
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true, value_parser = words)]
    note: Option<String>,
    #[command(flatten)]
    unit: Unit,
}

/// The word for a step that cuts nothing.
const NOTE: &str = "note";

/// Errors: a word that begins no work.
fn is_work(text: &str) -> Result<String, String> {
    let begins = |row: &Row| row.words.split(' ').next() == Some(text);
    if text == NOTE || Cut::named(text).is_some() || WORK.iter().any(begins) {
        return Ok(text.to_owned());
    }
    let known: Vec<&str> = WORK.iter().map(|row| row.code).collect();
    Err(format!("one of: {}, {NOTE}", known.join(", ")))
}

impl Step {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let placed =
            self.more.as_ref().and_then(|more| Cut::named(&format!("{} {more}", self.work)));
        let cut = placed.or_else(|| Cut::named(&self.work));
        let more = self.more.filter(|_| placed.is_none());
        let (amount, words) = match (cut, more) {
            (None, words) => (None, words),
            (Some(_), more) => (more.map(|amount| amount.parse::<Typed>()).transpose()?, None),
        };
        let step = log::Step {
            cut,
            amount_mm: amount.map(|amount| amount.length.0),
            note: words.or(self.note),
        };
        let number = log.open_existing()?.step(&self.label, &step)?;
        let head = match number {
            Some(number) => format!("{}: step {number}, ", self.label),
            None => format!("{}: ", self.label),
        };
        let unit = self.unit.or(amount.map(Typed::unit).unwrap_or_default());
        let style = output::style();
        let lines = style.wrapped(&head, &unit.retold(&step.words()));
        output::print_done(&style.letters(lines.join("\n") + "\n"))?;
        Ok(ExitCode::SUCCESS)
    }
}

/// `reed undo`.
#[derive(Debug, clap::Args)]
pub struct Undo {
    /// The reed
    label: String,
}

impl Undo {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let undone = log.open_existing()?.undo(&self.label)?;
        let gone = match undone.what.as_str() {
            "new reed" => {
                format!(
                    "; its card is taken back; 'reedcrow reed redo {}' brings it back",
                    self.label
                )
            }
            _ => String::new(),
        };
        output::print_done(&format!("{}: undone: {}{gone}\n", self.label, undone.what))?;
        Ok(ExitCode::SUCCESS)
    }
}

/// `reed redo`.
#[derive(Debug, clap::Args)]
pub struct Redo {
    /// The reed
    label: String,
}

impl Redo {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let redone = log.open_existing()?.redo(&self.label)?;
        output::print_done(&format!("{}: made again: {}\n", self.label, redone.what))?;
        Ok(ExitCode::SUCCESS)
    }
}
