//! What stands before the samples of a WAV file, whichever form it has.

use std::io::{self, Read};

use super::sample_format::SampleFormat;
use crate::take::{HeaderFault, RATES_HZ, SampleKind, TakeError};

/// Bytes that may stand before the samples. Recorders put pictures and logs there, but a stream
/// that never comes to its samples must end somewhere.
pub(super) const LIMIT_BYTES: u64 = 64 << 20;

/// The header of a WAV file, checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Header {
    pub sample_rate_hz: u32,
    pub channels: u16,
    pub sample_format: SampleFormat,
    /// Bytes from the start of the file to the first sample.
    pub data_start: u64,
    /// Bytes of samples as claimed; `None` where the header does not say.
    pub data_bytes: Option<u64>,
    /// Where the file ends as claimed.
    pub file_end: u64,
}

impl Header {
    /// Bytes per frame: one sample of every channel.
    pub fn frame_bytes(&self) -> usize {
        usize::from(self.channels) * self.sample_format.bytes()
    }
}

/// The format chunk, checked.
pub(super) struct Format {
    pub sample_rate_hz: u32,
    pub channels: u16,
    pub sample_format: SampleFormat,
}

const PCM: u16 = 1;
const FLOAT: u16 = 3;
const EXTENSIBLE: u16 = 0xfffe;
/// What follows the two bytes of the code in an extensible format's GUID.
pub(super) const GUID_TAIL: [u8; 14] = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71];

impl Format {
    pub fn parse(body: &[u8; 40], size: u64) -> Result<Self, TakeError> {
        let mut code = u16_at(body, 0);
        if code == EXTENSIBLE {
            if size < 40 || body[26..40] != GUID_TAIL {
                return Err(TakeError::Codec { code });
            }
            code = u16_at(body, 24);
        }
        let channels = u16_at(body, 2);
        let sample_rate_hz = u32_at(body, 4);
        let frame_bytes = u16_at(body, 12);
        let bits = u16_at(body, 14);
        let sample_format = match (code, bits) {
            (PCM, 8) => SampleFormat::U8,
            (PCM, 16) => SampleFormat::I16,
            (PCM, 24) => SampleFormat::I24,
            (PCM, 32) => SampleFormat::I32,
            (FLOAT, 32) => SampleFormat::F32,
            (FLOAT, 64) => SampleFormat::F64,
            (PCM, _) => return Err(TakeError::Bits { bits, kind: SampleKind::Integer }),
            (FLOAT, _) => return Err(TakeError::Bits { bits, kind: SampleKind::Float }),
            _ => return Err(TakeError::Codec { code }),
        };
        if channels == 0 {
            return Err(TakeError::NoChannels);
        }
        if !RATES_HZ.contains(&sample_rate_hz) {
            return Err(TakeError::Rate(sample_rate_hz));
        }
        // Some writers leave it 0; any other value must be the product.
        let expected = usize::from(channels) * sample_format.bytes();
        if frame_bytes != 0 && usize::from(frame_bytes) != expected & 0xffff {
            return Err(TakeError::Header(HeaderFault::Frame { channels, bits, frame_bytes }));
        }
        Ok(Self { sample_rate_hz, channels, sample_format })
    }
}

/// The sound does not come within what is looked through.
pub(super) fn no_sound() -> TakeError {
    TakeError::Header(HeaderFault::NoSound { looked_through_mib: LIMIT_BYTES >> 20 })
}

/// Counts what is read, and tells an ending from a failure.
pub(super) struct Counted<'a> {
    pub input: &'a mut dyn Read,
    pub bytes: u64,
}

impl Counted<'_> {
    pub fn read_up_to(&mut self, buffer: &mut [u8]) -> Result<usize, TakeError> {
        let got = read_up_to(self.input, buffer)?;
        self.bytes += got as u64;
        Ok(got)
    }

    pub fn read_whole(&mut self, buffer: &mut [u8]) -> Result<(), TakeError> {
        if self.read_up_to(buffer)? < buffer.len() {
            return Err(TakeError::CutOffInHeader);
        }
        Ok(())
    }

    /// The first `N` bytes of a chunk's body of `size` bytes, 0 where it is shorter; the rest of
    /// the body is skipped.
    pub fn chunk<const N: usize>(&mut self, size: u64) -> Result<[u8; N], TakeError> {
        let mut body = [0; N];
        let kept = size.min(N as u64);
        self.read_whole(&mut body[..kept as usize])?;
        self.skip(size - kept + size % 2)?;
        Ok(body)
    }

    pub fn skip(&mut self, size: u64) -> Result<(), TakeError> {
        let wanted = size.min(LIMIT_BYTES);
        let got = io::copy(&mut self.input.take(wanted), &mut io::sink())?;
        self.bytes += got;
        if got < wanted {
            return Err(TakeError::CutOffInHeader);
        }
        Ok(())
    }
}

/// Fills as much of `buffer` as the input has left. Returns the bytes read.
pub(super) fn read_up_to(input: &mut dyn Read, buffer: &mut [u8]) -> io::Result<usize> {
    let mut filled = 0;
    while filled < buffer.len() {
        match input.read(&mut buffer[filled..]) {
            Ok(0) => break,
            Ok(got) => filled += got,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(filled)
}

fn u16_at(bytes: &[u8], at: usize) -> u16 {
    u16::from_le_bytes([bytes[at], bytes[at + 1]])
}

pub(super) fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from(u16_at(bytes, at)) | u32::from(u16_at(bytes, at + 2)) << 16
}

pub(super) fn u64_at(bytes: &[u8], at: usize) -> u64 {
    u64::from(u32_at(bytes, at)) | u64::from(u32_at(bytes, at + 4)) << 32
}
