//! Analysis windows, periodic form (weight k at k/n of the period), and their figures.

/// Hann window.
///
/// * `n`: number of weights.
///
/// Source: F. J. Harris, Proc. IEEE 66(1), 1978, pp. 51-83.
pub fn hann(n: usize) -> Vec<f64> {
    cosine_sum(n, &[0.5, 0.5])
}

/// Four-term Blackman-Harris window with sidelobes at −92 dB.
///
/// Source: F. J. Harris, Proc. IEEE 66(1), 1978, pp. 51-83.
pub fn blackman_harris(n: usize) -> Vec<f64> {
    cosine_sum(n, &[0.35875, 0.48829, 0.14128, 0.01168])
}

/// A sum of cosines with alternating signs: a0 − a1·cos x + a2·cos 2x − …
pub fn cosine_sum(n: usize, coefficients: &[f64]) -> Vec<f64> {
    (0..n)
        .map(|k| {
            let x = std::f64::consts::TAU * k as f64 / n as f64;
            coefficients
                .iter()
                .enumerate()
                .map(|(i, a)| if i % 2 == 0 { *a } else { -a } * (i as f64 * x).cos())
                .sum()
        })
        .collect()
}

/// Weight of a Kaiser window at `x` from its middle, −1 and 1 being its ends.
///
/// Source: J. F. Kaiser, Proc. IEEE ISCAS, 1974, pp. 20-23.
pub fn kaiser(x: f64, beta: f64) -> f64 {
    let inside = 1.0 - x * x;
    if inside > 0.0 { bessel_i0(beta * inside.sqrt()) / bessel_i0(beta) } else { 0.0 }
}

/// Modified Bessel function of the first kind, order 0, by its power series (A&S 9.6.12).
fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let mut term = 1.0;
    let mut sum = 1.0;
    for k in 1..60 {
        term *= quarter / f64::from(k * k);
        sum += term;
    }
    sum
}

/// Equivalent noise bandwidth of a window, in FFT bins.
///
/// * `window`: `[n]` weights, any scale.
///
/// Returns `None` when the weights sum to 0.
///
/// Source: F. J. Harris, Proc. IEEE 66(1), 1978, eq. 11 and Table 1.
pub fn noise_bandwidth_bins(window: &[f64]) -> Option<f64> {
    let sum: f64 = window.iter().sum();
    let squares: f64 = window.iter().map(|w| w * w).sum();
    (sum != 0.0).then(|| window.len() as f64 * squares / (sum * sum))
}

/// Mean weight: what a window leaves of the amplitude of a bin-centred tone.
pub fn coherent_gain(window: &[f64]) -> f64 {
    window.iter().sum::<f64>() / window.len().max(1) as f64
}
