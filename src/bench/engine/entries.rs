//! What is said: each line of the grammar, done.

use super::work::Work;
use super::work::{Order, Reply};
use crate::bench::grammar::{self, Entry};
use crate::bench::listening::Source;
use crate::bench::reeds::{add_like, next_label, on_the_card, write_card};
use crate::capture::{Check, MicrophoneCheck};
use crate::log::{Card, CardField, Ending, Log, LogError, PRACTICE, Step, Which, is_practice};
use crate::reed::Measurements;
use crate::report::history::{doubtful, doubtful_step};
use crate::words::format::LengthUnit;
use crate::words::{bench as words, ear, page};

impl Work {
    pub(super) fn obey(&mut self, order: Order) -> Reply {
        let done = match order {
            Order::Say(line) => match grammar::parse(&line) {
                Ok(None) => return String::new(),
                Ok(Some(entry)) => self.enter(entry),
                Err(refusal) => return refusal.to_string(),
            },
            Order::Recording(file, name) => {
                let done = self.recording(&file, &name);
                // It was put there for this alone.
                let _ = std::fs::remove_file(&file);
                done
            }
        };
        done.unwrap_or_else(|error| match error.downcast_ref() {
            Some(refused) => page::refusal(refused),
            None => error.to_string(),
        })
    }

    pub(super) fn enter(&mut self, entry: Entry) -> anyhow::Result<Reply> {
        Ok(match entry {
            Entry::Step(step) => self.step(&step)?,
            Entry::Look(seen) => {
                self.on_card(|log, label| Ok(log.inspect(label, &seen)?))?;
                words::seen(&seen)
            }
            Entry::Measure(sizes) => {
                let (label, ()) = self.on_card(|log, label| {
                    Ok(log.measure(label, &Measurements::just_made(sizes)?, None)?)
                })?;
                let (history, unit) = (self.log.history(&label)?, LengthUnit::Millimetres);
                let doubts = doubtful(&history, &self.state.profile, &sizes, unit);
                words::measured(&sizes, &doubts, unit)
            }
            Entry::Heard(heard) => {
                let (label, named) =
                    self.on_card(|log, label| Ok(log.heard(label, Which::default(), heard)?))?;
                ear::written(&label, &named, heard)
            }
            Entry::Rate(rating, by) => {
                let (label, _) = self.on_card(|log, label| Ok(log.rate(label, &rating, by)?))?;
                words::rated(&label, &rating)
            }
            Entry::Card(field, words) => self.write_card(field, words)?,
            Entry::Keep => {
                self.close_take();
                self.keep_aside()?
            }
            Entry::ThisIsModel => {
                let kind = self.state.profile.name.clone();
                let (label, ()) = self.on_card(|log, label| Ok(log.set_model(&kind, label)?))?;
                words::is_model(&label, &self.state.profile)
            }
            Entry::Close(ending, why) => self.close_reed(Some(ending), why)?,
            Entry::Reopen => self.close_reed(None, None)?,
            Entry::Undo => {
                self.close_take();
                let undone = self.log.undo(&self.on_bench()?)?;
                self.after_undo()?;
                words::undone(&undone.what)
            }
            Entry::Redo => {
                self.close_take();
                let redone = self.log.redo(&self.on_bench()?)?;
                self.after_undo()?;
                words::made_again(&redone.what)
            }
            Entry::Pause if !self.state.paused => self.pause(),
            Entry::Pause | Entry::GoOn => self.go_on(),
            // A closed one too: it is rated there, or opened again.
            Entry::Reed(label) => self.put_on_bench_by(&label)?,
            Entry::Next => match next_label(&self.log, self.label.as_deref())? {
                Some(label) => self.put_on_bench(Some(label))?,
                None => words::NO_OTHER_REED.to_owned(),
            },
            Entry::New(label) => self.put_new_on_bench(label)?,
            Entry::Like(label) => {
                let like = self.on_bench()?;
                add_like(&mut self.log, &like, label.clone())?;
                self.put_on_bench(Some(label))?
            }
            Entry::Check => self.check()?,
            Entry::Practice(name) => self.practice(&name)?,
            Entry::Listen(device) => self.listen_to(device),
            Entry::Way
            | Entry::Play(_)
            | Entry::Tone
            | Entry::Account { .. }
            | Entry::Model
            | Entry::Quit => words::ON_THE_PAGE.to_owned(),
            Entry::Why => words::why_is_under(page::ALL_FIGURES),
            Entry::Help => words::MAY_BE_TYPED.to_owned(),
        })
    }

