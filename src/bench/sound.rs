//! What the bench sounds: takes as they were recorded, at equal loudness; the target note; and two short
//! sounds. The page's browser plays them as WAV, the prompt through the loudspeaker.

use std::f64::consts::TAU;
use std::path::Path;

use ebur128::{EbuR128, Mode};

use crate::take::{self, Channel, TakeError, wav};

/// Loudness of every take that is sounded (ITU-R BS.1770, in LUFS): loud enough beside a bench, with
/// room for its peaks.
const LOUDNESS_LUFS: f64 = -20.0;
/// No sample goes over this share of full scale.
const PEAK: f64 = 0.9;
/// Longest stretch of a take that is sounded.
const LONGEST_S: f64 = 12.0;
/// Rate of what is made.
const RATE_HZ: u32 = 44_100;
/// Pause between two takes in turn.
const PAUSE_S: f64 = 0.4;

/// Sound of one channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Sound {
    samples: Vec<f32>,
    rate_hz: u32,
}

/// From when to when of a take its crows sound, in seconds.
pub type Span = (f64, f64);

/// A take from its first crow on, brought to the common loudness.
///
/// Errors: the recording cannot be read.
pub fn of_take(file: &Path, span: Option<Span>) -> Result<Sound, TakeError> {
    let mut recording = take::open(file, Channel::default())?;
    let rate_hz = recording.sample_rate_hz();
    let rate = f64::from(rate_hz);
    let (from_s, to_s) = span.unwrap_or((0.0, LONGEST_S));
    let from = ((from_s - 0.1).max(0.0) * rate) as usize;
    let to = (((to_s + 0.1).min(from_s + LONGEST_S)) * rate) as usize;
    let (mut block, mut samples, mut read) = (Vec::new(), Vec::new(), 0_usize);
    while read < to && recording.next_block(&mut block)? {
        let (first, last) = (from.saturating_sub(read), to.saturating_sub(read).min(block.len()));
        samples.extend_from_slice(block.get(first..last).unwrap_or_default());
        read += block.len();
    }
    Ok(Sound { samples, rate_hz }.levelled())
}

/// Two takes in turn, twice each, at equal loudness.
pub fn in_turn(first: &Sound, second: &Sound) -> Sound {
    let pause = vec![0.0; (PAUSE_S * f64::from(first.rate_hz)) as usize];
    let second = second.at_rate(first.rate_hz);
    let parts = [&first.samples, &pause, &second.samples, &pause];
    let once: Vec<f32> = parts.into_iter().flatten().copied().collect();
    Sound { samples: [once.clone(), once].concat(), rate_hz: first.rate_hz }
}

/// A note to hold a crow against: a tone with a few partials, as a reed has.
pub fn tone(hz: f64) -> Sound {
    made(2.5, |time_s| {
        (1..=4)
            .filter(|order| hz * f64::from(*order) < 0.45 * f64::from(RATE_HZ))
            .map(|order| (TAU * hz * f64::from(order) * time_s).sin() / f64::from(order * order))
            .sum::<f64>()
            * 0.3
    })
}

/// A crow was heard.
pub fn heard() -> Sound {
    made(0.12, |time_s| 0.25 * (TAU * 880.0 * time_s).sin())
}

/// What was heard is not a crow.
pub fn not_a_crow() -> Sound {
    made(0.2, |time_s| 0.25 * (TAU * 220.0 * time_s).sin())
}

/// A sound that swells in and dies away, so that it does not click.
fn made(length_s: f64, at: impl Fn(f64) -> f64) -> Sound {
    const EDGE_S: f64 = 0.03;
    let count = (length_s * f64::from(RATE_HZ)) as usize;
    let sample = |i: usize| {
        let time_s = i as f64 / f64::from(RATE_HZ);
        let edge = (time_s / EDGE_S).min((length_s - time_s) / EDGE_S).clamp(0.0, 1.0);
        (edge * at(time_s)) as f32
    };
    Sound { samples: (0..count).map(sample).collect(), rate_hz: RATE_HZ }
}

