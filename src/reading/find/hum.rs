//! Mains hum in the room noise.

use crate::dsp::spectrum::Spectrum;
use crate::dsp::statistics::median;

/// A line of hum stands this many times over the noise about it.
const OVER_NOISE: f64 = 30.0;
/// So many of the first six multiples must.
const LEAST_LINES: usize = 2;
/// So many are told from a low tone that happens to lie on one.
const SURE_LINES: usize = 3;
/// Hum has this share of its power in the low lines.
const HUM_LOW_SHARE: f64 = 0.9;
/// Hum under this level is no trouble (mean square; −70 dBFS).
const LEAST_POWER: f64 = 5e-8;
/// What sounds at a multiple of 50 or 60 Hz, within this share, …
const MAINS_REACH: f64 = 0.007;
/// … under this frequency …
const MAINS_TOP_HZ: f64 = 400.0;
/// … and, in the lowest band, under this density (about −40 dBFS) is taken for hum while the room
/// is not known yet.
const FAINT_MAINS: f32 = 1.7e-7;

/// Whether a period heard before the floor is known is that of mains hum.
///
/// * `lowest_band`: density of the frame in the lowest band, full scale squared per hertz.
pub fn is_faint_mains(hz: f64, lowest_band: f32) -> bool {
    lowest_band < FAINT_MAINS
        && hz < MAINS_TOP_HZ
        && [50.0, 60.0].iter().any(|mains| {
            let nearest = (hz / mains).round() * mains;
            (hz - nearest).abs() < MAINS_REACH * hz
        })
}

/// Whether a sound (half a second or more of it) is hum itself, switched on: three lines of the
/// mains or more, which make up most of its power, and little above them.
///
/// * `low_share`: share of its power under 700 Hz.
pub fn is_hum(sound: &[f32], sample_rate_hz: f64, low_share: f64) -> bool {
    let power =
        sound.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / sound.len().max(1) as f64;
    low_share > HUM_LOW_SHARE
        && lines(sound, sample_rate_hz)
            .is_some_and(|(_, lines, hum)| lines >= SURE_LINES && hum > 0.5 * power)
}

/// The mains frequency (50 or 60 Hz) whose multiples stand in `quiet`, half a second or more of
/// room noise; `None` without them.
pub fn mains_hum_hz(quiet: &[f32], sample_rate_hz: f64) -> Option<f64> {
    lines(quiet, sample_rate_hz)
        .filter(|(_, lines, power)| *lines >= LEAST_LINES && *power > LEAST_POWER)
        .map(|(mains, _, _)| mains)
}

/// A steady line of the room: hum, a fan, a lamp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoomLine {
    /// Its frequency.
    pub hz: f64,
    /// Its mean square.
    pub power: f64,
}

/// Lines are sought in at least so much of the room, …
pub const LEAST_ROOM_S: f64 = 0.12;
/// … up to this frequency, …
const LINES_TOP_HZ: f64 = 3000.0;
/// … and stand this many times over the median of what lies within this distance.
const OVER_ROOM: f64 = 15.0;
const ABOUT_HZ: f64 = 80.0;

/// The lines that stand in a stretch of room noise; none where it is too short to tell.
pub fn room_lines(room: &[f32], sample_rate_hz: f64) -> Vec<RoomLine> {
    if (room.len() as f64) < LEAST_ROOM_S * sample_rate_hz {
        return Vec::new();
    }
    // A length whose transform is quick and known from crow to crow.
    let n = 1 << room.len().max(1).ilog2();
    let mut spectrum = Spectrum::new(n, sample_rate_hz);
    let bin_hz = spectrum.bin_hz();
    let mut density = vec![0.0_f32; n / 2 + 1];
    spectrum.density(&room[room.len() - n..], &mut density);
    let about = (ABOUT_HZ / bin_hz) as usize;
    let top = ((LINES_TOP_HZ / bin_hz) as usize).min(density.len().saturating_sub(1));
    (2..top)
        .filter(|&k| density[k] > density[k - 1] && density[k] >= density[k + 1])
        .filter_map(|k| {
            let nearby = &density[k.saturating_sub(about)..(k + about).min(density.len())];
            let noise = median(nearby.iter().map(|d| f64::from(*d)))?;
            let peak = f64::from(density[k]);
            // All of a line lies within two bins of its peak.
            let within = k - 2..=(k + 2).min(density.len() - 1);
            let line = within.map(|bin| (bin as f64 * bin_hz, f64::from(density[bin])));
            let (moment, sum) = line.fold((0.0, 0.0), |(m, s), (hz, d)| (m + hz * d, s + d));
            (peak > OVER_ROOM * noise).then_some(RoomLine { hz: moment / sum, power: sum * bin_hz })
        })
        .collect()
}

/// Mains frequency, number and power of the lines found at its first six multiples: of 50 and 60 Hz
/// the one with more power. `None` for too short a stretch.
fn lines(samples: &[f32], sample_rate_hz: f64) -> Option<(f64, usize, f64)> {
    let n = samples.len() & !1;
    if (n as f64) < 0.45 * sample_rate_hz {
        return None;
    }
    let mut spectrum = Spectrum::new(n, sample_rate_hz);
    let bin_hz = spectrum.bin_hz();
    let mut density = vec![0.0_f32; n / 2 + 1];
    spectrum.density(&samples[..n], &mut density);
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
        (mains, lines.len(), lines.iter().sum::<f64>())
    };
    [50.0, 60.0].into_iter().map(heard).max_by(|a, b| a.2.total_cmp(&b.2))
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

    #[test]
    fn the_lines_of_a_room_are_found_where_they_are() {
        let samples: Vec<f32> = (0..12_000)
            .map(|n| {
                let t = f64::from(n) / 48_000.0;
                let noise = 1e-4 * ((f64::from(n) * 12.9898).sin() * 43_758.547).fract();
                (0.02 * (std::f64::consts::TAU * 250.0 * t).sin() + noise) as f32
            })
            .collect();
        let lines = room_lines(&samples, 48_000.0);
        let strongest = lines.iter().max_by(|a, b| a.power.total_cmp(&b.power)).unwrap();
        assert!((strongest.hz - 250.0).abs() <= 4.0, "{strongest:?}");
        // Mean square of a sine of amplitude 0.02.
        assert!((strongest.power / 2e-4 - 1.0).abs() < 0.1, "{strongest:?}");
        assert!(room_lines(&samples[..4000], 48_000.0).is_empty());
    }
}
