//! Power spectra of windowed frames.
//!
//! Scaling: one-sided power spectral density, so that the sum over bins times the bin width is the
//! mean square of the frame (times the window's own mean square, which is divided out). Bin k is
//! k·rate/n, k = 0 … n/2.

use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use realfft::num_complex::Complex32;
use rustfft::Fft;

use super::plans::{complex_forward, half_turns, hann_window};

/// Share of the sample rate up to which a recording holds what sounded: the filters of recorders and
/// converters begin to take away above it (common practice, no source).
pub const USABLE: f64 = 0.45;

/// Power spectral density of Hann-windowed frames of one length.
pub struct Spectrum {
    sample_rate_hz: f64,
    window: Arc<[f32]>,
    scale: f32,
    /// Of half as many values, each two samples of the frame.
    fft: Arc<dyn Fft<f32>>,
    /// `[n/4 + 1]` what tells the two apart in each bin.
    turns: Arc<[Complex32]>,
    pairs: Vec<Complex32>,
    scratch: Vec<Complex32>,
    /// `[n/2 + 1]` density of the frame looked at last.
    whole: Vec<f32>,
}

/// Bins that are worked out side by side, as vector registers hold them.
const LANES: usize = 8;

impl fmt::Debug for Spectrum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Spectrum").field("n", &self.window.len()).finish_non_exhaustive()
    }
}

impl Spectrum {
    /// For frames of `n` samples (even, at least 2) at `sample_rate_hz`.
    pub fn new(n: usize, sample_rate_hz: f64) -> Self {
        let window = hann_window(n);
        let power: f64 = window.iter().map(|w| f64::from(*w).powi(2)).sum();
        let fft = complex_forward(n / 2);
        Self {
            sample_rate_hz,
            scale: (2.0 / (power * sample_rate_hz)) as f32,
            turns: half_turns(n),
            pairs: vec![Complex32::default(); n / 2],
            scratch: vec![Complex32::default(); fft.get_inplace_scratch_len()],
            whole: vec![0.0; n / 2 + 1],
            window,
            fft,
        }
    }

    /// Samples per frame.
    pub fn frame_len(&self) -> usize {
        self.window.len()
    }

    /// Distance between bins, in hertz.
    pub fn bin_hz(&self) -> f64 {
        self.sample_rate_hz / self.window.len() as f64
    }

    /// Density of one frame.
    ///
    /// * `samples`: `[n]`; a shorter slice counts as followed by zeros.
    /// * `density`: receives up to `n/2 + 1` bins, full scale squared per hertz.
    pub fn density(&mut self, samples: &[f32], density: &mut [f32]) {
        let samples = samples.get(..self.window.len()).unwrap_or(samples);
        let (two, of_two) = (samples.as_chunks::<2>(), self.window.as_chunks::<2>().0);
        for (pair, (samples, weights)) in self.pairs.iter_mut().zip(two.0.iter().zip(of_two)) {
            *pair = Complex32::new(samples[0] * weights[0], samples[1] * weights[1]);
        }
        self.pairs[two.0.len()..].fill(Complex32::default());
        if let ([last], Some(weights)) = (two.1, of_two.get(two.0.len())) {
            self.pairs[two.0.len()].re = last * weights[0];
        }
        self.fft.process_with_scratch(&mut self.pairs, &mut self.scratch);
        self.powers(density);
    }

    /// Density of the frame whose pairs of samples are transformed.
    fn powers(&mut self, density: &mut [f32]) {
        let half = self.pairs.len();
        let first = self.pairs[0];
        self.whole[0] = self.scale * (first.re + first.im) * (first.re + first.im);
        self.whole[half] = self.scale * (first.re - first.im) * (first.re - first.im);
        let side_by_side = (half - 1) / 2 / LANES * LANES;
        self.unfold::<LANES>(1..side_by_side + 1);
        self.unfold::<1>(side_by_side + 1..half / 2 + 1);
        let bins = density.len().min(half + 1);
        density[..bins].copy_from_slice(&self.whole[..bins]);
    }

    /// Densities of these bins, which are as many as `N` or a multiple, and of their mirror images.
    ///
    /// A transform Z of pairs is that of the even samples and, a quarter turned, that of the odd ones; bins k
    /// and n/2 − k of both together are sums and differences of Z's own two.
    fn unfold<const N: usize>(&mut self, bins: Range<usize>) {
        let (half, quarter) = (self.pairs.len(), 0.25 * self.scale);
        let rising = self.pairs[bins.clone()].as_chunks::<N>().0.iter();
        let falling = self.pairs[half + 1 - bins.end..half + 1 - bins.start].as_chunks::<N>().0;
        let turns = self.turns[bins.clone()].as_chunks::<N>().0;
        let both = rising.zip(turns).zip(falling.iter().rev());
        for (first, ((z, turns), mirrors)) in bins.step_by(N).zip(both) {
            let (mut low, mut high) = ([0.0; N], [0.0; N]);
            for i in 0..N {
                let mirror = mirrors[N - 1 - i];
                let even = Complex32::new(z[i].re + mirror.re, z[i].im - mirror.im);
                let odd = Complex32::new(z[i].re - mirror.re, z[i].im + mirror.im) * turns[i];
                let squares = even.norm_sqr() + odd.norm_sqr();
                let product = 2.0 * (even.re * odd.re + even.im * odd.im);
                low[i] = quarter * (squares + product);
                high[N - 1 - i] = quarter * (squares - product);
            }
            let end = half + 1 - first;
            self.whole[end - N..end].copy_from_slice(&high);
            self.whole[first..first + N].copy_from_slice(&low);
        }
    }

    /// Density of a frame whose transform is known already.
    ///
    /// * `bins`: up to `n/2 + 1` bins of the transform of the Hann-windowed frame.
    pub fn density_of<'a>(&self, bins: impl Iterator<Item = &'a Complex32>, density: &mut [f32]) {
        for (out, bin) in density.iter_mut().zip(bins) {
            *out = bin.norm_sqr() * self.scale;
        }
    }
}
