//! The prompt's reed: what is heard and typed goes to its card.

use std::path::{Path, PathBuf};

use super::account::account;
use super::grammar::{self, Entry};
use super::keeper::may_be_the_reed;
use super::readings::{Tones, read_recording};
use super::reeds::{
    add_like, beside_model, held_to, next_label, on_the_card, open_label, write_card,
};
use super::screen::{self, Paper};
use super::sound::{self, Sound};
use crate::advice::Advice;
use crate::comparison::{Effects, compare};
use crate::log::{
    Became, Card, CardField, History, Known, Log, LogError, NewTake, Step, Which, effects,
    latest_pair,
};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Other, Reading};
use crate::reed::{Measurements, Sizes};
use crate::report::account::{SENDER, Sender, text};
use crate::report::history::{doubtful_step, doubts, found};
use crate::words::advice::explained;
use crate::words::reading::also_heard;
use crate::words::stage::stage_name;
use crate::words::{bench as words, ear};

/// A reed being worked on while the program listens.
#[derive(Debug)]
pub struct Desk {
    log: Log,
    label: String,
    usual: (Profile, A4),
    profile: Profile,
    a4: A4,
    effects: Effects,
    paper: Paper,
    /// Where what was set aside last was recorded.
    aside: Option<PathBuf>,
}

/// What to do after a line was typed.
#[derive(Debug)]
pub struct Reply {
    /// To be shown: lines, each ended by a line feed.
    pub text: String,
    /// What else.
    pub then: Then,
}

/// What is to be done besides showing an answer.
#[derive(Debug)]
pub enum Then {
    /// Nothing.
    GoOn,
    /// The maker wants to end.
    End,
    /// Listen no more until the next order.
    Pause,
    /// Listen again.
    Resume,
    /// Another reed is on the bench, held to what [`Desk::held_to`] says.
    NewReed,
    /// A sound is to be heard.
    Sound(Sound),
}

impl Reply {
    /// Nothing to be shown, but heard.
    fn sound(sound: Sound) -> Self {
        Self { text: String::new(), then: Then::Sound(sound) }
    }
}

impl Desk {
    /// Opens the card of a reed.
    ///
    /// * `usual`: what a reed is held to whose card does not say.
    ///
    /// Errors: no such reed, one that is closed, a log that cannot be read, or a profile that is gone.
    pub fn open(log: Log, label: &str, usual: (Profile, A4), paper: Paper) -> anyhow::Result<Self> {
        let label = open_label(&log, label)?;
        let (profile, a4) = held_to(&log, &log.reed(&label)?.card, &usual)?;
        let effects = effects(&log.facts(|_| true)?.whole);
        Ok(Self { log, label, usual, profile, a4, effects, paper, aside: None })
    }

    /// What the reed on the bench is held to.
    pub fn held_to(&self) -> (&Profile, A4) {
        (&self.profile, self.a4)
    }

