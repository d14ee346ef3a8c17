//! Transforms of real samples, by complex ones of half as many values, each two samples.
//!
//! A transform Z of pairs is that of the even samples and, a quarter turned, that of the odd ones; bins k and
//! n/2 − k of both together are sums and differences of Z's own two. That is the same work for every bin, and
//! done for several side by side, as vector registers hold them.

use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use realfft::num_complex::Complex32;
use rustfft::Fft;

use super::plans::{complex_forward, complex_inverse, half_turns};

/// Bins that are worked out side by side.
const LANES: usize = 8;

/// Transforms frames of one length.
pub struct RealTransform {
    fft: Arc<dyn Fft<f32>>,
    /// `[n/4 + 1]` what tells the two samples of a pair apart in each bin.
    turns: Arc<[Complex32]>,
    pairs: Vec<Complex32>,
    scratch: Vec<Complex32>,
    /// As many as there are, once they were asked for.
    bins: Vec<Complex32>,
    powers: Vec<f32>,
}

impl fmt::Debug for RealTransform {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("RealTransform").field("n", &(2 * self.pairs.len())).finish_non_exhaustive()
    }
}

impl RealTransform {
    /// Of frames of `n` samples, an even number, at least 2.
    pub fn new(n: usize) -> Self {
        let fft = complex_forward(n / 2);
        Self {
            turns: half_turns(n),
            pairs: vec![Complex32::default(); n / 2],
            scratch: vec![Complex32::default(); fft.get_inplace_scratch_len()],
            bins: Vec::new(),
            powers: Vec::new(),
            fft,
        }
    }

    /// `[n/2 + 1]` the transform of the first `n` of `samples`, less `offset`, each by its weight; where there
    /// are fewer, of either, 0 follows.
    pub fn bins(&mut self, samples: &[f32], window: &[f32], offset: f32) -> &[Complex32] {
        let [first, last] = self.transform(samples, window, offset);
        let half = self.pairs.len();
        self.bins.resize(half + 1, Complex32::default());
        self.bins[0] = Complex32::new(first, 0.0);
        self.bins[half] = Complex32::new(last, 0.0);
        for (k, turn) in self.turns.iter().enumerate().skip(1) {
            let (even, odd) = apart(self.pairs[k], self.pairs[half - k], *turn);
            let (sum, difference) = (even + odd, (even - odd).conj());
            self.bins[half - k] = Complex32::new(0.5 * difference.re, 0.5 * difference.im);
            self.bins[k] = Complex32::new(0.5 * sum.re, 0.5 * sum.im);
        }
        &self.bins
    }

    /// `[n/2 + 1]` the squares of the same.
    pub fn powers(&mut self, samples: &[f32], window: &[f32], offset: f32) -> &[f32] {
        let [first, last] = self.transform(samples, window, offset);
        let half = self.pairs.len();
        self.powers.resize(half + 1, 0.0);
        self.powers[0] = first * first;
        self.powers[half] = last * last;
        let side_by_side = (half - 1) / 2 / LANES * LANES;
        self.square::<LANES>(1..side_by_side + 1);
        self.square::<1>(side_by_side + 1..half / 2 + 1);
        &self.powers
    }

    /// Transforms the pairs; returns the first bin and the last, which are real.
    fn transform(&mut self, samples: &[f32], window: &[f32], offset: f32) -> [f32; 2] {
        let count = samples.len().min(window.len());
        let (samples, last) = samples[..count].as_chunks::<2>();
        let weights = window[..count].as_chunks::<2>();
        for (pair, (samples, weights)) in self.pairs.iter_mut().zip(samples.iter().zip(weights.0)) {
            let [re, im] = [0, 1].map(|i| (samples[i] - offset) * weights[i]);
            *pair = Complex32::new(re, im);
        }
        let whole = samples.len().min(self.pairs.len());
        self.pairs[whole..].fill(Complex32::default());
        if let ([last], [weight], Some(pair)) = (last, weights.1, self.pairs.get_mut(whole)) {
            pair.re = (last - offset) * weight;
        }
        self.fft.process_with_scratch(&mut self.pairs, &mut self.scratch);
        let first = self.pairs[0];
        [first.re + first.im, first.re - first.im]
    }

