//! A sampled signal between its samples, by windowed-sinc interpolation.

use std::sync::LazyLock;

use super::window::kaiser;

/// Interpolation kernel: a table of Kaiser-windowed sinc weights, `TAPS` (even) about each point.
#[derive(Debug, Clone)]
pub struct Interpolator<const TAPS: usize> {
    /// Sets of weights, each with what it takes to come to the next.
    table: Box<[([f32; TAPS], [f32; TAPS]); PHASES]>,
}

/// Between two phases the weights are read off a straight line, which errs by under −100 dB.
const PHASES: usize = 1 << 8;
/// Positions are counted in parts of a sample, 2 to the power of this: whole numbers are split without a
/// question into samples, phases and what lies between two of those.
const PART_BITS: u32 = 40;
const KAISER_BETA: f64 = 8.0;

/// For signals of which only what lies under 0.45 of the Nyquist frequency counts: errors under −80
/// dB there, and of what lies over 1.1 times the Nyquist frequency, mirrored, nothing is left.
pub fn plain() -> &'static Interpolator<16> {
    static TABLE: LazyLock<Interpolator<16>> = LazyLock::new(|| Interpolator::new(0.8));
    &TABLE
}

/// Errors under −80 dB up to 0.8 of the Nyquist frequency.
pub fn sharp() -> &'static Interpolator<32> {
    static TABLE: LazyLock<Interpolator<32>> = LazyLock::new(|| Interpolator::new(1.0));
    &TABLE
}

impl<const TAPS: usize> Interpolator<TAPS> {
    /// Halves amplitudes at `cutoff` times the Nyquist frequency.
    fn new(cutoff: f64) -> Self {
        let half = TAPS as f64 / 2.0;
        let weight = |tap: usize, fraction: f64| {
            let x = tap as f64 + 1.0 - half - fraction;
            (cutoff * sinc(cutoff * x) * kaiser(x / half, KAISER_BETA)) as f32
        };
        let at = |phase: usize, tap: usize| weight(tap, phase as f64 / PHASES as f64);
        let table = std::array::from_fn(|phase| {
            let step = |tap| at(phase + 1, tap) - at(phase, tap);
            (std::array::from_fn(|tap| at(phase, tap)), std::array::from_fn(step))
        });
        Self { table: Box::new(table) }
    }

    /// Appends to `out` the values of `samples` at `count` positions (in samples), `step` apart from
    /// `start` on; samples beyond either end count as 0.
    pub fn extend(
        &self,
        out: &mut Vec<f32>,
        samples: &[f32],
        (start, step): (f64, f64),
        count: usize,
    ) {
        let half = (TAPS / 2) as f64;
        let end = start + step * count as f64;
        if start < half || end + half >= samples.len() as f64 {
            let positions = (0..count).map(|i| start + step * i as f64);
            out.extend(positions.map(|position| self.near_an_end(samples, position)));
            return;
        }
        // Well inside, nothing has to be asked of each position.
        let samples = &samples[start as usize + 1 - TAPS / 2..];
        let (start, step) = (parts(start.fract()), parts(step));
        out.extend((0..count as u64).map(|i| {
            let position = start + step * i;
            let about = samples[(position >> PART_BITS) as usize..].first_chunk();
            self.weighted(about.unwrap_or(&[0.0; TAPS]), position)
        }));
    }

    fn near_an_end(&self, samples: &[f32], position: f64) -> f32 {
        let whole = position.floor();
        let first = whole as i64 + 1 - (TAPS / 2) as i64;
        let sample = |i: usize| {
            let index = usize::try_from(first.saturating_add(i as i64)).ok();
            index.and_then(|k| samples.get(k)).copied().unwrap_or(0.0)
        };
        self.weighted(&std::array::from_fn(sample), parts(position - whole))
    }

    /// Value after the middle of `about` by what `position` has over whole samples, in parts of one.
    #[inline]
    fn weighted(&self, about: &[f32; TAPS], position: u64) -> f32 {
        let (weights, steps) = &self.table[usize::from((position >> (PART_BITS - 8)) as u8)];
        // As many bits as a number of single precision has.
        let blend = (position >> (PART_BITS - 32)) as u32 & 0x00ff_ffff;
        let blend = blend as i32 as f32 / (1 << 24) as f32;
        // Four sums side by side are what a vector register holds.
        let mut sums = [0.0_f32; 4];
        for tap in 0..TAPS {
            sums[tap % 4] += about[tap] * (weights[tap] + steps[tap] * blend);
        }
        (sums[0] + sums[2]) + (sums[1] + sums[3])
    }
}

/// A distance in samples, not negative, in parts of one.
fn parts(samples: f64) -> u64 {
    (samples * (1_u64 << PART_BITS) as f64) as u64
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-12 {
        1.0
    } else {
        let p = std::f64::consts::PI * x;
        p.sin() / p
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tone_is_found_between_its_samples() {
        fn worst<const TAPS: usize>(kernel: &Interpolator<TAPS>, cycles_per_sample: f64) -> f64 {
            let tone = |t: f64| (std::f64::consts::TAU * cycles_per_sample * t + 0.3).sin();
            let samples: Vec<f32> = (0..400).map(|n| tone(f64::from(n)) as f32).collect();
            let mut between = Vec::new();
            kernel.extend(&mut between, &samples, (50.0, 0.2937), 1000);
            (0..1000)
                .zip(between)
                .map(|(i, value)| (f64::from(value) - tone(50.0 + 0.2937 * f64::from(i))).abs())
                .fold(0.0, f64::max)
        }
        for cycles_per_sample in [0.01, 0.1, 0.22] {
            assert!(worst(plain(), cycles_per_sample) < 2e-4, "{cycles_per_sample}");
            assert!(worst(sharp(), cycles_per_sample) < 2e-4, "{cycles_per_sample}");
        }
        assert!(worst(sharp(), 0.38) < 2e-4);
    }

    #[test]
    fn beyond_the_ends_there_is_silence() {
        let interpolator = plain();
        for samples in [&[1.0; 4][..], &[]] {
            for start in [-100.0, 100.0, 1e18] {
                let mut beyond = Vec::new();
                interpolator.extend(&mut beyond, samples, (start, 0.5), 2);
                assert_eq!(beyond, [0.0; 2]);
            }
        }
    }

    #[test]
    fn the_ends_are_read_like_the_middle() {
        let interpolator = plain();
        let padded: Vec<f32> =
            (0..80).map(|n| if (30..50).contains(&n) { 1.0 } else { 0.0 }).collect();
        let (mut inside, mut at_the_ends) = (Vec::new(), Vec::new());
        interpolator.extend(&mut inside, &padded, (25.3, 0.7), 40);
        interpolator.extend(&mut at_the_ends, &padded[30..50], (-4.7, 0.7), 40);
        for (a, b) in inside.iter().zip(&at_the_ends) {
            assert!((a - b).abs() < 1e-6);
        }
    }
}
