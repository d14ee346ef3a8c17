//! A sound seen along its own pitch: amplitudes at multiples of a slowly moving reference.
//!
//! The samples are resampled so that the reference keeps a constant number of samples per period;
//! Hann frames of a whole number of periods then have every multiple of the reference on a bin of
//! its own, however the pitch drifts, with the zeros of the window on the other multiples. Bin k
//! of frame b holds the complex amplitude at k/`bins_per_unit` times the reference; its phase is
//! counted from the reference's own, so that a partial that follows the reference stands still.

use std::ops::Range;
use std::sync::{Arc, OnceLock};

use realfft::num_complex::{Complex, Complex32};

use super::coarse::CoarseTrack;
use crate::dsp::real::RealTransform;
use crate::dsp::resample;
use crate::dsp::window::hann;
use crate::reading::find::hum::RoomLine;

/// Wanted length of a frame in seconds; short, to see rungs come and go.
const FRAME_S: f64 = 0.02;
/// Fewest periods per frame: partials half a period's rate apart stay apart.
const LEAST_PERIODS: f64 = 8.0;
/// Frames begin this many times per frame length.
const OVERLAP: usize = 4;
/// Sum over all lags of the correlation between the noise of frames that overlap by ¾ (Hann).
pub const NOISE_CORRELATION: f64 = 8.0 / 3.0;
/// Equivalent noise bandwidth of the Hann window, in bins.
pub const NOISE_BANDWIDTH_BINS: f64 = 1.5;

/// Turns back by quarters of a cycle.
const QUARTERS: [Complex32; 4] = [
    Complex32::new(1.0, 0.0),
    Complex32::new(0.0, -1.0),
    Complex32::new(-1.0, 0.0),
    Complex32::new(0.0, 1.0),
];

/// Complex amplitudes over time and order.
#[derive(Debug, Clone)]
pub struct Orders {
    /// Bins per multiple of the reference.
    pub bins_per_unit: usize,
    /// `[frames]` middle of each frame, in seconds of the take.
    pub time_s: Vec<f64>,
    /// `[frames]` phase of the reference at the middle of each frame, in cycles.
    pub reference_cycles: Vec<f64>,
    /// Mean frequency of the reference, in hertz.
    pub reference_hz: f64,
    /// Bins per frame.
    pub bins: usize,
    /// Lines that the room holds whether the reed sounds or not.
    pub room_lines: Vec<RoomLine>,
    /// `[bins × frames]`; the amplitude of a partial on a bin is the modulus. Shared by what counts
    /// the same amplitudes otherwise.
    amplitudes: Arc<Vec<Complex32>>,
    /// `[bins × (frames + 1)]` sums of |Z|² from the first frame on, made when first asked for: the
    /// mean square of a bin is asked for over the same frames by noise, families and rungs.
    sums: Arc<OnceLock<Vec<f64>>>,
}

impl Orders {
    /// Analyses `samples`, the first of which lies at `offset_s`, along `reference`, between the
    /// first and last sample, up to `top_hz`. `None` when there is less than one frame.
    pub fn new(
        samples: &[f32],
        sample_rate_hz: f64,
        offset_s: f64,
        reference: &CoarseTrack,
        top_hz: f64,
    ) -> Option<Self> {
        let duration_s = samples.len() as f64 / sample_rate_hz;
        let middle_hz = reference.at(offset_s + duration_s / 2.0);
        if !(middle_hz > 0.0) {
            return None;
        }
        let periods = ((FRAME_S * middle_hz).max(LEAST_PERIODS)).log2().round().exp2() as usize;
        Self::framed(samples, sample_rate_hz, offset_s, reference, top_hz, periods)
    }

