//! What a session's events come to: crows as they end, takes kept on disk while they are recorded.

use std::path::PathBuf;

use crate::capture::{CaptureError, Event, FinishedTake, TakeFile};
use crate::reading::Crow;

/// Writes takes down as they are recorded, and passes on what was heard.
pub struct Keeper {
    folder: Option<PathBuf>,
    sample_rate_hz: u32,
    file: Option<TakeFile>,
}

/// What was heard.
#[derive(Debug)]
pub enum Heard {
    /// A take began.
    Began,
    /// A crow of it ended.
    Crow {
        /// Counted from 1 within the take.
        number: usize,
        /// Its figures.
        crow: Box<Crow>,
    },
    /// The take is over.
    Take {
        /// Its reading.
        take: Box<FinishedTake>,
        /// Where it was recorded; `None` where takes are not kept, or where this one could not be.
        file: Option<PathBuf>,
    },
    /// What began was no crow, and counts for nothing.
    Dropped,
    /// The take cannot be kept; it is still read.
    NotKept(CaptureError),
}

impl Keeper {
    /// * `folder`: where takes are recorded; `None` where they are not kept.
    pub fn new(folder: Option<PathBuf>, sample_rate_hz: u32) -> Self {
        Self { folder, sample_rate_hz, file: None }
    }

    /// Takes one event; returns what there is to tell. On return all audio so far is with the system.
    pub fn handle(&mut self, event: Event) -> Vec<Heard> {
        match event {
            Event::TakeBegan { .. } => {
                let begin = |folder: &PathBuf| TakeFile::begin(folder, self.sample_rate_hz);
                match self.folder.as_ref().map(begin).transpose() {
                    Ok(file) => {
                        self.file = file;
                        vec![Heard::Began]
                    }
                    Err(error) => vec![Heard::Began, Heard::NotKept(error)],
                }
            }
            Event::Audio(samples) => {
                let written = self.file.as_mut().map(|file| file.write(&samples));
                match written {
                    Some(Err(error)) => {
                        // What is on disk of the take stays there; the next take tries anew.
                        self.file = None;
                        vec![Heard::NotKept(error)]
                    }
                    _ => Vec::new(),
                }
            }
            Event::CrowEnded { number, crow, .. } => vec![Heard::Crow { number, crow }],
            Event::TakeEnded(take) => match self.file.take().map(TakeFile::finish).transpose() {
                Ok(file) => vec![Heard::Take { take, file }],
                Err(error) => vec![Heard::NotKept(error), Heard::Take { take, file: None }],
            },
            Event::TakeDropped { .. } => {
                if let Some(file) = self.file.take() {
                    file.discard();
                }
                vec![Heard::Dropped]
            }
        }
    }
}
