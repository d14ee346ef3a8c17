//! A take on disk while it is being recorded.
//!
//! The audio goes to a temporary name, where it can be read after a kill or, but for its last
//! second, a power cut; when the take ends it is synced and gets its name. Where the disk is full or
//! gone, samples wait in memory. They are kept as 32-bit floats, so that the file reads exactly as the
//! microphone did.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::CaptureError;
use crate::files;
use crate::take::TakeError;
use crate::take::wav::{SampleFormat, WavWriter};

/// Programs that claim one number at the same moment both leave it; this often, then it is an
/// error.
const CLAIMS: usize = 100;

/// After a failure, it is tried again when this much more was recorded.
const AGAIN_AFTER_S: usize = 2;

/// A take on its way to disk. What cannot be written stays in memory, and is tried again.
pub struct TakeFile {
    folder: PathBuf,
    sample_rate_hz: u32,
    /// `None` while no file could be begun.
    writer: Option<WavWriter>,
    /// Samples that are not in the file yet.
    waiting: Vec<f32>,
    /// How many those were when writing last failed.
    failed_at: Option<usize>,
    unsynced_samples: usize,
}

impl TakeFile {
    /// Begins a take of one channel in `folder`, which is made where it is missing, under the next
    /// free name: `take-001.wav`, `take-002.wav` …
    ///
    /// Errors: the folder or file cannot be made.
    pub fn begin(folder: &Path, sample_rate_hz: u32) -> Result<Self, CaptureError> {
        let mut file = Self::in_memory(folder, sample_rate_hz);
        file.writer = Some(claim(folder, sample_rate_hz)?);
        file.failed_at = None;
        Ok(file)
    }

    /// A take whose file could not be begun yet: that is tried again while it is recorded.
    pub fn in_memory(folder: &Path, sample_rate_hz: u32) -> Self {
        Self {
            folder: folder.to_owned(),
            sample_rate_hz,
            writer: None,
            waiting: Vec::new(),
            failed_at: Some(0),
            unsynced_samples: 0,
        }
    }

    /// Adds samples.
    ///
    /// Errors: the disk is full or gone. What was written before stays there, and what was not
    /// stays in memory; until it is tried again, nothing is said of it.
    pub fn write(&mut self, samples: &[f32]) -> Result<(), CaptureError> {
        self.waiting.extend_from_slice(samples);
        let again_after = AGAIN_AFTER_S * self.sample_rate_hz as usize;
        if self.failed_at.is_some_and(|failed| self.waiting.len() < failed + again_after) {
            return Ok(());
        }
        self.catch_up()
    }

    /// Writes what waits.
    fn catch_up(&mut self) -> Result<(), CaptureError> {
        let written = self.try_to_catch_up();
        self.failed_at = written.is_err().then_some(self.waiting.len());
        written
    }

    fn try_to_catch_up(&mut self) -> Result<(), CaptureError> {
        let writer = match &mut self.writer {
            Some(writer) => writer,
            none => none.insert(claim(&self.folder, self.sample_rate_hz)?),
        };
        let failed = |writer: &WavWriter, error| keep_error(writer.temporary_path(), error);
        writer.push(&self.waiting).map_err(|error| failed(writer, error))?;
        self.unsynced_samples += self.waiting.len();
        self.waiting.clear();
        if self.unsynced_samples >= self.sample_rate_hz as usize {
            writer.sync().map_err(|error| failed(writer, error))?;
            self.unsynced_samples = 0;
        }
        Ok(())
    }

    /// Ends the take: synced, then renamed. Returns where it is.
    ///
    /// Errors: the disk is full or gone. It may be tried again.
    pub fn finish(&mut self) -> Result<PathBuf, CaptureError> {
        self.catch_up()?;
        match &mut self.writer {
            Some(writer) => {
                let unfinished = writer.temporary_path().to_owned();
                writer.finish().map_err(|error| keep_error(&unfinished, error))
            }
            // Catching up begins one.
            None => Err(CaptureError::NotAFolder(self.folder.clone())),
        }
    }

    /// Samples that are in memory alone.
    pub fn waiting(&self) -> usize {
        self.waiting.len()
    }

    /// Gives the take up: it held no crow.
    pub fn discard(self) {
        if let Some(writer) = self.writer {
            writer.discard();
        }
    }

    /// Takes in `folder` that some earlier run began and did not end, lowest number first.
    pub fn left_unfinished(folder: &Path) -> Vec<PathBuf> {
        let mut left: Vec<(u32, PathBuf)> = numbered(folder)
            .unwrap_or_default()
            .into_iter()
            .filter(|(_, path)| path.extension().is_some_and(|ending| ending == "part"))
            .collect();
        left.sort();
        left.into_iter().map(|(_, path)| path).collect()
    }
}

