//! What stands before the samples of a Wave64 file: chunks as in RIFF, but named by 16 bytes,
//! measured by 64 bits with their own heading counted in, and padded to 8 bytes.
//!
//! Source: Sony Wave64 description (Sonic Foundry), from memory; files written by general-purpose
//! converters read the same.

use super::header::{Counted, Format, Header, LIMIT_BYTES, no_sound, u64_at};
use crate::take::{HeaderFault, TakeError};

/// What follows the four letters in the name of the outermost chunk.
const RIFF_TAIL: [u8; 12] = *b"\x2e\x91\xcf\x11\xa5\xd6\x28\xdb\x04\xc1\x00\x00";
/// What follows the four letters in the names of all others.
const TAIL: [u8; 12] = *b"\xf3\xac\xd3\x11\x8c\xd1\x00\xc0\x4f\x8e\xdb\x8a";
/// A chunk's name and size.
const HEADING_BYTES: u64 = 24;

/// Reads up to the first sample. `opening` is what has been read: 12 bytes, or all there is.
pub(super) fn header(input: &mut Counted<'_>, opening: &[u8]) -> Result<Header, TakeError> {
    if opening.len() < 12 {
        return Err(TakeError::CutOffInHeader);
    }
    // The rest of the outermost chunk's name, the size of the file, and the form.
    let mut rest = [0; 28];
    input.read_whole(&mut rest)?;
    let whole = opening[4..12] == RIFF_TAIL[..8] && rest[..4] == RIFF_TAIL[8..];
    if !whole || rest[12..16] != *b"wave" || rest[16..] != TAIL {
        return Err(TakeError::NotWav);
    }
    let mut format = None;
    while input.bytes < LIMIT_BYTES {
        let mut heading = [0; HEADING_BYTES as usize];
        input.read_whole(&mut heading)?;
        let size = u64_at(&heading, 16).checked_sub(HEADING_BYTES);
        let name = (heading[4..16] == TAIL).then_some(&heading[..4]);
        match (name, size) {
            (Some(b"data"), size) => {
                let Some(Format { sample_rate_hz, channels, sample_format }) = format else {
                    return Err(TakeError::Header(HeaderFault::NoFormat));
                };
                return Ok(Header {
                    sample_rate_hz,
                    channels,
                    sample_format,
                    data_start: input.bytes,
                    // Writers that cannot go back leave 0 or all ones.
                    data_bytes: size.filter(|&bytes| bytes > 0 && bytes < u64::MAX >> 1),
                    file_end: 0,
                });
            }
            (_, None) => return Err(TakeError::Header(HeaderFault::ShortChunk)),
            (Some(b"fmt "), Some(size)) if size < 16 => {
                return Err(TakeError::Header(HeaderFault::FormatBytes(size)));
            }
            (Some(b"fmt "), Some(size)) => {
                let mut body = [0; 40];
                let kept = size.min(40);
                input.read_whole(&mut body[..kept as usize])?;
                input.skip(padded(size) - kept)?;
                format = Some(Format::parse(&body, size)?);
            }
            (_, Some(size)) => input.skip(padded(size))?,
        }
    }
    Err(no_sound())
}

/// Chunks begin at multiples of 8 bytes.
fn padded(size: u64) -> u64 {
    size.min(u64::MAX >> 1).next_multiple_of(8)
}
