//! What was measured, seen and done, and taken back.

use std::process::ExitCode;

use super::show::{next_told, stands};
use super::words;
use crate::bench::grammar::{
    self, Entry, help_on_cuts, help_on_looks, help_on_rating, help_on_sizes,
};
use crate::cli::log_file::LogFile;
use crate::cli::measured::{Lengths, Looks, Typed, Unit};
use crate::cli::{expectations, output};
use crate::log::{self, History, LogError, Observed, Wetness};
use crate::reed::{Inspection, Measurements, Sizes};
use crate::report::history;
use crate::report::terminal::Style;
use crate::words::bench as words_at_the_bench;
use crate::words::format::LengthUnit;
use crate::words::{commands as words_of, reed as reed_words, sheet, stage};

/// `reed measure`.
#[derive(Debug, clap::Args)]
#[command(after_help = help_on_sizes())]
pub struct Measure {
    /// The reed
    label: String,
    /// What was measured, in the words of the bench: length 70.2 tip 66
    #[arg(value_name = "WHAT MM", allow_negative_numbers = true)]
    said: Vec<String>,
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
        let given = self.lengths.measurements()?;
        let measurements = match measured(&self.said, "measure")? {
            None => given,
            Some(measured) if given == Measurements::default() => measured,
            Some(_) => anyhow::bail!(words_of::EITHER),
        };
        let unit = self.unit.or(typed_in(&self.said).unwrap_or(self.lengths.unit()));
        anyhow::ensure!(measurements != Default::default(), words_of::nothing_given("length 70"));
        let mut log = log.open_existing()?;
        let earlier = log.history(&self.label)?;
        let corrected = here(&earlier, History::measured).corrected_by(*measurements);
        log.measure(&self.label, &measurements, self.state)?;
        let words = |sizes: &Sizes| reed_words::measurements(sizes, unit);
        // A card whose profile can no longer be read is measured as usual.
        let (profile, _) = expectations::of_card(&earlier.reed.card).unwrap_or_default();
        let (now, style) = (log.history(&self.label)?, output::style());
        let doubts = history::doubts(&now, &profile, &measurements, unit, &style);
        let written = written(&self.label, &words(&measurements), &words(&corrected), &style);
        let found = history::found(&now, &profile, unit, &style);
        output::print_done(&style.letters(written + &doubts + &found))?;
        if let Some(next) = next_told(&log, &now, unit, &style)? {
            output::print_done(&next)?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

/// `reed inspect`.
#[derive(Debug, clap::Args)]
#[command(after_help = help_on_looks())]
pub struct Inspect {
    /// The reed
    label: String,
    /// What was seen, in the words of the bench: leak none bark kept
    #[arg(value_name = "PART STATE")]
    said: Vec<String>,
    #[command(flatten)]
    looks: Looks,
}

impl Inspect {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let given = self.looks.inspection();
        let inspection = match said(&[], &self.said, "inspect")? {
            None => given,
            Some(Entry::Look(seen)) if given == Inspection::default() => seen,
            Some(Entry::Look(_)) => anyhow::bail!(words_of::EITHER),
            Some(_) => anyhow::bail!(words_of::not_of(&self.said.join(" "), "inspect")),
        };
        anyhow::ensure!(inspection != Default::default(), words_of::nothing_given("leak none"));
        let mut log = log.open_existing()?;
        let corrected = here(&log.history(&self.label)?, History::seen).corrected_by(inspection);
        log.inspect(&self.label, &inspection)?;
        let words = reed_words::inspection;
        let style = output::style();
        let written = written(&self.label, &words(&inspection), &words(&corrected), &style);
        let (now, unit) = (log.history(&self.label)?, LengthUnit::default());
        let (profile, _) = expectations::of_card(&now.reed.card).unwrap_or_default();
        let found = history::found(&now, &profile, unit, &style);
        output::print_done(&style.letters(written + &found))?;
        if let Some(next) = next_told(&log, &now, unit, &style)? {
            output::print_done(&next)?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

/// What `words` behind a command say, read as the bench reads them; `None` where there are none.
///
/// * `before`: what stands before them at the bench.
///
/// Errors: they are no line of the grammar.
fn said(before: &[&str], words: &[String], command: &str) -> anyhow::Result<Option<Entry>> {
    if words.is_empty() {
        return Ok(None);
    }
    let line: Vec<&str> = before.iter().copied().chain(words.iter().map(String::as_str)).collect();
    let shown_by = words_of::shown_by(command);
    let refused =
        |refusal: grammar::Refusal| anyhow::anyhow!(refusal.told(&before.join(" "), &shown_by));
    grammar::parse(&line.join(" ")).map_err(refused)
}

/// Inches beside millimetres where a length among `words` was typed in inches.
fn typed_in(words: &[String]) -> Option<LengthUnit> {
    let words = grammar::with_units(words);
    let mut lengths = words.iter().filter_map(|word| word.parse::<Typed>().ok()).map(Typed::unit);
    lengths.find(|unit| *unit == LengthUnit::Both)
}

/// What holds at the stage the reed is in; the default where nothing was observed there.
fn here<T: Default>(history: &History, observed: fn(&History) -> Vec<Observed<T>>) -> T {
    let stage = history.stage();
    let here = observed(history).into_iter().find(|here| here.after_step == stage);
    here.map(|here| here.now).unwrap_or_default()
}

/// What was written down, and instead of what.
fn written(label: &str, given: &str, corrected: &str, style: &Style) -> String {
    let lines = style.wrapped(&format!("{label}: "), &words_of::written(given, corrected));
    lines.join("\n") + "\n"
}

/// `reed step`.
#[derive(Debug, clap::Args)]
#[command(after_help = help_on_cuts())]
pub struct Step {
    /// The reed
    label: String,
    /// What was done, in the words of the bench: clip 0.3 (mm, or 0.01in), tip sides, note WORDS
    #[arg(value_name = "WORK", required = true, allow_negative_numbers = true)]
    said: Vec<String>,
    /// Where, how, why
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true, value_parser = words)]
    note: Option<String>,
    #[command(flatten)]
    unit: Unit,
}

/// The word for a step that cuts nothing.
const NOTE: &str = "note";

impl Step {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let step = self.step()?;
        let mut log = log.open_existing()?;
        // What stands before a cut is what the adviser is held to.
        let stood = step.cut.and_then(|_| stands(&log, &self.label));
        let number = log.step_after(&self.label, &step, stood.as_ref())?;
        let head = words_of::step_head(&self.label, number);
        let unit = self.unit.or(typed_in(&self.said).unwrap_or_default());
        let style = output::style();
        let mut lines = style.wrapped(&head, &stage::step(&step, unit));
        let now = log.history(&self.label)?;
        // A card whose profile can no longer be read is held to the usual one.
        let (profile, _) = expectations::of_card(&now.reed.card).unwrap_or_default();
        for doubt in history::doubtful_step(&now, &profile, &step, unit) {
            lines.extend(style.wrapped("", &doubt));
        }
        output::print_done(&style.letters(lines.join("\n") + "\n"))?;
        Ok(ExitCode::SUCCESS)
    }

    fn step(&self) -> anyhow::Result<log::Step> {
        // A note's words are the maker's own.
        if let [word, words @ ..] = self.said.as_slice()
            && word == NOTE
        {
            let words = Some(words.join(" ")).filter(|words| !words.is_empty());
            return Ok(log::Step { note: words.or(self.note.clone()), ..log::Step::note("") });
        }
        let step = work(&self.said, "step")?.unwrap_or_else(|| log::Step::note(""));
        Ok(log::Step { note: step.note.or(self.note.clone()), ..step })
    }
}

/// The work that `words` behind a command say; `None` where there are none.
///
/// Errors: they say something else, or nothing that is understood.
pub(super) fn work(words: &[String], command: &str) -> anyhow::Result<Option<log::Step>> {
    match said(&[], words, command)? {
        None => Ok(None),
        Some(Entry::Step(step)) => Ok(Some(step)),
        Some(_) => anyhow::bail!(words_of::not_of(&words.join(" "), command)),
    }
}

/// The measurements that `words` behind a command say; `None` where there are none.
///
/// Errors: as [`work`]; a value no double reed has, or two that contradict each other.
pub(super) fn measured(words: &[String], command: &str) -> anyhow::Result<Option<Measurements>> {
    // A number alone is the length.
    let is_bare = words.first().is_some_and(|word| word.starts_with(|c: char| c.is_ascii_digit()));
    let before = if is_bare { &["measure"][..] } else { &[] };
    match said(before, words, command)? {
        None => Ok(None),
        Some(Entry::Measure(sizes)) => Ok(Some(Measurements::just_made(sizes)?)),
        Some(_) => anyhow::bail!(words_of::not_of(&words.join(" "), command)),
    }
}

/// `reed model`.
#[derive(Debug, clap::Args)]
pub struct Model {
    /// A finished good reed; without one, the model of each kind is told
    label: Option<String>,
}

impl Model {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let mut log = log.open_existing()?;
        if let Some(label) = self.label {
            let (profile, _) = expectations::of_card(&log.reed(&label)?.card)?;
            log.set_model(&profile.name, &label)?;
            output::print_done(&format!("{}\n", words_at_the_bench::is_model(&label, &profile)))?;
            return Ok(ExitCode::SUCCESS);
        }
        let mut profiles: Vec<String> = vec![crate::profile::Profile::default().name];
        profiles.extend(log.reeds()?.into_iter().filter_map(|reed| reed.card.profile));
        profiles.sort();
        profiles.dedup();
        let mut told = String::new();
        for profile in profiles {
            if let Some(label) = log.model(&profile)? {
                told += &format!("{profile}: {label}\n");
            }
        }
        let none = format!("{}\n", words_at_the_bench::NO_MODEL);
        output::print(if told.is_empty() { &none } else { &told })?;
        Ok(ExitCode::SUCCESS)
    }
}

