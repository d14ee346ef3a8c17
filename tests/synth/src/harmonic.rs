//! Fundamental frequency of one frame by exact nonlinear least squares: the harmonic set whose
//! span holds most of the frame's energy.
//!
//! Assumes one harmonic tone in white noise. The rectangular frame is used whole (a window would
//! cost half of the information), and the inner products of its partials with each other are
//! exact, so partials that are not periodic in the frame do not disturb each other. The number of
//! partials and the octave are decided together, by the Bayesian information criterion.
//!
//! Source of the model: M. G. Christensen and A. Jakobsson, Multi-Pitch Estimation, 2009 (from
//! memory); J. K. Nielsen et al., Signal Processing 135, 2017 (from memory). Evaluated directly,
//! without their fast recursion.

use std::fmt;
use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use reedcrow::dsp::window::hann;

/// A harmonic tone found in one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HarmonicEstimate {
    /// Fundamental frequency in hertz.
    pub hz: f64,
    /// Half width of the 95 % interval in cents, from the curvature of the fit.
    pub ci95_cents: f64,
    /// Number of partials of the model.
    pub partials: usize,
    /// Energy of the partials over energy of the rest, in decibels.
    pub snr_db: f64,
}

/// Fundamentals are sought between these, in hertz.
const RANGE_HZ: (f64, f64) = (100.0, 2000.0);
/// Partials up to this frequency count.
const HIGHEST_PARTIAL_HZ: f64 = 10_000.0;
/// Candidates taken from the coarse spectrum.
const CANDIDATES: usize = 4;
/// A coarse maximum may be any of these multiples or parts of the fundamental.
const RATIOS: [f64; 11] = [0.25, 1.0 / 3.0, 0.5, 2.0 / 3.0, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0];

/// What is found may be a part of the fundamental instead.
const MULTIPLES: [f64; 2] = [2.0, 3.0];

/// Estimator for frames of one length.
pub struct HarmonicEstimator {
    sample_rate_hz: f64,
    window: Vec<f64>,
    fft: Arc<dyn RealToComplex<f64>>,
    padded: Vec<f64>,
    bins: Vec<Complex<f64>>,
}

impl fmt::Debug for HarmonicEstimator {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("HarmonicEstimator").field("n", &self.window.len()).finish_non_exhaustive()
    }
}

/// Estimates the fundamental of `frame` (`[n]` samples, any scale, two periods or more). `None`
/// when the frame is too short, silent, or better explained by noise alone.
pub fn estimate(frame: &[f64], sample_rate_hz: f64) -> Option<HarmonicEstimate> {
    HarmonicEstimator::new(frame.len(), sample_rate_hz).estimate(frame)
}

impl HarmonicEstimator {
    /// For frames of `n` samples at `sample_rate_hz`.
    pub fn new(n: usize, sample_rate_hz: f64) -> Self {
        let padded_len = (4 * n.max(4)).next_power_of_two();
        let fft = RealFftPlanner::new().plan_fft_forward(padded_len);
        Self {
            sample_rate_hz,
            window: hann(n),
            padded: fft.make_input_vec(),
            bins: fft.make_output_vec(),
            fft,
        }
    }

