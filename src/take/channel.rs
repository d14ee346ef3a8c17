//! One channel of a recording: asked for by number, or the one with the most power.
//!
//! A mix of two microphones combs the levels, so channels are never mixed.

use std::fmt;
use std::str::FromStr;

use super::{Faults, SampleStream, Take, TakeError};

/// Samples of all channels that are held at most while the strongest is found, where a recording
/// can be read again: decoding most takes once is worth 4 MiB.
const HELD_SAMPLES: usize = 1 << 20;

/// Which channel to read.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Channel {
    /// The one with the greatest mean square; the first of equals.
    #[default]
    Strongest,
    /// By number, counted from 1.
    Number(u16),
}

/// A channel's number that is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub struct ChannelError;

impl FromStr for Channel {
    type Err = ChannelError;
    fn from_str(text: &str) -> Result<Self, ChannelError> {
        match text.trim().parse() {
            Ok(number) if number >= 1 => Ok(Self::Number(number)),
            _ => Err(ChannelError),
        }
    }
}

/// Opens a recording from its start.
pub type Opens<'a> = dyn Fn() -> Result<Box<dyn SampleStream>, TakeError> + 'a;

/// One channel of a recording, in blocks: finite samples, and a count of those that were not.
pub struct OneChannel {
    stream: Box<dyn SampleStream>,
    channel: u16,
    frames: Vec<f32>,
    primed: bool,
    not_finite: u64,
}

impl fmt::Debug for OneChannel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("OneChannel")
            .field("sample_rate_hz", &self.sample_rate_hz())
            .field("channels", &self.channels())
            .field("channel", &self.channel)
            .finish_non_exhaustive()
    }
}

impl OneChannel {
    /// Channel `number` of `stream`, counted from 1.
    ///
    /// Errors: no such channel, no samples at all, or the first block cannot be read.
    pub fn new(mut stream: Box<dyn SampleStream>, number: u16) -> Result<Self, TakeError> {
        let channels = stream.channels();
        if !(1..=channels).contains(&number) {
            return Err(TakeError::NoSuchChannel { asked: number, channels });
        }
        let mut frames = Vec::new();
        if !stream.next_block(&mut frames)? {
            return Err(TakeError::NoSamples);
        }
        Ok(Self { stream, channel: number, frames, primed: true, not_finite: 0 })
    }

    /// The channel wanted of what `open` opens: by its number, or the strongest.
    ///
    /// * `open`: opens the recording from its start, as often as it is called.
    ///
    /// Errors: no such channel, no samples at all, or it cannot be opened or read.
    pub fn choose(channel: Channel, open: &Opens<'_>) -> Result<Self, TakeError> {
        match channel {
            Channel::Number(number) => Self::new(open()?, number),
            Channel::Strongest => Self::strongest(open()?, open),
        }
    }

    /// The strongest channel of `stream`. What is longer than a few seconds is opened `again` and
    /// read twice, so that memory stays constant.
    fn strongest(mut stream: Box<dyn SampleStream>, again: &Opens<'_>) -> Result<Self, TakeError> {
        if stream.channels() == 1 {
            return Self::new(stream, 1);
        }
        let mut powers = Powers::new(stream.channels());
        let (mut held, mut block) = (Vec::new(), Vec::new());
        let mut is_held = true;
        while stream.next_block(&mut block)? {
            powers.add(&block);
            is_held &= held.len() + block.len() <= HELD_SAMPLES;
            if is_held {
                held.extend_from_slice(&block);
            } else {
                held = Vec::new();
            }
        }
        let strongest = powers.strongest();
        let stream = if is_held {
            Box::new(Held {
                sample_rate_hz: stream.sample_rate_hz(),
                channels: stream.channels(),
                cut_off: stream.cut_off(),
                lost: stream.lost(),
                samples: Some(held),
            })
        } else {
            again()?
        };
        Self::new(stream, strongest)
    }

    /// Samples per second.
    pub fn sample_rate_hz(&self) -> u32 {
        self.stream.sample_rate_hz()
    }

    /// Channels of the recording.
    pub fn channels(&self) -> u16 {
        self.stream.channels()
    }

    /// The channel read, counted from 1.
    pub fn channel(&self) -> u16 {
        self.channel
    }

    /// What went wrong so far; final once `next_block` gave false.
    pub fn faults(&self) -> Faults {
        Faults {
            cut_off: self.stream.cut_off(),
            not_finite: self.not_finite,
            lost: self.stream.lost(),
        }
    }

    /// Replaces `block` by the next samples of the channel, full scale being ±1, all finite.
    /// Returns false at the end, with `block` empty.
    pub fn next_block(&mut self, block: &mut Vec<f32>) -> Result<bool, TakeError> {
        block.clear();
        if !std::mem::take(&mut self.primed) && !self.stream.next_block(&mut self.frames)? {
            return Ok(false);
        }
        let channels = usize::from(self.channels());
        if channels == 1 {
            std::mem::swap(block, &mut self.frames);
        } else {
            let picked = self.frames.iter().skip(usize::from(self.channel) - 1).step_by(channels);
            block.extend(picked);
        }
        for sample in block {
            let is_sound = is_sound(*sample);
            self.not_finite += u64::from(!is_sound);
            *sample = if is_sound { *sample } else { 0.0 };
        }
        Ok(true)
    }

