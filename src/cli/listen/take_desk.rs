//! What is done with the events of a session: takes are kept on disk, crows and cards printed.

use std::io;
use std::path::{Path, PathBuf};

use super::live_line::LiveLine;
use crate::advice::{Advice, advise};
use crate::bench::screen::standing;
use crate::bench::{Desk, Heard, Keeper, Then, may_be_the_reed, reading_so_far};
use crate::capture::{CaptureError, Event, FinishedTake};
use crate::cli::cautions::Cautions;
use crate::cli::measured::Measured;
use crate::cli::output;
use crate::comparison::Effects;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Crow, Other, Reading};
use crate::reed::{Inspection, Measurements};
use crate::report::json;
use crate::report::terminal::{self, Style};
use crate::system::System;
use crate::words::system::silent_by_privacy;
use crate::words::{bench as words, errors, prompt};

/// Keeps and shows what a session finds.
pub(super) struct TakeDesk {
    keeper: Keeper,
    json: bool,
    profile: Profile,
    a4: A4,
    measurements: Measurements,
    inspection: Inspection,
    reed: Option<Desk>,
    sample_rate_hz: u32,
    style: Style,
    all_kept: bool,
    takes: usize,
    /// Crows of the take that is going on.
    so_far: Vec<Crow>,
    crows: usize,
    cautions: Cautions,
}

impl TakeDesk {
    /// A desk for takes of `sample_rate_hz`, held to what was `measured` and seen.
    ///
    /// * `save`: the folder that takes are kept in; `json`: whether lines of it are printed.
    /// * `reed`: the card that takes go to.
    ///
    /// Errors: measurements that no reed has.
    pub fn new(
        measured: &Measured,
        (save, json): (Option<PathBuf>, bool),
        profile: Profile,
        a4: A4,
        reed: Option<Desk>,
        sample_rate_hz: u32,
    ) -> anyhow::Result<Self> {
        let recordings = reed.as_ref().map(Desk::recording_folder);
        Ok(Self {
            measurements: measured.measurements()?,
            inspection: measured.inspection(),
            keeper: Keeper::new(save.or(recordings), sample_rate_hz),
            reed,
            json,
            profile,
            a4,
            sample_rate_hz,
            style: output::style(),
            all_kept: true,
            takes: 0,
            so_far: Vec::new(),
            crows: 0,
            cautions: Cautions::as_they_come(),
        })
    }

    /// Does what a typed line says; returns what else is to be done.
    ///
    /// Errors: nobody reads standard output any more.
    pub fn obey(&mut self, typed: &str, line: &mut LiveLine) -> io::Result<Then> {
        let Some(reed) = &mut self.reed else { return Ok(Then::GoOn) };
        let reply = reed.obey(typed);
        if Desk::changes_the_reed(typed) {
            self.keeper.forget_aside();
        }
        if matches!(reply.then, Then::NewReed) {
            let (profile, a4) = reed.held_to();
            (self.profile, self.a4) = (profile.clone(), a4);
            line.hold_to(&self.profile, self.a4);
        }
        if line.stays() {
            line.stand(reed.standing());
        }
        self.say(&reply.text, line)?;
        Ok(reply.then)
    }

    /// What takes are read against.
    pub fn held_to(&self) -> (&Profile, A4) {
        (&self.profile, self.a4)
    }

