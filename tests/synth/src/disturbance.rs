//! What sounds at a bench and is no crow.

use std::f64::consts::TAU;

use rand::{Rng, RngExt};

use super::envelope::{fall, rise};
use super::noise::{Colour, noise};
use super::speech;

/// A sound that is no crow. Levels are RMS relative to a full-scale sine, at the loudest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Disturbance {
    /// Something put down on the bench: a few resonances that die away.
    Knock {
        /// Level of its start.
        level_dbfs: f64,
        /// Time in which it falls by 60 dB, of its longest resonance.
        decay_s: f64,
    },
    /// Bumps and rubbing at the microphone or its cable.
    Handling {
        /// Level of the bumps.
        level_dbfs: f64,
        /// Length.
        duration_s: f64,
    },
    /// A puff of breath without a tone.
    Breath {
        /// Level.
        level_dbfs: f64,
        /// Length.
        duration_s: f64,
        /// Its spectrum.
        colour: Colour,
    },
    /// Syllables: a buzz whose pitch moves, through resonances that move.
    Speech {
        /// Level.
        level_dbfs: f64,
        /// Length.
        duration_s: f64,
        /// Mean pitch of the voice, 80 to 300 Hz.
        pitch_hz: f64,
    },
    /// A chair or a hinge: a high tone that glides.
    Squeak {
        /// Level.
        level_dbfs: f64,
        /// Length.
        duration_s: f64,
        /// Frequency at its start.
        from_hz: f64,
        /// Frequency at its end.
        to_hz: f64,
    },
    /// A motor or lamp: mains hum that is switched on and off again.
    Hum {
        /// Level of its fundamental.
        level_dbfs: f64,
        /// Length.
        duration_s: f64,
        /// 50 or 60 Hz.
        mains_hz: f64,
    },
}

impl Disturbance {
    /// What it is, in one word.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Knock { .. } => "knock",
            Self::Handling { .. } => "handling",
            Self::Breath { .. } => "breath",
            Self::Speech { .. } => "speech",
            Self::Squeak { .. } => "squeak",
            Self::Hum { .. } => "hum",
        }
    }

    /// Its samples.
    pub(super) fn render(&self, rate: f64, rng: &mut impl Rng) -> Vec<f64> {
        match *self {
            Self::Knock { level_dbfs, decay_s } => {
                scaled(knock(decay_s, rate, rng), level_dbfs, rate)
            }
            Self::Handling { level_dbfs, duration_s } => {
                scaled(handling(duration_s, rate, rng), level_dbfs, rate)
            }
            Self::Breath { level_dbfs, duration_s, colour } => {
                let mut samples = noise(colour, samples_in(duration_s, rate), rate, rng);
                let ramp_s = 0.3 * duration_s;
                shape(&mut samples, rate, |t_s| {
                    rise(t_s, 0.0, ramp_s) * fall(t_s, duration_s, ramp_s)
                });
                scaled(samples, level_dbfs, rate)
            }
            Self::Speech { level_dbfs, duration_s, pitch_hz } => {
                scaled(speech::syllables(duration_s, pitch_hz, rate, rng), level_dbfs, rate)
            }
            Self::Squeak { level_dbfs, duration_s, from_hz, to_hz } => {
                scaled(squeak(duration_s, from_hz, to_hz, rate), level_dbfs, rate)
            }
            Self::Hum { level_dbfs, duration_s, mains_hz } => {
                scaled(hum(duration_s, mains_hz, rate, rng), level_dbfs, rate)
            }
        }
    }
}

fn samples_in(duration_s: f64, rate: f64) -> usize {
    (duration_s * rate).round().max(0.0) as usize
}

fn shape(samples: &mut [f64], rate: f64, gain: impl Fn(f64) -> f64) {
    for (i, sample) in samples.iter_mut().enumerate() {
        *sample *= gain(i as f64 / rate);
    }
}

/// Scaled so that its loudest 20 ms have the stated level.
fn scaled(mut samples: Vec<f64>, level_dbfs: f64, rate: f64) -> Vec<f64> {
    let frame = samples_in(0.02, rate).max(1);
    let loudest = samples
        .chunks(frame)
        .map(|chunk| chunk.iter().map(|x| x * x).sum::<f64>() / frame as f64)
        .fold(0.0, f64::max);
    if loudest > 0.0 {
        let gain = (0.5 * 10f64.powf(level_dbfs / 10.0) / loudest).sqrt();
        samples.iter_mut().for_each(|sample| *sample *= gain);
    }
    samples
}

