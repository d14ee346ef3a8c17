//! Periodic amplitude modulation of an envelope.

use rustfft::num_complex::Complex;

use super::real::RealTransform;
use super::statistics::{line, median};

/// A periodic amplitude modulation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Modulation {
    /// Its rate in hertz.
    pub rate_hz: f64,
    /// Peak deviation over mean, 0 … 1.
    pub depth: f64,
}

/// A line must stand this many times over the envelope's own noise (as power). With about a
/// hundred independent bins between 10 and 100 Hz white noise would pass 16 about once in 10⁴
/// envelopes; that of a pitch that wavers in a room is stronger at low rates, so that what lies about a line
/// counts as well.
const OVER_NOISE: f64 = 30.0;
/// About a line: from the one to the other of these shares of its rate, …
const ABOUT: (f64, f64) = (0.5, 1.7);
/// … but for what the window leaves of it, so many times what the envelope resolves to either side.
const OWN_LOBE: f64 = 2.0;
/// Shallower modulation is not told from the reed's own unsteadiness.
const LEAST_DEPTH: f64 = 0.03;
/// Overtones of the modulation that shape its peak.
const OVERTONES: usize = 4;

/// The strongest periodic modulation of `envelope` (amplitudes at `rate_hz`, even in time) between
/// `low_hz` and `high_hz`; `None` where no line stands over the envelope's own noise, or the
/// envelope is shorter than four periods of `low_hz`.
pub fn strongest_modulation(
    envelope: &[f64],
    rate_hz: f64,
    (low_hz, high_hz): (f64, f64),
) -> Option<Modulation> {
    let n = envelope.len();
    let mean = envelope.iter().sum::<f64>() / n.max(1) as f64;
    if (n as f64) < 1.5 * rate_hz / low_hz || !(mean > 0.0) {
        return None;
    }
    let x: Vec<f64> = (0..n).map(|i| i as f64).collect();
    let trend = line(&x, envelope)?;
    let flat: Vec<f64> =
        envelope.iter().enumerate().map(|(i, e)| (e - trend.at(i as f64)) / mean).collect();
    let padded = (4 * n).next_power_of_two();
    let hann =
        |i: usize| (0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / n as f64).cos()) as f32;
    let (values, window): (Vec<f32>, Vec<f32>) =
        flat.iter().enumerate().map(|(i, value)| (*value as f32, hann(i))).unzip();
    let mut transform = RealTransform::new(padded);
    let powers = transform.powers(&values, &window, 0.0);
    let bin_hz = rate_hz / padded as f64;
    let high_hz = high_hz.min(0.45 * rate_hz);
    let first = (low_hz / bin_hz).ceil() as usize;
    let last = (high_hz / bin_hz).floor() as usize;
    if last <= first + 2 {
        return None;
    }
    let power: Vec<f64> = powers.iter().take(padded / 2).map(|p| f64::from(*p)).collect();
    let amplitude = |hz: f64| 2.0 * dtft(&flat, hz / rate_hz) / n as f64;
    let peak = (first.max(1)..=last)
        .filter(|&k| {
            power[k] >= power[k - 1] && power[k] >= power.get(k + 1).copied().unwrap_or(0.0)
        })
        .max_by(|&a, &b| power[a].total_cmp(&power[b]))?;
    let (before, at, after) = (power[peak - 1].ln(), power[peak].ln(), power.get(peak + 1)?.ln());
    let bend = before - 2.0 * at + after;
    let shift = if bend < 0.0 { 0.5 * (before - after) / bend } else { 0.0 };
    let rate = (peak as f64 + shift.clamp(-0.5, 0.5)) * bin_hz;
    let everywhere = median(power.get(first..=last)?.iter().copied())?;
    let lobe_hz = OWN_LOBE * rate_hz / n as f64;
    let about = (1..power.len()).filter(|k| {
        let hz = *k as f64 * bin_hz;
        (ABOUT.0 * rate..ABOUT.1 * rate).contains(&hz) && (hz - rate).abs() > lobe_hz
    });
    let about = median(about.map(|k| power[k])).unwrap_or(0.0);
    let noise = everywhere.max(about) / std::f64::consts::LN_2;
    if power[peak] < OVER_NOISE * noise || amplitude(rate) < LEAST_DEPTH {
        return None;
    }
    Some(Modulation { rate_hz: rate, depth: peak_deviation(&flat, rate / rate_hz).min(1.0) })
}

/// Largest deviation over one period of the Fourier series of `values` at `cycles_per_value`.
fn peak_deviation(values: &[f64], cycles_per_value: f64) -> f64 {
    let coefficients: Vec<Complex<f64>> = (1..=OVERTONES)
        .take_while(|k| *k as f64 * cycles_per_value < 0.45)
        .map(|k| dtft_complex(values, k as f64 * cycles_per_value) * 2.0 / values.len() as f64)
        .enumerate()
        // Overtones that do not stand out of the noise would only add their own peaks.
        .filter(|(k, c)| *k == 0 || c.norm() > 2.0 * LEAST_DEPTH)
        .map(|(_, c)| c)
        .collect();
    (0..64)
        .map(|step| {
            let turn = std::f64::consts::TAU * f64::from(step) / 64.0;
            coefficients
                .iter()
                .enumerate()
                .map(|(k, c)| (c * Complex::from_polar(1.0, (k + 1) as f64 * turn)).re)
                .sum::<f64>()
                .abs()
        })
        .fold(0.0, f64::max)
}

fn dtft(values: &[f64], cycles_per_value: f64) -> f64 {
    dtft_complex(values, cycles_per_value).norm()
}

fn dtft_complex(values: &[f64], cycles_per_value: f64) -> Complex<f64> {
    let turn = -std::f64::consts::TAU * cycles_per_value;
    values.iter().enumerate().map(|(i, v)| Complex::from_polar(*v, turn * i as f64)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_modulated_envelope_tells_its_rate_and_depth() {
        let envelope: Vec<f64> = (0..500)
            .map(|i| 1.0 + 0.5 * (std::f64::consts::TAU * 30.0 * f64::from(i) / 500.0).sin())
            .collect();
        let found = strongest_modulation(&envelope, 500.0, (10.0, 100.0)).unwrap();
        assert!((found.rate_hz - 30.0).abs() < 0.1, "{found:?}");
        assert!((found.depth - 0.5).abs() < 0.02, "{found:?}");
    }

    /// Noise that is strong at low rates alone, as of a pitch that wavers in a room: no line of it stands out.
    #[test]
    fn a_slow_wavering_is_no_line() {
        let mut state = 9_u64;
        let mut found = 0;
        for _ in 0..200 {
            let (mut slow, mut slower) = (0.0, 0.0);
            let envelope: Vec<f64> = (0..500)
                .map(|_| {
                    // Knuth's MMIX constants, from memory.
                    state = state
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1_442_695_040_888_963_407);
                    let even = (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5;
                    slow += 0.15 * (even - slow);
                    slower += 0.15 * (slow - slower);
                    1.0 + 0.6 * slower
                })
                .collect();
            found += i32::from(strongest_modulation(&envelope, 500.0, (10.0, 100.0)).is_some());
        }
        assert!(found <= 4, "{found}");
    }

    #[test]
    fn a_flat_envelope_has_no_modulation() {
        assert_eq!(strongest_modulation(&[1.0; 500], 500.0, (10.0, 100.0)), None);
        assert_eq!(strongest_modulation(&[], 500.0, (10.0, 100.0)), None);
    }
}
