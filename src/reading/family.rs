//! Families of partials: their noise, their common phase, and how far one family stands from the
//! multiples of another.

use std::ops::Range;

use realfft::num_complex::Complex;

use super::orders::{NOISE_CORRELATION, Orders};
use crate::dsp::phase::PhaseTrack;

/// Mean power |Z|² of the noise at each multiple of a base, measured midway between multiples.
#[derive(Debug, Clone)]
pub struct NoiseProfile {
    /// `[multiples + 1]`, index 0 unused.
    pub mean_square: Vec<f64>,
}

impl NoiseProfile {
    /// Over `frames`, for multiples 1 … as far as the bins go, of a base of `base_bins` bins.
    pub fn new(orders: &Orders, base_bins: f64, frames: Range<usize>) -> Self {
        let multiples = (orders.bins as f64 / base_bins).floor() as usize;
        // The bins nearest the middle between two multiples; with room, one more to each side.
        let reach = usize::from(base_bins >= 8.0);
        let between: Vec<f64> = (0..=multiples)
            .map(|m| {
                let middle = ((m as f64 + 0.5) * base_bins).round() as usize;
                let bins = middle.saturating_sub(reach)..=middle + reach;
                let (mut sum, mut count) = (0.0, 0_u32);
                for bin in bins.filter(|bin| *bin < orders.bins) {
                    for frame in frames.clone() {
                        sum += orders.amplitude(frame, bin).norm_sqr();
                        count += 1;
                    }
                }
                if count > 0 { sum / f64::from(count) } else { f64::NAN }
            })
            .collect();
        let mean_square = (0..=multiples)
            .map(|m| {
                let sides = [m.checked_sub(1).map_or(f64::NAN, |i| between[i]), between[m]];
                let known: Vec<f64> = sides.into_iter().filter(|s| s.is_finite()).collect();
                let mean = known.iter().sum::<f64>() / known.len().max(1) as f64;
                mean.max(f64::MIN_POSITIVE)
            })
            .collect();
        Self { mean_square }
    }

    /// At multiple `m`.
    pub fn at(&self, m: usize) -> f64 {
        self.mean_square.get(m).or(self.mean_square.last()).copied().unwrap_or(f64::MIN_POSITIVE)
    }
}

/// The first phase steps are read from partials up to this many times the lowest.
const LOW_PARTIALS: usize = 6;

/// The partials of one base that belong together.
#[derive(Debug, Clone)]
pub struct Family<'a> {
    /// The sound.
    pub orders: &'a Orders,
    /// Bins per multiple of the base; need not be whole.
    pub base_bins: f64,
    /// Which multiples.
    pub multiples: Vec<usize>,
    /// Noise at each multiple of the base.
    pub noise: &'a NoiseProfile,
}

