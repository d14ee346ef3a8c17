//! Gaussian noise of a given spectrum, made exactly by shaping its Fourier transform.

use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use realfft::RealFftPlanner;
use rustfft::num_complex::Complex;

/// Lower end of pink noise in hertz.
const PINK_FROM_HZ: f64 = 20.0;

/// Shape of a noise's power spectral density from 0 to half the sample rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Colour {
    /// The same power in every hertz.
    White,
    /// The same power in every octave, from 20 Hz up.
    Pink,
    /// Air through a slit: rises 6 dB an octave to `low_hz`, falls 12 dB an octave above
    /// `high_hz`. Corners are ours; no measured spectrum of a reed's breath noise is known.
    Air {
        /// Corner below which it falls off.
        low_hz: f64,
        /// Corner above which it falls off.
        high_hz: f64,
    },
    /// Second-order low-pass: bumps and rubbing.
    Low {
        /// Corner in hertz.
        corner_hz: f64,
    },
}

impl Colour {
    /// Power spectral density at `hz`, to an arbitrary scale.
    pub(super) fn density(self, hz: f64) -> f64 {
        match self {
            Self::White => 1.0,
            Self::Pink if hz < PINK_FROM_HZ => 0.0,
            Self::Pink => 1.0 / hz,
            Self::Air { low_hz, high_hz } => {
                let low = (hz / low_hz).powi(2);
                low / (1.0 + low) / (1.0 + (hz / high_hz).powi(4))
            }
            Self::Low { corner_hz } => 1.0 / (1.0 + (hz / corner_hz).powi(4)),
        }
    }

    /// Share of the noise's power that lies from `low_hz` to `high_hz`, for noise at
    /// `sample_rate_hz`.
    pub(super) fn share(self, low_hz: f64, high_hz: f64, sample_rate_hz: f64) -> f64 {
        let nyquist_hz = sample_rate_hz / 2.0;
        let whole = self.integral(0.0, nyquist_hz);
        if whole <= 0.0 {
            return 0.0;
        }
        self.integral(low_hz.clamp(0.0, nyquist_hz), high_hz.clamp(0.0, nyquist_hz)) / whole
    }

    /// Integral of the density; closed forms for white and pink, else the midpoint rule.
    fn integral(self, low_hz: f64, high_hz: f64) -> f64 {
        match self {
            Self::White => high_hz - low_hz,
            Self::Pink => (high_hz.max(PINK_FROM_HZ) / low_hz.max(PINK_FROM_HZ)).ln(),
            _ => {
                const STEPS: usize = 2048;
                let step_hz = (high_hz - low_hz) / STEPS as f64;
                (0..STEPS)
                    .map(|i| self.density(low_hz + (i as f64 + 0.5) * step_hz) * step_hz)
                    .sum()
            }
        }
    }
}

/// `[count]` samples of Gaussian noise whose expected mean square is 1.
pub(super) fn noise(
    colour: Colour,
    count: usize,
    sample_rate_hz: f64,
    rng: &mut impl Rng,
) -> Vec<f64> {
    if colour == Colour::White {
        return StandardNormal.sample_iter(rng).take(count).collect();
    }
    if count == 0 {
        return Vec::new();
    }
    let size = count.next_power_of_two().max(2);
    let bin_hz = sample_rate_hz / size as f64;
    // A real transform of the size n gives x = Σ 2·Re(X_k e^…), so unit mean square asks for
    // Σ 4·E|X_k|²/2 = 1 with the bins at both ends left empty.
    let densities: Vec<f64> = (0..=size / 2)
        .map(|k| if k == 0 || k == size / 2 { 0.0 } else { colour.density(k as f64 * bin_hz) })
        .collect();
    let total: f64 = densities.iter().sum();
    if total <= 0.0 {
        return vec![0.0; count];
    }
    let mut spectrum: Vec<Complex<f64>> = densities
        .iter()
        .map(|density| {
            let scale = (density / total / 4.0).sqrt();
            let re: f64 = StandardNormal.sample(rng);
            let im: f64 = StandardNormal.sample(rng);
            Complex::new(scale * re, scale * im)
        })
        .collect();
    spectrum[0] = Complex::new(0.0, 0.0);
    spectrum[size / 2] = Complex::new(0.0, 0.0);
    let mut samples = vec![0.0; size];
    let plan = RealFftPlanner::<f64>::new().plan_fft_inverse(size);
    // The lengths come from the plan's own size and the end bins are real, so it cannot fail.
    if plan.process(&mut spectrum, &mut samples).is_err() {
        samples.fill(0.0);
    }
    samples.truncate(count);
    samples
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    const RATE_HZ: f64 = 48_000.0;

    /// 2^18 samples: the mean square of white noise has a relative sd of √(2/n) = 0.3 %; coloured
    /// noise has fewer free values, hence 3 % for the low ones.
    #[test]
    fn every_colour_has_unit_mean_square() {
        for (colour, tolerance) in [
            (Colour::White, 0.02),
            (Colour::Pink, 0.05),
            (Colour::Air { low_hz: 400.0, high_hz: 3000.0 }, 0.03),
        ] {
            let mut rng = ChaCha8Rng::seed_from_u64(1);
            let samples = noise(colour, 1 << 18, RATE_HZ, &mut rng);
            let mean_square = samples.iter().map(|x| x * x).sum::<f64>() / samples.len() as f64;
            assert!((mean_square - 1.0).abs() < tolerance, "{colour:?} {mean_square}");
        }
    }

    #[test]
    fn pink_noise_has_equal_power_in_every_octave() {
        let low = Colour::Pink.share(100.0, 200.0, RATE_HZ);
        let high = Colour::Pink.share(5000.0, 10_000.0, RATE_HZ);
        assert!((low - high).abs() < 1e-12);
        assert!((Colour::Pink.share(0.0, 24_000.0, RATE_HZ) - 1.0).abs() < 1e-12);
    }
}
