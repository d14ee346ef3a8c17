//! Power spectra of windowed frames.
//!
//! Scaling: one-sided power spectral density, so that the sum over bins times the bin width is the
//! mean square of the frame (times the window's own mean square, which is divided out). Bin k is
//! k·rate/n, k = 0 … n/2.

use std::fmt;
use std::sync::Arc;

use realfft::RealToComplex;
use realfft::num_complex::Complex;

use super::plans::{hann_window, real_forward};

/// Share of the sample rate up to which a recording holds what sounded: the filters of recorders and
/// converters begin to take away above it (common practice, no source).
pub const USABLE: f64 = 0.45;

/// Power spectral density of Hann-windowed frames of one length.
pub struct Spectrum {
    sample_rate_hz: f64,
    window: Arc<[f32]>,
    scale: f32,
    fft: Arc<dyn RealToComplex<f32>>,
    frame: Vec<f32>,
    bins: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
}

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
        let fft = real_forward(n);
        Self {
            sample_rate_hz,
            scale: (2.0 / (power * sample_rate_hz)) as f32,
            frame: fft.make_input_vec(),
            bins: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
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
        self.frame.fill(0.0);
        for ((frame, sample), weight) in self.frame.iter_mut().zip(samples).zip(&*self.window) {
            *frame = sample * weight;
        }
        // Lengths come from the plan itself, the only thing that can be wrong here.
        if self
            .fft
            .process_with_scratch(&mut self.frame, &mut self.bins, &mut self.scratch)
            .is_err()
        {
            density.fill(0.0);
            return;
        }
        self.density_of(self.bins.iter(), density);
    }

    /// Density of a frame whose transform is known already.
    ///
    /// * `bins`: up to `n/2 + 1` bins of the transform of the Hann-windowed frame.
    pub fn density_of<'a>(
        &self,
        bins: impl Iterator<Item = &'a Complex<f32>>,
        density: &mut [f32],
    ) {
        for (out, bin) in density.iter_mut().zip(bins) {
            *out = bin.norm_sqr() * self.scale;
        }
    }
}