/// `reed rate`.
#[derive(Debug, clap::Args)]
#[command(after_help = help_on_rating())]
pub struct Rate {
    /// The reed, closed or open
    label: String,
    /// How good it is, in the words of the bench: pitch good low fair lived 12
    #[arg(value_name = "SIDE GRADE", required = true)]
    said: Vec<String>,
    /// Who says so, where it is not you: the player
    #[arg(long, value_name = "NAME", allow_hyphen_values = true, value_parser = words)]
    by: Option<String>,
}

impl Rate {
    /// Runs it.
    pub fn run(self, log: &LogFile) -> anyhow::Result<ExitCode> {
        let Some(Entry::Rate(rating, by)) = said(&["rate"], &self.said, "rate")? else {
            anyhow::bail!(words_of::not_of(&self.said.join(" "), "rate"));
        };
        log.open_existing()?.rate(&self.label, &rating, self.by.or(by))?;
        let style = output::style();
        let lines = style.wrapped(&format!("{}: ", self.label), &sheet::rating(&rating));
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
        let mut log = log.open_existing()?;
        let undone = log.undo(&self.label)?;
        // Without its card there is no such reed any more.
        let is_gone = matches!(log.reed(&self.label), Err(LogError::NoReed(_)));
        let told = words_of::undone(&self.label, &undone.what, is_gone);
        output::print_done(&(told + "\n"))?;
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
        output::print_done(&(words_of::redone(&self.label, &redone.what) + "\n"))?;
        Ok(ExitCode::SUCCESS)
    }
}
