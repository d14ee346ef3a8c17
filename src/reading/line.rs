//! The common line of a family of partials beside the multiples that another family's phase
//! predicts, and how likely noise alone is to show one.

use std::ops::Range;

use realfft::num_complex::Complex;
use rustfft::FftPlanner;

use super::family::Family;
use super::orders::NOISE_CORRELATION;

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

/// The partials of a family, turned back by the phase another family predicts for them.
///
/// Where phase and amplitude of each partial are unknown and its noise is white, the log
/// likelihood of a common line over noise alone is the sum over partials of |Σ z·e^(−jθ)|² over
/// its expectation from noise; that is what is maximised.
#[derive(Debug)]
pub struct LineSearch {
    /// Moments of the frames about their middle, in seconds.
    time_s: Vec<f64>,
    base_hz: f64,
    bin_hz: f64,
    partials: Vec<TurnedPartial>,
    /// Distance between the bins of the partials' spectra, in hertz.
    spectrum_hz: f64,
}

#[derive(Debug)]
struct TurnedPartial {
    multiple: usize,
    series: Vec<Complex<f64>>,
    /// One over what noise alone makes of the squared sum.
    scale: f64,
    /// Squared sums at multiples of `spectrum_hz`, negative offsets behind.
    spectrum: Vec<f64>,
}

/// Spectra of the turned partials are padded to at least this many times their length.
const PADDING: usize = 4;
/// A line must stay within this of its bin's middle, in bins, to be seen in it.
const IN_LOBE_BINS: f64 = 1.2;

impl LineSearch {
    /// Of the lowest `most_partials` of `family` over `frames`.
    ///
    /// * `reference`: `[frames]` phase of the base, in cycles, that the other family tells.
    ///
    /// `None` for fewer than 4 frames.
    pub fn new(
        family: &Family<'_>,
        frames: Range<usize>,
        reference: &[f64],
        most_partials: usize,
    ) -> Option<Self> {
        let count = frames.len();
        if count < 4 || reference.len() != count {
            return None;
        }
        let unit = family.base_bins / family.orders.bins_per_unit as f64;
        let time = &family.orders.time_s[frames.clone()];
        let (first, last) = (time[0], time[count - 1]);
        let padded = (PADDING * count).next_power_of_two();
        let fft = FftPlanner::new().plan_fft_forward(padded);
        let partials = family
            .multiples
            .iter()
            .filter(|m| **m as f64 * family.base_bins < family.orders.bins as f64)
            .take(most_partials)
            .map(|&multiple| {
                let series: Vec<Complex<f64>> = frames
                    .clone()
                    .zip(reference)
                    .map(|(b, cycles)| {
                        let offset = cycles - family.orders.reference_cycles[b] * unit;
                        let back = -std::f64::consts::TAU * (multiple as f64 * offset).fract();
                        family.amplitude(b, multiple) * Complex::from_polar(1.0, back)
                    })
                    .collect();
                let mut padded_series = series.clone();
                padded_series.resize(padded, Complex::default());
                fft.process(&mut padded_series);
                TurnedPartial {
                    multiple,
                    series,
                    scale: 1.0 / (count as f64 * NOISE_CORRELATION * family.noise.at(multiple)),
                    spectrum: padded_series.iter().map(Complex::norm_sqr).collect(),
                }
            })
            .collect();
        let hop_s = (last - first) / (count - 1) as f64;
        Some(Self {
            time_s: time.iter().map(|t| t - (first + last) / 2.0).collect(),
            base_hz: (reference[count - 1] - reference[0]) / (last - first),
            bin_hz: family.orders.bin_hz(),
            partials,
            spectrum_hz: 1.0 / (padded as f64 * hop_s),
        })
    }

    /// The most likely common line of the lowest `most` partials within ± `reach` (a ratio) of the
    /// predicted multiples.
    pub fn best(&self, reach: f64, most: usize) -> Option<Line> {
        let partials = self.partials.get(..most.min(self.partials.len()))?;
        let highest = partials.iter().map(|p| p.multiple).max()? as f64;
        let span = self.time_s.last()? - self.time_s.first()?;
        let step = 0.25 / (span * self.base_hz * highest);
        let steps = (reach / step).ceil() as i64;
        let coarse =
            |deviation: f64| partials.iter().map(|p| self.nearest(p, deviation)).sum::<f64>();
        let exact = |deviation: f64| partials.iter().map(|p| self.exact(p, deviation)).sum::<f64>();
        let best = (-steps..=steps)
            .map(|i| (coarse(i as f64 * step), i as f64 * step))
            .max_by(|a, b| a.0.total_cmp(&b.0))?;
        let mut at = best.1;
        let mut width = step;
        for _ in 0..6 {
            let (low, centre, high) = (exact(at - width), exact(at), exact(at + width));
            let bend = low - 2.0 * centre + high;
            if !(bend < 0.0) {
                break;
            }
            at += (0.5 * width * (low - high) / bend).clamp(-width, width);
            width *= 0.5;
        }
        let width = 0.1 * step;
        let evidence = exact(at);
        let bend = (exact(at - width) - 2.0 * evidence + exact(at + width)) / (width * width);
        let sd = if bend < 0.0 { (-1.0 / bend).sqrt() } else { return None };
        Some(Line {
            deviation: at,
            sd,
            evidence,
            locked_evidence: exact(0.0),
            partials: partials.len(),
        })
    }

    fn shift_hz(&self, partial: &TurnedPartial, deviation: f64) -> Option<f64> {
        let shift = partial.multiple as f64 * deviation * self.base_hz;
        (shift.abs() <= IN_LOBE_BINS * self.bin_hz).then_some(shift)
    }

    /// The likelihood of one partial, from the nearest bin of its spectrum.
    fn nearest(&self, partial: &TurnedPartial, deviation: f64) -> f64 {
        let Some(shift) = self.shift_hz(partial, deviation) else { return 0.0 };
        let bin = (shift / self.spectrum_hz).round() as i64;
        let index = bin.rem_euclid(partial.spectrum.len() as i64) as usize;
        partial.spectrum[index] * partial.scale
    }

    fn exact(&self, partial: &TurnedPartial, deviation: f64) -> f64 {
        let Some(shift) = self.shift_hz(partial, deviation) else { return 0.0 };
        let sum: Complex<f64> = partial
            .series
            .iter()
            .zip(&self.time_s)
            .map(|(z, t)| {
                z * Complex::from_polar(1.0, -std::f64::consts::TAU * (shift * t).fract())
            })
            .sum();
        sum.norm_sqr() * partial.scale
    }
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
