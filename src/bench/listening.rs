//! What the bench listens to: a microphone, or a practice take that stands in for one.

use std::io::Write;
use std::time::{Duration, Instant};

use crate::capture::{
    CaptureError, Microphone, SoundFormat, SourceTold, default_input, find_input,
};
use crate::take::{self, Channel};
use crate::words::bench as words;

/// Takes that come with the program, for trying it without a reed or a microphone: name, what they
/// are, and their WAV.
pub const PRACTICE_TAKES: [(&str, &str, &[u8]); 4] = [
    ("flat", words::practice::FLAT, include_bytes!("../../demo-data/anouk-9-flat.wav")),
    ("good", words::practice::GOOD, include_bytes!("../../demo-data/anouk-7-good.wav")),
    ("split", words::practice::SPLIT, include_bytes!("../../demo-data/bram-4-unlocked.wav")),
    ("peep", words::practice::PEEP, include_bytes!("../../demo-data/bram-5-peep.wav")),
];

/// A lost microphone is looked for this often.
const AGAIN: Duration = Duration::from_secs(3);

/// What is to be listened to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// A microphone by name, or the default one.
    Microphone(Option<String>),
    /// A practice take by name.
    Practice(String),
}

/// Why it cannot be, in one line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct SourceError(pub String);

/// Samples that came in.
#[derive(Debug)]
pub struct Frame<'a> {
    /// Interleaved, full scale ±1.
    pub samples: &'a [f32],
    /// Frames that were lost just before.
    pub lost_frames: u64,
    /// Whether nothing more comes.
    pub is_over: bool,
}

/// What is open.
#[derive(Default)]
pub struct Hears {
    open: Option<Open>,
    source: Option<Source>,
    name: String,
    device: String,
    lost: Option<(String, Instant)>,
    samples: Vec<f32>,
}

enum Open {
    Microphone(Microphone),
    Practice(Tape),
}

/// A take that runs at the speed at which it was recorded.
struct Tape {
    samples: Vec<f32>,
    sample_rate_hz: u32,
    began: Instant,
    given: usize,
}

/// Quiet before and after a practice take: the room's noise is learnt before, and the take ends after.
const QUIET_S: f64 = 1.0;

impl Hears {
    /// Opens `source`; what was open is closed.
    pub fn open(&mut self, source: Source) -> Result<SoundFormat, SourceError> {
        self.open = None;
        self.source = Some(source.clone());
        let opened = match &source {
            Source::Microphone(name) => self.open_microphone(name.as_deref()),
            Source::Practice(name) => self.open_practice(name),
        };
        self.lost = opened.as_ref().err().map(|error| (error.0.clone(), Instant::now()));
        opened
    }

    fn open_microphone(&mut self, name: Option<&str>) -> Result<SoundFormat, SourceError> {
        let failed = |error: CaptureError| SourceError(words::no_microphone(&error));
        let input = match name {
            Some(name) => find_input(name),
            None => default_input(),
        }
        .map_err(failed)?;
        let microphone = Microphone::open(&input).map_err(failed)?;
        let format = microphone.format();
        self.device.clone_from(&input.name);
        self.name = match input.description == input.name {
            true => input.name,
            false => format!("{} ({})", input.name, input.description),
        };
        self.open = Some(Open::Microphone(microphone));
        Ok(format)
    }

    fn open_practice(&mut self, name: &str) -> Result<SoundFormat, SourceError> {
        let Some((name, _, wav)) = PRACTICE_TAKES.iter().find(|(known, _, _)| *known == name)
        else {
            return Err(SourceError(words::no_practice_take(name)));
        };
        let (samples, sample_rate_hz) =
            decoded(wav).ok_or_else(|| SourceError(words::damaged_practice_take(name)))?;
        self.device.clear();
        self.name = words::practice_take(name);
        let format = SoundFormat { sample_rate_hz, channels: 1 };
        self.open =
            Some(Open::Practice(Tape { samples, sample_rate_hz, began: Instant::now(), given: 0 }));
        Ok(format)
    }

    /// What is opened when it is opened again.
    pub fn source(&self) -> Source {
        self.source.clone().unwrap_or(Source::Microphone(None))
    }

