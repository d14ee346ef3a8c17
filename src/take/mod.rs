//! One recording: its samples, its rate, where it came from, and what was lost on the way.
//!
//! A recording enters as a [`SampleStream`] (one per file format), one channel of it is chosen
//! ([`OneChannel`]), and it is either read piece by piece or held whole as a [`Take`].

mod channel;
pub mod decode;
mod error;
mod open;
mod pipe;
pub mod wav;

pub use channel::{Channel, ChannelError, OneChannel};
pub use error::{HeaderFault, SampleKind, TakeError, Undecodable, Unread};
pub use open::{STANDARD_INPUT, about, is_pattern, open, read};
pub use pipe::open_pipe;

/// Sample rates that are read, in hertz.
pub const RATES_HZ: std::ops::RangeInclusive<u32> = 8_000..=192_000;

/// A recording as a stream of interleaved samples, whatever its format. Memory does not depend on
/// the recording's length, nor on what its header claims.
pub trait SampleStream: Send {
    /// Samples per second, within [`RATES_HZ`].
    fn sample_rate_hz(&self) -> u32;

    /// Channels, at least 1.
    fn channels(&self) -> u16;

    /// Replaces `block` by the next samples: whole frames, interleaved, full scale being ±1. They
    /// may be NaN or infinite, as the file has them.
    ///
    /// Returns false at the end, with `block` empty. A recording that breaks off ends there, and
    /// [`SampleStream::cut_off`] tells.
    fn next_block(&mut self, block: &mut Vec<f32>) -> Result<bool, TakeError>;

    /// Whether the recording ended before its header says; final once `next_block` gave false.
    fn cut_off(&self) -> bool;

    /// Frames that were too damaged to be decoded and are handed out as silence, so that the rest
    /// keeps its time; of plain samples, places from which on they were cut wrongly.
    fn lost(&self) -> u64 {
        0
    }
}

/// One recording, from the microphone or from a file, as one channel of samples.
#[derive(Debug, Clone, Default)]
pub struct Take {
    /// What the user calls it: a path, `-` for standard input, or a device.
    pub source: String,
    /// Samples per second, 8 000 … 192 000.
    pub sample_rate_hz: u32,
    /// Channels of the recording.
    pub channels: u16,
    /// The channel read, counted from 1.
    pub channel: u16,
    /// `[n]` samples, full scale being ±1. Never NaN or infinite: such samples are 0 and counted
    /// in `faults`.
    pub samples: Vec<f32>,
    /// What went wrong on the way.
    pub faults: Faults,
}

/// What a recording lost or distorted before it was read. Doubt, not failure.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Faults {
    /// The file ends before its header says.
    pub cut_off: bool,
    /// Samples that were NaN or infinite and count as 0.
    pub not_finite: u64,
    /// Samples that the device delivered and the program could not keep, or that a file holds
    /// too damaged to be decoded.
    pub lost: u64,
}

impl Take {
    /// Length in seconds; 0 where there is no rate.
    pub fn duration_s(&self) -> f64 {
        if self.sample_rate_hz == 0 {
            return 0.0;
        }
        self.samples.len() as f64 / f64::from(self.sample_rate_hz)
    }
}