    /// Writes something on the card of the reed on the bench; returns its label, and what came of it.
    fn on_card<T>(
        &mut self,
        write: impl FnOnce(&mut Log, &str) -> anyhow::Result<T>,
    ) -> anyhow::Result<(String, T)> {
        let label = self.on_bench()?;
        let written = write(&mut self.log, &label)?;
        self.refresh()?;
        Ok((label, written))
    }

    fn pause(&mut self) -> Reply {
        self.close_take();
        self.state.paused = true;
        words::PAUSED.to_owned()
    }

    fn go_on(&mut self) -> Reply {
        self.state.paused = false;
        self.track.clear();
        words::GOES_ON.to_owned()
    }

    /// * `device`: empty for the default one.
    fn listen_to(&mut self, device: String) -> Reply {
        self.settings.device = Some(device).filter(|device| !device.is_empty());
        self.listen(Source::Microphone(self.settings.device.clone()));
        words::source(&self.state.source)
    }

    fn write_card(&mut self, field: CardField, said: String) -> anyhow::Result<Reply> {
        let label = self.on_bench()?;
        if field.holds_to() {
            self.close_take();
        }
        write_card(&mut self.log, &label, field, &said)?;
        self.refresh_all()?;
        if field.holds_to() && self.session.is_some() {
            self.listen(self.hears.source());
        }
        Ok(on_the_card(field, &said))
    }

    pub(super) fn step(&mut self, step: &Step) -> anyhow::Result<Reply> {
        if step.cut.is_some() {
            self.close_take();
        }
        let label = self.on_bench()?;
        let stood = self.state.reed.as_ref().and_then(|reed| reed.advice.clone());
        let number = self.log.step_after(&label, step, stood.as_ref())?;
        self.refresh()?;
        let (history, unit) = (self.log.history(&label)?, LengthUnit::Millimetres);
        let doubts = doubtful_step(&history, &self.state.profile, step, unit);
        if step.cut.is_some() {
            // What was heard is of the reed as it was.
            self.state.heard = None;
            self.forget_aside();
        }
        Ok(words::done(step, number, &doubts, unit))
    }

    /// The work is over, or goes on after all.
    fn close_reed(&mut self, ending: Option<Ending>, why: Option<String>) -> anyhow::Result<Reply> {
        self.close_take();
        let label = self.on_bench()?;
        self.log.close(&label, ending, why)?;
        self.forget_aside();
        self.refresh_all()?;
        // Whether takes go to its card has changed.
        self.listen(Source::Microphone(self.settings.device.clone()));
        Ok(words::closed(&label, ending))
    }

    fn forget_aside(&mut self) {
        self.state.aside = None;
        self.keeper.forget_aside();
    }

    pub(super) fn after_undo(&mut self) -> anyhow::Result<()> {
        let was_open = self.open_card().is_some();
        self.refresh_all()?;
        if self.open_card().is_some() != was_open {
            self.listen(Source::Microphone(self.settings.device.clone()));
        }
        self.state.heard = self.last_take();
        Ok(())
    }

    /// The label of the reed on the bench, if takes go to its card.
    pub(super) fn open_card(&self) -> Option<String> {
        let on_bench = self.state.reed.as_ref()?;
        on_bench.history.reed.card.ending.is_none().then(|| self.label.clone())?
    }

    /// Errors: no reed is on the bench.
    pub(super) fn on_bench(&self) -> anyhow::Result<String> {
        self.label.clone().ok_or_else(|| anyhow::anyhow!(words::NO_REED))
    }