    /// Estimates the fundamental of `frame`, which must have the estimator's length.
    pub fn estimate(&mut self, frame: &[f64]) -> Option<HarmonicEstimate> {
        let n = self.window.len();
        if frame.len() != n || (n as f64) < 2.0 * self.sample_rate_hz / RANGE_HZ.1 || n < 32 {
            return None;
        }
        let mean = frame.iter().sum::<f64>() / n as f64;
        let energy: f64 = frame.iter().map(|x| (x - mean).powi(2)).sum();
        if !(energy > f64::MIN_POSITIVE) || !energy.is_finite() {
            return None;
        }
        let candidates = self.candidates(frame, energy);
        let fit = |hz: f64, most: usize| Fit::nested(frame, energy, hz / self.sample_rate_hz, most);
        let most_at = |hz: f64| {
            ((HIGHEST_PARTIAL_HZ.min(0.48 * self.sample_rate_hz) / hz).floor() as usize).min(60)
        };
        let mut best: Option<(f64, Fit)> = None;
        let lowest_hz = RANGE_HZ.0.max(2.0 * self.sample_rate_hz / n as f64);
        for coarse in candidates {
            for ratio in RATIOS {
                let hz = coarse * ratio;
                if !(lowest_hz..=RANGE_HZ.1).contains(&hz) || most_at(hz) == 0 {
                    continue;
                }
                let hz = climb(
                    hz,
                    self.sample_rate_hz / n as f64 / most_at(hz).min(12) as f64,
                    3,
                    |hz| fit(hz, most_at(hz).min(16)).map_or(0.0, |f| f.explained),
                );
                let Some(found) = fit(hz, most_at(hz)) else { continue };
                if best.as_ref().is_none_or(|(_, b)| found.criterion > b.criterion) {
                    best = Some((hz, found));
                }
            }
        }
        let (mut hz, mut found) = best?;
        // A part of the fundamental fits as well, all but its surplus partials, and may have been
        // climbed to more closely.
        for multiple in MULTIPLES {
            let higher = multiple * hz;
            if higher > RANGE_HZ.1 || most_at(higher) == 0 {
                break;
            }
            if let Some(fewer) = fit(higher, most_at(higher))
                && fewer.criterion > found.criterion
            {
                (hz, found) = (higher, fewer);
            }
        }
        if found.criterion <= 0.0 {
            return None;
        }
        self.refine(frame, energy, hz, found)
    }

    /// Takes the partials that stand out of the noise and climbs to the top of their fit.
    fn refine(&self, frame: &[f64], energy: f64, hz: f64, found: Fit) -> Option<HarmonicEstimate> {
        let n = frame.len() as f64;
        let rest = ((energy - found.explained) / (n - 2.0 * found.partials.len() as f64))
            .max(energy * 1e-15 / n);
        let kept: Vec<usize> = found
            .partials
            .iter()
            .zip(&found.each)
            .filter(|(_, e)| **e > STANDS_OUT * rest)
            .map(|(l, _)| *l)
            .collect();
        let kept = if kept.is_empty() { found.partials } else { kept };
        let explained =
            |hz: f64| Fit::of(frame, hz / self.sample_rate_hz, &kept).map_or(0.0, |f| f.explained);
        let highest = *kept.iter().max()? as f64;
        let width = self.sample_rate_hz / n / highest;
        let hz = climb(hz, 0.1 * width, 4, explained);
        let step = 0.01 * width;
        let bend = explained(hz - step) - 2.0 * explained(hz) + explained(hz + step);
        let curvature = -bend / (step * step);
        let noise = ((energy - explained(hz)) / (n - 2.0 * kept.len() as f64 - 2.0)).max(0.0);
        if !(curvature > 0.0) {
            return None;
        }
        let sd_hz = (2.0 * noise / curvature).sqrt();
        let signal = explained(hz);
        Some(HarmonicEstimate {
            hz,
            ci95_cents: 1.96 * sd_hz / hz * 1200.0 / std::f64::consts::LN_2,
            partials: kept.len(),
            snr_db: 10.0 * (signal / (energy - signal).max(signal * 1e-15)).log10(),
        })
    }

    /// Maxima of a harmonic sum over the zero-padded Hann spectrum, best first, in hertz.
    fn candidates(&mut self, frame: &[f64], energy: f64) -> Vec<f64> {
        let n = frame.len();
        self.padded.fill(0.0);
        for ((out, sample), weight) in self.padded.iter_mut().zip(frame).zip(&self.window) {
            *out = sample * weight;
        }
        if self.fft.process(&mut self.padded, &mut self.bins).is_err() {
            return Vec::new();
        }
        let bin_hz = self.sample_rate_hz / self.padded.len() as f64;
        // Scaled so that a bin's value is the energy a partial there would explain.
        let scale = 2.0 / (n as f64 * 0.25);
        let power: Vec<f64> = self.bins.iter().map(|z| z.norm_sqr() * scale).collect();
        let step = self.sample_rate_hz / n as f64 / 24.0;
        let (low, high) = (RANGE_HZ.0.max(2.0 * self.sample_rate_hz / n as f64), RANGE_HZ.1);
        let count = ((high - low) / step).max(0.0) as usize;
        let scores: Vec<f64> = (0..count)
            .map(|i| {
                let hz = low + step * i as f64;
                let mut sum = 0.0;
                let mut best = f64::NEG_INFINITY;
                let most = (HIGHEST_PARTIAL_HZ.min(0.48 * self.sample_rate_hz) / hz) as usize;
                for l in 1..=most.min(30) {
                    let position = hz * l as f64 / bin_hz;
                    let value = power.get(position.round() as usize).copied().unwrap_or(0.0);
                    sum += value;
                    best = f64::max(best, criterion(n, energy, sum.min(0.999_999 * energy), l));
                }
                best
            })
            .collect();
        let mut peaks: Vec<usize> = (1..count.saturating_sub(1))
            .filter(|&i| scores[i] >= scores[i - 1] && scores[i] > scores[i + 1])
            .collect();
        peaks.sort_by(|&a, &b| scores[b].total_cmp(&scores[a]));
        peaks.truncate(CANDIDATES);
        peaks.into_iter().map(|i| low + step * i as f64).collect()
    }
}

