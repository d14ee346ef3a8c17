//! What a session's events come to: crows as they end, takes kept on disk while they are recorded.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::time::{Duration, Instant};

use crate::capture::{CaptureError, Event, FinishedTake, TakeFile};
use crate::reading::{Crow, Other, Reading, What};

/// Writes takes down as they are recorded, and passes on what was heard.
pub struct Keeper {
    folder: Option<PathBuf>,
    sample_rate_hz: u32,
    file: Option<TakeFile>,
    /// Whether it was told that the take that is recorded cannot be written.
    is_told: bool,
    /// Takes that are over and could not be written, oldest first.
    waiting: VecDeque<Late>,
    /// Whose card takes go to.
    owner: Option<String>,
    tried: Instant,
    /// What was set aside last, until something else is, or nobody can want it any more.
    aside: Option<PathBuf>,
}

/// A take that is over and could not be written.
struct Late {
    reading: Box<Reading>,
    owner: Option<String>,
    file: TakeFile,
}

/// How often it is tried again to write what could not be written.
const AGAIN_AFTER: Duration = Duration::from_secs(2);

/// Sound that may wait in memory, in seconds.
const MOST_WAITING_S: usize = 1800;

/// What was heard.
#[derive(Debug)]
pub enum Heard {
    /// A take began.
    Began,
    /// Something ended that seems to be a crow.
    Seen(Box<Crow>),
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
    /// What began was not a crow, and counts for nothing.
    Dropped,
    /// The same, but it held tones. Where it was recorded, it is kept until something else is heard.
    SetAside {
        /// What was heard.
        others: Vec<Other>,
        /// Where it was recorded; `None` where takes are not kept.
        file: Option<PathBuf>,
    },
    /// The take cannot be written now: it stays in memory, and is tried again.
    NotKept(CaptureError),
    /// A take that could not be written is on the disk now.
    Kept {
        /// What it says.
        reading: Box<Reading>,
        /// Whose card it goes to.
        owner: Option<String>,
        /// Where it is.
        file: PathBuf,
    },
    /// A take could not be written to the end.
    Lost(CaptureError),
}

impl Keeper {
    /// * `folder`: where takes are recorded; `None` where they are not kept.
    pub fn new(folder: Option<PathBuf>, sample_rate_hz: u32) -> Self {
        Self {
            folder,
            sample_rate_hz,
            file: None,
            is_told: false,
            waiting: VecDeque::new(),
            owner: None,
            tried: Instant::now(),
            aside: None,
        }
    }

    /// Goes on with takes of another rate, or in another folder; what waits goes on waiting.
    pub fn go_on_with(&mut self, folder: Option<PathBuf>, sample_rate_hz: u32) {
        (self.folder, self.sample_rate_hz) = (folder, sample_rate_hz);
    }

    /// The reed on whose card takes go from now on.
    pub fn goes_to(&mut self, label: Option<&str>) {
        if self.owner.as_deref() != label {
            self.owner = label.map(str::to_owned);
        }
    }

    /// Takes one event; returns what there is to tell. On return all audio so far is with the system,
    /// or in memory where the disk is full or gone.
    pub fn handle(&mut self, event: Event) -> Vec<Heard> {
        match event {
            Event::TakeBegan => {
                self.is_told = false;
                let begin = |folder: &PathBuf| TakeFile::begin(folder, self.sample_rate_hz);
                let mut heard = vec![Heard::Began];
                self.file = match self.folder.as_ref().map(begin).transpose() {
                    Ok(file) => file,
                    Err(error) => {
                        heard.extend(self.tell(error));
                        let in_memory = |folder| TakeFile::in_memory(folder, self.sample_rate_hz);
                        self.folder.as_deref().map(in_memory)
                    }
                };
                heard
            }
            Event::Audio(samples) => {
                let written = self.file.as_mut().map(|file| file.write(&samples));
                match written {
                    Some(Err(error)) => self.tell(error).into_iter().collect(),
                    _ => Vec::new(),
                }
            }
            Event::CrowSeen(crow) => vec![Heard::Seen(crow)],
            Event::CrowEnded { number, crow } => vec![Heard::Crow { number, crow }],
            Event::TakeEnded(take) => {
                self.forget_aside();
                let mut heard = self.try_all();
                let mut kept = None;
                if let Some(mut file) = self.file.take() {
                    match file.finish() {
                        Ok(finished) => kept = Some(finished),
                        Err(error) => {
                            heard.extend(self.tell(error));
                            let reading = Box::new(take.analysis.reading.clone());
                            let owner = self.owner.clone();
                            self.waiting.push_back(Late { reading, owner, file });
                        }
                    }
                }
                heard.push(Heard::Take { take, file: kept });
                heard
            }
            Event::TakeDropped { others } => vec![self.dropped(others)],
        }
    }