impl Family<'_> {
    /// Amplitude of a partial, from the bin nearest to it, its phase counted from `multiple` times
    /// the reference's share of the base.
    pub fn amplitude(&self, frame: usize, multiple: usize) -> Complex<f64> {
        let place = multiple as f64 * self.base_bins;
        let bin = place.round();
        let amplitude = self.orders.amplitude(frame, bin as usize);
        let aside = place - bin;
        if aside == 0.0 {
            return amplitude;
        }
        // The bin's phase is counted from its own multiple of the reference.
        let units = aside / self.orders.bins_per_unit as f64;
        let turn = -std::f64::consts::TAU * (units * self.orders.reference_cycles[frame]).fract();
        amplitude * Complex::from_polar(1.0 / main_lobe(aside), turn)
    }

    /// Mean power of the family over `frames`, noise taken off.
    pub fn power(&self, frames: Range<usize>) -> f64 {
        self.multiples.iter().map(|m| self.partial_power(*m, frames.clone())).sum()
    }

    /// Mean power of partial `multiple` over `frames`, noise taken off, not under 0.
    pub fn partial_power(&self, multiple: usize, frames: Range<usize>) -> f64 {
        let count = frames.len().max(1) as f64;
        let sum: f64 = frames.map(|b| self.amplitude(b, multiple).norm_sqr()).sum();
        0.5 * (sum / count - self.noise.at(multiple)).max(0.0)
    }

    /// Phase of the base as this family tells it, over `frames`. `None` when no partial stands
    /// over the noise.
    ///
    /// The phase steps from frame to frame are read first from the low partials, where they cannot
    /// wrap; then every partial is turned back by the phase found, its steady part becomes the
    /// yardstick of its phase, and all are averaged by their information m²·SNR.
    pub fn phase_track(&self, frames: Range<usize>) -> Option<PhaseTrack> {
        let count = frames.len();
        let lowest = *self.multiples.first()?;
        let mut offset = vec![0.0; count];
        for i in 1..count {
            offset[i] = offset[i - 1] + self.phase_step(frames.start + i, LOW_PARTIALS * lowest);
        }
        let mut information = 0.0;
        for reach in [6, 24, count] {
            information = self.refine(&frames, &mut offset, reach);
        }
        if !(information > 0.0) {
            return None;
        }
        let unit = self.base_bins / self.orders.bins_per_unit as f64;
        let noise = 1.0 / (std::f64::consts::TAU * (2.0 * information).sqrt());
        Some(PhaseTrack {
            time_s: self.orders.time_s[frames.clone()].to_vec(),
            cycles: frames
                .zip(&offset)
                .map(|(b, offset)| self.orders.reference_cycles[b] * unit + offset)
                .collect(),
            noise_cycles: vec![noise; count],
        })
    }

    /// How far the phase of the base turns against the reference from the frame before to `frame`,
    /// in cycles, from the partials up to multiple `most`. A partial counts by its power over the
    /// noise there and then: one that is silent just then has nothing to say.
    fn phase_step(&self, frame: usize, most: usize) -> f64 {
        let (mut top, mut bottom) = (0.0, 0.0);
        for &m in self.multiples.iter().take_while(|m| **m <= most) {
            let step = self.amplitude(frame, m) * self.amplitude(frame - 1, m).conj();
            let excess = (step.norm() / self.noise.at(m) - 1.0).max(0.0);
            // Information grows with the power over the noise, squared where noise rules.
            let weight = excess * excess / (excess + 1.0);
            top += weight * m as f64 * step.arg() / std::f64::consts::TAU;
            bottom += weight * (m * m) as f64;
        }
        if bottom > 0.0 { top / bottom } else { 0.0 }
    }

    /// One round of averaging the partials' phases; the yardstick of each is its mean over
    /// `reach` frames to either side. Returns the mean information Σ m²·SNR per frame.
    fn refine(&self, frames: &Range<usize>, offset: &mut [f64], reach: usize) -> f64 {
        let count = frames.len();
        let mut top = vec![0.0; count];
        let mut bottom = vec![0.0; count];
        for &m in &self.multiples {
            let turned: Vec<Complex<f64>> = frames
                .clone()
                .zip(offset.iter())
                .map(|(b, o)| {
                    let back = -std::f64::consts::TAU * (m as f64 * o).fract();
                    self.amplitude(b, m) * Complex::from_polar(1.0, back)
                })
                .collect();
            let mut running = vec![Complex::<f64>::default(); count + 1];
            for i in 0..count {
                running[i + 1] = running[i] + turned[i];
            }
            let m_square = (m * m) as f64;
            for i in 0..count {
                let (low, high) = (i.saturating_sub(reach), (i + reach + 1).min(count));
                let span = (high - low) as f64;
                let yardstick = (running[high] - running[low]) / span;
                // A mean of noise alone has a power of its own; it carries no information.
                let power = yardstick.norm_sqr() - self.noise.at(m) * NOISE_CORRELATION / span;
                if power <= 0.0 {
                    continue;
                }
                let weight = m_square * power / self.noise.at(m);
                let error = (turned[i] * yardstick.conj()).arg() / std::f64::consts::TAU;
                top[i] += weight * error / m as f64;
                bottom[i] += weight;
            }
        }
        for i in 0..count {
            if bottom[i] > 0.0 {
                offset[i] += top[i] / bottom[i];
            }
        }
        bottom.iter().sum::<f64>() / count.max(1) as f64
    }
}

/// What a Hann frame leaves of the amplitude of a line `aside` bins from a bin's middle.
fn main_lobe(aside: f64) -> f64 {
    let x = aside.abs().clamp(1e-6, 0.999);
    let px = std::f64::consts::PI * x;
    px.sin() / px / (1.0 - x * x)
}

/// A family's line beside the multiples of another family's phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Base of the family over the base the reference tells, minus 1.
    pub deviation: f64,
    /// Standard deviation of that, from the curvature of the likelihood.
    pub sd: f64,
    /// Log likelihood over noise alone.
    pub evidence: f64,
    /// Log likelihood over noise alone with no deviation at all.
    pub locked_evidence: f64,
    /// Partials that share in it.
    pub partials: usize,
}

