//! Spectra for the eye: of a stretch of samples on the average, and over time.
//!
//! Samples at full scale ±1 enter. Powers are scaled so that a sine's peak reads as its mean
//! square, whatever the window's length; bins run from DC up to half the sample rate.

use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use crate::dsp::window::{hann, noise_bandwidth_bins};

/// Longest window of an average spectrum, in seconds: tells lines 12 Hz apart.
const AVERAGE_WINDOW_S: f64 = 0.18;
/// Window of a spectrogram, in seconds.
const MOMENT_WINDOW_S: f64 = 0.045;
/// Frames averaged at most, so that a long crow costs no more than a short one.
const MOST_FRAMES: usize = 200;

/// Power over frequency.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Spectrum {
    /// Width of a bin in hertz.
    pub(super) bin_hz: f64,
    /// Equivalent noise bandwidth in hertz.
    pub(super) noise_bandwidth_hz: f64,
    /// `[bins]` mean square of a sine whose peak would stand here.
    pub(super) mean_square: Vec<f64>,
}

/// Takes the spectrum of one window at a time.
struct Frames {
    window: Vec<f64>,
    gain: f64,
    transform: Arc<dyn RealToComplex<f64>>,
    input: Vec<f64>,
    output: Vec<Complex<f64>>,
    scratch: Vec<Complex<f64>>,
}

impl Frames {
    /// For windows of `length` samples, at least 2.
    fn new(length: usize) -> Self {
        let window = hann(length);
        let sum: f64 = window.iter().sum();
        let transform = RealFftPlanner::new().plan_fft_forward(length);
        Self {
            gain: 2.0 / (sum * sum),
            input: transform.make_input_vec(),
            output: transform.make_output_vec(),
            scratch: transform.make_scratch_vec(),
            window,
            transform,
        }
    }

    /// Powers of the window that starts at `start`; samples outside the slice count as 0.
    fn powers(&mut self, samples: &[f32], start: isize) -> impl Iterator<Item = f64> + '_ {
        for (n, (slot, weight)) in self.input.iter_mut().zip(&self.window).enumerate() {
            let sample = start.checked_add_unsigned(n).and_then(|at| usize::try_from(at).ok());
            let sample = sample.and_then(|at| samples.get(at)).copied().unwrap_or(0.0);
            *slot = f64::from(sample) * weight;
        }
        // All three buffers were made by the transform itself, so their lengths fit.
        let _ = self.transform.process_with_scratch(
            &mut self.input,
            &mut self.output,
            &mut self.scratch,
        );
        self.output.iter().map(|bin| bin.norm_sqr() * self.gain)
    }

    fn noise_bandwidth_bins(&self) -> f64 {
        // The weights of a Hann window of two samples or more sum to more than 0.
        noise_bandwidth_bins(&self.window).unwrap_or(1.0)
    }
}

/// The largest power of two of samples that fits in `seconds`, at least 64.
fn window_length(sample_rate_hz: u32, seconds: f64) -> usize {
    let most = (f64::from(sample_rate_hz) * seconds).max(64.0) as usize;
    1 << most.ilog2()
}

/// Mean spectrum of `samples`; `None` under 64 samples or without a rate.
pub(super) fn mean_spectrum(samples: &[f32], sample_rate_hz: u32) -> Option<Spectrum> {
    if samples.len() < 64 || sample_rate_hz == 0 {
        return None;
    }
    let length = window_length(sample_rate_hz, AVERAGE_WINDOW_S).min(1 << samples.len().ilog2());
    let mut frames = Frames::new(length);
    let last = samples.len() - length;
    let count = (2 * last / length + 1).min(MOST_FRAMES);
    let mut mean_square = vec![0.0; length / 2 + 1];
    for index in 0..count {
        let start = if count > 1 { last * index / (count - 1) } else { last / 2 };
        for (sum, power) in mean_square.iter_mut().zip(frames.powers(samples, start as isize)) {
            *sum += power / count as f64;
        }
    }
    let bin_hz = f64::from(sample_rate_hz) / length as f64;
    let noise_bandwidth_hz = frames.noise_bandwidth_bins() * bin_hz;
    Some(Spectrum { bin_hz, noise_bandwidth_hz, mean_square })
}

/// Power over time and frequency, on a grid of pixels.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Spectrogram {
    /// `[columns][rows]` mean square; rows from low to high on a logarithmic scale.
    pub(super) columns: Vec<Vec<f64>>,
}