    /// The name of the microphone that is open; empty where none is.
    pub fn device(&self) -> &str {
        &self.device
    }

    /// What takes are said to come from.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What is listened to, as it is told.
    pub fn told(&self) -> SourceTold {
        match (&self.open, &self.lost) {
            (Some(Open::Microphone(_)), _) => SourceTold::Microphone(self.name.clone()),
            (Some(Open::Practice(_)), _) => SourceTold::Practice(self.name.clone()),
            (None, Some((why, _))) => SourceTold::Lost(why.clone()),
            (None, None) => SourceTold::Nothing,
        }
    }

    /// Rate and channels of the microphone that is open.
    pub fn format(&self) -> Option<SoundFormat> {
        match &self.open {
            Some(Open::Microphone(microphone)) => Some(microphone.format()),
            _ => None,
        }
    }

    /// Whether a practice take stands in for the microphone.
    pub fn is_practice(&self) -> bool {
        matches!(self.open, Some(Open::Practice(_)))
    }

    /// Whether it is time to look for a microphone again.
    pub fn is_lost(&self) -> bool {
        self.lost.as_ref().is_some_and(|(_, since)| since.elapsed() >= AGAIN)
    }

    /// What came in since the last call.
    ///
    /// Errors: it went away.
    pub fn frame(&mut self) -> Result<Frame<'_>, SourceError> {
        self.samples.clear();
        let (mut lost_frames, mut is_over) = (0, false);
        match &mut self.open {
            None => {}
            Some(Open::Microphone(microphone)) => match microphone.read(&mut self.samples) {
                Ok(piece) => lost_frames = piece.lost_frames,
                Err(error) => {
                    self.open = None;
                    let why = words::no_microphone(&error);
                    self.lost = Some((why.clone(), Instant::now()));
                    return Err(SourceError(why));
                }
            },
            Some(Open::Practice(tape)) => is_over = tape.next(&mut self.samples),
        }
        Ok(Frame { samples: &self.samples, lost_frames, is_over })
    }
}

impl Tape {
    /// Appends what has run by; returns whether it has ended.
    fn next(&mut self, samples: &mut Vec<f32>) -> bool {
        let due = (self.began.elapsed().as_secs_f64() * f64::from(self.sample_rate_hz)) as usize;
        let end = due.min(self.samples.len());
        samples.extend(self.samples.get(self.given..end).unwrap_or_default());
        self.given = end;
        end == self.samples.len()
    }
}

/// Samples and rate of a recording, with quiet around it; `None` where it cannot be read.
fn decoded(wav: &[u8]) -> Option<(Vec<f32>, u32)> {
    let mut file = tempfile::NamedTempFile::new().ok()?;
    file.write_all(wav).ok()?;
    let read = take::read(file.path(), Channel::default()).ok()?;
    let (take, rate_hz) = (read.samples, read.sample_rate_hz);
    let quiet = (QUIET_S * f64::from(rate_hz)) as usize;
    // The take's own room, turned round, so that the noise goes on without a step.
    let room: Vec<f32> = take.iter().take(quiet.min(take.len() / 8)).rev().copied().collect();
    let again = |seconds: f64| -> Vec<f32> {
        let wanted = (seconds * f64::from(rate_hz)) as usize;
        room.iter().chain(room.iter().rev()).cycle().take(wanted).copied().collect()
    };
    Some(([again(QUIET_S), take, again(5.0 * QUIET_S)].concat(), rate_hz))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_practice_take_can_be_played() {
        for (name, _, wav) in PRACTICE_TAKES {
            let (samples, rate_hz) = decoded(wav).unwrap();
            assert!(samples.len() > 4 * rate_hz as usize, "{name}");
        }
    }

    #[test]
    fn what_is_no_practice_take_is_refused_and_nothing_is_listened_to() {
        let mut hears = Hears::default();
        assert!(hears.open(Source::Practice("../etc".into())).is_err());
        assert!(matches!(hears.told(), SourceTold::Lost(_)));
        assert!(hears.frame().unwrap().samples.is_empty());
    }
}
