//! Mains hum in the room noise.

use crate::dsp::spectrum::Spectrum;
use crate::dsp::statistics::median;

/// The mains of the world.
const MAINS_HZ: [f64; 2] = [50.0, 60.0];
/// Hum that is off must show so many of its six lines: a fan may have a few there.
const LINES_OF_ANOTHER_RATE: usize = 4;
/// A line of hum stands this many times over the noise about it.
const OVER_NOISE: f64 = 30.0;
/// So many of the first six multiples must.
const LEAST_LINES: usize = 2;
/// So many are told from a low tone that happens to lie on one.
const SURE_LINES: usize = 3;
/// Hum has this share of its power in the low lines.
const HUM_LOW_SHARE: f64 = 0.9;
/// Hum under this level is no trouble, …
pub const HUM_DBFS: f64 = -70.0;
/// … which is this mean square.
const LEAST_POWER: f64 = 5e-8;
/// Readings begin here; what is under it hides nothing.
const LOWEST_READ_HZ: f64 = 100.0;
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
        && MAINS_HZ.iter().any(|mains| {
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
        && mains_hum(sound, sample_rate_hz)
            .is_some_and(|hum| hum.lines >= SURE_LINES && hum.mean_square > 0.5 * power)
}

/// The mains keep their frequency within this share.
const MAINS_KEPT: f64 = 1e-3;

/// Whether a frequency is that of a line of the mains, 50 or 60 Hz.
pub fn is_line_of_mains(hz: f64) -> bool {
    [50.0, 60.0].into_iter().any(|mains| {
        let line = (hz / mains).round() * mains;
        (hz - line).abs() < MAINS_KEPT * line
    })
}

/// What stands at the first six multiples of the mains' frequency.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct MainsHum {
    /// 50 or 60 Hz, or what these become at another rate.
    pub mains_hz: f64,
    /// How many of the multiples stand out.
    pub lines: usize,
    /// Their mean square, full scale being ±1.
    pub mean_square: f64,
    /// The part of it from 100 Hz on, where readings begin.
    pub in_band_mean_square: f64,
    /// Whether the mains' own frequency is one of them, which no crow has.
    pub has_own_line: bool,
    /// Whether that or its octave is.
    pub has_low_line: bool,
}

impl MainsHum {
    /// Whether it is hum for sure, and strong enough to trouble a reading.
    pub fn is_trouble(&self) -> bool {
        let is_hum = self.has_own_line || self.lines >= LEAST_LINES;
        is_hum && self.mean_square > LEAST_POWER
    }
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
            // Most peaks are told from lines without a median: too few of what is about lie so far under.
            let low = nearby.iter().filter(|d| **d * OVER_ROOM as f32 * 0.99 < density[k]).count();
            if 2 * low < nearby.len() {
                return None;
            }
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

/// The lines at the first six multiples of 50 or of 60 Hz, whichever hold more power; `None` for
/// under half a second.
pub fn mains_hum(samples: &[f32], sample_rate_hz: f64) -> Option<MainsHum> {
    hum_of(&MAINS_HZ, samples, sample_rate_hz)
}

/// Whether the room hums where the mains would if these samples had been taken at 44.1 kHz and were
/// said to be at 48, or the other way round: the usual mistake, 147 cents.
pub fn is_of_another_rate(samples: &[f32], sample_rate_hz: f64) -> bool {
    let shifted = [48.0 / 44.1, 44.1 / 48.0].map(|by| MAINS_HZ.map(|hz| by * hz));
    let hums = |of: &[f64]| {
        hum_of(of, samples, sample_rate_hz)
            .filter(|hum| hum.is_trouble() && hum.lines >= LINES_OF_ANOTHER_RATE)
    };
    let as_said = mains_hum(samples, sample_rate_hz).map_or(0, |hum| hum.lines);
    as_said < LEAST_LINES && shifted.iter().any(|mains| hums(mains).is_some())
}

fn hum_of(mains_hz: &[f64], samples: &[f32], sample_rate_hz: f64) -> Option<MainsHum> {
    let n = samples.len() & !1;
    if (n as f64) < 0.45 * sample_rate_hz {
        return None;
    }
    let mut spectrum = Spectrum::new(n, sample_rate_hz);
    let bin_hz = spectrum.bin_hz();
    let mut density = vec![0.0_f32; n / 2 + 1];
    spectrum.density(&samples[..n], &mut density);
    let line_at = |hz: f64| {
        let bin = (hz / bin_hz).round() as usize;
        let peak = density.get(bin - 1..=bin + 1)?.iter().copied().fold(0.0, f32::max);
        let about =
            median(density.get(bin.saturating_sub(10)..=bin + 10)?.iter().map(|d| f64::from(*d)))?;
        (f64::from(peak) > OVER_NOISE * about).then_some(1.5 * f64::from(peak) * bin_hz)
    };
    let heard = |mains_hz: f64| {
        let mut hum = MainsHum { mains_hz, ..MainsHum::default() };
        for multiple in 1..=6 {
            let hz = f64::from(multiple) * mains_hz;
            let Some(power) = line_at(hz) else { continue };
            hum.lines += 1;
            hum.mean_square += power;
            hum.in_band_mean_square += if hz >= LOWEST_READ_HZ { power } else { 0.0 };
            hum.has_own_line |= multiple == 1;
            hum.has_low_line |= multiple <= 2;
        }
        hum
    };
    mains_hz.iter().map(|hz| heard(*hz)).max_by(|a, b| a.mean_square.total_cmp(&b.mean_square))
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
        let trouble = |samples: &[f32]| {
            let hum = mains_hum(samples, 48_000.0).filter(MainsHum::is_trouble);
            hum.map(|hum| hum.mains_hz)
        };
        assert_eq!(trouble(&samples(50.0)), Some(50.0));
        assert_eq!(trouble(&samples(60.0)), Some(60.0));
        assert_eq!(trouble(&samples(77.0)), None);
        assert_eq!(trouble(&[0.0; 24_000]), None);
        assert_eq!(trouble(&[]), None);
    }

    #[test]
    fn hum_that_is_147_cents_off_tells_a_wrong_rate() {
        let hum = |mains_hz: f64| -> Vec<f32> {
            (0..24_000)
                .map(|n| {
                    let t = f64::from(n) / 48_000.0;
                    let lines = (1..=6).map(|m| {
                        (std::f64::consts::TAU * f64::from(m) * mains_hz * t).sin() / f64::from(m)
                    });
                    (0.01 * lines.sum::<f64>() + 1e-5 * f64::from(n % 7)) as f32
                })
                .collect()
        };
        assert!(is_of_another_rate(&hum(50.0 * 48.0 / 44.1), 48_000.0));
        assert!(is_of_another_rate(&hum(60.0 * 44.1 / 48.0), 48_000.0));
        assert!(!is_of_another_rate(&hum(50.0), 48_000.0));
        assert!(!is_of_another_rate(&hum(60.0), 48_000.0));
        assert!(!is_of_another_rate(&hum(77.0), 48_000.0));
        assert!(!is_of_another_rate(&[], 48_000.0));
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
