//! How a crow's pitch moves: one value in cents for every sample of its tone.

use std::f64::consts::TAU;

use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

use super::crow::Motion;

/// `[count]` deviations in cents from the crow's stated frequency.
pub(super) fn cents_track(
    motion: &Motion,
    count: usize,
    sample_rate_hz: f64,
    rng: &mut impl Rng,
) -> Vec<f64> {
    let vibrato_phase = TAU * rng.random::<f64>();
    let wander = wander(motion, count, sample_rate_hz, rng);
    let middle_s = count as f64 / sample_rate_hz / 2.0;
    (0..count)
        .map(|i| {
            let t_s = i as f64 / sample_rate_hz;
            motion.drift_cents_per_s * (t_s - middle_s)
                + motion.vibrato_cents * (TAU * motion.vibrato_hz * t_s + vibrato_phase).sin()
                + wander.get(i).copied().unwrap_or(0.0)
        })
        .collect()
}

/// A first-order Gauss-Markov process smoothed once more by the same pole, so that the pitch has
/// no corners; stationary from the first sample, with the stated standard deviation.
fn wander(motion: &Motion, count: usize, sample_rate_hz: f64, rng: &mut impl Rng) -> Vec<f64> {
    if motion.spread_cents <= 0.0 || motion.spread_time_s <= 0.0 {
        return Vec::new();
    }
    let pole = (-1.0 / (motion.spread_time_s * sample_rate_hz)).exp();
    // Variance of two equal poles in a row driven by unit white noise with gain (1 − p)².
    let square = pole * pole;
    let variance = (1.0 - pole).powi(4) * (1.0 + square) / (1.0 - square).powi(3);
    let gain = motion.spread_cents / variance.sqrt();
    let (mut first, mut second) = (0.0, 0.0);
    let settle = (8.0 * motion.spread_time_s * sample_rate_hz).ceil() as usize;
    let mut track = Vec::with_capacity(count);
    for i in 0..settle + count {
        let white: f64 = StandardNormal.sample(rng);
        first = pole * first + (1.0 - pole) * white;
        second = pole * second + (1.0 - pole) * first;
        if i >= settle {
            track.push(gain * second);
        }
    }
    track
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    /// 4000 correlation times: the sample sd is within a few per cent of the stated one.
    #[test]
    fn the_wander_has_the_stated_standard_deviation() {
        let motion = Motion { spread_cents: 7.0, spread_time_s: 0.01, ..Motion::default() };
        let track = cents_track(&motion, 320_000, 8000.0, &mut ChaCha8Rng::seed_from_u64(3));
        let sd = (track.iter().map(|c| c * c).sum::<f64>() / track.len() as f64).sqrt();
        assert!((sd - 7.0).abs() < 0.5, "{sd}");
    }

    #[test]
    fn drift_is_a_straight_line_through_0_at_the_middle() {
        let motion = Motion { drift_cents_per_s: 60.0, ..Motion::default() };
        let track = cents_track(&motion, 1000, 1000.0, &mut ChaCha8Rng::seed_from_u64(3));
        assert!((track[500]).abs() < 1e-9 && (track[0] + 30.0).abs() < 1e-9);
    }
}