    /// Squares of these bins, which are `N` or a multiple of that, and of their mirror images.
    fn square<const N: usize>(&mut self, bins: Range<usize>) {
        let half = self.pairs.len();
        let rising = self.pairs[bins.clone()].as_chunks::<N>().0.iter();
        let falling = self.pairs[half + 1 - bins.end..half + 1 - bins.start].as_chunks::<N>().0;
        let turns = self.turns[bins.clone()].as_chunks::<N>().0;
        let both = rising.zip(turns).zip(falling.iter().rev());
        for (first, ((z, turns), mirrors)) in bins.step_by(N).zip(both) {
            let (mut low, mut high) = ([0.0; N], [0.0; N]);
            for i in 0..N {
                let (even, odd) = apart(z[i], mirrors[N - 1 - i], turns[i]);
                low[i] = 0.25 * (even + odd).norm_sqr();
                high[N - 1 - i] = 0.25 * (even - odd).norm_sqr();
            }
            let end = half + 1 - first;
            self.powers[end - N..end].copy_from_slice(&high);
            self.powers[first..first + N].copy_from_slice(&low);
        }
    }
}

/// Twice what a bin holds of the even samples and of the odd ones.
#[inline]
fn apart(z: Complex32, mirror: Complex32, turn: Complex32) -> (Complex32, Complex32) {
    let even = Complex32::new(z.re + mirror.re, z.im - mirror.im);
    (even, Complex32::new(z.re - mirror.re, z.im + mirror.im) * turn)
}

/// Autocorrelations by power spectra.
pub struct PowerInverse {
    fft: Arc<dyn Fft<f32>>,
    turns: Arc<[Complex32]>,
    pairs: Vec<Complex32>,
    scratch: Vec<Complex32>,
    repeats: Vec<f32>,
}

impl fmt::Debug for PowerInverse {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("PowerInverse").field("n", &(2 * self.pairs.len())).finish_non_exhaustive()
    }
}

impl PowerInverse {
    /// For power spectra of `n` samples, an even number, at least 2.
    pub fn new(n: usize) -> Self {
        let fft = complex_inverse(n / 2);
        Self {
            turns: half_turns(n),
            pairs: vec![Complex32::default(); n / 2],
            scratch: vec![Complex32::default(); fft.get_inplace_scratch_len()],
            repeats: Vec::new(),
            fft,
        }
    }

    /// `[lags]` at lags 0, 1, 2 …, times `n`.
    ///
    /// * `power`: `[n/2 + 1]`.
    /// * `lags`: how many, up to `n`.
    pub fn of(&mut self, power: &[f32], lags: usize) -> &mut [f32] {
        let half = self.pairs.len();
        let side_by_side = (half - 1) / 2 / LANES * LANES;
        self.pairs[0] = Complex32::new(power[0] + power[half], power[0] - power[half]);
        self.fold::<LANES>(power, 1..side_by_side + 1);
        self.fold::<1>(power, side_by_side + 1..half / 2 + 1);
        self.fft.process_with_scratch(&mut self.pairs, &mut self.scratch);
        self.repeats.resize(lags.next_multiple_of(2), 0.0);
        let pairs = self.repeats.as_chunks_mut::<2>().0.iter_mut().zip(&self.pairs);
        pairs.for_each(|(two, pair)| *two = [pair.re, pair.im]);
        &mut self.repeats[..lags]
    }

