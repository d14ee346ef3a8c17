//! Short frames of a take: how loud each is in six bands, and how periodic.
//!
//! Samples enter in pieces of any size; frames leave at fixed positions counted from the first
//! sample, so the pieces make no difference.

use crate::dsp::periodicity::{Period, Periodicity};
use crate::dsp::spectrum::Spectrum;
use crate::dsp::statistics::sum;

/// Bands in which a sound may rise over the room noise. The lowest is kept wide, so that chance
/// alone (a dozen degrees of freedom in a frame) does not lift it by 6 dB.
pub const BAND_EDGES_HZ: [f64; BANDS + 1] = [100.0, 400.0, 800.0, 1600.0, 3200.0, 6400.0, 10_000.0];
/// Number of bands.
pub const BANDS: usize = 6;
/// Frames begin this often.
const HOP_S: f64 = 0.005;
/// Wanted length of a frame; the nearest power of two is taken.
const FRAME_S: f64 = 0.021;
/// Every so many frames are tested for periodicity.
pub const FRAMES_PER_PERIODICITY: u64 = 2;
/// Noise floors are kept up to this frequency.
const FLOOR_TOP_HZ: f64 = 11_300.0;

/// One short frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Mean power spectral density in each band, full scale squared per hertz; 0 in bands above
    /// half the sample rate.
    pub bands: [f32; BANDS],
    /// Its strongest period, where it was tested and has one.
    pub period: Option<Period>,
}

/// Frame geometry and transforms for one sample rate.
#[derive(Debug)]
pub struct Framer {
    sample_rate_hz: f64,
    hop: usize,
    spectrum: Spectrum,
    periodicity: Periodicity,
    density: Vec<f32>,
    /// Whether the last frame has gone into the periodicity already.
    transformed: bool,
    band_bins: [(usize, usize); BANDS],
    floor_bins: usize,
}

impl Framer {
    /// For samples at `sample_rate_hz`.
    pub fn new(sample_rate_hz: f64) -> Self {
        let n = (sample_rate_hz * FRAME_S).log2().round().exp2() as usize;
        let spectrum = Spectrum::new(n, sample_rate_hz);
        let bin_hz = spectrum.bin_hz();
        let top = n / 2;
        let bin = |hz: f64| ((hz / bin_hz).round() as usize).min(top);
        Self {
            sample_rate_hz,
            hop: (sample_rate_hz * HOP_S).round().max(1.0) as usize,
            periodicity: Periodicity::new(n, sample_rate_hz, (100.0, 2000.0), (90.0, 6400.0)),
            density: vec![0.0; n / 2 + 1],
            transformed: false,
            band_bins: std::array::from_fn(|b| (bin(BAND_EDGES_HZ[b]), bin(BAND_EDGES_HZ[b + 1]))),
            floor_bins: bin(FLOOR_TOP_HZ) + 1,
            spectrum,
        }
    }

    /// Samples per frame.
    pub fn frame_len(&self) -> usize {
        self.spectrum.frame_len()
    }

    /// Samples between the beginnings of frames.
    pub fn hop(&self) -> usize {
        self.hop
    }

    /// Bins of a noise floor.
    pub fn floor_bins(&self) -> usize {
        self.floor_bins
    }

    /// Width of a bin of a noise floor, in hertz.
    pub fn bin_hz(&self) -> f64 {
        self.spectrum.bin_hz()
    }

    /// Middle of frame `index`, in seconds of the take.
    pub fn middle_s(&self, index: u64) -> f64 {
        (index as f64 * self.hop as f64 + self.frame_len() as f64 / 2.0) / self.sample_rate_hz
    }

    /// Spectrum of the frame that starts at `samples[0]`; its density stays in
    /// [`Framer::density`].
    ///
    /// * `period_next`: whether its period will probably be asked for next; the transform for that
    ///   serves both.
    pub fn bands(&mut self, samples: &[f32], period_next: bool) -> [f32; BANDS] {
        self.transformed = period_next;
        if period_next {
            let frame = samples.get(..self.frame_len()).unwrap_or(samples);
            let powers = self.periodicity.powers(frame).iter().step_by(2);
            self.spectrum.density_of(powers, &mut self.density);
        } else {
            self.spectrum.density(samples, &mut self.density);
        }
        std::array::from_fn(|b| {
            let (first, end) = self.band_bins[b];
            let bins = self.density.get(first..end).unwrap_or_default();
            sum(bins) / bins.len().max(1) as f32
        })
    }

    /// Density of the last frame up to [`Framer::floor_bins`], full scale squared per hertz.
    pub fn density(&self) -> &[f32] {
        &self.density[..self.floor_bins.min(self.density.len())]
    }

    /// Strongest period of the frame that starts at `samples[0]`, whose bands were asked for last.
    ///
    /// * `floor`: density of the room noise, or empty.
    pub fn period(&mut self, samples: &[f32], floor: &[f32]) -> Option<Period> {
        // Power of a bin of a Hann frame whose density is d: d · rate · Σw² / 2.
        let scale = (self.sample_rate_hz * 0.375 * self.frame_len() as f64 / 2.0) as f32;
        let noise: Vec<f32> = floor.iter().map(|d| d * scale).collect();
        if !std::mem::take(&mut self.transformed) {
            self.periodicity.powers(samples.get(..self.frame_len())?);
        }
        self.periodicity.strongest(&noise)
    }
}
