//! A sampled signal between its samples, by windowed-sinc interpolation.

use std::sync::LazyLock;

/// Interpolation kernel: a table of Kaiser-windowed sinc weights.
///
/// Amplitude errors stay under −80 dB up to `usable` of the Nyquist frequency (0.6 with 16 taps,
/// 0.8 with 32).
#[derive(Debug, Clone)]
pub struct Interpolator {
    taps: usize,
    /// `[PHASES + 1][taps]` weights.
    table: Vec<f32>,
}

/// Between two phases the weights are read off a straight line, which errs by under −100 dB.
const PHASES: usize = 256;
const KAISER_BETA: f64 = 8.0;

impl Interpolator {
    /// With 16 weights: for signals whose band of interest ends at 0.6 of the Nyquist frequency.
    pub fn plain() -> &'static Self {
        static TABLE: LazyLock<Interpolator> = LazyLock::new(|| Interpolator::new(16));
        &TABLE
    }

    /// With 32 weights: up to 0.8 of the Nyquist frequency.
    pub fn sharp() -> &'static Self {
        static TABLE: LazyLock<Interpolator> = LazyLock::new(|| Interpolator::new(32));
        &TABLE
    }

    /// With `taps` weights (even) about each point.
    fn new(taps: usize) -> Self {
        let half = taps as f64 / 2.0;
        let norm = bessel_i0(KAISER_BETA);
        let mut table = Vec::with_capacity((PHASES + 1) * taps);
        for phase in 0..=PHASES {
            let fraction = phase as f64 / PHASES as f64;
            for tap in 0..taps {
                let x = tap as f64 + 1.0 - half - fraction;
                let inside = 1.0 - (x / half).powi(2);
                let kaiser =
                    if inside > 0.0 { bessel_i0(KAISER_BETA * inside.sqrt()) / norm } else { 0.0 };
                table.push((sinc(x) * kaiser) as f32);
            }
        }
        Self { taps, table }
    }

    /// Value of `samples` at `position` (in samples); samples beyond either end count as 0.
    #[inline]
    pub fn at(&self, samples: &[f32], position: f64) -> f32 {
        let whole = position.floor();
        let phase = (position - whole) * PHASES as f64;
        let index = (phase as usize).min(PHASES - 1);
        let blend = (phase - index as f64) as f32;
        let first = whole as i64 + 1 - (self.taps / 2) as i64;
        let low = &self.table[index * self.taps..][..self.taps];
        let high = &self.table[(index + 1) * self.taps..][..self.taps];
        let inside = usize::try_from(first).ok().and_then(|f| samples.get(f..f + self.taps));
        if let Some(span) = inside {
            return blended(span, low, high, blend);
        }
        let sample = |i: usize| {
            let index = usize::try_from(first + i as i64).ok();
            index.and_then(|k| samples.get(k)).copied().unwrap_or(0.0)
        };
        let at_the_end: Vec<f32> = (0..self.taps).map(sample).collect();
        blended(&at_the_end, low, high, blend)
    }
}

/// Sum of `samples` weighted by what lies `blend` of the way from `low` to `high`.
#[inline]
fn blended(samples: &[f32], low: &[f32], high: &[f32], blend: f32) -> f32 {
    // Running sums side by side, so that the compiler may keep them in vector registers.
    let mut sums = [0.0_f32; 8];
    let weights = low.chunks_exact(8).zip(high.chunks_exact(8));
    for (x, (low, high)) in samples.chunks_exact(8).zip(weights) {
        for i in 0..8 {
            sums[i] += x[i] * (low[i] + (high[i] - low[i]) * blend);
        }
    }
    sums.iter().sum()
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-12 {
        1.0
    } else {
        let p = std::f64::consts::PI * x;
        p.sin() / p
    }
}

/// Modified Bessel function of the first kind, order 0, by its power series (A&S 9.6.12).
fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let mut term = 1.0;
    let mut sum = 1.0;
    for k in 1..60 {
        term *= quarter / f64::from(k * k);
        sum += term;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tone_is_found_between_its_samples() {
        for (taps, cycles_per_sample) in [(16, 0.28), (32, 0.38), (16, 0.01)] {
            let tone = |t: f64| (std::f64::consts::TAU * cycles_per_sample * t + 0.3).sin();
            let samples: Vec<f32> = (0..400).map(|n| tone(f64::from(n)) as f32).collect();
            let interpolator = Interpolator::new(taps);
            let worst = (0..1000)
                .map(|i| 50.0 + 0.2937 * f64::from(i))
                .map(|t| (f64::from(interpolator.at(&samples, t)) - tone(t)).abs())
                .fold(0.0, f64::max);
            assert!(worst < 2e-4, "{taps} taps, {cycles_per_sample}: {worst}");
        }
    }

    #[test]
    fn beyond_the_ends_there_is_silence() {
        let interpolator = Interpolator::new(16);
        assert_eq!(interpolator.at(&[1.0; 4], -100.0), 0.0);
        assert_eq!(interpolator.at(&[1.0; 4], 1e6), 0.0);
        assert_eq!(interpolator.at(&[], 0.0), 0.0);
    }
}