/// Three to six resonances from 150 Hz to 3 kHz and a click.
fn knock(decay_s: f64, rate: f64, rng: &mut impl Rng) -> Vec<f64> {
    let mut samples = vec![0.0; samples_in(decay_s, rate)];
    for _ in 0..rng.random_range(3..=6) {
        let hz = 150.0 * 20f64.powf(rng.random());
        let own_decay_s = decay_s * rng.random_range(0.3..1.0);
        let amplitude = rng.random_range(0.3..1.0);
        let phase = TAU * rng.random::<f64>();
        for (i, sample) in samples.iter_mut().enumerate() {
            let t_s = i as f64 / rate;
            *sample +=
                amplitude * 10f64.powf(-3.0 * t_s / own_decay_s) * (TAU * hz * t_s + phase).sin();
        }
    }
    let click = noise(Colour::White, samples_in(0.002, rate).min(samples.len()), rate, rng);
    samples.iter_mut().zip(click).for_each(|(out, x)| *out += x);
    samples
}

/// Low bumps and rubbing that comes and goes irregularly.
fn handling(duration_s: f64, rate: f64, rng: &mut impl Rng) -> Vec<f64> {
    let count = samples_in(duration_s, rate);
    let mut samples = noise(Colour::Low { corner_hz: 60.0 }, count, rate, rng);
    let strokes = noise(Colour::Low { corner_hz: 4.0 }, count, rate, rng);
    let rub = noise(Colour::Air { low_hz: 300.0, high_hz: 2500.0 }, count, rate, rng);
    for ((out, stroke), x) in samples.iter_mut().zip(strokes).zip(rub) {
        *out = *out * stroke.abs() + 0.25 * stroke.max(0.0) * x;
    }
    shape(&mut samples, rate, |t_s| rise(t_s, 0.0, 0.05) * fall(t_s, duration_s, 0.05));
    samples
}

/// A tone with two harmonics whose frequency moves exponentially.
fn squeak(duration_s: f64, from_hz: f64, to_hz: f64, rate: f64) -> Vec<f64> {
    let mut turns = 0.0;
    (0..samples_in(duration_s, rate))
        .map(|i| {
            let t_s = i as f64 / rate;
            let hz = from_hz * (to_hz / from_hz).powf(t_s / duration_s);
            turns += hz / rate;
            let tone: f64 = (1..=3)
                .filter(|&n| f64::from(n) * hz < 0.45 * rate)
                .map(|n| (TAU * f64::from(n) * turns).sin() * 0.4f64.powi(n - 1))
                .sum();
            tone * rise(t_s, 0.0, 0.03) * fall(t_s, duration_s, 0.05)
        })
        .collect()
}

/// Ten harmonics of the mains.
fn hum(duration_s: f64, mains_hz: f64, rate: f64, rng: &mut impl Rng) -> Vec<f64> {
    let mut samples = vec![0.0; samples_in(duration_s, rate)];
    for n in 1..=10 {
        let hz = mains_hz * f64::from(n);
        let phase = TAU * rng.random::<f64>();
        let amplitude = 10f64.powf(-5.0 * f64::from(n - 1) / 20.0) * rng.random_range(0.3..1.0);
        for (i, sample) in samples.iter_mut().enumerate() {
            *sample += amplitude * (TAU * hz * i as f64 / rate + phase).sin();
        }
    }
    shape(&mut samples, rate, |t_s| rise(t_s, 0.0, 0.1) * fall(t_s, duration_s, 0.1));
    samples
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    #[test]
    fn every_disturbance_is_finite_and_at_its_level() {
        let colour = Colour::Air { low_hz: 500.0, high_hz: 3000.0 };
        for other in [
            Disturbance::Knock { level_dbfs: -15.0, decay_s: 0.2 },
            Disturbance::Handling { level_dbfs: -15.0, duration_s: 0.5 },
            Disturbance::Breath { level_dbfs: -15.0, duration_s: 0.5, colour },
            Disturbance::Speech { level_dbfs: -15.0, duration_s: 1.0, pitch_hz: 120.0 },
            Disturbance::Squeak {
                level_dbfs: -15.0,
                duration_s: 0.3,
                from_hz: 1500.0,
                to_hz: 3000.0,
            },
            Disturbance::Hum { level_dbfs: -15.0, duration_s: 0.5, mains_hz: 50.0 },
        ] {
            let samples = other.render(16_000.0, &mut ChaCha8Rng::seed_from_u64(2));
            let loudest = samples
                .chunks(320)
                .map(|chunk| chunk.iter().map(|x| x * x).sum::<f64>() / 320.0)
                .fold(0.0, f64::max);
            let dbfs = 10.0 * (2.0 * loudest).log10();
            assert!((dbfs + 15.0).abs() < 1e-6, "{} {dbfs}", other.name());
        }
    }
}
