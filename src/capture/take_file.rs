//! A take on disk while it is being recorded.
//!
//! The audio goes to a temporary name, a whole WAV after every second, so that a kill or a power
//! cut loses at most the last one; when the take ends it is synced and gets its name. Samples are
//! kept as 32-bit floats, so that the file reads exactly as the microphone did.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, ErrorKind};
use std::path::{Path, PathBuf};

use hound::{SampleFormat, WavSpec, WavWriter};

use super::CaptureError;

/// Ending of a take that is not finished.
const UNFINISHED: &str = "part";

/// A take on its way to disk.
pub struct TakeFile {
    writer: WavWriter<BufWriter<File>>,
    file: File,
    unfinished: PathBuf,
    finished: PathBuf,
    unsynced_samples: u32,
    sample_rate_hz: u32,
}

impl TakeFile {
    /// Begins a take of one channel in `folder`, which is made where it is missing, under the next
    /// free name: `take-001.wav`, `take-002.wav` …
    ///
    /// Errors: the folder or file cannot be made.
    pub fn begin(folder: &Path, sample_rate_hz: u32) -> Result<Self, CaptureError> {
        fs::create_dir_all(folder).map_err(|error| keep_error(folder, &error))?;
        let (file, unfinished, finished) = reserve(folder)?;
        let spec = WavSpec {
            channels: 1,
            sample_rate: sample_rate_hz,
            bits_per_sample: 32,
            sample_format: SampleFormat::Float,
        };
        let failed = |error: &io::Error| keep_error(&unfinished, error);
        let second = file.try_clone().map_err(|error| failed(&error))?;
        let writer =
            WavWriter::new(BufWriter::new(file), spec).map_err(|error| failed(&as_io(error)))?;
        Ok(Self { writer, file: second, unfinished, finished, unsynced_samples: 0, sample_rate_hz })
    }

    /// Adds samples.
    ///
    /// Errors: the disk is full or gone. What was written until the last second stays.
    pub fn write(&mut self, samples: &[f32]) -> Result<(), CaptureError> {
        for &sample in samples {
            self.writer.write_sample(sample).map_err(|error| self.failed(error))?;
        }
        self.unsynced_samples += samples.len() as u32;
        if self.unsynced_samples >= self.sample_rate_hz {
            self.unsynced_samples = 0;
            self.writer.flush().map_err(|error| self.failed(error))?;
            self.file.sync_data().map_err(|error| keep_error(&self.unfinished, &error))?;
        }
        Ok(())
    }

    /// Ends the take: synced, then renamed. Returns where it is.
    ///
    /// Errors: the disk is full or gone; the unfinished file stays.
    pub fn finish(self) -> Result<PathBuf, CaptureError> {
        let Self { writer, file, unfinished, finished, .. } = self;
        writer.finalize().map_err(|error| keep_error(&unfinished, &as_io(error)))?;
        file.sync_all().map_err(|error| keep_error(&unfinished, &error))?;
        fs::rename(&unfinished, &finished).map_err(|error| keep_error(&finished, &error))?;
        // The name is in the folder, which has to reach the disk too; some systems cannot sync a
        // folder, and there it is as safe as it gets.
        if let Some(Ok(folder)) = finished.parent().map(File::open) {
            let _ = folder.sync_all();
        }
        Ok(finished)
    }

    /// Gives the take up: it held no crow.
    ///
    /// Errors: the file cannot be removed.
    pub fn discard(self) -> Result<(), CaptureError> {
        let Self { writer, file, unfinished, .. } = self;
        drop(writer);
        drop(file);
        fs::remove_file(&unfinished).map_err(|error| keep_error(&unfinished, &error))
    }

    /// Takes in `folder` that some earlier run began and did not end, oldest name first.
    pub fn left_unfinished(folder: &Path) -> Vec<PathBuf> {
        let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
        let mut left: Vec<PathBuf> = entries
            .filter_map(|entry| Some(entry.ok()?.path()))
            .filter(|path| take_number(path).is_some())
            .filter(|path| path.extension().is_some_and(|ending| ending == UNFINISHED))
            .collect();
        left.sort();
        left
    }

    fn failed(&self, error: hound::Error) -> CaptureError {
        keep_error(&self.unfinished, &as_io(error))
    }
}

