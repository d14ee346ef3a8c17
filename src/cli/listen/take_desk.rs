//! What is done with the events of a session: takes are kept on disk, crows and cards printed.

use std::path::PathBuf;

use super::live_line::LiveLine;
use crate::capture::{CaptureError, Event, FinishedTake, TakeFile};
use crate::reading::Crow;

/// Keeps and shows what a session finds.
pub(super) struct TakeDesk {
    save: Option<PathBuf>,
    json: bool,
    sample_rate_hz: u32,
    file: Option<TakeFile>,
    trouble: Option<CaptureError>,
    takes: usize,
    crows: usize,
}

impl TakeDesk {
    /// * `save`: where takes are kept; `None` to keep none.
    /// * `json`: a line of JSON for each take instead of a card.
    pub fn new(save: Option<PathBuf>, json: bool, sample_rate_hz: u32) -> Self {
        Self { save, json, sample_rate_hz, file: None, trouble: None, takes: 0, crows: 0 }
    }

    /// Takes the next events. A take that cannot be kept is said so at once and still read.
    pub fn handle(&mut self, events: Vec<Event>, line: &mut LiveLine) {
        for event in events {
            match event {
                Event::TakeBegan { .. } => self.keep(
                    |desk| {
                        let begin = |folder: &PathBuf| TakeFile::begin(folder, desk.sample_rate_hz);
                        desk.file = desk.save.as_ref().map(begin).transpose()?;
                        Ok(())
                    },
                    line,
                ),
                Event::Audio(samples) => self.keep(
                    |desk| desk.file.as_mut().map_or(Ok(()), |file| file.write(&samples)),
                    line,
                ),
                Event::CrowEnded { take, number, crow, .. } => {
                    line.clear();
                    self.show_crow(take, number, &crow);
                }
                Event::TakeEnded(take) => {
                    line.clear();
                    self.end_take(*take, line);
                }
                Event::TakeDropped { .. } => {
                    self.keep(|desk| desk.file.take().map_or(Ok(()), TakeFile::discard), line)
                }
            }
        }
    }

    /// Says what the session brought.
    ///
    /// Errors: the first reason why a take was not kept.
    pub fn close(self) -> Result<(), CaptureError> {
        let takes = counted(self.takes, "take");
        eprintln!("{takes}, {}.", counted(self.crows, "crow"));
        self.trouble.map_or(Ok(()), Err)
    }

    fn keep(
        &mut self,
        step: impl FnOnce(&mut Self) -> Result<(), CaptureError>,
        line: &mut LiveLine,
    ) {
        if let Err(error) = step(self) {
            line.clear();
            eprintln!("{error}");
            // What is on disk of this take stays there; the next take tries anew.
            self.file = None;
            self.trouble.get_or_insert(error);
        }
    }

    fn show_crow(&self, take: usize, number: usize, crow: &Crow) {
        let text = format!("take {take} crow {number}: {}", in_one_line(crow));
        if self.json { eprintln!("{text}") } else { println!("{text}") }
    }

    fn end_take(&mut self, take: FinishedTake, line: &mut LiveLine) {
        let FinishedTake { analysis, .. } = take;
        let mut reading = analysis.reading;
        self.takes += 1;
        self.crows += reading.summary.crow_count;
        if let Some(file) = self.file.take() {
            self.keep(
                |_| {
                    let path = file.finish()?;
                    // The kept file holds only the channel that was read.
                    reading.source = path.display().to_string();
                    (reading.channels, reading.channel) = (1, 1);
                    Ok(())
                },
                line,
            );
        }
        if self.json {
            match serde_json::to_string(&reading) {
                Ok(text) => println!("{text}"),
                Err(error) => eprintln!("{}: {error}", reading.source),
            }
        } else {
            println!("{}: {}", reading.source, counted(reading.summary.crow_count, "crow"));
        }
    }
}

fn in_one_line(crow: &Crow) -> String {
    let figures = &crow.figures;
    let mut parts = Vec::new();
    if let (Some(note), Some(cents)) = (&figures.fundamental.note, figures.fundamental.note_cents) {
        parts.push(format!("{note} {cents:+.0} cents"));
    }
    parts.push(format!("{:?}", crow.kind).to_lowercase());
    parts.push(format!("{:.1} s", crow.end_s - crow.start_s));
    if let Some(level) = figures.level_dbfs {
        parts.push(format!("{level:.0} dBFS"));
    }
    parts.join(", ")
}

fn counted(count: usize, what: &str) -> String {
    match count {
        1 => format!("1 {what}"),
        count => format!("{count} {what}s"),
    }
}
