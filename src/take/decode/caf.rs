//! A Core Audio file that broke off, or that a recorder never finished, as one that is whole.
//!
//! Its chunks are walked as Apple's "Core Audio Format Specification 1.0" has them: a name, a size
//! in eight bytes, and −1 for sound that goes on to the end of the file.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};

use symphonia::core::io::MediaSource;

use crate::take::{TakeError, Undecodable};

/// Chunks looked at, at most.
const MOST_CHUNKS: usize = 10_000;

/// A file that is read as far as its chunks make sense, with the true size of its sound.
#[derive(Debug)]
pub struct Mended {
    file: File,
    at: u64,
    length: u64,
    /// Where the size of the sound stands, and what it should be.
    size: Option<(u64, [u8; 8])>,
    /// Whether sound is missing that the header promises.
    pub is_cut_off: bool,
}

impl Mended {
    /// The file as it is to be read. What cannot be walked is left as it is.
    ///
    /// Errors: it cannot be read, or its packets cannot be what its header says.
    pub fn new(mut file: File) -> Result<Self, TakeError> {
        let length = file.seek(SeekFrom::End(0))?;
        let mut mended = Self { file, at: 0, length, size: None, is_cut_off: false };
        let mut chunk = 8;
        for _ in 0..MOST_CHUNKS {
            let mut head = [0; 12];
            mended.file.seek(SeekFrom::Start(chunk))?;
            if chunk + 12 > length || mended.file.read_exact(&mut head).is_err() {
                break;
            }
            let [.., a, b, c, d, e, f, g, h] = head;
            let size = i64::from_be_bytes([a, b, c, d, e, f, g, h]);
            let start = chunk + 12;
            if head.starts_with(b"desc") {
                let mut about = [0; 32];
                if mended.file.read_exact(&mut about).is_ok() && contradicts_itself(&about) {
                    return Err(TakeError::Decode(Undecodable::ContradictsItself));
                }
            }
            let end = u64::try_from(size).ok().and_then(|size| start.checked_add(size));
            match end.filter(|end| *end <= length) {
                Some(end) => chunk = end,
                None if head.starts_with(b"data") => {
                    mended.size = Some((chunk + 4, (length - start).to_be_bytes()));
                    mended.is_cut_off = size >= 0;
                    break;
                }
                // What follows the last whole chunk is not part of the recording.
                None => {
                    mended.length = chunk;
                    break;
                }
            }
        }
        Ok(mended)
    }
}

/// Whether what the header says of plain samples cannot be. Apple's specification, "Audio
/// Description Chunk", from memory: after the rate in eight bytes the format, its flags, bytes of a
/// packet, frames of one, channels, and bits of a sample. A packet of plain samples is one frame.
/// One bit off, sound would be read at another pitch, or without end.
fn contradicts_itself(about: &[u8; 32]) -> bool {
    let field = |at: usize| {
        about.get(at..at + 4).map_or(0, |field| {
            field.iter().fold(0, |number: u64, byte| number << 8 | u64::from(*byte))
        })
    };
    let [bytes, frames, channels, bits] = [16, 20, 24, 28].map(field);
    let is_plain = about.get(8..12) == Some(b"lpcm");
    let sample_bytes = bytes.checked_div(channels).unwrap_or(0);
    let is_whole = frames == 1
        && sample_bytes * channels == bytes
        && (1..=8).contains(&sample_bytes)
        && (1..=8 * sample_bytes).contains(&bits);
    is_plain && !is_whole
}

impl Read for Mended {
    fn read(&mut self, block: &mut [u8]) -> io::Result<usize> {
        let left = usize::try_from(self.length.saturating_sub(self.at)).unwrap_or(usize::MAX);
        let most = left.min(block.len());
        self.file.seek(SeekFrom::Start(self.at))?;
        let count = self.file.read(&mut block[..most])?;
        if let Some((place, size)) = self.size {
            for (byte, at) in block[..count].iter_mut().zip(self.at..) {
                let within = at.checked_sub(place).and_then(|at| usize::try_from(at).ok());
                if let Some(right) = within.and_then(|within| size.get(within)) {
                    *byte = *right;
                }
            }
        }
        self.at += count as u64;
        Ok(count)
    }
}

impl Seek for Mended {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let place = match to {
            SeekFrom::Start(at) => Some(at),
            SeekFrom::End(by) => self.length.checked_add_signed(by),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
        };
        self.at = place.ok_or(io::ErrorKind::InvalidInput)?;
        Ok(self.at)
    }
}

impl MediaSource for Mended {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn read(bytes: &[u8]) -> (Vec<u8>, bool) {
        let mut file = tempfile::tempfile().unwrap();
        file.write_all(bytes).unwrap();
        let mut mended = Mended::new(file).unwrap();
        let mut all = Vec::new();
        mended.read_to_end(&mut all).unwrap();
        (all, mended.is_cut_off)
    }

    #[test]
    fn the_size_of_the_sound_is_what_is_there() {
        let whole = [b"caff\0\x01\0\0", &b"free\0\0\0\0\0\0\0\x02ab"[..]].concat();
        let with =
            |size: i64| [&whole[..], b"data", &size.to_be_bytes(), b"\0\0\0\0sound"].concat();
        assert_eq!(read(&with(9)), (with(9), false));
        assert_eq!(read(&with(900)), (with(9), true));
        assert_eq!(read(&with(-1)), (with(9), false));
        let twice = [with(9), with(9)].concat();
        assert_eq!(read(&twice), (with(9), false));
        assert_eq!(read(&whole[..15]), (whole[..15].to_vec(), false));
    }

    /// One mono sample of 16 bits to a packet; any one of these bytes changed made no end of samples,
    /// or another pitch.
    #[test]
    fn plain_samples_whose_packets_cannot_be_are_refused() {
        let about = |bytes: u32, frames: u32, channels: u32, bits: u32| {
            let mut about = [0; 32];
            about[8..12].copy_from_slice(b"lpcm");
            for (at, field) in [(16, bytes), (20, frames), (24, channels), (28, bits)] {
                about[at..at + 4].copy_from_slice(&field.to_be_bytes());
            }
            about
        };
        for whole in [(2, 1, 1, 16), (6, 1, 2, 24), (8, 1, 2, 24), (8, 1, 1, 64)] {
            assert!(!contradicts_itself(&about(whole.0, whole.1, whole.2, whole.3)), "{whole:?}");
        }
        for wrong in [(2, 2, 1, 16), (2, 0, 1, 16), (3, 1, 2, 8), (2, 1, 0, 16), (2, 1, 1, 24)] {
            assert!(contradicts_itself(&about(wrong.0, wrong.1, wrong.2, wrong.3)), "{wrong:?}");
        }
        let mut compressed = about(0, 4096, 1, 0);
        compressed[8..12].copy_from_slice(b"alac");
        assert!(!contradicts_itself(&compressed));
    }
}