    fn dropped(&mut self, others: Vec<Other>) -> Heard {
        let file = self.file.take();
        if !others.iter().any(may_be_the_reed) {
            if let Some(file) = file {
                file.discard();
            }
            return Heard::Dropped;
        }
        self.forget_aside();
        // What cannot be written is no loss: it was not a crow.
        self.aside = file.and_then(|mut file| file.finish().ok());
        Heard::SetAside { others, file: self.aside.clone() }
    }

    /// What was set aside is of no use any more: the reed is another one by now.
    pub fn forget_aside(&mut self) {
        if let Some(file) = self.aside.take() {
            // It is there for nobody; what stays can be removed by hand.
            let _ = std::fs::remove_file(file);
        }
    }

    /// Tries again to write takes that wait, now and then.
    pub fn catch_up(&mut self) -> Vec<Heard> {
        match self.waiting.is_empty() || self.tried.elapsed() < AGAIN_AFTER {
            true => Vec::new(),
            false => self.try_all(),
        }
    }

    /// Tries for the last time; what cannot be written is lost.
    pub fn close(&mut self) -> Vec<Heard> {
        self.forget_aside();
        let mut heard = self.try_all();
        for mut late in self.waiting.drain(..) {
            heard.extend(late.file.finish().err().map(Heard::Lost));
        }
        heard
    }

    /// Oldest first, until one cannot be written.
    fn try_all(&mut self) -> Vec<Heard> {
        self.tried = Instant::now();
        let mut heard = Vec::new();
        while let Some(mut late) = self.waiting.pop_front() {
            match late.file.finish() {
                Ok(file) => {
                    let Late { reading, owner, .. } = late;
                    heard.push(Heard::Kept { reading, owner, file });
                }
                Err(_) => {
                    self.waiting.push_front(late);
                    break;
                }
            }
        }
        let waiting: usize = self.waiting.iter().map(|late| late.file.waiting()).sum();
        if waiting > MOST_WAITING_S * self.sample_rate_hz as usize
            && let Some(mut late) = self.waiting.pop_front()
        {
            heard.extend(late.file.finish().err().map(Heard::Lost));
        }
        heard
    }

    /// Said once of a take.
    fn tell(&mut self, error: CaptureError) -> Option<Heard> {
        let is_new = !std::mem::replace(&mut self.is_told, true);
        is_new.then_some(Heard::NotKept(error))
    }
}

/// Whether something that was set aside has a tone of its own, so that it may have been the reed.
pub fn may_be_the_reed(other: &Other) -> bool {
    matches!(other.what, What::Instrument | What::Speech | What::Unknown) && other.hz.is_some()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As a disk that is not connected when the take is crowed, and then is.
    #[test]
    fn a_take_that_cannot_be_written_is_told_once_and_kept_when_it_can() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("disk");
        std::fs::write(&place, "x").unwrap();
        let mut keeper = Keeper::new(Some(place.clone()), 8000);
        let began = keeper.handle(Event::TakeBegan);
        assert!(matches!(began[..], [Heard::Began, Heard::NotKept(_)]), "{began:?}");
        for _ in 0..5 {
            assert!(keeper.handle(Event::Audio(vec![0.1; 8000])).is_empty());
        }
        let mut file = keeper.file.take().unwrap();
        assert!(file.finish().is_err());
        let reading = crate::reading::Reader::new(8000, &Default::default(), Default::default())
            .finish("a", 1, 1, Default::default())
            .reading;
        keeper.waiting.push_back(Late { reading: Box::new(reading), owner: None, file });
        assert!(keeper.try_all().is_empty());
        std::fs::remove_file(&place).unwrap();
        let heard = keeper.close();
        let [Heard::Kept { file, .. }] = &heard[..] else { panic!("{heard:?}") };
        assert_eq!(crate::take::read(file, Default::default()).unwrap().samples, [0.1; 40_000]);
    }
}
