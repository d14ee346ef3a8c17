//! A WAV file or pipe as a stream of samples.

use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::path::Path;

use super::header::{Header, read_up_to};
use super::riff;
use super::slip::Slips;
use crate::take::{SampleStream, TakeError};

/// Samples per block, unless one frame alone has more.
const BLOCK_SAMPLES: usize = 16_384;

/// From this size on, a size in a pipe is what a recorder writes that cannot go back to mend it.
const PLACEHOLDER_BYTES: u64 = 0x7fff_0000;

/// A WAV recording, read as a stream: constant memory, whatever the header claims.
pub struct WavStream {
    input: Box<dyn Read + Send>,
    header: Header,
    left_bytes: u64,
    /// Whether the end of the input before `left_bytes` is a fault.
    end_is_known: bool,
    cut_off: bool,
    lost: u64,
    /// What tells samples that are cut at the wrong place.
    slips: Slips,
    bytes: Vec<u8>,
}

impl WavStream {
    /// Opens a file. Its length tells where the header lies: a claim beyond the end is cut off
    /// there; a claim that leaves bytes behind it which are no chunk is read to the end.
    pub fn open(path: &Path) -> Result<Self, TakeError> {
        let file = File::open(path)?;
        let about = file.metadata()?;
        if about.is_dir() {
            return Err(TakeError::Folder);
        }
        if !about.is_file() {
            return Self::piped(file);
        }
        Self::seekable(BufReader::new(file))
    }

    /// Reads from what has an end that can be looked up.
    pub fn seekable(mut input: impl Read + Seek + Send + 'static) -> Result<Self, TakeError> {
        let header = riff::read(&mut input)?;
        let length = input.seek(SeekFrom::End(0))?;
        let there = length.saturating_sub(header.data_start);
        let (left_bytes, lies) = match header.data_bytes {
            Some(claimed) if claimed > there => (there, true),
            Some(claimed) if leaves_samples_behind(&header, claimed, length, &mut input)? => {
                (there, true)
            }
            Some(claimed) => (claimed, false),
            None => (there, true),
        };
        input.seek(SeekFrom::Start(header.data_start))?;
        Ok(Self {
            input: Box::new(input),
            header,
            left_bytes,
            end_is_known: true,
            cut_off: lies,
            lost: 0,
            slips: Slips::default(),
            bytes: Vec::new(),
        })
    }

    /// Reads from a pipe. A data size of 0, or one that stands for "not known yet", means until
    /// the end.
    pub fn piped(input: impl Read + Send + 'static) -> Result<Self, TakeError> {
        let mut input = BufReader::new(input);
        let header = riff::read(&mut input)?;
        let claimed = header.data_bytes.filter(|&bytes| bytes < PLACEHOLDER_BYTES);
        Ok(Self {
            input: Box::new(input),
            header,
            left_bytes: claimed.unwrap_or(u64::MAX),
            end_is_known: claimed.is_some(),
            cut_off: false,
            lost: 0,
            slips: Slips::default(),
            bytes: Vec::new(),
        })
    }
}

impl WavStream {
    /// Where samples of the block are cut some bytes off, takes those bytes out, and reads as many on.
    fn take_out_slips(&mut self) -> Result<(), TakeError> {
        let (sample_format, channels) =
            (self.header.sample_format, usize::from(self.header.channels));
        let mut from = 0;
        while let Some(found) = self.slips.first(&self.bytes, from, sample_format, channels) {
            self.bytes.drain(found.at..found.at + found.bytes);
            self.lost += 1;
            let more = (found.bytes as u64).min(self.left_bytes) as usize;
            let there = self.bytes.len();
            self.bytes.resize(there + more, 0);
            let got = read_up_to(&mut self.input, &mut self.bytes[there..])?;
            self.bytes.truncate(there + got);
            self.left_bytes = if got < more { 0 } else { self.left_bytes - got as u64 };
            from = found.at + self.header.frame_bytes();
        }
        Ok(())
    }
}

/// Whether bytes follow the claimed samples, within the file as the header has it, that do not
/// begin a chunk: then the size of the samples is wrong, since a chunk's name is four printable
/// characters.
fn leaves_samples_behind(
    header: &Header,
    claimed: u64,
    length: u64,
    input: &mut (impl Read + Seek),
) -> Result<bool, TakeError> {
    let end = header.data_start + claimed;
    let next = end + claimed % 2;
    if next + 8 > length || header.file_end <= next {
        return Ok(false);
    }
    input.seek(SeekFrom::Start(next))?;
    let mut name = [0; 4];
    let got = read_up_to(input, &mut name)?;
    Ok(got == 4 && !name.iter().all(|byte| (b' '..=b'~').contains(byte)))
}

impl SampleStream for WavStream {
    fn sample_rate_hz(&self) -> u32 {
        self.header.sample_rate_hz
    }

    fn channels(&self) -> u16 {
        self.header.channels
    }

    fn next_block(&mut self, block: &mut Vec<f32>) -> Result<bool, TakeError> {
        block.clear();
        let sample_format = self.header.sample_format;
        let frame_bytes = self.header.frame_bytes();
        let frames = (BLOCK_SAMPLES / usize::from(self.header.channels)).max(1);
        let wanted =
            (frames * frame_bytes).min(usize::try_from(self.left_bytes).unwrap_or(usize::MAX));
        self.bytes.resize(wanted, 0);
        let got = read_up_to(&mut self.input, &mut self.bytes)?;
        self.left_bytes = if got < wanted { 0 } else { self.left_bytes - got as u64 };
        self.bytes.truncate(got);
        self.take_out_slips()?;
        let got_all = self.bytes.len();
        let whole = got_all - got_all % frame_bytes;
        // Of a last frame without its end the bytes that were taken out are what it lacks.
        self.cut_off |= self.lost == 0 && whole < got_all || (got < wanted && self.end_is_known);
        sample_format.decode(&self.bytes[..whole], block);
        Ok(!block.is_empty())
    }

    fn lost(&self) -> u64 {
        self.lost
    }

    fn cut_off(&self) -> bool {
        self.cut_off
    }
}