    /// Takes the next events. A take that cannot be kept is said so at once and still read.
    ///
    /// Errors: nobody reads standard output any more.
    pub fn handle(&mut self, events: Vec<Event>, line: &mut LiveLine) -> io::Result<()> {
        // All audio is on disk before anything is printed: printing may fail.
        let mut printed = Ok(());
        self.keeper.goes_to(self.reed.as_ref().map(Desk::label));
        let mut heard: Vec<Heard> =
            events.into_iter().flat_map(|event| self.keeper.handle(event)).collect();
        heard.extend(self.keeper.catch_up());
        for heard in heard {
            match heard {
                Heard::Began => self.so_far.clear(),
                Heard::Dropped => self.stand_as_before(line),
                Heard::Seen(crow) => self.stand_so_far(Some(*crow), line),
                Heard::SetAside { others, file } => {
                    self.stand_as_before(line);
                    let others: Vec<Other> = others.into_iter().filter(may_be_the_reed).collect();
                    if let Some(reed) = &mut self.reed {
                        let text = reed.set_aside(&others, file);
                        printed = printed.and(self.say(&text, line));
                    }
                }
                Heard::Crow { number, crow } => {
                    printed = printed.and(self.print_crow(number, &crow, line));
                    self.so_far.push(*crow);
                    self.stand_so_far(None, line);
                }
                Heard::Take { take, file } => {
                    printed = printed.and(self.end_take(*take, file, line));
                }
                Heard::NotKept(error) => line.complain(&errors::waits_in_memory(&error)),
                Heard::Kept { reading, owner, file } => {
                    printed = printed.and(self.keep_late(*reading, owner, &file, line));
                }
                Heard::Lost(error) => self.lost(&error, line),
            }
        }
        printed
    }

    /// Pitch, kind and next move by the crows of the take so far, and by what `seems` to be one.
    fn stand_so_far(&self, seems: Option<Crow>, line: &mut LiveLine) {
        if line.stays() {
            let crows = self.so_far.iter().cloned().chain(seems).collect();
            let reading = reading_so_far("", crows, &self.profile, self.a4);
            line.stand(standing(&reading, &self.advice(&reading), &self.profile));
        }
    }

    /// What began was not a crow: what stood before it stands again.
    fn stand_as_before(&self, line: &mut LiveLine) {
        if let Some(reed) = self.reed.as_ref().filter(|_| line.stays()) {
            line.stand(reed.standing());
        }
    }

    /// Says what the session brought, and returns whether all of it that was to be kept is.
    ///
    /// * `lost_frames`: samples of each channel that were lost, in takes and between them.
    /// * `was_silent`: whether the input gave no sound at all.
    pub fn close(mut self, lost_frames: u64, was_silent: bool, line: &mut LiveLine) -> bool {
        for heard in self.keeper.close() {
            match heard {
                // That nobody reads it any more loses nothing.
                Heard::Kept { reading, owner, file } => {
                    drop(self.keep_late(*reading, owner, &file, line));
                }
                Heard::Lost(error) => self.lost(&error, line),
                _ => {}
            }
        }
        for trouble in troubles(lost_frames, self.sample_rate_hz, was_silent) {
            output::tell(&trouble);
        }
        eprintln!("{}", prompt::session(self.takes, self.crows));
        self.all_kept
    }

    fn print_crow(&self, number: usize, crow: &Crow, line: &mut LiveLine) -> io::Result<()> {
        let text = terminal::crow_line(number, crow, self.a4, &self.profile, &self.style);
        if self.json {
            line.clear();
            eprintln!("{text}");
            return Ok(());
        }
        line.print(&(text + "\n"))
    }

    fn end_take(
        &mut self,
        take: FinishedTake,
        kept: Option<PathBuf>,
        line: &mut LiveLine,
    ) -> io::Result<()> {
        let mut reading = take.analysis.reading;
        self.takes += 1;
        self.crows += reading.summary.crow_count;
        if let Some(path) = &kept {
            // The kept file holds only the channel that was read.
            (reading.channels, reading.channel) = (1, 1);
            if self.reed.is_none() {
                reading.source = path.display().to_string();
            }
        }
        let advice = self.advice(&reading);
        let logged =
            kept.map(|path| self.put_on_card(&path, &reading, &advice, line)).unwrap_or_default();
        line.stand(standing(&reading, &advice, &self.profile));
        let text = if self.json {
            json::line(&reading, Some(&advice))
        } else {
            let advice = self.cautions.keep(advice);
            // On a reed's card what counts is which take of which reed it is.
            if let Some(name) = self.reed.as_ref().and_then(Desk::last_take) {
                reading.source = name;
            }
            // Its crows stand above already, each as it ended.
            match line.stays() {
                // Pitch, kind and next move stay below; 'why' tells the rest.
                true => terminal::beware(&reading, &advice, &self.style),
                false => {
                    let (profile, style) = (&self.profile, &self.style);
                    let card = terminal::card_after_crows(&reading, Some(&advice), profile, style);
                    output::tells(&card);
                    format!("\n{card}")
                }
            }
        };
        line.print(&(text + "\n"))?;
        self.say(&logged, line)
    }

