//! What is done with the events of a session: takes are kept on disk, crows and cards printed.

use std::io;
use std::path::PathBuf;

use super::live_line::LiveLine;
use super::{Args, output};
use crate::advice::advise;
use crate::capture::{CaptureError, Event, FinishedTake, TakeFile};
use crate::comparison::Effects;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::Crow;
use crate::reed::{Inspection, MeasurementError, Measurements};
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
    sample_rate_hz: u32,
    style: Style,
    file: Option<TakeFile>,
    all_kept: bool,
    takes: usize,
    crows: usize,
}

impl TakeDesk {
    /// A desk as `args` wants it, for takes of `sample_rate_hz`.
    ///
    /// Errors: measurements that no reed has.
    pub fn new(
        args: &Args,
        profile: Profile,
        sample_rate_hz: u32,
    ) -> Result<Self, MeasurementError> {
        Ok(Self {
            measurements: args.measured.measurements()?,
            inspection: args.measured.inspection(),
            save: args.save.clone(),
            json: args.json,
            profile,
            a4: args.expectations.a4,
            sample_rate_hz,
            style: output::style(),
            file: None,
            all_kept: true,
            takes: 0,
            crows: 0,
        })
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
    pub fn close(self) -> bool {
        let takes = format::counted(self.takes, "take");
        eprintln!("{takes}, {}.", format::counted(self.crows, "crow"));
        self.all_kept
    }

    fn print_crow(&self, number: usize, crow: &Crow) -> io::Result<()> {
        let text = terminal::crow_line(number, crow, self.a4, &self.style);
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
        match self.file.take().map(TakeFile::finish) {
            Some(Ok(path)) => {
                // The kept file holds only the channel that was read.
                reading.source = path.display().to_string();
                (reading.channels, reading.channel) = (1, 1);
            }
            Some(Err(error)) => self.not_kept(error, line),
            None => {}
        }
        let effects = Effects::default();
        let advice =
            advise(&reading, &self.measurements, &self.inspection, &self.profile, &effects);
        let text = if self.json {
            json::line(&reading, Some(&advice))
        } else {
            format!("\n{}", terminal::card(&reading, Some(&advice), &self.profile, &self.style))
        };
        output::print(&(text + "\n"))
    }

    /// What is on disk of the take stays there; the next take tries anew.
    fn not_kept(&mut self, error: CaptureError, line: &mut LiveLine) {
        line.clear();
        output::complain(&error.to_string());
        self.file = None;
        self.all_kept = false;
    }
}