impl Sound {
    /// The same at the common loudness; what is too short or too quiet to have one stays as it is.
    fn levelled(mut self) -> Self {
        let measured = EbuR128::new(1, self.rate_hz, Mode::I).and_then(|mut meter| {
            meter.add_frames_f32(&self.samples)?;
            meter.loudness_global()
        });
        let Ok(loudness) = measured else { return self };
        if !loudness.is_finite() {
            return self;
        }
        let peak = self.samples.iter().fold(0.0_f32, |peak, x| peak.max(x.abs()));
        let most = PEAK / f64::from(peak).max(f64::MIN_POSITIVE);
        let gain = 10.0_f64.powf((LOUDNESS_LUFS - loudness) / 20.0).min(most) as f32;
        self.samples.iter_mut().for_each(|sample| *sample *= gain);
        self
    }

    /// The same at another rate, by straight lines between samples: good enough for the ear's
    /// comparison of a crow, whose partials lie far under half of either rate.
    fn at_rate(&self, rate_hz: u32) -> Self {
        if rate_hz == self.rate_hz {
            return self.clone();
        }
        let step = f64::from(self.rate_hz) / f64::from(rate_hz);
        let count = (self.samples.len() as f64 / step) as usize;
        let at = |i: usize| {
            let place = i as f64 * step;
            let (here, share) = (place as usize, place.fract() as f32);
            let of = |i: usize| self.samples.get(i).copied().unwrap_or_default();
            of(here) * (1.0 - share) + of(here + 1) * share
        };
        Self { samples: (0..count).map(at).collect(), rate_hz }
    }

    /// Samples of one channel, full scale ±1, at `rate_hz`.
    pub fn samples_at(&self, rate_hz: u32) -> Vec<f32> {
        self.at_rate(rate_hz).samples
    }

    /// As a WAV of 16 bits; `None` where this system lets no temporary file be written.
    pub fn wav(&self) -> Option<Vec<u8>> {
        let folder = tempfile::tempdir().ok()?;
        let file = folder.path().join("sound.wav");
        wav::write(&file, &self.samples, self.rate_hz, 1, wav::SampleFormat::I16).ok()?;
        std::fs::read(file).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn loudness(sound: &Sound) -> f64 {
        let mut meter = EbuR128::new(1, sound.rate_hz, Mode::I).unwrap();
        meter.add_frames_f32(&sound.samples).unwrap();
        meter.loudness_global().unwrap()
    }

    #[test]
    fn a_loud_and_a_soft_take_are_sounded_equally_loud() {
        let folder = tempfile::tempdir().unwrap();
        let of = |name: &str, gain: f32| {
            let samples: Vec<f32> = tone(523.25).samples.iter().map(|x| gain * x).collect();
            let file = folder.path().join(name);
            let format = crate::take::wav::SampleFormat::F32;
            crate::take::wav::write(&file, &samples, RATE_HZ, 1, format).unwrap();
            of_take(&file, None).unwrap()
        };
        let (soft, loud) = (of("soft.wav", 0.02), of("loud.wav", 0.9));
        assert!((loudness(&soft) - loudness(&loud)).abs() < 0.1);
        assert!((loudness(&soft) - LOUDNESS_LUFS).abs() < 0.2);
        let both = in_turn(&soft, &loud);
        assert!(both.samples.len() > 4 * soft.samples.len());
        assert!(both.samples.iter().all(|x| x.abs() <= 1.0));
    }

    #[test]
    fn what_is_sounded_is_a_wav_and_begins_and_ends_in_silence() {
        for sound in [tone(523.25), heard(), not_a_crow()] {
            let edges = [sound.samples.first(), sound.samples.last()];
            assert!(edges.into_iter().flatten().all(|x| x.abs() < 0.02));
            let wav = sound.wav().unwrap();
            assert_eq!(
                hound::WavReader::new(std::io::Cursor::new(wav)).unwrap().spec().channels,
                1
            );
        }
    }
}
