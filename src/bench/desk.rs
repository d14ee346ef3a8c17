//! The reed on the bench: what is heard and typed goes to its card.

use std::path::{Path, PathBuf};

use super::command::{Command, CommandError, HELP};
use super::screen::{self, Paper};
use crate::advice::Advice;
use crate::comparison::{Effects, compare};
use crate::log::{History, Known, Log, LogError, NewTake, effects, latest_pair};
use crate::profile::Profile;
use crate::reading::Reading;
use crate::reed::Measurements;
use crate::report::history::{doubts, measurements};
use crate::report::stage::stage_name;

/// A reed being worked on while the program listens.
#[derive(Debug)]
pub struct Desk {
    log: Log,
    label: String,
    profile: Profile,
    effects: Effects,
    paper: Paper,
}

/// What to show after a line was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reply {
    /// Lines, each ended by a line feed.
    pub text: String,
    /// Whether the maker wants to end.
    pub ends: bool,
}

impl Desk {
    /// Opens the card of a reed.
    ///
    /// Errors: no such reed, one that is closed, or a log that cannot be read.
    pub fn open(log: Log, label: &str, profile: Profile, paper: Paper) -> Result<Self, LogError> {
        let card = log.reed(label)?.card;
        let label = card.label;
        if card.ending.is_some() {
            return Err(LogError::Closed(label));
        }
        let effects = effects(&log.histories()?.whole);
        Ok(Self { log, label, profile, effects, paper })
    }

    /// Where takes are recorded before they go to the reed; what a crash leaves there can be added
    /// with `reed take`.
    pub fn recording_folder(&self) -> PathBuf {
        self.log.recording_folder()
    }

    /// What the card and the log say that a next move rests on.
    pub fn known(&self) -> Result<Known, LogError> {
        Ok(Known::of(&self.history()?, &self.effects))
    }

    /// What the last take on the card is called; `None` where there is none, or where it cannot be
    /// read.
    pub fn last_take(&self) -> Option<String> {
        let number = self.history().ok()?.takes.last()?.take.number;
        Some(format!("{}, take {number}", self.label))
    }

    /// Whether a line, once obeyed, makes the reed another: what was crowed before it must go to
    /// the card first.
    pub fn changes_the_reed(line: &str) -> bool {
        match Command::parse(line) {
            Ok(Some(Command::Step(step))) => step.cut.is_some(),
            Ok(Some(Command::Undo | Command::Redo)) => true,
            _ => false,
        }
    }

    /// Keeps a take as one of the reed as it is now; returns what to show.
    ///
    /// On return it is on the disk. `file` is taken from where it was recorded.
    pub fn take(
        &mut self,
        file: &Path,
        reading: &Reading,
        advice: Option<&Advice>,
    ) -> Result<String, LogError> {
        let take = NewTake { file, reading, advice, conditions: None };
        let added = self.log.take(&self.label, take)?;
        if file.starts_with(self.recording_folder()) {
            // It is kept under its hash; a copy that cannot be removed does no harm.
            let _ = std::fs::remove_file(file);
        }
        let stage = stage_name(added.after_step);
        let already = if added.known { " already" } else { "" };
        let head = format!("{}: take {}{already}, {stage}", self.label, added.number);
        Ok(self.lines(&head) + &self.change(&self.history()?))
    }

    /// Does what a line says; a line that cannot be done is answered and changes nothing.
    pub fn obey(&mut self, line: &str) -> Reply {
        let reply = |text: String| Reply { text, ends: false };
        match Command::parse(line) {
            Ok(None) => reply(String::new()),
            Ok(Some(Command::Quit)) => Reply { text: String::new(), ends: true },
            Ok(Some(command)) => match self.run(command) {
                Ok(text) => reply(text),
                Err(error) => reply(self.lines(&error.to_string())),
            },
            Err(error @ (CommandError::Unknown(_) | CommandError::Incomplete(_))) => {
                reply(self.lines(&error.to_string()))
            }
            Err(error) => reply(self.lines(&format!("{error}; nothing was written down"))),
        }
    }

    /// A sentence as lines of the terminal.
    fn lines(&self, text: &str) -> String {
        let style = &self.paper.style;
        style.letters(style.wrapped("", text).join("\n") + "\n")
    }

    fn run(&mut self, command: Command) -> Result<String, LogError> {
        let label = self.label.clone();
        let Paper { style, unit } = self.paper;
        Ok(match command {
            Command::Step(step) => match self.log.step(&label, &step)? {
                Some(number) => {
                    let words = unit.retold(&step.words());
                    self.lines(&format!("step {number}, {words}; now crow"))
                }
                None => self.lines(&step.words()),
            },
            Command::Measure(sizes) => {
                let measured = Measurements::just_made(sizes)
                    .map_err(|error| LogError::Invalid(error.to_string()))?;
                self.log.measure(&label, &measured, None)?;
                let doubts = doubts(&self.history()?, &self.profile, &sizes, unit, &style);
                self.lines(&measurements(&sizes, unit)) + &doubts
            }
            Command::Undo => {
                let what = self.log.undo(&label)?.what;
                self.lines(&format!("undone: {what}"))
            }
            Command::Redo => {
                let what = self.log.redo(&label)?.what;
                self.lines(&format!("made again: {what}"))
            }
            Command::Way => screen::way(&self.history()?, &self.profile, &self.paper),
            Command::Help | Command::Quit => HELP.to_owned(),
        })
    }

    fn change(&self, history: &History) -> String {
        let Some(pair) = latest_pair(history) else {
            return screen::way(history, &self.profile, &self.paper);
        };
        let comparison = compare(&pair.before, &pair.after, &self.profile);
        let told =
            screen::Told { comparison: &comparison, since: &pair.between, beware: &pair.beware };
        told.text(history, &self.profile, &self.paper)
    }

    fn history(&self) -> Result<History, LogError> {
        self.log.history(&self.label)
    }
}