/// Spectrogram of the whole take in `columns` equal times and `rows` equal steps of log frequency
/// from `from_hz` to `to_hz`. Of a column longer than a window up to four moments are looked at,
/// and the loudest shown: time and memory depend on the picture, not on the take's length.
/// `None` under 64 samples or without a rate.
pub(super) fn spectrogram(
    samples: &[f32],
    sample_rate_hz: u32,
    (from_hz, to_hz): (f64, f64),
    columns: usize,
    rows: usize,
) -> Option<Spectrogram> {
    if samples.len() < 64 || sample_rate_hz == 0 || columns == 0 || rows == 0 {
        return None;
    }
    let length = window_length(sample_rate_hz, MOMENT_WINDOW_S);
    let mut frames = Frames::new(length);
    let bin_hz = f64::from(sample_rate_hz) / length as f64;
    let edge_bin = |row: usize| from_hz * (to_hz / from_hz).powf(row as f64 / rows as f64) / bin_hz;
    let edges: Vec<f64> = (0..=rows).map(edge_bin).collect();
    let width = samples.len() as f64 / columns as f64;
    let moments = (2.0 * width / length as f64).ceil().clamp(1.0, 4.0) as usize;
    let mut spectrum = vec![0.0; length / 2 + 1];
    let columns = (0..columns)
        .map(|column| {
            spectrum.fill(0.0);
            for moment in 0..moments {
                let share = (moment as f64 + 0.5) / moments as f64;
                let centre = (column as f64 + share) * width;
                let start = centre as isize - (length / 2) as isize;
                for (most, power) in spectrum.iter_mut().zip(frames.powers(samples, start)) {
                    *most = power.max(*most);
                }
            }
            edges.windows(2).map(|edge| most_between(&spectrum, edge[0], edge[1])).collect()
        })
        .collect();
    Some(Spectrogram { columns })
}

/// The most power between two fractional bins; between bins that lie wider than that, the power
/// interpolated at their middle.
fn most_between(spectrum: &[f64], from: f64, to: f64) -> f64 {
    let inside = from.ceil() as usize..=to.floor() as usize;
    let most = spectrum.get(inside).unwrap_or_default().iter().copied().reduce(f64::max);
    most.unwrap_or_else(|| {
        let middle = (from + to) / 2.0;
        let (below, share) = (middle.floor() as usize, middle.fract());
        let at = |bin: usize| spectrum.get(bin).copied().unwrap_or(0.0);
        at(below) * (1.0 - share) + at(below + 1) * share
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sine(hz: f64, amplitude: f64, sample_rate_hz: u32, count: usize) -> Vec<f32> {
        let step = std::f64::consts::TAU * hz / f64::from(sample_rate_hz);
        (0..count).map(|n| (amplitude * (step * n as f64).sin()) as f32).collect()
    }

    /// A sine of amplitude ½ has the mean square 1/8. A Hann window loses at most 1.42 dB between
    /// bins (Harris 1978, Table 1, from memory); the tone here stands on a bin.
    #[test]
    fn a_sine_on_a_bin_reads_as_its_mean_square() {
        let spectrum = mean_spectrum(&sine(750.0, 0.5, 48_000, 48_000), 48_000).unwrap();
        let bin = (750.0 / spectrum.bin_hz).round() as usize;
        assert!((spectrum.mean_square[bin] - 0.125).abs() < 1e-6);
        assert!((spectrum.noise_bandwidth_hz / spectrum.bin_hz - 1.5).abs() < 1e-9);
    }

    #[test]
    fn a_spectrogram_row_holds_the_tone_it_covers() {
        let samples = sine(1000.0, 1.0, 8_000, 16_000);
        let grid = spectrogram(&samples, 8_000, (100.0, 4_000.0), 20, 50).unwrap();
        let loudest = grid.columns[10]
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.total_cmp(b.1))
            .map(|(row, _)| 100.0 * 40f64.powf((row as f64 + 0.5) / 50.0));
        let hz = loudest.unwrap();
        assert!((900.0..1100.0).contains(&hz), "{hz}");
    }

    #[test]
    fn no_samples_make_no_spectrum() {
        assert_eq!(mean_spectrum(&[0.5], 48_000), None);
        assert_eq!(mean_spectrum(&[0.5; 100], 0), None);
        assert_eq!(spectrogram(&[], 48_000, (100.0, 1e4), 10, 10), None);
        assert!(mean_spectrum(&[0.5; 64], 192_000).is_some());
    }
}
