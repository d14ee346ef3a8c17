//! Power spectra of windowed frames.
//!
//! Scaling: one-sided power spectral density, so that the sum over bins times the bin width is the
//! mean square of the frame (times the window's own mean square, which is divided out). Bin k is
//! k·rate/n, k = 0 … n/2.

use std::sync::Arc;

use super::plans::hann_window;
use super::real::RealTransform;

/// Share of the sample rate up to which a recording holds what sounded: the filters of recorders and
/// converters begin to take away above it (common practice, no source).
pub const USABLE: f64 = 0.45;

/// Power spectral density of Hann-windowed frames of one length.
#[derive(Debug)]
pub struct Spectrum {
    sample_rate_hz: f64,
    window: Arc<[f32]>,
    scale: f32,
    transform: RealTransform,
}

impl Spectrum {
    /// For frames of `n` samples (even, at least 2) at `sample_rate_hz`.
    pub fn new(n: usize, sample_rate_hz: f64) -> Self {
        let window = hann_window(n);
        let power: f64 = window.iter().map(|w| f64::from(*w).powi(2)).sum();
        Self {
            sample_rate_hz,
            scale: (2.0 / (power * sample_rate_hz)) as f32,
            transform: RealTransform::new(n),
            window,
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
        let powers = self.transform.powers(samples, &self.window, 0.0);
        put_densities(powers.iter(), self.scale, density);
    }

    /// Density of a frame whose power spectrum is known already.
    ///
    /// * `powers`: up to `n/2 + 1` bins of that of the Hann-windowed frame.
    pub fn density_of<'a>(&self, powers: impl Iterator<Item = &'a f32>, density: &mut [f32]) {
        put_densities(powers, self.scale, density);
    }
}

fn put_densities<'a>(powers: impl Iterator<Item = &'a f32>, scale: f32, density: &mut [f32]) {
    density.iter_mut().zip(powers).for_each(|(out, power)| *out = power * scale);
}
