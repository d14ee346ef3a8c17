//! How far the fit of two tones is known.

use std::ops::Range;

use super::orders::NOISE_CORRELATION;
use super::two_tones::{HIGHEST_MULTIPLES, Problem, Series};
use crate::dsp::statistics::{NORMAL_95, t_975};

/// What the fit scatters by is told from the stretch with each of so many blocks left out, …
const BLOCKS: usize = 8;
/// … and counts when it is this many times what noise explains, as variance: more than chance does
/// in one fit of ten.
const OVER_CHANCE: f64 = 1.8;

/// A multiple that holds nearly all there is to tell has bent the fit to itself; of that no more is known than
/// this leaves.
const MOST_BENT: f64 = 0.75;

/// Few multiples that hold nearly all still count as so many values.
const LEAST_FREEDOM: f64 = 2.0;

/// Variances of the upper tone's base and of the octave's difference in hertz, and what they share.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Covariance {
    pub(super) a: f64,
    pub(super) d: f64,
    pub(super) both: f64,
}

impl Covariance {
    fn and(self, other: Self) -> Self {
        Self { a: self.a + other.a, d: self.d + other.d, both: self.both + other.both }
    }
}

/// What a fit scatters by, as so many values show it.
struct Scatter {
    covariance: Covariance,
    /// Degrees of freedom.
    freedom: f64,
}

impl Scatter {
    /// As wide as its intervals are by Student's factor.
    fn widened(self) -> Covariance {
        let more = (t_975(self.freedom) / NORMAL_95).powi(2);
        let Covariance { a, d, both } = self.covariance;
        Covariance { a: a * more, d: d * more, both: both * more }
    }
}

impl Problem {
    /// The same without the frames of `block`.
    fn without(&self, block: &Range<usize>) -> Self {
        fn rest<T: Copy>(values: &[T], block: &Range<usize>) -> Vec<T> {
            [&values[..block.start], &values[block.end..]].concat()
        }
        let series = self.series.iter();
        Self {
            time_s: rest(&self.time_s, block),
            series: series
                .map(|series| Series { turned: rest(&series.turned, block), ..*series })
                .collect(),
            ..*self
        }
    }

    /// How much the fit scatters, by leaving out one block after the other (the jackknife; Efron,
    /// The Jackknife, the Bootstrap and Other Resampling Plans, 1982, from memory), each followed by
    /// one step of Newton's method. That holds what the model lacks, as long as it changes from block
    /// to block.
    ///
    /// * `at`, `hessian`: the fit, and the likelihood's second derivatives there.
    fn scatter(&self, at: [f64; 2], step: f64, hessian: &[[f64; 2]; 2]) -> Scatter {
        let count = self.time_s.len();
        let left = (BLOCKS - 1) as f64 / BLOCKS as f64;
        let determinant = hessian[0][0] * hessian[1][1] - hessian[0][1] * hessian[1][0];
        let moves: Vec<(f64, f64)> = (0..BLOCKS)
            .map(|block| {
                let rest = self.without(&(block * count / BLOCKS..(block + 1) * count / BLOCKS));
                let value = |a: f64, d: f64| rest.likelihood(at[0] + a, at[1] + d);
                let a = (value(step, 0.0) - value(-step, 0.0)) / (2.0 * step * left);
                let d = (value(0.0, step) - value(0.0, -step)) / (2.0 * step * left);
                let move_a = (a * hessian[1][1] - d * hessian[0][1]) / determinant;
                (-move_a, -(d * hessian[0][0] - a * hessian[1][0]) / determinant)
            })
            .collect();
        let mean =
            |part: fn(&(f64, f64)) -> f64| moves.iter().map(part).sum::<f64>() / BLOCKS as f64;
        let (mean_a, mean_d) = (mean(|m| m.0), mean(|m| m.1));
        let mut scatter = Covariance::default();
        for (a, d) in moves.iter().map(|m| (m.0 - mean_a, m.1 - mean_d)) {
            scatter.a += left * a * a;
            scatter.d += left * d * d;
            scatter.both += left * a * d;
        }
        Scatter { covariance: scatter, freedom: BLOCKS as f64 - 1.0 }
    }

