//! What is done with the events of a session: takes are kept on disk, crows and cards printed.

use std::io;
use std::path::{Path, PathBuf};

use super::live_line::LiveLine;
use super::{Args, output};
use crate::advice::Advice;
use crate::bench::Desk;
use crate::capture::{CaptureError, Event, FinishedTake, TakeFile};
use crate::cli::cautions::Cautions;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Crow, Reading};
use crate::reed::{Inspection, Measurements};
use crate::report::terminal::{self, Style};
use crate::report::{format, json};

/// Keeps and shows what a session finds.
pub(super) struct TakeDesk {
    save: Option<PathBuf>,
    json: bool,
    profile: Profile,
    a4: A4,
    measurements: Measurements,
    inspection: Inspection,
    reed: Option<Desk>,
    sample_rate_hz: u32,
    style: Style,
    file: Option<TakeFile>,
    all_kept: bool,
    takes: usize,
    crows: usize,
    cautions: Cautions,
}

impl TakeDesk {
    /// A desk as `args` wants it, for takes of `sample_rate_hz`.
    ///
    /// * `reed`: the card that takes go to.
    ///
    /// Errors: measurements that no reed has.
    pub fn new(
        args: &Args,
        profile: Profile,
        a4: A4,
        reed: Option<Desk>,
        sample_rate_hz: u32,
    ) -> anyhow::Result<Self> {
        let recordings = reed.as_ref().map(Desk::recording_folder);
        Ok(Self {
            measurements: args.measured.measurements()?,
            inspection: args.measured.inspection(),
            save: args.save.clone().or(recordings),
            reed,
            json: args.json,
            profile,
            a4,
            sample_rate_hz,
            style: output::style(),
            file: None,
            all_kept: true,
            takes: 0,
            crows: 0,
            cautions: Cautions::as_they_come(),
        })
    }

    /// Does what a typed line says; returns whether the maker wants to end.
    ///
    /// Errors: nobody reads standard output any more.
    pub fn obey(&mut self, typed: &str) -> io::Result<bool> {
        let Some(reed) = &mut self.reed else { return Ok(false) };
        let reply = reed.obey(typed);
        self.say(&reply.text)?;
        Ok(reply.ends)
    }

    /// Takes the next events. A take that cannot be kept is said so at once and still read.
    ///
    /// Errors: nobody reads standard output any more.
    pub fn handle(&mut self, events: Vec<Event>, line: &mut LiveLine) -> io::Result<()> {
        // All audio is on disk before anything is printed: printing may fail.
        let mut printed = Ok(());
        for event in events {
            match event {
                Event::TakeBegan { .. } => {
                    let begin = |folder: &PathBuf| TakeFile::begin(folder, self.sample_rate_hz);
                    match self.save.as_ref().map(begin).transpose() {
                        Ok(file) => self.file = file,
                        Err(error) => self.not_kept(error, line),
                    }
                }
                Event::Audio(samples) => {
                    let written = self.file.as_mut().map(|file| file.write(&samples));
                    if let Some(Err(error)) = written {
                        self.not_kept(error, line);
                    }
                }
                Event::CrowEnded { number, crow, .. } => {
                    line.clear();
                    printed = printed.and(self.print_crow(number, &crow));
                }
                Event::TakeEnded(take) => {
                    line.clear();
                    printed = printed.and(self.end_take(*take, line));
                }
                Event::TakeDropped { .. } => {
                    if let Some(file) = self.file.take() {
                        file.discard();
                    }
                }
            }
        }
        printed
    }

    /// Says what the session brought, and returns whether all of it that was to be kept is.
    ///
    /// * `lost_frames`: samples of each channel that were lost, in takes and between them.
    /// * `was_silent`: whether the input gave no sound at all.
    pub fn close(self, lost_frames: u64, was_silent: bool) -> bool {
        for trouble in troubles(lost_frames, self.sample_rate_hz, was_silent) {
            output::tell(&trouble);
        }
        let takes = format::counted(self.takes, "take");
        eprintln!("{takes}, {}.", format::counted(self.crows, "crow"));
        self.all_kept
    }

