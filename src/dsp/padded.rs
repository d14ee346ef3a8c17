//! Power spectra of frames that are followed by zeros, and the autocorrelations they stand for.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use super::plans::hann_window;
use super::real::{PowerInverse, RealTransform};
use super::statistics::sum;

/// Power spectra `[padded/2 + 1]` of frames padded with zeros, each without its mean and windowed.
pub(super) fn powers<'a>(
    frames: impl Iterator<Item = &'a [f32]>,
    window: &[f32],
    padded: usize,
) -> Vec<Vec<f32>> {
    let mut transform = RealTransform::new(padded);
    let power = |frame: &[f32]| {
        let mean = sum(frame) / frame.len().max(1) as f32;
        transform.powers(frame, window, mean).to_vec()
    };
    frames.map(power).collect()
}

/// Autocorrelation of the frame with this power spectrum, up to `lags` of them.
pub(super) fn correlation(power: &[f32], padded: usize, lags: usize) -> Vec<f64> {
    let mut inverse = PowerInverse::new(padded);
    inverse.of(power, lags.min(padded / 2)).iter().map(|r| f64::from(*r)).collect()
}

/// Autocorrelation of the window of `n` weights over its value at lag 0, `[padded/2]`; made once.
pub(super) fn taper(n: usize, padded: usize) -> Arc<[f64]> {
    static TAPERS: LazyLock<Mutex<HashMap<usize, Arc<[f64]>>>> = LazyLock::new(Mutex::default);
    // What another thread left in a panic is still a sound cache.
    let mut known = TAPERS.lock().unwrap_or_else(PoisonError::into_inner);
    let made = || {
        let ones = vec![1.0; n];
        let mut transform = RealTransform::new(padded);
        let power = transform.powers(&hann_window(n), &ones, 0.0);
        let all = correlation(power, padded, padded / 2);
        all.iter().map(|r| r / all[0]).collect()
    };
    known.entry(n).or_insert_with(made).clone()
}

/// Cosines that are worked out side by side.
const LANES: usize = 8;

/// The sum of `values[k]`·cos(k·`turn`); each cosine from the two that lie [`LANES`] and twice as many before.
pub(super) fn sum_of_cosines(values: &[f32], turn: f64) -> f64 {
    let mut first = [1.0; LANES + 1];
    first[1] = turn.cos();
    for k in 2..=LANES {
        first[k] = 2.0 * first[1] * first[k - 1] - first[k - 2];
    }
    let twice = 2.0 * first[LANES];
    let mut here: [f64; LANES] = std::array::from_fn(|k| first[k]);
    let mut before: [f64; LANES] = std::array::from_fn(|k| first[LANES - k]);
    let mut sums = [0.0; LANES];
    let pieces = values.chunks_exact(LANES);
    let rest = pieces.remainder();
    for piece in pieces {
        for i in 0..LANES {
            sums[i] += f64::from(piece[i]) * here[i];
            (before[i], here[i]) = (here[i], twice * here[i] - before[i]);
        }
    }
    let rest: f64 = rest.iter().zip(here).map(|(value, cosine)| f64::from(*value) * cosine).sum();
    sums.iter().sum::<f64>() + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The slow judge: each cosine by itself.
    #[test]
    fn cosines_side_by_side_are_cosines() {
        let values: Vec<f32> = (0..1003).map(|k| (k % 7) as f32).collect();
        for turn in [0.0, 1e-3, 0.3, 1.7, 3.1] {
            let slow =
                values.iter().zip(0..).map(|(v, k)| f64::from(*v) * (f64::from(k) * turn).cos());
            let slow: f64 = slow.sum();
            let found = sum_of_cosines(&values, turn);
            assert!((found - slow).abs() < 1e-7, "{turn}: {found} {slow}");
        }
    }
}
