//! Mains hum in the room noise.

use crate::dsp::spectrum::Spectrum;
use crate::dsp::statistics::median;

/// A line of hum stands this many times over the noise about it.
const OVER_NOISE: f64 = 30.0;
/// So many of the first six multiples must.
const LEAST_LINES: usize = 2;
/// Hum under this level is no trouble (mean square; −70 dBFS).
const LEAST_POWER: f64 = 5e-8;

/// The mains frequency (50 or 60 Hz) whose multiples stand in `quiet`, half a second or more of
/// room noise; `None` without them.
pub fn mains_hum_hz(quiet: &[f32], sample_rate_hz: f64) -> Option<f64> {
    let n = quiet.len() & !1;
    if (n as f64) < 0.45 * sample_rate_hz {
        return None;
    }
    let mut spectrum = Spectrum::new(n, sample_rate_hz);
    let bin_hz = spectrum.bin_hz();
    let mut density = vec![0.0_f32; n / 2 + 1];
    spectrum.density(&quiet[..n], &mut density);
    let heard = |mains: f64| {
        let lines: Vec<f64> = (1..=6)
            .filter_map(|k| {
                let bin = (f64::from(k) * mains / bin_hz).round() as usize;
                let peak = density.get(bin - 1..=bin + 1)?.iter().copied().fold(0.0, f32::max);
                let about = median(
                    density.get(bin.saturating_sub(10)..=bin + 10)?.iter().map(|d| f64::from(*d)),
                )?;
                (f64::from(peak) > OVER_NOISE * about).then_some(1.5 * f64::from(peak) * bin_hz)
            })
            .collect();
        (lines.len() >= LEAST_LINES).then(|| lines.iter().sum::<f64>())
    };
    [50.0, 60.0]
        .into_iter()
        .filter_map(|mains| Some((mains, heard(mains)?)))
        .filter(|(_, power)| *power > LEAST_POWER)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(mains, _)| mains)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hum_is_told_from_quiet_and_from_other_tones() {
        let tone = |f: f64, n: i32| {
            let t = f64::from(n) / 48_000.0;
            0.01 * ((std::f64::consts::TAU * f * t).sin()
                + (std::f64::consts::TAU * 3.0 * f * t).sin())
        };
        let samples = |f: f64| {
            (0..24_000).map(|n| (tone(f, n) + 1e-5 * f64::from(n % 7)) as f32).collect::<Vec<_>>()
        };
        assert_eq!(mains_hum_hz(&samples(50.0), 48_000.0), Some(50.0));
        assert_eq!(mains_hum_hz(&samples(60.0), 48_000.0), Some(60.0));
        assert_eq!(mains_hum_hz(&samples(77.0), 48_000.0), None);
        assert_eq!(mains_hum_hz(&[0.0; 24_000], 48_000.0), None);
        assert_eq!(mains_hum_hz(&[], 48_000.0), None);
    }
}
