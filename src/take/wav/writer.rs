//! Samples to a WAV file that is whole after every block.
//!
//! By our own code and not hound, against which it is tested: where a disk is full, a block that could not
//! be written is pushed again later, and until then the header must count what came before it; a file
//! over 4 GiB becomes RF64 in place; and it is synced before it gets its name. hound has none of these.

use std::ffi::OsString;
use std::io::{Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::sample_format::SampleFormat;
use crate::files::{Unfinished, folder_of};
use crate::take::TakeError;

/// Where the 28 bytes lie that are a `JUNK` chunk's body until the file outgrows 32-bit sizes and
/// they become the `ds64` chunk (EBU Tech 3306, from memory).
const WIDE_SIZES_AT: u64 = 12;
const WIDE_SIZES_BYTES: u32 = 28;

/// Writes a WAV file block by block, as while recording.
///
/// The file grows under a temporary name (`.NAME.….part`) in the folder it will stand in, and its
/// header counts every block that was pushed. [`WavWriter::finish`] syncs it and gives it its name.
/// Without that (a crash, an error) the temporary file stays and can be read as it is.
#[derive(Debug)]
pub struct WavWriter {
    file: Unfinished,
    path: PathBuf,
    sample_format: SampleFormat,
    data_start: u64,
    data_bytes: u64,
    bytes: Vec<u8>,
}

impl WavWriter {
    /// Begins a file that will be `path`. The folder must exist.
    ///
    /// * `channels`: at least 1; above 2 the extensible format is written.
    pub fn create(
        path: &Path,
        sample_rate_hz: u32,
        channels: u16,
        sample_format: SampleFormat,
    ) -> Result<Self, TakeError> {
        if channels == 0 {
            return Err(TakeError::NoChannels);
        }
        let mut prefix = OsString::from(".");
        prefix.push(path.file_name().unwrap_or_default());
        prefix.push(".");
        let file = Unfinished::named(folder_of(path), &prefix, ".part".as_ref())?;
        let head = head(sample_rate_hz, channels, sample_format);
        let mut writer = Self {
            file,
            path: path.to_owned(),
            sample_format,
            data_start: head.len() as u64,
            data_bytes: 0,
            bytes: Vec::new(),
        };
        writer.file.write_all(&head)?;
        writer.write_sizes()?;
        // Before, on a full disk, it would be a recording of nothing.
        writer.file.stays_if_dropped(true);
        Ok(writer)
    }

    /// Appends interleaved samples, full scale being ±1, and counts them in the header. Where that
    /// fails, none of them count, and they may be pushed again.
    pub fn push(&mut self, samples: &[f32]) -> Result<(), TakeError> {
        self.file.seek(SeekFrom::Start(self.data_start + self.data_bytes))?;
        self.bytes.clear();
        self.sample_format.encode(samples, &mut self.bytes);
        self.file.write_all(&self.bytes)?;
        let before = self.data_bytes;
        self.data_bytes += self.bytes.len() as u64;
        self.write_sizes().inspect_err(|_| self.data_bytes = before)
    }

    /// Asks the system to put on disk what was pushed so far.
    pub fn sync(&self) -> Result<(), TakeError> {
        Ok(self.file.file().sync_data()?)
    }

    /// The temporary file.
    pub fn temporary_path(&self) -> &Path {
        self.file.path()
    }

    /// Syncs the file, gives it its name (in place of an older one) and syncs the folder. May be
    /// tried again where it failed.
    pub fn finish(&mut self) -> Result<PathBuf, TakeError> {
        self.file.seek(SeekFrom::Start(self.data_start + self.data_bytes))?;
        if self.data_bytes % 2 == 1 {
            self.file.write_all(&[0])?;
        }
        self.file.becomes(&self.path)?;
        Ok(self.path.clone())
    }

    /// Removes the temporary file: nothing is kept.
    pub fn discard(mut self) {
        self.file.stays_if_dropped(false);
    }

    fn write_sizes(&mut self) -> Result<(), TakeError> {
        let end = self.data_start + self.data_bytes;
        let riff_bytes = end + self.data_bytes % 2 - 8;
        let file = &mut self.file;
        if let (Ok(riff), Ok(data)) = (u32::try_from(riff_bytes), u32::try_from(self.data_bytes)) {
            write_at(file, 4, &riff.to_le_bytes())?;
            write_at(file, self.data_start - 4, &data.to_le_bytes())?;
        } else {
            let mut wide = Vec::from(b"ds64");
            wide.extend_from_slice(&WIDE_SIZES_BYTES.to_le_bytes());
            wide.extend_from_slice(&riff_bytes.to_le_bytes());
            wide.extend_from_slice(&self.data_bytes.to_le_bytes());
            write_at(file, WIDE_SIZES_AT, &wide)?;
            write_at(file, self.data_start - 4, &u32::MAX.to_le_bytes())?;
            write_at(file, 0, b"RF64\xff\xff\xff\xff")?;
        }
        Ok(())
    }
}

/// Writes a whole recording: under a temporary name, synced, renamed. On failure nothing is left.
///
/// * `samples`: interleaved, full scale being ±1.
pub fn write(
    path: &Path,
    samples: &[f32],
    sample_rate_hz: u32,
    channels: u16,
    sample_format: SampleFormat,
) -> Result<(), TakeError> {
    let mut writer = WavWriter::create(path, sample_rate_hz, channels, sample_format)?;
    writer.file.stays_if_dropped(false);
    for block in samples.chunks(1 << 16) {
        writer.push(block)?;
    }
    writer.finish()?;
    Ok(())
}

/// Everything before the first sample, the sizes being 0.
fn head(sample_rate_hz: u32, channels: u16, sample_format: SampleFormat) -> Vec<u8> {
    let code: u16 = if sample_format.is_float() { 3 } else { 1 };
    let frame_bytes = usize::from(channels) * sample_format.bytes();
    let bytes_per_s = u64::from(sample_rate_hz) * frame_bytes as u64;
    let extensible = channels > 2;
    let format_bytes: u32 = match (extensible, sample_format.is_float()) {
        (true, _) => 40,
        (false, true) => 18,
        (false, false) => 16,
    };
    let mut head = Vec::from(b"RIFF\0\0\0\0WAVEJUNK");
    head.extend_from_slice(&WIDE_SIZES_BYTES.to_le_bytes());
    head.resize(head.len() + WIDE_SIZES_BYTES as usize, 0);
    head.extend_from_slice(b"fmt ");
    head.extend_from_slice(&format_bytes.to_le_bytes());
    head.extend_from_slice(&(if extensible { 0xfffe } else { code }).to_le_bytes());
    head.extend_from_slice(&channels.to_le_bytes());
    head.extend_from_slice(&sample_rate_hz.to_le_bytes());
    head.extend_from_slice(&u32::try_from(bytes_per_s).unwrap_or(u32::MAX).to_le_bytes());
    head.extend_from_slice(&(frame_bytes as u16).to_le_bytes());
    head.extend_from_slice(&(8 * sample_format.bytes() as u16).to_le_bytes());
    if extensible {
        head.extend_from_slice(&22u16.to_le_bytes());
        head.extend_from_slice(&(8 * sample_format.bytes() as u16).to_le_bytes());
        // No loudspeaker positions: these are microphones.
        head.extend_from_slice(&0u32.to_le_bytes());
        head.extend_from_slice(&code.to_le_bytes());
        head.extend_from_slice(&super::header::GUID_TAIL);
    } else if sample_format.is_float() {
        head.extend_from_slice(&0u16.to_le_bytes());
    }
    head.extend_from_slice(b"data\0\0\0\0");
    head
}

fn write_at(file: &mut Unfinished, at: u64, bytes: &[u8]) -> Result<(), TakeError> {
    file.seek(SeekFrom::Start(at))?;
    Ok(file.write_all(bytes)?)
}
