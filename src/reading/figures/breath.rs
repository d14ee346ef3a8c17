//! The noise of a crow itself: what sounds between its partials.

use std::ops::Range;

use realfft::num_complex::Complex32;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::balance::LOWEST_HZ;
use crate::dsp::plans::complex_forward;
use crate::dsp::statistics::{median, quantile_in_place};
use crate::dsp::window::blackman_harris;
use crate::reading::track::family::{NoiseProfile, main_lobe};
use crate::reading::track::orders::{NOISE_BANDWIDTH_BINS, Orders};

/// The noise of the crow itself.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Breath {
    /// 100 Hz … 10 kHz, relative to the power of the partials, over the steady part.
    pub noise_db: Option<f64>,
}

/// Within a bin, noise is looked at this far from its middle, in bins.
const WITHIN_BINS: f64 = 0.75;
/// Lines fill fewer than the rest of the frequencies within a bin.
const QUIET_SHARE: f64 = 0.3;
/// Fewer frequencies tell nothing.
const LEAST_FREQUENCIES: usize = 12;
/// Bins nearer than this to a multiple are not looked at.
const ASIDE_BINS: usize = 2;

/// The noise where lines lie between the multiples of the base as well: combination tones, the
/// partials of a tone that stands off, the sidebands of a rattle. Over many frames these are narrow
/// and noise is not, so it is read off the quieter frequencies within each bin, and off the median
/// of the bins about each multiple. `None` where there are too few frames.
pub fn noise_beside_lines(orders: &Orders, frames: &Range<usize>) -> Option<NoiseProfile> {
    let count = frames.len();
    // A frame begins a quarter of its length after the last: so many frequencies to a bin.
    let reach = (WITHIN_BINS * count as f64 / 4.0) as usize;
    if 2 * reach + 1 < LEAST_FREQUENCIES {
        return None;
    }
    let fft = complex_forward(count);
    let mut scratch = vec![Complex32::default(); fft.get_inplace_scratch_len()];
    let window: Vec<f32> = blackman_harris(count).iter().map(|w| *w as f32).collect();
    let weight: f64 = window.iter().map(|w| f64::from(w * w)).sum();
    let gains: Vec<f64> =
        (0..=reach).map(|cell| main_lobe(4.0 * cell as f64 / count as f64).powi(2)).collect();
    let mut mean_square = |bin: usize| {
        let mut cells: Vec<Complex32> =
            orders.bin(bin, frames.clone()).iter().zip(&window).map(|(z, w)| z * w).collect();
        cells.resize(count, Complex32::default());
        fft.process_with_scratch(&mut cells, &mut scratch);
        let power = |cell: usize, place: usize| f64::from(cells[place].norm_sqr()) / gains[cell];
        let mut powers: Vec<f64> = (0..=reach).map(|cell| power(cell, cell)).collect();
        powers.extend((1..=reach).map(|cell| power(cell, count - cell)));
        // Powers of noise are distributed exponentially.
        let quiet = quantile_in_place(&mut powers, QUIET_SHARE)? / -(1.0 - QUIET_SHARE).ln();
        // The mean square of a bin is that density over what the window lets through.
        Some(quiet / weight * NOISE_BANDWIDTH_BINS / 4.0)
    };
    let unit = orders.bins_per_unit;
    let multiples = orders.bins / unit;
    let mean_square = (0..=multiples)
        .map(|m| {
            let from = (m * unit).saturating_sub(unit / 2);
            let to = (m * unit + unit / 2).min(orders.bins.saturating_sub(1));
            let aside = (from..=to).filter(|bin| bin.abs_diff(m * unit) > ASIDE_BINS);
            median(aside.filter_map(&mut mean_square)).map(|square| square.max(f64::MIN_POSITIVE))
        })
        .collect::<Option<Vec<f64>>>()?;
    Some(NoiseProfile { mean_square })
}

/// Power of the noise from 100 Hz to `to_hz`, measured between the partials and carried across
/// them (and held beyond the last), less the density `room` tells for a frequency in hertz.
pub fn noise_power(
    orders: &Orders,
    noise: &NoiseProfile,
    to_hz: f64,
    room: impl Fn(f64) -> f64,
) -> f64 {
    let bandwidth_hz = NOISE_BANDWIDTH_BINS * orders.bin_hz();
    let base = orders.reference_hz;
    let last = noise.mean_square.len().saturating_sub(1);
    noise
        .mean_square
        .iter()
        .enumerate()
        .map(|(m, mean_square)| {
            let low = ((m as f64 - 0.5) * base).max(LOWEST_HZ);
            let high = if m == last { to_hz } else { ((m as f64 + 0.5) * base).min(to_hz) };
            let density = 0.5 * mean_square / bandwidth_hz;
            (density - room((low + high) / 2.0)) * (high - low).max(0.0)
        })
        .sum()
}