    /// What the transform of pairs is at these bins, which are `N` or a multiple of that, and their mirror images.
    fn fold<const N: usize>(&mut self, power: &[f32], bins: Range<usize>) {
        let half = self.pairs.len();
        let rising = power[bins.clone()].as_chunks::<N>().0.iter();
        let falling = power[half + 1 - bins.end..half + 1 - bins.start].as_chunks::<N>().0;
        let turns = self.turns[bins.clone()].as_chunks::<N>().0;
        let both = rising.zip(turns).zip(falling.iter().rev());
        for (first, ((power, turns), mirrors)) in bins.step_by(N).zip(both) {
            let mut low = [Complex32::default(); N];
            let mut high = low;
            for i in 0..N {
                let mirror = mirrors[N - 1 - i];
                let (even, odd) = (power[i] + mirror, power[i] - mirror);
                let turned = Complex32::new(odd * turns[i].re, odd * turns[i].im);
                low[i] = Complex32::new(even + turned.re, -turned.im);
                high[N - 1 - i] = Complex32::new(even - turned.re, -turned.im);
            }
            let end = half + 1 - first;
            self.pairs[end - N..end].copy_from_slice(&high);
            self.pairs[first..first + N].copy_from_slice(&low);
        }
    }
}

#[cfg(test)]
mod tests {
    use realfft::RealFftPlanner;
    use realfft::num_complex::Complex;

    use super::*;

    /// Another library's transforms of real samples are the judges.
    #[test]
    fn frames_and_power_spectra_are_transformed_as_another_library_does() {
        for n in [2, 4, 6, 18, 36, 70, 256, 750] {
            let samples: Vec<f32> = (0..n).map(|i| ((i * i) as f32 * 0.37).sin() + 0.2).collect();
            let window: Vec<f32> = (0..n).map(|i| 0.5 + i as f32 / n as f32).collect();
            let mut input: Vec<f64> = samples
                .iter()
                .zip(&window)
                .map(|(x, w)| (f64::from(*x) - 0.2) * f64::from(*w))
                .collect();
            let mut planner = RealFftPlanner::<f64>::new();
            let mut judge = vec![Complex::default(); n / 2 + 1];
            planner.plan_fft_forward(n).process(&mut input, &mut judge).unwrap();
            let mut transform = RealTransform::new(n);
            let found = transform.bins(&samples, &window, 0.2).to_vec();
            let all = n as f64;
            for (found, judge) in found.iter().zip(&judge) {
                let found = Complex::new(f64::from(found.re), f64::from(found.im));
                assert!((found - judge).norm() < 1e-6 * all, "{n}: {found} {judge}");
            }
            let power = transform.powers(&samples, &window, 0.2).to_vec();
            for (power, bin) in power.iter().zip(&found) {
                assert!((power - bin.norm_sqr()).abs() < 1e-5 * all as f32, "{n}");
            }
            let mut bins: Vec<Complex<f64>> =
                power.iter().map(|p| Complex::new(f64::from(*p), 0.0)).collect();
            let mut judge = vec![0.0; n];
            planner.plan_fft_inverse(n).process(&mut bins, &mut judge).unwrap();
            let mut inverse = PowerInverse::new(n);
            for lags in [n, n - 1] {
                let found = inverse.of(&power, lags);
                assert_eq!(found.len(), lags);
                for (found, right) in found.iter().zip(&judge) {
                    assert!((f64::from(*found) - right).abs() < 1e-6 * judge[0], "{n}");
                }
            }
        }
    }

    #[test]
    fn what_is_missing_counts_as_nothing() {
        let ones = [1.0; 8];
        let mut transform = RealTransform::new(8);
        let whole = transform.bins(&[1.0, 2.0, 3.0, 0.0, 0.0, 0.0, 0.0, 0.0], &ones, 0.0).to_vec();
        assert_eq!(transform.bins(&[1.0, 2.0, 3.0], &ones, 0.0), whole);
        assert_eq!(transform.bins(&[1.0, 2.0, 3.0, 4.0], &ones[..3], 0.0), whole);
    }
}