    /// The same in frames of so many `periods`, a power of two.
    pub fn framed(
        samples: &[f32],
        sample_rate_hz: f64,
        offset_s: f64,
        reference: &CoarseTrack,
        top_hz: f64,
        periods: usize,
    ) -> Option<Self> {
        let duration_s = samples.len() as f64 / sample_rate_hz;
        let middle_hz = reference.at(offset_s + duration_s / 2.0);
        if !(middle_hz > 0.0) {
            return None;
        }
        // One multiple more than is looked at, since noise is read beside the multiples.
        let per_period = samples_per_period((sample_rate_hz / 2.0 + top_hz) / middle_hz + 1.0);
        let n = periods * per_period;
        let hop = n / OVERLAP;
        let warped = Warped::new(samples, sample_rate_hz, offset_s, reference, per_period, hop / 4);
        if warped.samples.len() < n {
            return None;
        }
        let mut transform = RealTransform::new(n);
        let weights = hann(n);
        let scale = 2.0 / weights.iter().sum::<f64>();
        let window: Vec<f32> = weights.iter().map(|w| (w * scale) as f32).collect();
        let bins = ((top_hz / middle_hz + 0.5) * periods as f64).ceil() as usize;
        let bins = bins.min(n / 2);
        let frames = (warped.samples.len() - n) / hop + 1;
        let mut result = Self {
            bins_per_unit: periods,
            time_s: Vec::with_capacity(frames),
            reference_cycles: Vec::with_capacity(frames),
            reference_hz: middle_hz,
            bins,
            room_lines: Vec::new(),
            amplitudes: Arc::default(),
            sums: Arc::default(),
        };
        let mut amplitudes = vec![Complex32::default(); frames * bins];
        for b in 0..frames {
            let start = b * hop;
            let spectrum = transform.bins(&warped.samples[start..start + n], &window, 0.0);
            // The frame starts b·hop samples after the first: a quarter of the frame each, so bin
            // k has turned by k·b quarters.
            let column = amplitudes.iter_mut().skip(b).step_by(frames);
            for (k, (out, z)) in column.zip(spectrum).enumerate() {
                *out = match k * b % 4 {
                    0 => *z,
                    1 => Complex32::new(z.im, -z.re),
                    2 => -z,
                    _ => Complex32::new(-z.im, z.re),
                };
            }
            let middle = start + n / 2;
            result.time_s.push(*warped.time_s.get(middle * 4 / hop)?);
            result.reference_cycles.push(middle as f64 / per_period as f64);
        }
        result.amplitudes = amplitudes.into();
        let last = frames - 1;
        if frames > 1 {
            result.reference_hz = (result.reference_cycles[last] - result.reference_cycles[0])
                / (result.time_s[last] - result.time_s[0]);
        }
        Some(result)
    }

    /// The same amplitudes counted in multiples of the reference's `part`th part; `None` where too
    /// few bins would be left between them.
    pub fn counted_in_parts(&self, part: usize) -> Option<Self> {
        let bins_per_unit = self.bins_per_unit / part;
        if bins_per_unit * part != self.bins_per_unit || (bins_per_unit as f64) < LEAST_PERIODS {
            return None;
        }
        Some(Self {
            bins_per_unit,
            reference_cycles: self.reference_cycles.iter().map(|c| c / part as f64).collect(),
            reference_hz: self.reference_hz / part as f64,
            ..self.clone()
        })
    }

    /// Number of frames.
    pub fn frames(&self) -> usize {
        self.time_s.len()
    }

    /// Amplitudes in `bin` over `frames`; nothing beyond the last bin.
    pub fn bin(&self, bin: usize, frames: Range<usize>) -> &[Complex32] {
        let first = bin * self.frames();
        self.amplitudes.get(first + frames.start..first + frames.end).unwrap_or_default()
    }

    /// The phase of `bin`'s share of the reference in the middle of `frame`, as a factor: by a
    /// quarter of the bin's cycles each, since a frame begins a quarter after the last.
    pub fn bin_turn(&self, frame: usize, bin: usize) -> Complex<f64> {
        let turn = QUARTERS[bin * (frame + 2) % 4];
        Complex::new(f64::from(turn.re), -f64::from(turn.im))
    }

    /// Mean |Z|² in `bin` over `frames`: twice the power of a partial on it.
    pub fn mean_square(&self, bin: usize, frames: Range<usize>) -> f64 {
        let sums = self.sums.get_or_init(|| self.running_sums());
        let first = bin * (self.frames() + 1);
        let at = |frame: usize| sums.get(first + frame).copied().unwrap_or_default();
        (at(frames.end) - at(frames.start)).max(0.0) / frames.len().max(1) as f64
    }

    fn running_sums(&self) -> Vec<f64> {
        let frames = self.frames();
        let mut sums = Vec::with_capacity(self.bins * (frames + 1));
        for series in self.amplitudes.chunks_exact(frames.max(1)) {
            let mut sum = 0.0;
            sums.push(sum);
            sums.extend(series.iter().map(|z| {
                sum += f64::from(z.norm_sqr());
                sum
            }));
        }
        sums
    }

