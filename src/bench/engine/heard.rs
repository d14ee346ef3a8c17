//! What was heard: crows as they end, takes on the card, and what was set aside.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::Reply;
use super::work::Work;
use crate::advice::{Advice, advise};
use crate::bench::keeper::{Heard, may_be_the_reed};
use crate::bench::readings::reading_so_far;
use crate::bench::readings::{Tones, read_recording};
use crate::bench::state::{Aside, HeardNow, OnBench};
use crate::capture::FinishedTake;
use crate::capture::Stands;
use crate::log::{Became, Known, NewTake};
use crate::reading::{Crow, Reading};
use crate::reed::{Inspection, Measurements};
use crate::words::{bench as words, errors};

/// What seems to be a crow is known for one, or set aside, well within this.
const KNOWN_AFTER: Duration = Duration::from_millis(3000);

/// Starts of one sound, found while it seemed to be over and later, lie nearer to each other.
const SAME_START_S: f64 = 0.1;

impl Work {
    pub(super) fn handle(&mut self, event: crate::capture::Event) {
        self.keeper.goes_to(self.open_card().as_deref());
        let heard = self.keeper.handle(event);
        self.take_in(heard);
    }

    pub(super) fn take_in(&mut self, heard: Vec<Heard>) {
        for heard in heard {
            self.is_new = true;
            match heard {
                Heard::Began => self.begin_take(),
                Heard::Seen(crow) => self.seen(*crow),
                Heard::Crow { crow, .. } => self.crow(*crow),
                Heard::Take { take, file } => self.end_take(*take, file),
                Heard::Dropped => self.drop_take(),
                Heard::SetAside { others, file } => {
                    self.drop_take();
                    self.state.sounded(false);
                    let others = others.into_iter().filter(may_be_the_reed).collect();
                    self.state.aside = Some(Aside { others, file });
                }
                Heard::NotKept(error) => self.state.say(&errors::waits_in_memory(&error)),
                Heard::Kept { mut reading, owner, file } => {
                    (reading.channels, reading.channel) = (1, 1);
                    let advice = self.advise(&reading);
                    if let Some(label) = owner {
                        self.put_on_card(&label, &file, &reading, &advice);
                    }
                }
                Heard::Lost(error) => self.state.say(&errors::lost(&error, error.leaves_a_file())),
            }
        }
    }

    fn begin_take(&mut self) {
        self.crows.clear();
        self.seen = None;
        self.shown_before = self.state.heard.clone();
    }

    /// What began was none of the reed: what was shown before stands again.
    fn drop_take(&mut self) {
        let was_shown = self.seen.take().is_some();
        self.crows.clear();
        if was_shown {
            self.state.sounded(false);
            self.state.heard = self.shown_before.take();
        }
    }

    /// Something has ended that seems to be a crow. What it says stands at once; whether it counts is
    /// known a moment later.
    fn seen(&mut self, crow: Crow) {
        // One that went on after all is seen again, longer.
        let is_new = self
            .seen
            .as_ref()
            .is_none_or(|(before, _)| (before.start_s - crow.start_s).abs() > SAME_START_S);
        self.seen = Some((crow, Instant::now()));
        if is_new {
            self.state.sounded(true);
        }
        self.show_so_far();
    }

    /// A crow has ended: pitch, kind and next move stand, by what is known so far.
    fn crow(&mut self, crow: Crow) {
        if self.seen.take().is_none() {
            self.state.sounded(true);
        }
        self.state.aside = None;
        self.crows.push(crow);
        self.show_so_far();
    }

    /// What seemed to be a crow and was told as none by now is set aside.
    pub(super) fn forget_seen(&mut self) {
        if self.seen.as_ref().is_some_and(|(_, since)| since.elapsed() > KNOWN_AFTER) {
            self.seen = None;
            self.is_new = true;
            match self.crows.is_empty() {
                true => self.state.heard = self.shown_before.clone(),
                false => self.show_so_far(),
            }
        }
    }

    pub(super) fn show_so_far(&mut self) {
        let reading = self.reading_so_far();
        let advice = self.advise(&reading);
        let stands = if self.seen.is_some() { Stands::Seen } else { Stands::GoesOn };
        let at = self.state.serial;
        self.state.heard = Some(HeardNow { advice, reading, take: None, at, stands });
    }

    fn reading_so_far(&self) -> Reading {
        let seen = self.seen.iter().map(|(crow, _)| crow.clone());
        let crows: Vec<Crow> = self.crows.iter().cloned().chain(seen).collect();
        reading_so_far(self.hears.name(), crows, &self.state.profile, self.state.a4)
    }

    pub(super) fn end_take(&mut self, take: FinishedTake, file: Option<PathBuf>) {
        let mut reading = take.analysis.reading;
        // The kept file holds only the channel that was read.
        (reading.channels, reading.channel) = (1, 1);
        let advice = self.advise(&reading);
        let mut number = None;
        if let (Some(label), Some(file)) = (self.open_card(), file) {
            number = self.put_on_card(&label, &file, &reading, &advice);
            if let Some(number) = number {
                self.state.is_first = false;
                self.state.say(&words::take_kept(&label, number));
            }
        }
        self.crows.clear();
        self.seen = None;
        self.state.aside = None;
        let at = self.state.serial;
        self.state.heard =
            Some(HeardNow { advice, reading, take: number, at, stands: Stands::Over });
        self.refresh_said();
    }