/// Begins the file of the next free number. Finishing replaces what has the name, so two programs
/// that record into one folder must not claim one number: each looks again once its own file is
/// there, and leaves a number on which it is not alone.
fn claim(folder: &Path, sample_rate_hz: u32) -> Result<WavWriter, CaptureError> {
    if folder.exists() && !folder.is_dir() {
        return Err(CaptureError::NotAFolder(folder.to_owned()));
    }
    files::make_folder(folder).map_err(|error| keep_error(folder, error.into()))?;
    let failed = |error: io::Error| keep_error(folder, error.into());
    for _ in 0..CLAIMS {
        let last = numbered(folder).map_err(failed)?.into_iter().map(|(number, _)| number).max();
        let number = last.unwrap_or(0).saturating_add(1);
        let path = folder.join(format!("take-{number:03}.wav"));
        let writer = WavWriter::create(&path, sample_rate_hz, 1, SampleFormat::F32)
            .map_err(|error| keep_error(&path, error))?;
        let mine = writer.temporary_path().to_owned();
        let alone = numbered(folder)
            .map_err(failed)?
            .into_iter()
            .all(|(other, path)| other != number || path.file_name() == mine.file_name());
        if alone {
            return Ok(writer);
        }
        writer.discard();
        std::thread::sleep(Duration::from_millis(u64::from(std::process::id() % 16)));
    }
    Err(CaptureError::Crowded(folder.to_owned()))
}

/// Takes in `folder`, finished or not, with their numbers.
fn numbered(folder: &Path) -> io::Result<Vec<(u32, PathBuf)>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        found.extend(take_number(&path).map(|number| (number, path)));
    }
    Ok(found)
}

/// 7 for `take-007.wav` and for its temporary name `.take-007.wav.….part`.
fn take_number(path: &Path) -> Option<u32> {
    let name = path.file_name()?.to_str()?;
    let (number, ending) =
        name.trim_start_matches('.').strip_prefix("take-")?.split_once(".wav")?;
    (ending.is_empty() || ending.ends_with(".part")).then(|| number.parse().ok()).flatten()
}

fn keep_error(path: &Path, cause: TakeError) -> CaptureError {
    CaptureError::Keep { path: path.to_owned(), cause }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    fn samples(path: &Path) -> Vec<f32> {
        crate::take::read(path, Default::default()).unwrap().samples
    }

    #[test]
    fn a_take_reads_back_bit_for_bit_under_the_next_free_name() {
        let folder = tempfile::tempdir().unwrap();
        let audio: Vec<f32> = (0..2500).map(|n| (n as f32 * 0.37).sin() * 0.1).collect();
        for expected in ["take-001.wav", "take-002.wav"] {
            let mut take = TakeFile::begin(folder.path(), 8000).unwrap();
            audio.chunks(7).for_each(|piece| take.write(piece).unwrap());
            let path = take.finish().unwrap();
            assert_eq!(path.file_name().unwrap(), expected);
            assert_eq!(samples(&path), audio);
        }
        assert_eq!(names(folder.path()), ["take-001.wav", "take-002.wav"]);
    }

    #[test]
    fn a_killed_recording_is_a_wav_that_can_be_read() {
        let folder = tempfile::tempdir().unwrap();
        let mut take = TakeFile::begin(folder.path(), 8000).unwrap();
        take.write(&[0.25; 2600]).unwrap();
        // As a kill would: neither finished nor dropped.
        std::mem::forget(take);
        let left = TakeFile::left_unfinished(folder.path());
        assert_eq!(left.len(), 1);
        assert_eq!(samples(&left[0]), [0.25; 2600]);
        // Its number is not given again.
        let next = TakeFile::begin(folder.path(), 8000).unwrap().finish().unwrap();
        assert_eq!(next.file_name().unwrap(), "take-002.wav");
    }

    /// As a disk that is not connected, and then is.
    #[test]
    fn what_could_not_be_written_waits_in_memory_and_is_whole_in_the_end() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("disk");
        fs::write(&place, "x").unwrap();
        assert!(TakeFile::begin(&place, 8000).is_err());
        let mut take = TakeFile::in_memory(&place, 8000);
        let audio: Vec<f32> = (0..40_000).map(|n| n as f32 / 40_000.0).collect();
        let refused =
            audio[..32_000].chunks(100).filter(|piece| take.write(piece).is_err()).count();
        // Tried every two seconds of sound, and told each time.
        assert_eq!((refused, take.waiting()), (2, 32_000));
        assert!(take.finish().is_err());
        fs::remove_file(&place).unwrap();
        take.write(&audio[32_000..]).unwrap();
        let path = take.finish().unwrap();
        assert_eq!(samples(&path), audio);
        assert_eq!(names(&place), ["take-001.wav"]);
    }

    #[test]
    fn what_held_no_crow_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let mut take = TakeFile::begin(folder.path(), 8000).unwrap();
        take.write(&[0.0; 10]).unwrap();
        take.discard();
        assert_eq!(names(folder.path()), [] as [String; 0]);
    }

    #[test]
    fn takes_recorded_into_one_folder_at_once_get_names_of_their_own() {
        let folder = tempfile::tempdir().unwrap();
        let record = || {
            let mut takes: Vec<TakeFile> =
                (0..5).map(|_| TakeFile::begin(folder.path(), 8000).unwrap()).collect();
            takes.iter_mut().for_each(|take| drop(take.finish().unwrap()));
        };
        std::thread::scope(|scope| (0..4).for_each(|_| drop(scope.spawn(record))));
        assert_eq!(names(folder.path()).len(), 20);
    }

    #[test]
    fn a_folder_that_is_a_file_is_one_clear_line() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("notes.txt");
        fs::write(&file, "x").unwrap();
        let error = TakeFile::begin(&file, 8000).err().unwrap().to_string();
        assert!(error.contains("notes.txt") && !error.contains('\n'), "{error}");
    }
}