    fn print_crow(&self, number: usize, crow: &Crow) -> io::Result<()> {
        let text = terminal::crow_line(number, crow, self.a4, self.profile.target, &self.style);
        if self.json {
            eprintln!("{text}");
            return Ok(());
        }
        output::print(&(text + "\n"))
    }

    fn end_take(&mut self, take: FinishedTake, line: &mut LiveLine) -> io::Result<()> {
        let mut reading = take.analysis.reading;
        self.takes += 1;
        self.crows += reading.summary.crow_count;
        let mut kept = None;
        match self.file.take().map(TakeFile::finish) {
            Some(Ok(path)) => {
                // The kept file holds only the channel that was read.
                (reading.channels, reading.channel) = (1, 1);
                if self.reed.is_none() {
                    reading.source = path.display().to_string();
                }
                kept = Some(path);
            }
            Some(Err(error)) => self.not_kept(error, line),
            None => {}
        }
        let advice = self.advice(&reading);
        let logged =
            kept.map(|path| self.put_on_card(&path, &reading, &advice)).unwrap_or_default();
        let text = if self.json {
            json::line(&reading, Some(&advice))
        } else {
            let advice = self.cautions.keep(advice);
            // On a reed's card what counts is which take of which reed it is.
            if let Some(name) = self.reed.as_ref().and_then(Desk::last_take) {
                reading.source = name;
            }
            // Its crows stand above already, each as it ended.
            let card =
                terminal::card_after_crows(&reading, Some(&advice), &self.profile, &self.style);
            format!("\n{card}")
        };
        output::print(&(text + "\n"))?;
        self.say(&logged)
    }

    /// Words beside the cards: on standard error where standard output holds JSON.
    fn say(&self, text: &str) -> io::Result<()> {
        if self.json {
            eprint!("{text}");
            return Ok(());
        }
        output::print(text)
    }

    /// The next move: by what was said of the reed now, else by its card, on which all crows since
    /// the last cut count.
    fn advice(&self, reading: &Reading) -> Advice {
        let mut known = self.reed.as_ref().and_then(|reed| reed.known().ok()).unwrap_or_default();
        if self.measurements != Measurements::default() {
            known.story.measured = self.measurements;
        }
        if self.inspection != Inspection::default() {
            known.see(self.inspection);
        }
        known.advise_after(reading, &self.profile)
    }

    /// Puts a recorded take on the reed's card; returns what to show.
    fn put_on_card(&mut self, file: &Path, reading: &Reading, advice: &Advice) -> String {
        let Some(reed) = &mut self.reed else { return String::new() };
        match reed.take(file, reading, Some(advice)) {
            Ok(text) => text,
            Err(error) => {
                self.all_kept = false;
                output::complain(&format!(
                    "{error}; the take is in {}: add it with 'reedcrow reed take'",
                    file.display()
                ));
                String::new()
            }
        }
    }

    /// What is on disk of the take stays there; the next take tries anew.
    fn not_kept(&mut self, error: CaptureError, line: &mut LiveLine) {
        line.clear();
        output::complain(&error.to_string());
        self.file = None;
        self.all_kept = false;
    }
}

/// What went wrong with the input over the whole session.
fn troubles(lost_frames: u64, sample_rate_hz: u32, was_silent: bool) -> Vec<String> {
    let mut found = Vec::new();
    if was_silent {
        found.push(
            "The input was silent throughout: muted? 'reedcrow devices --check' tells whether it \
             hears."
                .to_owned(),
        );
    }
    if lost_frames > 0 {
        found.push(format!(
            "{} ({}) were lost while listening, in takes or between them; close programs that keep \
             the computer busy.",
            format::counted(lost_frames as usize, "sample"),
            format::seconds(lost_frames as f64 / f64::from(sample_rate_hz.max(1))),
        ));
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
        assert!(silent[0].starts_with("The input was silent throughout: muted?"));
        let lost = troubles(4_800, 48_000, false);
        assert!(lost[0].starts_with("4800 samples (0.10 s) were lost"), "{lost:?}");
        assert_eq!((silent.len(), lost.len()), (1, 1));
    }
}
