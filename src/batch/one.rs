//! One file to one row: a pure function of the file's content, its name and the settings.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

use sha2::{Digest, Sha256};

use super::form::{Entry, Made};
use super::inputs::{Input, shown};
use super::pictures::mark;
use super::progress::Progress;
use crate::advice::{Advice, advise};
use crate::comparison::Effects;
use crate::files;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Analysis, Reader};
use crate::reed::{Inspection, Measurements};
use crate::report::plots::{PictureFormat, take_picture};
use crate::take::decode::Format;
use crate::take::{self, Channel, Take, TakeError};
use crate::words::batch::{BROKE_THE_PROGRAM, no_picture};
use crate::words::system::refusal;

/// Recordings up to this long get a picture: it is drawn from samples, and memory has to stay
/// small.
pub const LONGEST_PICTURE_S: f64 = 120.0;

/// What was asked for and changes the figures.
#[derive(Debug, Clone)]
pub struct Settings {
    /// What the crows are held to.
    pub profile: Profile,
    /// The pitch of A4.
    pub a4: A4,
    /// Which channel is read.
    pub channel: Channel,
}

impl Settings {
    /// Sixteen hexadecimal digits that stand for profile, A4 and channel.
    pub fn fingerprint(&self) -> String {
        let Self { profile, a4, channel } = self;
        let mut digits = files::hex(&Sha256::digest(format!("{profile:?} {a4:?} {channel:?}")));
        digits.truncate(16);
        digits
    }
}

/// What became of one file.
pub enum Outcome {
    /// Its reading.
    Read(Box<(Analysis, Advice)>),
    /// Why there is none, in one line.
    Failed(String),
    /// It was broken off.
    Stopped,
}

/// Whether a take is too long for a picture.
pub fn is_long(entry: &Entry) -> bool {
    entry.duration_s.is_some_and(|length_s| length_s > LONGEST_PICTURE_S)
}

/// Whether a file is to have a row: named itself, or by its content or its ending a recording.
pub fn is_candidate(input: &Input) -> bool {
    input.named
        || Format::is_usual_ending(&input.path)
        || !matches!(Format::of_file(&input.path), Ok(None))
}

/// The SHA-256 of a file's content, in hexadecimal.
pub fn sha256_of(path: &Path) -> Result<String, TakeError> {
    let about = take::about(path)?;
    if about.is_dir() {
        return Err(TakeError::Folder);
    }
    if !about.is_file() {
        return Err(TakeError::Pipe);
    }
    Ok(files::sha256(path)?)
}

/// Reads a file as a stream, and draws its picture where one is wanted.
///
/// * `picture`: where that goes; `None` draws none.
pub fn read(
    path: &Path,
    picture: Option<&Path>,
    made: &Made,
    settings: &Settings,
    progress: &Progress,
    stop: &AtomicBool,
) -> Outcome {
    // A fault of the program on one recording must not cost the readings of all others.
    let reading = AssertUnwindSafe(|| analyse(path, picture, made, settings, progress, stop));
    match catch_unwind(reading) {
        Ok(Ok(Some(analysis))) => {
            let (measured, seen) = (Measurements::default(), Inspection::default());
            let advice =
                advise(&analysis.reading, &measured, &seen, &settings.profile, &Effects::default());
            Outcome::Read(Box::new((analysis, advice)))
        }
        Ok(Ok(None)) => Outcome::Stopped,
        Ok(Err(error)) => Outcome::Failed(error),
        Err(_) => Outcome::Failed(BROKE_THE_PROGRAM.into()),
    }
}

fn analyse(
    path: &Path,
    picture: Option<&Path>,
    made: &Made,
    settings: &Settings,
    progress: &Progress,
    stop: &AtomicBool,
) -> Result<Option<Analysis>, String> {
    let Settings { profile, a4, channel } = settings;
    let mut recording = take::open(path, *channel).map_err(|error| error.to_string())?;
    let rate_hz = recording.sample_rate_hz();
    let mut reader = Reader::new(rate_hz, profile, *a4);
    let mut kept = picture.is_some().then(Vec::new);
    let mut block = Vec::new();
    while recording.next_block(&mut block).map_err(|error| error.to_string())? {
        if stop.load(Ordering::Relaxed) {
            return Ok(None);
        }
        reader.push(&block);
        progress.add_audio(block.len(), rate_hz);
        if let Some(samples) = &mut kept {
            samples.extend_from_slice(&block);
        }
        kept =
            kept.filter(|samples| samples.len() as f64 <= LONGEST_PICTURE_S * f64::from(rate_hz));
    }
    let source = path.to_string_lossy().into_owned();
    let (channels, channel, faults) =
        (recording.channels(), recording.channel(), recording.faults());
    drop(recording);
    let analysis = reader.finish(&source, channels, channel, faults);
    if let (Some(picture), Some(samples)) = (picture, kept) {
        let take = Take { source, sample_rate_hz: rate_hz, channels, channel, samples, faults };
        take_picture(&take, &analysis, profile, *a4, PictureFormat::Svg)
            .map_err(|error| error.to_string())
            .and_then(|mut bytes| {
                bytes.extend(mark(path, made).into_bytes());
                files::write_unsynced(picture, &bytes).map_err(|error| refusal(&error))
            })
            .map_err(|why| no_picture(&shown(picture), &why))?;
    }
    Ok(Some(analysis))
}
