//! Whether the noise of the pauses bubbles, as what a noise suppressor leaves does.
//!
//! The power of noise in one bin of a spectrum is exponentially distributed from frame to frame: its
//! mean lies 10·γ/ln 10 = 2.5 dB over its geometric mean, γ being Euler's constant. A suppressor turns
//! most bins down and lets a few through, others in each frame: the mean then lies farther over.

use crate::dsp::spectrum::Spectrum;
use crate::dsp::statistics::quantile_in_place;

/// Length of a frame; one begins every other such length.
const FRAME_S: f64 = 0.0213;
/// Frames kept: the first minute and a half.
const MOST_FRAMES: usize = 2000;
/// Band that is looked at.
const BAND_HZ: (f64, f64) = (300.0, 8000.0);
/// Added to every density (−140 dBFS over the band): digital silence is gated, not suppressed.
const LEAST_DENSITY: f32 = 1e-18;
/// Frames of the pauses that must be there.
const LEAST_FRAMES: usize = 12;
/// They must be alike in level, in decibels between their quartiles, as speech is not, …
const ALIKE_DB: f64 = 2.0;
/// … and the quietest part of them is looked at: what sounds in a pause is louder.
const QUIETEST: f64 = 0.4;
/// Mean over geometric mean from which noise bubbles. Our choice: spectral subtraction left 4.1 dB and
/// more, FFmpeg's afftdn 3.3 to 4.1; rooms, streets and codecs 3.0 and less, water up to 3.4.
const BUBBLES_DB: f64 = 3.7;

/// Spectra of a take's frames.
pub(super) struct Spectra {
    sample_rate_hz: f64,
    spectrum: Spectrum,
    band: (usize, usize),
    density: Vec<f32>,
    waiting: Vec<f32>,
    /// Samples before `waiting`.
    done: u64,
    /// Middle of each frame in seconds, and its densities in decibels.
    frames: Vec<(f64, Vec<f32>)>,
}

impl std::fmt::Debug for Spectra {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Spectra").field("frames", &self.frames.len()).finish_non_exhaustive()
    }
}

impl Spectra {
    pub(super) fn new(sample_rate_hz: u32) -> Self {
        let rate = f64::from(sample_rate_hz);
        let n = 2 * ((rate * FRAME_S / 2.0).round() as usize).max(8);
        let spectrum = Spectrum::new(n, rate);
        let bin = |hz: f64| ((hz / spectrum.bin_hz()) as usize).min(n / 2);
        let band = (bin(BAND_HZ.0) + 1, bin(BAND_HZ.1.min(0.4 * rate)));
        Self {
            sample_rate_hz: rate,
            band,
            density: vec![0.0; n / 2 + 1],
            waiting: Vec::with_capacity(2 * n),
            done: 0,
            frames: Vec::new(),
            spectrum,
        }
    }

    pub(super) fn push(&mut self, samples: &[f32]) {
        let n = self.spectrum.frame_len();
        for piece in samples.chunks(n) {
            if self.frames.len() >= MOST_FRAMES {
                return;
            }
            self.waiting.extend_from_slice(piece);
            if self.waiting.len() < 2 * n {
                continue;
            }
            self.spectrum.density(&self.waiting[..n], &mut self.density);
            let middle_s = (self.done as f64 + 0.5 * n as f64) / self.sample_rate_hz;
            let band = self.density.get(self.band.0..self.band.1).unwrap_or_default();
            let db = band.iter().map(|d| 10.0 * (d + LEAST_DENSITY).log10()).collect();
            self.frames.push((middle_s, db));
            self.done += 2 * n as u64;
            self.waiting.drain(..2 * n);
        }
    }

    /// Whether the noise within these stretches, in seconds, bubbles.
    pub(super) fn bubble_within(&self, quiet_s: &[(f64, f64)]) -> bool {
        let is_quiet = |at_s: f64| quiet_s.iter().any(|(from, to)| (*from..*to).contains(&at_s));
        let frames: Vec<&[f32]> = self
            .frames
            .iter()
            .filter(|(at_s, _)| is_quiet(*at_s))
            .map(|(_, db)| db.as_slice())
            .collect();
        bubble(&frames)
    }
}

/// Whether what these frames hold bubbles.
///
/// * `frames`: `[frames][bins]` densities in decibels.
fn bubble(frames: &[&[f32]]) -> bool {
    let mean = |db: &[f32]| db.iter().map(|db| f64::from(*db)).sum::<f64>() / db.len() as f64;
    let levels: Vec<f64> = frames.iter().map(|frame| mean(frame)).collect();
    let quantile = |of: &[f64], q: f64| quantile_in_place(&mut of.to_vec(), q);
    let Some(highest) = quantile(&levels, QUIETEST) else { return false };
    let quiet: Vec<(&[f32], f64)> = frames
        .iter()
        .zip(&levels)
        .filter(|(_, level)| **level <= highest)
        .map(|(frame, level)| (*frame, *level))
        .collect();
    let spread = quantile(&levels, 0.75).zip(quantile(&levels, 0.25)).map(|(high, low)| high - low);
    if frames.len() < LEAST_FRAMES || spread.is_none_or(|spread| spread > ALIKE_DB) {
        return false;
    }
    let bins = quiet.first().map_or(0, |(frame, _)| frame.len());
    // Each bin against its own geometric mean, each frame against its own level.
    let (mut power, mut logarithm, mut count) = (0.0, 0.0, 0.0);
    for bin in 0..bins {
        let relative = |(frame, level): &(&[f32], f64)| f64::from(frame[bin]) - level;
        let middle = quiet.iter().map(relative).sum::<f64>() / quiet.len() as f64;
        for frame in &quiet {
            let db = relative(frame) - middle;
            power += 10.0_f64.powf(db / 10.0);
            logarithm += db;
            count += 1.0;
        }
    }
    count > 0.0 && 10.0 * (power / count).log10() - logarithm / count > BUBBLES_DB
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Densities of noise, exponentially distributed, some bins of each frame let through and the
    /// others turned down by `down_db`.
    fn noise(down_db: f64) -> Vec<Vec<f32>> {
        let mut state = 1_u64;
        let mut uniform = move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            ((state >> 33) as f64 + 0.5) / f64::from(1_u32 << 31)
        };
        let mut bin = || {
            let power: f64 = -uniform().ln();
            let kept = if power > 2.0 { 0.0 } else { -down_db };
            (10.0 * power.log10() + kept - 60.0) as f32
        };
        (0..60).map(|_| (0..160).map(|_| bin()).collect()).collect()
    }

    #[test]
    fn noise_as_it_is_does_not_bubble_and_what_a_suppressor_leaves_does() {
        let judged =
            |frames: &[Vec<f32>]| bubble(&frames.iter().map(Vec::as_slice).collect::<Vec<_>>());
        assert!(!judged(&noise(0.0)));
        assert!(judged(&noise(12.0)));
        assert!(!judged(&noise(12.0)[..5]));
        assert!(!judged(&[]));
    }
}
