//! What every decoder offers: rate, channels, and the samples in blocks.

use super::TakeError;

/// A recording as a stream of interleaved samples, whatever its format. Memory does not depend on
/// the recording's length, nor on what its header claims.
pub trait SampleStream: Send {
    /// Samples per second, within [`super::RATES_HZ`].
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
    /// keeps its time.
    fn lost(&self) -> u64 {
        0
    }
}
