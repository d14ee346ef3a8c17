//! How the power of a crow is spread over frequency.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::dsp::bands::octave_bands;
use crate::dsp::spectrum::Spectrum;
use crate::dsp::statistics::line;
use crate::reading::find::floor::Floor;

/// How the power is spread over frequency.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Balance {
    /// Octave bands (IEC 61260-1, base ten) relative to their sum.
    pub bands_db: Vec<Band>,
    /// Power-weighted mean frequency, 100 Hz … 10 kHz.
    pub centroid_hz: Option<f64>,
    /// Slope of partial level against log2 of frequency.
    pub tilt_db_per_octave: Option<f64>,
    /// Power from 100 Hz to 2 kHz against power from 2 to 10 kHz.
    pub low_high_db: Option<f64>,
}

/// One octave band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Band {
    /// Nominal mid-band frequency, 125 … 8000 Hz.
    pub centre_hz: f64,
    /// Level relative to the sum of the bands; `None` where nothing stands over the floor.
    pub db: Option<f64>,
}

/// Nothing under this is part of any figure.
pub const LOWEST_HZ: f64 = 100.0;
/// Partials and noise count up to here.
pub const HIGHEST_HZ: f64 = 10_000.0;
/// Between low and high power.
const LOW_HIGH_HZ: f64 = 2000.0;
/// Wanted length of the frames of the mean spectrum.
const FRAME_S: f64 = 0.085;
/// Partials this far over the noise tell the tilt.
const CLEAR_DB: f64 = 10.0;

/// Mean power spectral density of a stretch of sound, with the room noise taken off.
#[derive(Debug, Clone)]
pub struct MeanSpectrum {
    /// Width of a bin in hertz.
    pub bin_hz: f64,
    /// `[bins]` density, full scale squared per hertz; bin k at k·`bin_hz`.
    pub density: Vec<f64>,
    /// Power under 100 Hz that is in the samples.
    pub rumble: f64,
    /// Room noise from 100 Hz up that was in the samples.
    pub room: f64,
}

impl MeanSpectrum {
    /// Of `samples`, by half-overlapped Hann frames; `None` for fewer than 64 samples.
    pub fn new(
        samples: &[f32],
        sample_rate_hz: f64,
        floor: Option<&Floor>,
        floor_bin_hz: f64,
    ) -> Option<Self> {
        let wanted = ((FRAME_S * sample_rate_hz).log2().round().exp2()) as usize;
        let fits = (samples.len().checked_ilog2()?).min(31);
        let n = wanted.min(1 << fits);
        if n < 64 {
            return None;
        }
        let mut spectrum = Spectrum::new(n, sample_rate_hz);
        let mut frame = vec![0.0_f32; n / 2 + 1];
        let mut density = vec![0.0_f64; n / 2 + 1];
        let mut frames = 0_u32;
        for start in (0..=samples.len() - n).step_by(n / 2) {
            spectrum.density(&samples[start..start + n], &mut frame);
            for (sum, value) in density.iter_mut().zip(&frame) {
                *sum += f64::from(*value);
            }
            frames += 1;
        }
        let bin_hz = spectrum.bin_hz();
        let noise = |hz: f64| floor.map_or(0.0, |floor| floor_density(floor, floor_bin_hz, hz));
        let (mut rumble, mut room) = (0.0, 0.0);
        for (k, value) in density.iter_mut().enumerate() {
            *value /= f64::from(frames);
            let hz = k as f64 * bin_hz;
            if hz < LOWEST_HZ {
                rumble += *value * bin_hz;
            } else {
                room += noise(hz) * bin_hz;
            }
            *value -= noise(hz);
        }
        Some(Self { bin_hz, density, rumble, room })
    }

    /// Power between two frequencies; bins on an edge count in part. Not under 0.
    pub fn power(&self, from_hz: f64, to_hz: f64) -> f64 {
        self.weighted(from_hz, to_hz, |_| 1.0).max(0.0)
    }

    fn weighted(&self, from_hz: f64, to_hz: f64, weight: impl Fn(f64) -> f64) -> f64 {
        self.density
            .iter()
            .enumerate()
            .map(|(k, density)| {
                let middle = k as f64 * self.bin_hz;
                let low = (middle - self.bin_hz / 2.0).max(from_hz);
                let high = (middle + self.bin_hz / 2.0).min(to_hz);
                if high > low { density * (high - low) * weight(middle) } else { 0.0 }
            })
            .sum()
    }

    fn top_hz(&self) -> f64 {
        (self.density.len() as f64 - 1.0) * self.bin_hz
    }
}

/// Density of the room noise at `hz`, held beyond the last bin.
pub fn floor_density(floor: &Floor, floor_bin_hz: f64, hz: f64) -> f64 {
    let bin = (hz / floor_bin_hz).round() as usize;
    let at = floor.density.get(bin).or(floor.density.last());
    at.map_or(0.0, |density| f64::from(*density))
}

/// The balance of a crow.
///
/// * `partials`: frequency in hertz, power, and power of the noise in its bins, of each partial.
pub fn balance(spectrum: &MeanSpectrum, partials: &[(f64, f64, f64)]) -> Balance {
    let top = spectrum.top_hz();
    let bands: Vec<(f64, f64)> = octave_bands()
        .into_iter()
        .filter(|band| band.upper_hz <= top)
        .map(|band| (band.nominal_hz, spectrum.power(band.lower_hz.max(LOWEST_HZ), band.upper_hz)))
        .collect();
    let sum: f64 = bands.iter().map(|(_, power)| power).sum();
    let bands_db = bands
        .iter()
        .map(|&(centre_hz, power)| Band {
            centre_hz,
            db: (power > 0.0 && sum > 0.0).then(|| 10.0 * (power / sum).log10()),
        })
        .collect();
    let highest = HIGHEST_HZ.min(top);
    let all = spectrum.power(LOWEST_HZ, highest);
    let moment = spectrum.weighted(LOWEST_HZ, highest, |hz| hz);
    let low = spectrum.power(LOWEST_HZ, LOW_HIGH_HZ);
    let high = spectrum.power(LOW_HIGH_HZ, highest);
    let (octaves, levels): (Vec<f64>, Vec<f64>) = partials
        .iter()
        .filter(|(_, power, noise)| *power > 10.0_f64.powf(CLEAR_DB / 10.0) * noise)
        .map(|(hz, power, _)| (hz.log2(), 10.0 * power.log10()))
        .unzip();
    Balance {
        bands_db,
        centroid_hz: (all > 0.0 && moment > 0.0).then(|| moment / all),
        tilt_db_per_octave: if octaves.len() >= 3 {
            line(&octaves, &levels).map(|l| l.slope)
        } else {
            None
        },
        low_high_db: (low > 0.0 && high > 0.0 && top > 1.2 * LOW_HIGH_HZ)
            .then(|| 10.0 * (low / high).log10()),
    }
}
