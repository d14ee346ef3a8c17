//! Reading and writing recordings: against hound, an independent implementation of WAV, and
//! against damage of every kind.

mod damaged;
mod header_forms;
mod hound_agrees;
mod mutated;
mod mutation;
mod mutation_of_json;
mod round_trip;
mod strange_sound;
mod written_files;

use reedcrow::take::wav::WavStream;
use reedcrow::take::{self, Channel, OneChannel, SampleStream, Take, TakeError};

/// Reads bytes as a file would be read.
fn read(bytes: Vec<u8>, channel: Channel) -> Result<Take, TakeError> {
    let open = || -> Result<Box<dyn SampleStream>, TakeError> {
        Ok(Box::new(WavStream::seekable(std::io::Cursor::new(bytes.clone()))?))
    };
    OneChannel::choose(channel, &open)?.into_take("bytes")
}

/// Reads bytes as they come through a pipe.
fn read_piped(bytes: Vec<u8>) -> Result<Take, TakeError> {
    take::open_pipe(std::io::Cursor::new(bytes), Channel::Strongest)?.into_take("-")
}

/// A WAV file put together by hand, so that any of its fields can lie.
#[derive(Debug, Clone)]
struct Parts {
    id: [u8; 4],
    riff_bytes: Option<u32>,
    code: u16,
    channels: u16,
    rate_hz: u32,
    bits: u16,
    /// What stands behind the sixteen bytes every format chunk has.
    extension: Vec<u8>,
    /// Chunks before the format.
    before: Vec<u8>,
    data_bytes: Option<u32>,
    data: Vec<u8>,
    after: Vec<u8>,
}

impl Default for Parts {
    /// Four samples of 16 bits at 48 kHz: 0, a half, a half down, 0.
    fn default() -> Self {
        Self {
            id: *b"RIFF",
            riff_bytes: None,
            code: 1,
            channels: 1,
            rate_hz: 48_000,
            bits: 16,
            extension: Vec::new(),
            before: Vec::new(),
            data_bytes: None,
            data: vec![0, 0, 0, 0x40, 0, 0xc0, 0, 0],
            after: Vec::new(),
        }
    }
}

impl Parts {
    fn bytes(&self) -> Vec<u8> {
        let frame = u32::from(self.channels) * u32::from(self.bits / 8);
        let mut body = b"WAVE".to_vec();
        body.extend_from_slice(&self.before);
        body.extend_from_slice(b"fmt ");
        body.extend_from_slice(&(16 + self.extension.len() as u32).to_le_bytes());
        body.extend_from_slice(&self.code.to_le_bytes());
        body.extend_from_slice(&self.channels.to_le_bytes());
        body.extend_from_slice(&self.rate_hz.to_le_bytes());
        body.extend_from_slice(&self.rate_hz.wrapping_mul(frame).to_le_bytes());
        body.extend_from_slice(&(frame as u16).to_le_bytes());
        body.extend_from_slice(&self.bits.to_le_bytes());
        body.extend_from_slice(&self.extension);
        body.extend_from_slice(b"data");
        body.extend_from_slice(&self.data_bytes.unwrap_or(self.data.len() as u32).to_le_bytes());
        body.extend_from_slice(&self.data);
        body.extend_from_slice(&self.after);
        let mut file = self.id.to_vec();
        file.extend_from_slice(&self.riff_bytes.unwrap_or(body.len() as u32).to_le_bytes());
        file.extend_from_slice(&body);
        file
    }

    fn read(&self) -> Result<Take, TakeError> {
        read(self.bytes(), Channel::Strongest)
    }
}