/// A partial takes part in the last climb when it explains this many times the noise variance (two
/// real coefficients explain 2 on average by chance).
const STANDS_OUT: f64 = 9.0;

/// Bayesian information criterion of a model of `partials` that explains `explained` of `energy`,
/// against noise alone; higher is better.
fn criterion(n: usize, energy: f64, explained: f64, partials: usize) -> f64 {
    let rest = ((energy - explained) / energy).max(1e-15);
    let parameters = 2.0 * partials as f64 + 1.0;
    -0.5 * n as f64 * rest.ln() - 0.5 * parameters * (n as f64).ln()
}

/// Climbs to the maximum of `value` near `start` by parabolas, `rounds` times with shrinking steps.
fn climb(start: f64, first_step: f64, rounds: usize, value: impl Fn(f64) -> f64) -> f64 {
    let mut at = start;
    let mut step = first_step;
    for _ in 0..rounds {
        let (low, middle, high) = (value(at - step), value(at), value(at + step));
        let bend = low - 2.0 * middle + high;
        let shift = if bend < 0.0 {
            (0.5 * step * (low - high) / bend).clamp(-step, step)
        } else if low > high {
            -step
        } else {
            step
        };
        at += shift;
        step = (step * 0.3).max(shift.abs() * 0.3).min(step);
    }
    at
}

/// Least-squares fit of partials of one fundamental.
struct Fit {
    /// Multiples of the fundamental in the model.
    partials: Vec<usize>,
    /// Energy each one adds to those before it.
    each: Vec<f64>,
    /// Energy of all.
    explained: f64,
    criterion: f64,
}

impl Fit {
    /// The best of the models with partials 1 … m, m up to `most`.
    fn nested(frame: &[f64], energy: f64, cycles_per_sample: f64, most: usize) -> Option<Self> {
        let all: Vec<usize> = (1..=most).collect();
        let mut fit = Self::of(frame, cycles_per_sample, &all)?;
        let mut sum = 0.0;
        let mut best = (f64::NEG_INFINITY, 0, 0.0);
        for (m, each) in fit.each.iter().enumerate() {
            sum += each;
            let value = criterion(frame.len(), energy, sum, m + 1);
            if value > best.0 {
                best = (value, m + 1, sum);
            }
        }
        fit.partials.truncate(best.1);
        fit.each.truncate(best.1);
        fit.explained = best.2;
        fit.criterion = best.0;
        Some(fit)
    }

    /// With exactly the given `partials`.
    fn of(frame: &[f64], cycles_per_sample: f64, partials: &[usize]) -> Option<Self> {
        let n = frame.len();
        let omega = std::f64::consts::TAU * cycles_per_sample;
        let middle = (n as f64 - 1.0) / 2.0;
        // About the frame's middle cosines are even and sines are odd: the two never mix, and
        // each set has its own small Gram matrix. The constant joins the cosines, so that an
        // offset of the converter is neither taken for signal nor left to bend the fit.
        let mut even = vec![frame.iter().sum::<f64>()];
        let mut odd = Vec::with_capacity(partials.len());
        for &l in partials {
            let (cosine, sine) = project(frame, omega * l as f64, middle);
            even.push(cosine);
            odd.push(sine);
        }
        let kernel = |multiple: f64| dirichlet(n, multiple * omega);
        let gram = |columns: &[usize], sign: f64| {
            let size = columns.len();
            let mut gram = vec![0.0; size * size];
            for (i, &a) in columns.iter().enumerate() {
                for (j, &b) in columns.iter().enumerate().take(i + 1) {
                    let (near, far) = (kernel(a as f64 - b as f64), kernel((a + b) as f64));
                    gram[i * size + j] = 0.5 * (near + sign * far);
                }
            }
            gram
        };
        let with_constant: Vec<usize> =
            std::iter::once(0).chain(partials.iter().copied()).collect();
        let even = energies(&mut gram(&with_constant, 1.0), even)?;
        let odd = energies(&mut gram(partials, -1.0), odd)?;
        let each: Vec<f64> = even.iter().skip(1).zip(&odd).map(|(a, b)| a + b).collect();
        Some(Self {
            partials: partials.to_vec(),
            explained: each.iter().sum(),
            each,
            criterion: f64::NAN,
        })
    }
}