    pub(super) fn put_on_card(
        &mut self,
        label: &str,
        file: &Path,
        reading: &Reading,
        advice: &Advice,
    ) -> Option<u32> {
        let take = NewTake { file, reading, advice: Some(advice), conditions: None };
        match self.log.take(label, take) {
            Ok(added) => {
                if file.starts_with(self.log.recording_folder()) {
                    // It is kept under its hash; a copy that cannot be removed does no harm.
                    let _ = std::fs::remove_file(file);
                }
                Some(added.number)
            }
            Err(error) => {
                self.state.say(&words::not_on_card(&error.to_string(), file));
                None
            }
        }
    }

    pub(super) fn recording(&mut self, file: &Path, name: &str) -> anyhow::Result<Reply> {
        let reading = self.read(file, name, Tones::Judged)?;
        let advice = self.advise(&reading);
        let mut take = None;
        if let Some(label) = self.open_card() {
            let new = NewTake { file, reading: &reading, advice: Some(&advice), conditions: None };
            let added = self.log.take(&label, new)?;
            // A recording of the reed as it was says nothing of it as it is.
            if added.became != Became::Added {
                self.refresh()?;
                return Ok(words::recording_known(name, added.number, added.after_step));
            }
            take = Some(added.number);
        }
        let at = self.state.serial;
        self.state.heard = Some(HeardNow { advice, reading, take, at, stands: Stands::Over });
        self.refresh()?;
        Ok(words::recording_read(name, take))
    }

    fn read(&self, file: &Path, name: &str, tones: Tones) -> anyhow::Result<Reading> {
        let held_to = (&self.state.profile, self.state.a4);
        read_recording(file, name, held_to, tones)
            .map_err(|error| anyhow::anyhow!("{name}: {error}"))
    }

    /// What was set aside last was the reed: it is read as a crow, and is on the card as one.
    pub(super) fn keep_aside(&mut self) -> anyhow::Result<Reply> {
        let label = self.on_bench()?;
        if let Some(Aside { file, .. }) = self.state.aside.take() {
            let file = file.ok_or_else(|| anyhow::anyhow!(words::NOTHING_ASIDE))?;
            let reading = self.read(&file, self.hears.name(), Tones::Kept)?;
            anyhow::ensure!(reading.summary.crow_count > 0, words::NO_TONE_ASIDE);
            let advice = self.advise(&reading);
            let take = self.put_on_card(&label, &file, &reading, &advice);
            let at = self.state.serial;
            self.state.heard = Some(HeardNow { advice, reading, take, at, stands: Stands::Over });
            self.refresh()?;
            return Ok(take.map_or_else(String::new, words::kept));
        }
        let heard = self.state.heard.as_ref().filter(|heard| !heard.aside().is_empty());
        let number = heard.and_then(|heard| heard.take);
        let number = number.ok_or_else(|| anyhow::anyhow!(words::NOTHING_ASIDE))?;
        let recordings = self.state.reed.as_ref().map(|reed| &reed.recordings);
        let file = recordings.into_iter().flatten().find(|(known, _)| *known == number);
        let (_, file) = file.ok_or_else(|| anyhow::anyhow!(words::no_take(number)))?;
        let reading = self.read(&file.clone(), self.hears.name(), Tones::Kept)?;
        self.log.count_aside(&label, number, &reading)?;
        self.refresh()?;
        self.state.heard = self.last_take();
        Ok(words::kept(number))
    }

    /// What the reed said last, if it was blown since its last cut.
    pub(super) fn last_take(&self) -> Option<HeardNow> {
        let OnBench { history, advice, .. } = self.state.reed.as_ref()?;
        let last = history.takes.last()?;
        if last.take.after_step != history.stage() {
            return None;
        }
        let reading = last.reading.as_ref()?.reading.clone();
        let advice = advice.clone().unwrap_or_else(|| self.advise(&reading));
        let take = Some(last.take.number);
        let at = self.state.serial;
        Some(HeardNow { advice, reading, take, at, stands: Stands::Over })
    }

    /// Without a reed on the bench a crow is read as a recording alone is: there is no card on which
    /// an answer could be kept.
    pub(super) fn advise(&self, reading: &Reading) -> Advice {
        let profile = &self.state.profile;
        let Some(known) = self.known() else {
            let effects = self.effects.clone().unwrap_or_default();
            let (measured, seen) = (Measurements::default(), Inspection::default());
            return advise(reading, &measured, &seen, profile, &effects);
        };
        known.advise_after(reading, profile)
    }

    pub(super) fn known(&self) -> Option<Known> {
        let on_bench = self.state.reed.as_ref()?;
        Some(Known::of(&on_bench.history, &self.effects.clone().unwrap_or_default()))
    }
}