    pub(super) fn put_on_bench(&mut self, label: Option<String>) -> anyhow::Result<Reply> {
        self.close_take();
        self.label = label;
        self.state.heard = None;
        self.forget_aside();
        self.refresh_all()?;
        self.state.heard = self.last_take();
        if self.hears.is_practice() || self.session.is_none() {
            self.listen(Source::Microphone(self.settings.device.clone()));
        } else {
            // Another reed may be held to another note.
            self.listen(self.hears.source());
        }
        let ending = self.state.reed.as_ref().and_then(|reed| reed.history.reed.card.ending);
        Ok(words::on_the_bench(self.label.as_deref(), ending))
    }

    /// Puts the reed on the bench that has this label, however it is written.
    fn put_on_bench_by(&mut self, label: &str) -> anyhow::Result<Reply> {
        let label = self.log.reed(label)?.card.label;
        self.put_on_bench(Some(label))
    }

    /// Puts a new reed on the bench, or the one that has its label already.
    fn put_new_on_bench(&mut self, label: String) -> anyhow::Result<Reply> {
        match self.log.add(&Card::new(label.clone())) {
            Err(LogError::LabelTaken(_)) => self.put_on_bench_by(&label),
            added => {
                added?;
                self.put_on_bench(Some(label))
            }
        }
    }

    /// Begins a check of the microphone, or puts the last one away.
    pub(super) fn check(&mut self) -> anyhow::Result<Reply> {
        if self.state.check.take().is_some() {
            self.checking = None;
            return Ok(words::CHECK_PUT_AWAY.to_owned());
        }
        let Some(format) = self.hears.format() else {
            anyhow::bail!(words::NOTHING_TO_CHECK);
        };
        self.close_take();
        self.checking = Some(MicrophoneCheck::begin(format, &self.state.profile, self.state.a4));
        self.state.check = Some(Check::Quiet);
        Ok(words::CHECK_BEGINS.to_owned())
    }

    /// A practice take goes to no reed that somebody owns, and to none that was crowed since its last cut:
    /// each of the takes is another reed's.
    fn practice(&mut self, name: &str) -> anyhow::Result<Reply> {
        self.close_take();
        let here = self.label.clone().filter(|label| is_practice(label));
        let is_fresh = match &here {
            Some(label) => self.is_fresh(label)?,
            None => false,
        };
        if !is_fresh {
            if let Some(served) = here.filter(|_| self.open_card().is_some()) {
                self.log.close(&served, Some(Ending::GivenUp), None)?;
            }
            let label = self.fresh_practice_reed()?;
            self.put_on_bench(Some(label))?;
        }
        self.listen(Source::Practice(name.to_owned()));
        Ok(words::source(&self.state.source))
    }

    /// Whether a reed is open, and was not crowed since its last cut.
    fn is_fresh(&self, label: &str) -> anyhow::Result<bool> {
        let history = self.log.history(label)?;
        let stage = history.stage();
        let is_crowed = history.takes.iter().any(|take| take.take.after_step == stage);
        Ok(history.reed.card.ending.is_none() && !is_crowed)
    }

    fn fresh_practice_reed(&mut self) -> anyhow::Result<String> {
        for reed in self.state.open.iter().filter(|reed| is_practice(&reed.label)) {
            if self.is_fresh(&reed.label)? {
                return Ok(reed.label.clone());
            }
        }
        self.new_practice_reed()
    }

    fn new_practice_reed(&mut self) -> anyhow::Result<String> {
        let taken = self.log.reeds()?;
        let free = (1..)
            .map(|number| format!("{PRACTICE} {number}"))
            .find(|label| !taken.iter().any(|reed| reed.card.label.eq_ignore_ascii_case(label)));
        let label = free.unwrap_or_else(|| PRACTICE.to_owned());
        self.log.add(&Card { complaint: Some(words::FOR_TRYING.into()), ..Card::new(&label) })?;
        Ok(label)
    }
}