/// Sums of `frame` with the cosine and the sine of `omega` about `middle`.
fn project(frame: &[f64], omega: f64, middle: f64) -> (f64, f64) {
    let mut turn = Complex::from_polar(1.0, -omega * middle);
    let step = Complex::from_polar(1.0, omega);
    let mut sum = Complex::new(0.0, 0.0);
    for block in frame.chunks(256) {
        for x in block {
            sum += turn * *x;
            turn *= step;
        }
        // A recurrence of unit steps drifts off the unit circle by rounding alone.
        turn /= turn.norm();
    }
    (sum.re, sum.im)
}

/// sin(nθ/2)/sin(θ/2): the sum of cos(kθ) over n points about their middle.
fn dirichlet(n: usize, theta: f64) -> f64 {
    let half = theta / 2.0;
    if half.sin().abs() < 1e-9 { n as f64 } else { (n as f64 * half).sin() / half.sin() }
}

/// Energy that each column adds, by Cholesky factorisation of the Gram matrix (lower triangle,
/// `[m][m]`, overwritten) and forward substitution; `None` when columns are not independent.
fn energies(gram: &mut [f64], mut projected: Vec<f64>) -> Option<Vec<f64>> {
    let size = projected.len();
    for i in 0..size {
        for j in 0..=i {
            let mut sum = gram[i * size + j];
            for k in 0..j {
                sum -= gram[i * size + k] * gram[j * size + k];
            }
            if i == j {
                if !(sum > 1e-9) {
                    return None;
                }
                gram[i * size + i] = sum.sqrt();
            } else {
                gram[i * size + j] = sum / gram[j * size + j];
            }
        }
        let mut value = projected[i];
        for k in 0..i {
            value -= gram[i * size + k] * projected[k];
        }
        projected[i] = value / gram[i * size + i];
    }
    Some(projected.iter().map(|v| v * v).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(hz: f64, levels: &[f64]) -> Vec<f64> {
        (0..2880)
            .map(|i| {
                let t = f64::from(i) / 48_000.0;
                levels
                    .iter()
                    .enumerate()
                    .map(|(l, a)| {
                        let n = (l + 1) as f64;
                        a * (std::f64::consts::TAU * hz * n * t + n * n).cos()
                    })
                    .sum()
            })
            .collect()
    }

    #[test]
    fn a_clean_tone_is_found_to_a_hundred_thousandth_of_a_cent() {
        for hz in [230.0, 523.25, 1150.3] {
            let found = estimate(&tone(hz, &[0.2, 1.0, 0.5, 0.1]), 48_000.0).unwrap();
            let cents = 1200.0 * (found.hz / hz).log2();
            assert!(cents.abs() < 1e-5, "{hz}: {found:?} {cents}");
        }
    }

    #[test]
    fn a_fundamental_under_its_octave_is_not_lost() {
        let found = estimate(&tone(523.25, &[0.02, 1.0, 0.01, 0.5, 0.01, 0.2]), 48_000.0).unwrap();
        assert!((found.hz - 523.25).abs() < 0.01, "{found:?}");
    }

    #[test]
    fn silence_and_stubs_have_no_fundamental() {
        assert_eq!(estimate(&[0.0; 2880], 48_000.0), None);
        assert_eq!(estimate(&[1.0; 2880], 48_000.0), None);
        assert_eq!(estimate(&[0.1, -0.1], 48_000.0), None);
        assert_eq!(estimate(&[], 48_000.0), None);
    }
}
