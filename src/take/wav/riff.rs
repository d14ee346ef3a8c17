//! The chunks of RIFF, RF64 and BW64 up to the samples; of Wave64 in [`wave64`].

use std::io::Read;

use super::header::{Counted, Format, Header, LIMIT_BYTES, no_sound, u32_at, u64_at};
use super::wave64;
use crate::take::{HeaderFault, TakeError};

/// The size that 32-bit recorders write when they cannot say, and that RF64 writes where the
/// `ds64` chunk holds the size.
const UNKNOWN: u64 = 0xffff_ffff;

/// Reads up to the first sample. Chunks other than the format and the 64-bit sizes are
/// skipped, with the pad byte of odd ones.
pub(super) fn read(input: &mut dyn Read) -> Result<Header, TakeError> {
    let mut input = Counted { input, bytes: 0 };
    let mut opening = [0; 12];
    let got = input.read_up_to(&mut opening)?;
    if got == 0 {
        return Err(TakeError::Empty);
    }
    let opening_id = &opening[..got.min(4)];
    if opening_id == b"riff" {
        return wave64::header(&mut input, &opening[..got]);
    }
    let wide = matches!(opening_id, b"RF64" | b"BW64");
    if !wide && opening_id != b"RIFF" {
        return Err(TakeError::NotWav);
    }
    if got < 12 {
        return Err(TakeError::CutOffInHeader);
    }
    if &opening[8..] != b"WAVE" {
        return Err(TakeError::NotWav);
    }
    let mut riff_bytes = u64::from(u32_at(&opening, 4));
    let mut wide_data_bytes = None;
    let mut format = None;
    while input.bytes < LIMIT_BYTES {
        let mut head = [0; 8];
        input.read_whole(&mut head)?;
        let size = u64::from(u32_at(&head, 4));
        match &head[..4] {
            b"ds64" if wide => {
                let body: [u8; 16] = input.chunk(size)?;
                if riff_bytes == UNKNOWN {
                    riff_bytes = u64_at(&body, 0);
                }
                wide_data_bytes = Some(u64_at(&body, 8));
            }
            b"fmt " if size < 16 => {
                return Err(TakeError::Header(HeaderFault::FormatBytes(size)));
            }
            b"fmt " => format = Some(Format::parse(&input.chunk(size)?, size)?),
            b"data" => {
                let Some(format) = format else {
                    return Err(TakeError::Header(HeaderFault::NoFormat));
                };
                let file_end = riff_bytes.saturating_add(8);
                let data_bytes = match (size, wide_data_bytes) {
                    (UNKNOWN, Some(wide)) => Some(wide),
                    (UNKNOWN, None) => None,
                    // Recorders begin with 0 and write the size when they close the file.
                    (0, _) if file_end <= input.bytes || riff_bytes == UNKNOWN => None,
                    (size, _) => Some(size),
                };
                return Ok(Header {
                    sample_rate_hz: format.sample_rate_hz,
                    channels: format.channels,
                    sample_format: format.sample_format,
                    data_start: input.bytes,
                    data_bytes,
                    file_end,
                });
            }
            _ => input.skip(size + size % 2)?,
        }
    }
    Err(no_sound())
}
