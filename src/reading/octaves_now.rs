//! Which octaves sound at this moment, for a live display. Rough: the figures of a crow come from its
//! whole steady part, these from the last tenth of a second.

use std::f64::consts::TAU;

use crate::dsp::spectrum::USABLE;

/// One octave of what sounds now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OctaveNow {
    /// Its frequency in hertz.
    pub hz: f64,
    /// Power of its partials relative to all partials looked at, in decibels.
    pub level_db: f64,
}

/// Partials looked at: enough for three octaves, and near enough that a period some cents off does not
/// miss them.
const PARTIALS: u32 = 8;

/// An octave under this is not told of: what a window lets through from its neighbours is lower, and
/// so is what an ear would miss (our choice).
const LEAST_DB: f64 = -30.0;

/// The octaves of a tone, lowest first; empty where there is no sound.
///
/// * `samples`: the last tenth of a second, full scale ±1.
/// * `hz`: rate at which they repeat.
///
/// Partial n counts for octave k where 2^k is the largest power of two that divides n.
pub fn octaves_now(samples: &[f32], sample_rate_hz: f64, hz: f64) -> Vec<OctaveNow> {
    let mut powers = [0.0_f64; 3];
    for order in 1..=PARTIALS {
        let partial_hz = hz * f64::from(order);
        if partial_hz < USABLE * sample_rate_hz {
            let octave = (order.trailing_zeros() as usize).min(powers.len() - 1);
            powers[octave] += power_at(samples, partial_hz / sample_rate_hz);
        }
    }
    let all: f64 = powers.iter().sum();
    // Also where it is not a number.
    if !(all > 0.0) {
        return Vec::new();
    }
    let level_db = |power: f64| 10.0 * (power / all).log10();
    powers
        .into_iter()
        .enumerate()
        .map(|(octave, power)| OctaveNow {
            hz: hz * f64::from(1_u32 << octave),
            level_db: level_db(power),
        })
        .filter(|octave| octave.level_db >= LEAST_DB)
        .collect()
}

/// Power of the Hann-windowed samples at a frequency in cycles per sample, in no particular unit.
fn power_at(samples: &[f32], cycles: f64) -> f64 {
    let n = samples.len() as f64;
    // A rotating pointer instead of a sine for each sample.
    let (turn_sin, turn_cos) = (TAU * cycles).sin_cos();
    let (mut cos, mut sin) = (1.0, 0.0);
    let (step_sin, step_cos) = (TAU / n.max(1.0)).sin_cos();
    let (mut window_cos, mut window_sin) = (1.0_f64, 0.0);
    let (mut real, mut imaginary) = (0.0, 0.0);
    for &sample in samples {
        let weighted = f64::from(sample) * (0.5 - 0.5 * window_cos);
        real += weighted * cos;
        imaginary += weighted * sin;
        (cos, sin) = (cos * turn_cos - sin * turn_sin, sin * turn_cos + cos * turn_sin);
        (window_cos, window_sin) = (
            window_cos * step_cos - window_sin * step_sin,
            window_sin * step_cos + window_cos * step_sin,
        );
    }
    real * real + imaginary * imaginary
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(partials: &[(f64, f64)]) -> Vec<f32> {
        let at = |i: usize| {
            partials
                .iter()
                .map(move |(hz, amplitude)| amplitude * (TAU * hz * i as f64 / 48e3).sin())
        };
        (0..4800).map(|i| at(i).sum::<f64>() as f32).collect()
    }

    #[test]
    fn each_octave_is_told_with_its_share_of_the_power() {
        let found = octaves_now(&tone(&[(520.0, 0.3), (1040.0, 0.3)]), 48e3, 520.0);
        assert_eq!(found.len(), 2, "{found:?}");
        assert!((found[1].hz - 1040.0).abs() < 1e-9);
        // Half the power each.
        assert!(found.iter().all(|octave| (octave.level_db + 3.01).abs() < 0.1), "{found:?}");
    }

    #[test]
    fn a_tone_without_even_partials_is_one_octave_and_silence_is_none() {
        let found = octaves_now(&tone(&[(520.0, 0.3), (1560.0, 0.1)]), 48e3, 520.0);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(octaves_now(&[0.0; 4800], 48e3, 520.0).is_empty());
        assert!(octaves_now(&[], 48e3, 520.0).is_empty());
    }
}