/// Seeks the common line of `family` near the multiples of the base whose phase `reference` (in
/// cycles, one per frame of `frames`) tells, within ± `reach` of it (a ratio).
///
/// Where phase and amplitude of each partial are unknown and its noise is white, the log
/// likelihood over noise alone is the sum over partials of |Σ z·e^(−jθ)|² over its expectation
/// from noise; that is what is maximised.
pub fn seek_line(
    family: &Family<'_>,
    frames: Range<usize>,
    reference: &[f64],
    reach: f64,
    most_partials: usize,
) -> Option<Line> {
    let count = frames.len();
    if count < 4 || reference.len() != count {
        return None;
    }
    let unit = family.base_bins / family.orders.bins_per_unit as f64;
    let time: Vec<f64> = family.orders.time_s[frames.clone()].to_vec();
    let middle = (time[0] + time[count - 1]) / 2.0;
    let span = time[count - 1] - time[0];
    let base_hz = (reference[count - 1] - reference[0]) / span;
    let bin_hz = family.orders.bin_hz();
    // Partials in order; each turned back by the reference's phase.
    let turned: Vec<(usize, Vec<Complex<f64>>)> = family
        .multiples
        .iter()
        .filter(|m| **m as f64 * family.base_bins < family.orders.bins as f64)
        .take(most_partials)
        .map(|&m| {
            let series = frames
                .clone()
                .zip(reference)
                .map(|(b, cycles)| {
                    let offset = cycles - family.orders.reference_cycles[b] * unit;
                    let back = -std::f64::consts::TAU * (m as f64 * offset).fract();
                    family.amplitude(b, m) * Complex::from_polar(1.0, back)
                })
                .collect();
            (m, series)
        })
        .collect();
    let scale = |m: usize| 1.0 / (count as f64 * NOISE_CORRELATION * family.noise.at(m));
    let each = |deviation: f64, (m, series): &(usize, Vec<Complex<f64>>)| {
        // A line must stay within the frames' own main lobe to be seen in this bin.
        let shift_hz = *m as f64 * deviation * base_hz;
        if shift_hz.abs() > 1.2 * bin_hz {
            return 0.0;
        }
        let sum: Complex<f64> = series
            .iter()
            .zip(&time)
            .map(|(z, t)| {
                z * Complex::from_polar(
                    1.0,
                    -std::f64::consts::TAU * (shift_hz * (t - middle)).fract(),
                )
            })
            .sum();
        sum.norm_sqr() * scale(*m)
    };
    let likelihood = |deviation: f64| turned.iter().map(|part| each(deviation, part)).sum::<f64>();
    // Half a bin of the whole stretch at the highest partial that matters.
    let highest = turned.iter().map(|(m, _)| *m).max()?.min(9) as f64;
    let step = 0.25 / (span * base_hz * highest);
    let steps = ((reach / step).ceil() as i64).clamp(0, 2000);
    let best = (-steps..=steps)
        .map(|i| i as f64 * step)
        .max_by(|a, b| likelihood(*a).total_cmp(&likelihood(*b)))?;
    let mut at = best;
    let mut width = step;
    for _ in 0..6 {
        let (low, centre, high) = (likelihood(at - width), likelihood(at), likelihood(at + width));
        let bend = low - 2.0 * centre + high;
        if !(bend < 0.0) {
            break;
        }
        at += (0.5 * width * (low - high) / bend).clamp(-width, width);
        width *= 0.5;
    }
    let width = 0.1 * step;
    let bend =
        (likelihood(at - width) - 2.0 * likelihood(at) + likelihood(at + width)) / (width * width);
    let sd = if bend < 0.0 { (-1.0 / bend).sqrt() } else { return None };
    Some(Line {
        deviation: at,
        sd,
        evidence: likelihood(at),
        locked_evidence: likelihood(0.0),
        partials: turned.len(),
    })
}

/// Natural logarithm of the chance that noise alone gives a sum of `partials` unit exponentials of
/// `evidence` or more in any of `trials` places.
pub fn log_chance(evidence: f64, partials: usize, trials: f64) -> f64 {
    // Tail of the gamma distribution with whole shape: e^(−x) Σ x^k/k!.
    let mut term = 0.0_f64;
    let mut log_sum = 0.0_f64;
    for k in 1..partials {
        term += (evidence / k as f64).max(f64::MIN_POSITIVE).ln();
        let (high, low) = if term > log_sum { (term, log_sum) } else { (log_sum, term) };
        log_sum = high + (low - high).exp().ln_1p();
    }
    (log_sum - evidence + trials.max(1.0).ln()).min(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Tail of the gamma distribution with shape 1 is e^(−x); with shape 2, e^(−x)·(1 + x).
    #[test]
    fn the_chance_of_a_sum_of_exponentials_is_the_gamma_tail() {
        assert!((log_chance(5.0, 1, 1.0) + 5.0).abs() < 1e-12);
        assert!((log_chance(5.0, 2, 1.0) - (-5.0 + 6.0_f64.ln())).abs() < 1e-12);
        assert!(
            (log_chance(50.0, 3, 10.0) - (-50.0 + (1.0 + 50.0 + 1250.0_f64).ln() + 10.0_f64.ln()))
                .abs()
                < 1e-9
        );
    }
}