    /// The reed on the bench.
    pub fn label(&self) -> &str {
        &self.label
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

    /// The two lines that stay in sight, by what the card says now.
    pub fn standing(&self) -> [String; 2] {
        let told = || {
            let history = self.history().ok()?;
            let reading = history.readings_at(history.stage()).last().copied()?.clone();
            let advice = self.known().ok()?.advise(&self.profile)?;
            Some(screen::standing(&reading, &advice, &self.profile))
        };
        told().unwrap_or_else(|| [words::NOT_CROWED.to_owned(), String::new()])
    }

    /// Whether a line, once obeyed, makes the reed another, or puts another one on the bench: what was
    /// crowed before it must go to the card first.
    pub fn changes_the_reed(line: &str) -> bool {
        match grammar::parse(line) {
            Ok(Some(Entry::Step(step))) => step.cut.is_some(),
            Ok(Some(entry)) => matches!(
                entry,
                Entry::Undo
                    | Entry::Redo
                    | Entry::Pause
                    | Entry::Reed(_)
                    | Entry::Next
                    | Entry::New(_)
                    | Entry::Like(_)
            ),
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
        let already = if added.became != Became::Added { " already" } else { "" };
        let head = format!("{}: take {}{already}, {stage}", self.label, added.number);
        Ok(self.lines(&head) + &self.change(&self.history()?))
    }

    /// Does what a line says; a line that cannot be done is answered and changes nothing.
    pub fn obey(&mut self, line: &str) -> Reply {
        if Self::changes_the_reed(line) {
            self.aside = None;
        }
        let done = match grammar::parse(line) {
            Ok(None) => return Reply { text: String::new(), then: Then::GoOn },
            Ok(Some(entry)) => self.run(entry),
            Err(refusal) => Err(refusal.into()),
        };
        done.unwrap_or_else(|error| Reply {
            text: self.lines(&error.to_string()),
            then: Then::GoOn,
        })
    }

    /// A sentence as lines of the terminal.
    fn lines(&self, text: &str) -> String {
        let style = &self.paper.style;
        style.letters(style.wrapped("", text).join("\n") + "\n")
    }

    fn run(&mut self, entry: Entry) -> anyhow::Result<Reply> {
        let label = self.label.clone();
        let text = match entry {
            Entry::Step(step) => self.step(&step)?,
            Entry::Look(seen) => {
                self.log.inspect(&label, &seen)?;
                self.lines(&words::seen(&seen)) + &self.found()?
            }
            Entry::Measure(sizes) => self.measure(&label, &sizes)?,
            Entry::Heard(heard) => {
                let named = self.log.heard(&label, Which::default(), heard)?;
                self.profile.ear = self.log.ear(&self.profile.name)?;
                self.lines(&ear::written(&label, &named, heard))
            }
            Entry::Rate(rating, by) => {
                self.log.rate(&label, &rating, by)?;
                self.lines(&words::rated(&label, &rating))
            }
            Entry::Card(field, said) => return self.write_card(field, &said),
            Entry::Keep => self.keep()?,
            Entry::Close(ending, why) => {
                self.log.close(&label, Some(ending), why)?;
                self.lines(&words::closed_at_the_prompt(&label, ending))
            }
            Entry::Reopen => {
                self.log.close(&label, None, None)?;
                self.lines(&words::closed(&label, None))
            }
            Entry::ThisIsModel => {
                self.log.set_model(&self.profile.name, &label)?;
                self.lines(&words::is_model(&label, &self.profile))
            }
            Entry::Undo => {
                let undone = self.log.undo(&label)?;
                self.lines(&words::undone(&undone.what))
            }
            Entry::Redo => {
                let redone = self.log.redo(&label)?;
                self.lines(&words::made_again(&redone.what))
            }
            Entry::Model => self.beside_the_model()?,
            Entry::Account { with_notes } => self.account(with_notes)?,
            Entry::Way => screen::way(&self.history()?, &self.profile, &self.paper),
            Entry::Why => {
                let told = explained(&self.known()?.explain(&self.profile));
                told.lines().map(|line| self.lines(line)).collect()
            }
            Entry::Pause => return Ok(self.reply(words::PAUSED, Then::Pause)),
            Entry::GoOn => return Ok(self.reply(words::GOES_ON, Then::Resume)),
            Entry::Reed(other) => return self.put_on(open_label(&self.log, &other)?),
            Entry::Next => match next_label(&self.log, Some(&label))? {
                Some(other) => return self.put_on(other),
                None => self.lines(words::NO_OTHER_REED),
            },
            Entry::New(other) => {
                self.log.add(&Card::new(&other))?;
                return self.put_on(other);
            }
            Entry::Like(other) => {
                add_like(&mut self.log, &label, other.clone())?;
                return self.put_on(other);
            }
            Entry::Play(numbers) => return Ok(Reply::sound(self.takes(&numbers)?)),
            Entry::Tone => match self.profile.lowest_note() {
                Some(note) => return Ok(Reply::sound(sound::tone(note.frequency(self.a4).hz()))),
                None => self.lines(words::NO_TARGET),
            },
            Entry::Check | Entry::Practice(_) | Entry::Listen(_) => self.lines(words::ON_THE_PAGE),
            Entry::Help => grammar::help(),
            Entry::Quit => return Ok(Reply { text: String::new(), then: Then::End }),
        };
        Ok(Reply { text, then: Then::GoOn })
    }

    fn reply(&self, text: &str, then: Then) -> Reply {
        Reply { text: self.lines(text), then }
    }

    fn write_card(&mut self, field: CardField, said: &str) -> anyhow::Result<Reply> {
        write_card(&mut self.log, &self.label, field, said)?;
        let card = self.log.reed(&self.label)?.card;
        (self.profile, self.a4) = held_to(&self.log, &card, &self.usual)?;
        let then = if field.holds_to() { Then::NewReed } else { Then::GoOn };
        Ok(self.reply(&on_the_card(field, said), then))
    }

    fn step(&mut self, step: &Step) -> anyhow::Result<String> {
        let stood = self.known()?.advise(&self.profile);
        let number = self.log.step_after(&self.label, step, stood.as_ref())?;
        let doubts = doubtful_step(&self.history()?, &self.profile, step, self.paper.unit);
        Ok(self.lines(&words::done(step, number, &doubts, self.paper.unit)))
    }

    /// How the reed stands beside the model of its kind.
    fn beside_the_model(&self) -> anyhow::Result<String> {
        let Some(model) = beside_model(&self.log, &self.history()?, &self.profile)? else {
            return Ok(self.lines(words::NO_MODEL));
        };
        let head = self.lines(&words::beside(&model.label, !model.told.is_empty()));
        let told = model.told.iter().map(|told| self.lines(&format!("  {told}")));
        Ok(head + &told.collect::<String>())
    }

    /// What the reed's owner reads.
    fn account(&self, with_notes: bool) -> anyhow::Result<String> {
        let sender: Option<Sender> = self.log.setting(SENDER)?;
        let letter =
            account(&self.history()?, &self.profile, sender.as_ref(), self.paper.unit, with_notes);
        Ok(self.paper.style.letters(text(&letter, Some(&self.paper.style))))
    }

    /// What was heard last and holds no crow, but tones: told, and kept at hand until the reed is another.
    ///
    /// * `file`: where it was recorded.
    pub fn set_aside(&mut self, others: &[Other], file: Option<PathBuf>) -> String {
        self.aside = file;
        also_heard(others).map_or_else(String::new, |heard| self.lines(&words::set_aside(&heard)))
    }

    /// What was set aside last was the reed.
    fn keep(&mut self) -> anyhow::Result<String> {
        let held_to = (&self.profile, self.a4);
        if let Some(file) = self.aside.take() {
            let reading = read_recording(&file, &self.label, held_to, Tones::Kept)?;
            anyhow::ensure!(reading.summary.crow_count > 0, words::NO_TONE_ASIDE);
            let advice = self.known()?.advise_after(&reading, &self.profile);
            return Ok(self.take(&file, &reading, Some(&advice))?);
        }
        let history = self.history()?;
        let last = history.takes.last().filter(|take| {
            take.reading.as_ref().is_some_and(|logged| {
                !logged.reading.tones_kept && logged.reading.others.iter().any(may_be_the_reed)
            })
        });
        let take = &last.ok_or_else(|| anyhow::anyhow!(words::NOTHING_ASIDE))?.take;
        let file = self.log.audio_path(&take.sha256);
        let reading = read_recording(&file, &self.label, held_to, Tones::Kept)?;
        self.log.count_aside(&self.label, take.number, &reading)?;
        Ok(self.lines(&words::kept(take.number)))
    }

    fn measure(&mut self, label: &str, sizes: &Sizes) -> anyhow::Result<String> {
        self.log.measure(label, &Measurements::just_made(*sizes)?, None)?;
        let Paper { style, unit } = self.paper;
        let doubts = doubts(&self.history()?, &self.profile, sizes, unit, &style);
        Ok(self.lines(&words::measured(sizes, &[], unit)) + &doubts + &self.found()?)
    }

    /// What ruler and eyes find outside the usual, and the next move now that they did; without crows
    /// there is none.
    fn found(&self) -> anyhow::Result<String> {
        let Paper { style, unit } = self.paper;
        let next = self.known()?.advise(&self.profile).map(|advice| words::next(&advice));
        let next = next.map(|next| self.lines(&next)).unwrap_or_default();
        Ok(found(&self.history()?, &self.profile, unit, &style) + &next)
    }

    fn put_on(&mut self, label: String) -> anyhow::Result<Reply> {
        (self.profile, self.a4) = held_to(&self.log, &self.log.reed(&label)?.card, &self.usual)?;
        self.label = label;
        Ok(self.reply(&words::on_the_bench(Some(&self.label), None), Then::NewReed))
    }

    /// One take, or two in turn; the last one where none is named.
    fn takes(&self, numbers: &[u32]) -> anyhow::Result<Sound> {
        let history = self.history()?;
        let of = |number: u32| -> anyhow::Result<Sound> {
            let take = history.takes.iter().find(|take| take.take.number == number);
            let take = take.ok_or_else(|| anyhow::anyhow!(words::no_take(number)))?;
            let crows = take.reading.as_ref().map(|logged| &logged.reading.crows);
            let span = crows.and_then(|crows| Some((crows.first()?.start_s, crows.last()?.end_s)));
            Ok(sound::of_take(&self.log.audio_path(&take.take.sha256), span)?)
        };
        match *numbers {
            [first, second] => Ok(sound::in_turn(&of(first)?, &of(second)?)),
            [one] => of(one),
            _ => match history.takes.last() {
                Some(last) => of(last.take.number),
                None => anyhow::bail!(words::NOT_CROWED),
            },
        }
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
