//! What a room sounds like without its crows: its floor, its hum, and the stretch that may be either.

use std::cmp::Ordering;

use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

use super::channel::alternating_power;
use crate::dsp::window::hann;
use crate::reading::{MainsHum, mains_hum};

/// The band that readings use.
const BAND_HZ: (f64, f64) = (100.0, 10_000.0);

/// The loudest half second of a part, or all of a shorter one.
#[derive(Clone, Copy)]
pub(super) struct Loudest<'a> {
    pub samples: &'a [f32],
    power: f64,
}

impl Loudest<'_> {
    pub fn max_by_power(self, other: Self) -> Self {
        if other.power > self.power { other } else { self }
    }
}

pub(super) fn loudest_stretch(part: &[f32], rate_hz: f64) -> Loudest<'_> {
    let long = ((rate_hz * STRETCH_S) as usize).clamp(1, part.len().max(1));
    let hop = (long / 5).max(1);
    let powers =
        part.windows(long).step_by(hop).map(|samples| (alternating_power(samples), samples));
    let (power, samples) = powers.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, part));
    Loudest { samples, power }
}

/// What is judged whether it is hum: long enough that the lines of the mains stand apart.
const STRETCH_S: f64 = 0.5;

/// The mains hum of a part, as a reading finds it; nothing where that is not hum for sure.
pub(super) fn hum(samples: &[f32], rate_hz: f64) -> MainsHum {
    let is_hum = |hum: &MainsHum| hum.has_own_line || hum.lines >= 2;
    mains_hum(samples, rate_hz).filter(is_hum).unwrap_or_default()
}

/// Mean square in the band of readings of the middle of the quieter half of 100 ms frames, so
/// that a knock or a crow does not count.
pub(super) fn floor_mean_square(samples: &[f32], rate_hz: f64) -> Option<f64> {
    let frame = (rate_hz * 0.1) as usize;
    let mut levels: Vec<f64> =
        samples.chunks_exact(frame.max(2)).map(|frame| in_band(frame, rate_hz)).collect();
    levels.sort_by(|a, b| a.partial_cmp(b).unwrap_or(Ordering::Equal));
    levels.get(levels.len() / 4).copied()
}

/// Mean square in the band of readings.
fn in_band(frame: &[f32], rate_hz: f64) -> f64 {
    let powers = bin_powers(frame);
    let hz_per_bin = rate_hz / frame.len().max(1) as f64;
    let in_band = |bin: &usize| (BAND_HZ.0..=BAND_HZ.1).contains(&(*bin as f64 * hz_per_bin));
    (0..powers.len()).filter(in_band).map(|bin| powers[bin]).sum()
}

/// One-sided power spectrum under a Hann window, scaled so that its sum is the mean square of
/// noise spread over many bins. Bin k is at k·rate/n.
fn bin_powers(samples: &[f32]) -> Vec<f64> {
    let n = samples.len();
    if n < 2 {
        return Vec::new();
    }
    let mean = samples.iter().map(|&x| f64::from(x)).sum::<f64>() / n as f64;
    let mut windowed: Vec<f64> =
        samples.iter().zip(hann(n)).map(|(&x, weight)| (f64::from(x) - mean) * weight).collect();
    let fft = RealFftPlanner::<f64>::new().plan_fft_forward(n);
    let mut spectrum: Vec<Complex<f64>> = fft.make_output_vec();
    // Lengths fit by construction; a failure would leave an empty spectrum.
    if fft.process(&mut windowed, &mut spectrum).is_err() {
        return Vec::new();
    }
    // Sum of the squared Hann weights is 3n/8.
    let scale = 2.0 / (n as f64 * n as f64 * 3.0 / 8.0);
    spectrum.iter().map(|bin| bin.norm_sqr() * scale).collect()
}