    /// Width of a bin in hertz.
    pub fn bin_hz(&self) -> f64 {
        self.reference_hz / self.bins_per_unit as f64
    }

    /// Mean time between frames, in seconds.
    pub fn hop_s(&self) -> f64 {
        let n = self.frames();
        if n < 2 {
            return self.bins_per_unit as f64 / self.reference_hz / OVERLAP as f64;
        }
        (self.time_s[n - 1] - self.time_s[0]) / (n - 1) as f64
    }
}

/// Samples per period of the reference: at least `least`, even and a length that transforms well.
///
/// At twice what is looked at, what lies over half the sample rate would need a filter before it
/// is folded. With half the sample rate on top of the highest frequency looked at, all that is
/// folded lands above that.
fn samples_per_period(least: f64) -> usize {
    let power = least.max(4.0).log2().ceil().exp2();
    [0.625, 0.75]
        .into_iter()
        .map(|part| part * power)
        .find(|n| *n >= least && *n >= 8.0)
        .unwrap_or(power) as usize
}

/// The sound at a constant number of samples per period of the reference.
#[derive(Debug, Default)]
struct Warped {
    samples: Vec<f32>,
    /// Moments of every `every`th sample, in seconds of the take.
    time_s: Vec<f64>,
}

impl Warped {
    fn new(
        samples: &[f32],
        sample_rate_hz: f64,
        offset_s: f64,
        reference: &CoarseTrack,
        per_period: usize,
        every: usize,
    ) -> Self {
        let mut warped = Self::default();
        let middle_s = offset_s + samples.len() as f64 / sample_rate_hz / 2.0;
        let per_sample = reference.at(middle_s) * per_period as f64 / sample_rate_hz;
        let wanted = 1.05 * per_sample.min(4.0) * samples.len() as f64;
        warped.samples.reserve(wanted as usize);
        let mut position = 0.0_f64;
        let last = samples.len() as f64 - 1.0;
        let every = every.max(1);
        while position <= last {
            // The reference moves slowly: its pace is looked up once per stretch. What the pace is
            // matters little; that the moments are exactly those used does.
            let hz = reference.at(offset_s + position / sample_rate_hz);
            let step = sample_rate_hz / (hz * per_period as f64);
            if !(step > 0.0) {
                break;
            }
            warped.time_s.push(offset_s + position / sample_rate_hz);
            let stretch = (position, step);
            if sample_rate_hz < 40_000.0 {
                resample::sharp().extend(&mut warped.samples, samples, stretch, every);
            } else {
                resample::plain().extend(&mut warped.samples, samples, stretch, every);
            }
            position += step * every as f64;
        }
        warped
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The slow judge: each frame's power added by hand.
    #[test]
    fn the_mean_square_of_a_bin_is_the_mean_of_its_frames_however_it_is_counted() {
        let samples: Vec<f32> = (0..24_000)
            .map(|n| (f64::from(n) * std::f64::consts::TAU * 500.0 / 48_000.0).sin() as f32)
            .collect();
        let reference = CoarseTrack { knots: vec![(0.0, 500.0), (0.5, 500.0)], agreement: 1.0 };
        let orders = Orders::new(&samples, 48_000.0, 0.0, &reference, 4000.0).unwrap();
        let halves = orders.counted_in_parts(1).unwrap();
        assert!(Arc::ptr_eq(&orders.amplitudes, &halves.amplitudes), "no second matrix");
        let frames = 3..orders.frames() - 2;
        for bin in [0, 1, orders.bins_per_unit, orders.bins - 1] {
            let squares = orders.bin(bin, frames.clone()).iter().map(|z| f64::from(z.norm_sqr()));
            let slow = squares.sum::<f64>() / frames.len() as f64;
            let found = halves.mean_square(bin, frames.clone());
            assert!((found - slow).abs() <= 1e-9 * slow.max(1e-3), "{bin}: {found} {slow}");
        }
        // A sine of amplitude 1 on its bin.
        let whole = orders.mean_square(orders.bins_per_unit, frames);
        assert!((whole - 1.0).abs() < 1e-3, "{whole}");
        assert_eq!(orders.mean_square(orders.bins, 0..2), 0.0);
    }
}
