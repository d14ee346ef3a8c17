//! One recording: its samples, its rate, where it came from, and what was lost on the way.
//!
//! A recording enters as a [`SampleStream`] (one per file format), one channel of it is chosen
//! ([`OneChannel`]), and it is either read piece by piece or held whole as a [`Take`].

mod channel;
pub mod decode;
mod error;
mod open;
mod pipe;
mod stream;
pub mod wav;

pub use channel::{Channel, OneChannel};
pub use error::TakeError;
pub use open::{STANDARD_INPUT, about, is_pattern, open, read};
pub use pipe::open_pipe;
pub use stream::SampleStream;

/// Sample rates that are read, in hertz.
pub const RATES_HZ: std::ops::RangeInclusive<u32> = 8_000..=192_000;

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
