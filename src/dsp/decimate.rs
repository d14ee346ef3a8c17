//! Every so many samples of a signal, what would fold back filtered off first.

use super::window::kaiser;

/// Stopband under −60 dB: what folds back lies under the noise of any room.
const KAISER_BETA: f64 = 5.65;
/// Taps for a transition of one sample rate at that stopband (Kaiser 1974: (A − 7.95)/14.36).
const TAPS_PER_TRANSITION: f64 = 3.62;
/// Sums side by side, as vector registers hold them.
const LANES: usize = 8;

/// Keeps every `factor`th sample of a stream; output j stands at input j·`factor`.
#[derive(Debug)]
pub struct Decimator {
    factor: usize,
    /// Odd in number, symmetric, of sum 1; before them nothing, so that they fill whole pieces.
    taps: Vec<[f32; LANES]>,
    /// Taps to either side of the middle one.
    half: usize,
    /// What the next outputs need of the input; before its first sample there is silence.
    kept: Vec<f32>,
}

impl Decimator {
    /// Keeps what lies under `top_hz`, which is under half of `sample_rate_hz` over `factor`.
    pub fn new(factor: usize, sample_rate_hz: f64, top_hz: f64) -> Self {
        let out_hz = sample_rate_hz / factor as f64;
        // What folds back onto `top_hz` itself is the first that must be gone.
        let transition = ((out_hz - 2.0 * top_hz) / sample_rate_hz).max(0.01);
        let half =
            if factor == 1 { 0 } else { (TAPS_PER_TRANSITION / transition / 2.0).ceil() as i32 };
        let cutoff = 1.0 / factor as f64;
        let weights: Vec<f64> = (-half..=half)
            .map(|tap| {
                let x = std::f64::consts::PI * cutoff * f64::from(tap);
                let sinc = if tap == 0 { 1.0 } else { x.sin() / x };
                sinc * kaiser(f64::from(tap) / f64::from(half + 1), KAISER_BETA)
            })
            .collect();
        let sum: f64 = weights.iter().sum();
        let half = half as usize;
        let spare = weights.len().next_multiple_of(LANES) - weights.len();
        let mut taps = vec![0.0; spare];
        taps.extend(weights.iter().map(|weight| (weight / sum) as f32));
        Self { factor, taps: taps.as_chunks().0.to_vec(), half, kept: vec![0.0; half + spare] }
    }

    /// Takes the next samples; appends to `out` what they complete.
    pub fn push(&mut self, samples: &[f32], out: &mut Vec<f32>) {
        self.kept.extend_from_slice(samples);
        let ready = (self.kept.len() + 1).saturating_sub(self.span()).div_ceil(self.factor);
        out.extend((0..ready).map(|i| self.at(i * self.factor)));
        self.kept.drain(..(ready * self.factor).min(self.kept.len()));
    }

    /// Ends the stream: after it there is silence.
    pub fn finish(&mut self, out: &mut Vec<f32>) {
        self.push(&vec![0.0; self.half], out);
    }

    /// Samples that one output is made of.
    fn span(&self) -> usize {
        self.taps.len() * LANES
    }

    fn at(&self, first: usize) -> f32 {
        let about = self.kept[first..first + self.span()].as_chunks::<LANES>().0;
        let mut sums = [0.0_f32; LANES];
        for (samples, weights) in about.iter().zip(&self.taps) {
            for i in 0..LANES {
                sums[i] += samples[i] * weights[i];
            }
        }
        sums.iter().sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(hz: f64, rate_hz: f64) -> Vec<f32> {
        let at = |n: i32| (std::f64::consts::TAU * hz * f64::from(n) / rate_hz + 0.4).sin() as f32;
        (0..9600).map(at).collect()
    }

    fn decimated(factor: usize, samples: &[f32], piece: usize) -> Vec<f32> {
        let mut decimator = Decimator::new(factor, 48_000.0, 5_100.0);
        let mut out = Vec::new();
        samples.chunks(piece).for_each(|piece| decimator.push(piece, &mut out));
        decimator.finish(&mut out);
        out
    }

    #[test]
    fn what_is_kept_stands_where_it_stood_however_it_comes() {
        for hz in [100.0, 1000.0, 5_000.0] {
            let samples = tone(hz, 48_000.0);
            let out = decimated(4, &samples, 512);
            assert_eq!(out.len(), samples.len() / 4);
            for (j, value) in out.iter().enumerate().take(2_300).skip(100) {
                assert!((value - samples[4 * j]).abs() < 2e-3, "{hz} {j}: {value}");
            }
            assert_eq!(out, decimated(4, &samples, 7));
        }
        let samples = tone(1000.0, 48_000.0);
        assert_eq!(decimated(1, &samples, 100), samples);
    }

    #[test]
    fn what_would_fold_back_is_gone() {
        for hz in [6_900.0, 9_000.0, 13_000.0, 23_000.0] {
            let out = decimated(4, &tone(hz, 48_000.0), 512);
            let most = out[100..2_300].iter().fold(0.0_f32, |most, value| most.max(value.abs()));
            assert!(most < 2e-3, "{hz}: {most}");
        }
    }
}
