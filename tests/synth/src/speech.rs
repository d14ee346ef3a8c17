//! Speech-like syllables: a voiced buzz through three moving resonances, with hiss between.

use rand::{Rng, RngExt};
use std::f64::consts::TAU;

use super::envelope::{fall, rise};
use super::noise::{Colour, noise};

/// First three resonances of five vowels in hertz. From memory, rounded textbook averages; they
/// need only be speech-like.
const VOWELS_HZ: [[f64; 3]; 5] = [
    [730.0, 1090.0, 2440.0],
    [530.0, 1840.0, 2480.0],
    [270.0, 2290.0, 3010.0],
    [570.0, 840.0, 2410.0],
    [300.0, 870.0, 2240.0],
];
/// Bandwidth of a resonance in hertz, from memory.
const BANDWIDTH_HZ: f64 = 90.0;
/// Harmonics above this are left out.
const TOP_HZ: f64 = 4500.0;
/// How often the resonances are set anew.
const STEP_S: f64 = 0.005;

/// Syllables of 120 to 300 ms about `pitch_hz`.
pub(super) fn syllables(duration_s: f64, pitch_hz: f64, rate: f64, rng: &mut impl Rng) -> Vec<f64> {
    let count = (duration_s * rate).round().max(0.0) as usize;
    let mut samples = vec![0.0; count];
    let mut start_s = 0.0;
    while start_s < duration_s - 0.08 {
        let length_s = rng.random_range(0.12..0.3f64).min(duration_s - start_s);
        let from = (start_s * rate) as usize;
        let to = (((start_s + length_s) * rate) as usize).min(count);
        if let Some(part) = samples.get_mut(from..to) {
            vowel(part, length_s, pitch_hz, rate, rng);
        }
        start_s += length_s;
        if rng.random::<f64>() < 0.5 {
            let hiss_s = rng.random_range(0.04..0.12);
            let from = (start_s * rate) as usize;
            let to = (((start_s + hiss_s) * rate) as usize).min(count);
            let colour = Colour::Air { low_hz: 2500.0, high_hz: 6000.0 };
            let hiss = noise(colour, to.saturating_sub(from), rate, rng);
            for (i, (out, x)) in samples.iter_mut().skip(from).zip(hiss).enumerate() {
                let t_s = i as f64 / rate;
                *out += 0.2 * x * rise(t_s, 0.0, 0.02) * fall(t_s, hiss_s, 0.02);
            }
            start_s += hiss_s;
        }
    }
    samples
}

/// One voiced syllable: pitch glides by up to a fourth, resonances from one vowel to another.
fn vowel(out: &mut [f64], length_s: f64, pitch_hz: f64, rate: f64, rng: &mut impl Rng) {
    let from = VOWELS_HZ[rng.random_range(0..VOWELS_HZ.len())];
    let to = VOWELS_HZ[rng.random_range(0..VOWELS_HZ.len())];
    let start_hz = pitch_hz * 2f64.powf(rng.random_range(-0.3..0.3));
    let end_hz = start_hz * 2f64.powf(rng.random_range(-0.4..0.25));
    let harmonics = (TOP_HZ.min(0.45 * rate) / start_hz.max(end_hz)) as usize;
    let gains_at = |share: f64| -> Vec<f64> {
        let f0_hz = start_hz * (end_hz / start_hz).powf(share);
        (1..=harmonics)
            .map(|n| {
                let hz = n as f64 * f0_hz;
                let resonance: f64 = from
                    .iter()
                    .zip(&to)
                    .map(|(a, b)| {
                        let centre_hz = a + (b - a) * share;
                        1.0 / (1.0 + ((hz - centre_hz) / BANDWIDTH_HZ).powi(2)).sqrt()
                    })
                    .sum();
                // Glottal buzz radiated from the lips: about −6 dB an octave.
                (resonance + 0.02) / n as f64
            })
            .collect()
    };
    let step = ((STEP_S * rate) as usize).max(1);
    let mut turns = rng.random::<f64>();
    let total = out.len();
    for (block, chunk) in out.chunks_mut(step).enumerate() {
        let share = |sample: usize| sample as f64 / total as f64;
        let (before, after) = (gains_at(share(block * step)), gains_at(share((block + 1) * step)));
        for (i, sample) in chunk.iter_mut().enumerate() {
            let part = i as f64 / step as f64;
            let place = share(block * step + i);
            let f0_hz = start_hz * (end_hz / start_hz).powf(place);
            turns += f0_hz / rate;
            let sum: f64 = before
                .iter()
                .zip(&after)
                .enumerate()
                .map(|(n, (a, b))| (a + (b - a) * part) * (TAU * (n + 1) as f64 * turns).sin())
                .sum();
            let t_s = place * length_s;
            *sample += sum * rise(t_s, 0.0, 0.03) * fall(t_s, length_s, 0.04);
        }
    }
}