    /// Reads the rest and holds it as a take called `source`.
    pub fn into_take(mut self, source: &str) -> Result<Take, TakeError> {
        let (mut samples, mut block) = (Vec::new(), Vec::new());
        while self.next_block(&mut block)? {
            samples.extend_from_slice(&block);
        }
        Ok(Take {
            source: source.to_owned(),
            sample_rate_hz: self.sample_rate_hz(),
            channels: self.channels(),
            channel: self.channel,
            samples,
            faults: self.faults(),
        })
    }
}

/// Samples beyond this, 200 dB over full scale, are not sound, whatever the file counts full scale in.
const FAR_OVER_FULL_SCALE: f32 = 1e10;

/// Whether a sample can be sound; NaN is none.
fn is_sound(sample: f32) -> bool {
    sample.abs() < FAR_OVER_FULL_SCALE
}

/// Sum of squares per channel.
struct Powers(Vec<f64>);

impl Powers {
    fn new(channels: u16) -> Self {
        Self(vec![0.0; usize::from(channels)])
    }

    fn add(&mut self, block: &[f32]) {
        for frame in block.chunks_exact(self.0.len()) {
            for (power, &sample) in self.0.iter_mut().zip(frame) {
                if is_sound(sample) {
                    *power += f64::from(sample) * f64::from(sample);
                }
            }
        }
    }

    fn strongest(&self) -> u16 {
        let mut best = 0;
        for (index, power) in self.0.iter().enumerate() {
            if *power > self.0[best] {
                best = index;
            }
        }
        best as u16 + 1
    }
}

/// A recording held whole.
struct Held {
    sample_rate_hz: u32,
    channels: u16,
    cut_off: bool,
    lost: u64,
    samples: Option<Vec<f32>>,
}

impl SampleStream for Held {
    fn sample_rate_hz(&self) -> u32 {
        self.sample_rate_hz
    }

    fn channels(&self) -> u16 {
        self.channels
    }

    fn next_block(&mut self, block: &mut Vec<f32>) -> Result<bool, TakeError> {
        *block = self.samples.take().unwrap_or_default();
        Ok(!block.is_empty())
    }

    fn cut_off(&self) -> bool {
        self.cut_off
    }

    fn lost(&self) -> u64 {
        self.lost
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stereo(samples: Vec<f32>) -> Box<dyn SampleStream> {
        Box::new(Held {
            sample_rate_hz: 8000,
            channels: 2,
            cut_off: false,
            lost: 0,
            samples: Some(samples),
        })
    }

    #[test]
    fn the_strongest_channel_is_read_and_named() {
        let open: &Opens<'_> = &|| Ok(stereo(vec![0.1, -0.5, 0.1, 0.4]));
        let take = OneChannel::choose(Channel::Strongest, open).unwrap();
        let take = take.into_take("two").unwrap();
        assert_eq!((take.channel, take.channels), (2, 2));
        assert_eq!(take.samples, [-0.5, 0.4]);
    }

    #[test]
    fn a_long_recording_is_opened_again_and_a_short_one_held() {
        let opened = std::cell::Cell::new(0);
        for (frames, times) in [(8, 1), (HELD_SAMPLES, 2)] {
            opened.set(0);
            let again = || {
                opened.set(opened.get() + 1);
                Ok(stereo([0.1, -0.5].repeat(frames)))
            };
            let take = OneChannel::choose(Channel::Strongest, &again).unwrap();
            let take = take.into_take("").unwrap();
            assert_eq!((take.channel, take.samples.len(), opened.get()), (2, frames, times));
        }
    }

    #[test]
    fn samples_that_are_no_numbers_are_zero_and_counted_in_their_channel_only() {
        let samples = vec![f32::NAN, 0.1, 0.2, f32::INFINITY, f32::NEG_INFINITY, 0.3];
        let take = OneChannel::new(stereo(samples), 1).unwrap().into_take("").unwrap();
        assert_eq!(take.samples, [0.0, 0.2, 0.0]);
        assert_eq!(take.faults.not_finite, 2);
    }

    #[test]
    fn a_channel_that_is_not_there_is_refused() {
        for asked in [0, 3] {
            let error = OneChannel::new(stereo(vec![0.0; 4]), asked).unwrap_err();
            assert!(matches!(error, TakeError::NoSuchChannel { channels: 2, .. }), "{error}");
        }
        assert!("0".parse::<Channel>().is_err());
        assert_eq!("2".parse(), Ok(Channel::Number(2)));
    }
}