    /// Words beside the cards: on standard error where standard output holds JSON.
    fn say(&self, text: &str, line: &mut LiveLine) -> io::Result<()> {
        if self.json {
            line.clear();
            eprint!("{text}");
            return Ok(());
        }
        output::tells(text);
        line.print(text)
    }

    /// The next move: by what was said of the reed now, else by its card, on which all crows since
    /// the last cut count. Without a card a crow is read as a recording alone is.
    fn advice(&self, reading: &Reading) -> Advice {
        let Some(mut known) = self.reed.as_ref().and_then(|reed| reed.known().ok()) else {
            let (measured, seen) = (&self.measurements, &self.inspection);
            return advise(reading, measured, seen, &self.profile, &Effects::default());
        };
        if self.measurements != Measurements::default() {
            known.story.measured = self.measurements;
        }
        if self.inspection != Inspection::default() {
            known.see(self.inspection);
        }
        known.advise_after(reading, &self.profile)
    }

    /// Puts a recorded take on the reed's card; returns what to show.
    fn put_on_card(
        &mut self,
        file: &Path,
        reading: &Reading,
        advice: &Advice,
        line: &mut LiveLine,
    ) -> String {
        let Some(reed) = &mut self.reed else { return String::new() };
        match reed.take(file, reading, Some(advice)) {
            Ok(text) => text,
            Err(error) => {
                self.all_kept = false;
                line.complain(&words::not_on_card(&error.to_string(), file));
                String::new()
            }
        }
    }

    /// A take that could not be written when it ended, and was now.
    fn keep_late(
        &mut self,
        mut reading: Reading,
        owner: Option<String>,
        file: &Path,
        line: &mut LiveLine,
    ) -> io::Result<()> {
        (reading.channels, reading.channel) = (1, 1);
        if let Some(owner) = &owner
            && self.reed.as_ref().map(Desk::label) != Some(owner)
        {
            line.complain(&errors::of_another_reed(owner, file));
            return Ok(());
        }
        let advice = self.advice(&reading);
        let logged = self.put_on_card(file, &reading, &advice, line);
        self.say(&logged, line)
    }

    fn lost(&mut self, error: &CaptureError, line: &mut LiveLine) {
        line.complain(&errors::lost(error, error.leaves_a_file()));
        self.all_kept = false;
    }
}

/// What went wrong with the input over the whole session.
fn troubles(lost_frames: u64, sample_rate_hz: u32, was_silent: bool) -> Vec<String> {
    let mut found = Vec::new();
    if was_silent {
        found.push(match silent_by_privacy(System::HERE) {
            Some(forbidden) => format!("{} {forbidden}", prompt::SILENT_THROUGHOUT),
            None => prompt::SILENT_THROUGHOUT.to_owned(),
        });
    }
    if lost_frames > 0 {
        let of_s = lost_frames as f64 / f64::from(sample_rate_hz.max(1));
        found.push(prompt::samples_lost(lost_frames, of_s));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lost_samples_and_a_silent_input_are_told_once_at_the_end() {
        assert!(troubles(0, 48_000, false).is_empty());
        let silent = troubles(0, 48_000, true);
        assert!(silent[0].starts_with(prompt::SILENT_THROUGHOUT));
        assert_eq!(silent.len(), 1);
        assert_eq!(troubles(4_800, 48_000, false), [prompt::samples_lost(4_800, 0.1)]);
    }
}
