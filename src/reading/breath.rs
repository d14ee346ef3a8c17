//! The noise of a crow itself: what sounds between its partials.

use super::balance::LOWEST_HZ;
use super::family::NoiseProfile;
use super::orders::{NOISE_BANDWIDTH_BINS, Orders};

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