/// Makes the unfinished file under a number that nothing in the folder has. Making it anew is what
/// reserves the number when several programs record into one folder.
fn reserve(folder: &Path) -> Result<(File, PathBuf, PathBuf), CaptureError> {
    let entries = fs::read_dir(folder).map_err(|error| keep_error(folder, &error))?;
    let taken = entries.filter_map(|entry| take_number(&entry.ok()?.path())).max();
    let mut number = taken.unwrap_or(0).saturating_add(1);
    loop {
        let finished = folder.join(format!("take-{number:03}.wav"));
        let unfinished = folder.join(format!("take-{number:03}.wav.{UNFINISHED}"));
        match OpenOptions::new().write(true).read(true).create_new(true).open(&unfinished) {
            // Another program may have finished a take of this number just before.
            Ok(_) if finished.exists() => {
                fs::remove_file(&unfinished).map_err(|error| keep_error(&unfinished, &error))?;
            }
            Ok(file) => return Ok((file, unfinished, finished)),
            Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
            Err(error) => return Err(keep_error(&unfinished, &error)),
        }
        number = number.saturating_add(1);
    }
}

/// 7 for `take-007.wav` and for `take-007.wav.part`.
fn take_number(path: &Path) -> Option<u32> {
    let name = path.file_name()?.to_str()?;
    let name = name.strip_suffix(UNFINISHED).map_or(name, |name| name.trim_end_matches('.'));
    name.strip_prefix("take-")?.strip_suffix(".wav")?.parse().ok()
}

fn as_io(error: hound::Error) -> io::Error {
    match error {
        hound::Error::IoError(error) => error,
        other => io::Error::other(other.to_string()),
    }
}

fn keep_error(path: &Path, error: &io::Error) -> CaptureError {
    let remedy = match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "free some space, then start anew",
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "pick a folder you may write to with --save"
        }
        _ => "pick another folder with --save",
    };
    CaptureError::Keep { path: path.to_owned(), reason: error.to_string(), remedy }
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
        hound::WavReader::open(path).unwrap().samples().map(Result::unwrap).collect()
    }

    #[test]
    fn a_take_reads_back_bit_for_bit_under_the_next_free_name() {
        let folder = tempfile::tempdir().unwrap();
        let audio: Vec<f32> = (0..2500).map(|n| (n as f32 * 0.37).sin() * 0.1).collect();
        for expected in ["take-001.wav", "take-002.wav"] {
            let mut take = TakeFile::begin(folder.path(), 1000).unwrap();
            audio.chunks(7).for_each(|piece| take.write(piece).unwrap());
            let path = take.finish().unwrap();
            assert_eq!(path.file_name().unwrap(), expected);
            assert_eq!(samples(&path), audio);
        }
        assert_eq!(names(folder.path()), ["take-001.wav", "take-002.wav"]);
    }

    #[test]
    fn a_killed_recording_is_a_whole_wav_to_its_last_second() {
        let folder = tempfile::tempdir().unwrap();
        let mut take = TakeFile::begin(folder.path(), 1000).unwrap();
        take.write(&[0.25; 2600]).unwrap();
        // As a kill would: neither finished nor dropped.
        std::mem::forget(take);
        let left = TakeFile::left_unfinished(folder.path());
        assert_eq!(left, [folder.path().join("take-001.wav.part")]);
        let kept = samples(&left[0]);
        assert!(kept.len() >= 1600 && kept.iter().all(|&sample| sample == 0.25), "{}", kept.len());
        // Its number is not given again.
        let next = TakeFile::begin(folder.path(), 1000).unwrap().finish().unwrap();
        assert_eq!(next.file_name().unwrap(), "take-002.wav");
    }

    #[test]
    fn what_held_no_crow_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let mut take = TakeFile::begin(folder.path(), 1000).unwrap();
        take.write(&[0.0; 10]).unwrap();
        take.discard().unwrap();
        assert_eq!(names(folder.path()), [] as [String; 0]);
    }

    #[test]
    fn a_folder_that_is_a_file_is_one_clear_line() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("notes.txt");
        fs::write(&file, "x").unwrap();
        let error = TakeFile::begin(&file, 1000).err().unwrap().to_string();
        assert!(error.contains("notes.txt") && !error.contains('\n'), "{error}");
    }
}