    /// What is known of the fit: by the likelihood's curvature, or where the stretch's blocks or the multiples
    /// scatter by more than chance explains, by these, both where both do: blocks tell what changes in time,
    /// multiples what stays.
    ///
    /// * `at`, `misfit`, `hessian`: the fit, what it leaves over the noise, and the likelihood's second
    ///   derivatives there.
    pub(super) fn covariance(
        &self,
        at: [f64; 2],
        span: f64,
        misfit: f64,
        hessian: &[[f64; 2]; 2],
    ) -> Covariance {
        let determinant = hessian[0][0] * hessian[1][1] - hessian[0][1] * hessian[1][0];
        let curvature = Covariance {
            a: -hessian[1][1] / determinant * misfit,
            d: -hessian[0][0] / determinant * misfit,
            both: hessian[0][1] / determinant * misfit,
        };
        let step = 0.16 / (HIGHEST_MULTIPLES[1] as f64 * span);
        let scatters = [self.scatter(at, step, hessian), self.disagreement(at, step, hessian)];
        let over_chance = |scatter: &Scatter| {
            let Covariance { a, d, .. } = scatter.covariance;
            a > OVER_CHANCE * curvature.a || d > OVER_CHANCE * curvature.d
        };
        let counts = scatters.into_iter().filter(over_chance).map(Scatter::widened);
        counts.reduce(Covariance::and).unwrap_or(curvature)
    }

    /// How much the fit scatters by what the multiples disagree: a room winds the phase of each by itself. That
    /// of a sum over multiples of which each has its own slope at the top (the sandwich of P. J. Huber, Proc.
    /// Fifth Berkeley Symp. 1, 1967, pp. 221-233, from memory), each more by what it has bent towards itself.
    ///
    /// * `at`, `hessian`: the fit, and the likelihood's second derivatives there.
    fn disagreement(&self, at: [f64; 2], step: f64, hessian: &[[f64; 2]; 2]) -> Scatter {
        let each = |a: f64, d: f64| -> Vec<f64> {
            let explained = self.explained(at[0] + a, at[1] + d);
            let all = self.series.iter().zip(explained);
            all.map(|(s, (_, energy))| energy / s.noise / NOISE_CORRELATION).collect()
        };
        let here = each(0.0, 0.0);
        let weights: Vec<f64> = self
            .series
            .iter()
            .zip(&here)
            .map(|(s, e)| (s.multiple * s.multiple) as f64 * e)
            .collect();
        let all: f64 = weights.iter().sum();
        let (a_up, a_down) = (each(step, 0.0), each(-step, 0.0));
        let (d_up, d_down) = (each(0.0, step), each(0.0, -step));
        let determinant = hessian[0][0] * hessian[1][1] - hessian[0][1] * hessian[1][0];
        let mut scatter = Covariance::default();
        for (i, weight) in weights.iter().enumerate() {
            let bent = 1.0 - (weight / all).min(MOST_BENT);
            let a = (a_up[i] - a_down[i]) / (2.0 * step * bent);
            let d = (d_up[i] - d_down[i]) / (2.0 * step * bent);
            let move_a = (a * hessian[1][1] - d * hessian[0][1]) / determinant;
            let move_d = (d * hessian[0][0] - a * hessian[1][0]) / determinant;
            scatter.a += move_a * move_a;
            scatter.d += move_d * move_d;
            scatter.both += move_a * move_d;
        }
        let squares: f64 = weights.iter().map(|weight| weight * weight).sum();
        let effective = all * all / squares;
        Scatter { covariance: scatter, freedom: (effective - 1.0).max(LEAST_FREEDOM) }
    }
}
