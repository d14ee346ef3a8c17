//! Partials of one tone that do not tell the same frequency. A room winds the phase of each by itself, as its
//! modes stand to it, and the more so the longer it rings.
//!
//! Then the noise between the partials says little of what one of them is worth: those over 30 dB are all moved
//! alike, in phase. The common frequency is that of a random-effects model (R. C. Paule and J. Mandel, J. Res.
//! Natl. Bur. Stand. 87, 1982, pp. 377-385, from memory): what the partials scatter by beyond their noise is one
//! more variance, the same of each one's phase.

use std::f64::consts::TAU;
use std::ops::Range;

use realfft::num_complex::Complex;

use super::family::Family;
use super::orders::NOISE_CORRELATION;
use super::wander::{CLEAR, LEAST_FRAMES, OVER_CHANCE, offset};
use crate::dsp::statistics::{line, t_975};

/// A phase is followed through so many blocks at most: in fewer a high partial may turn by more than half.
const MOST_BLOCKS: usize = 40;
/// It tells a slope through so many.
const LEAST_BLOCKS: usize = 6;
/// Fewest partials that can disagree.
const LEAST_PARTIALS: usize = 3;
/// One that strays from the rest by more than so many standard deviations counts for less: it lies by a notch.
const STRAYS: f64 = 2.0;
/// Rounds in which its weight comes to rest.
const ROUNDS: usize = 4;
/// Halvings of the range in which the scatter is sought, on a scale of logarithms.
const HALVINGS: usize = 60;

/// What partials tell together that disagree by more than noise explains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disagreement {
    /// How far the family's base lies from where the reference says, as a ratio less one.
    pub deviation: f64,
    /// Half width of its 95 % interval.
    pub ci95: f64,
}

/// Frequency of one partial against where it is predicted.
#[derive(Debug, Clone, Copy)]
struct Slope {
    /// Cycles of the base per frame.
    base: f64,
    /// Its number, squared: by that a phase's variance is larger than what it says of the base's.
    m_square: f64,
    /// One over the variance of `base` that noise explains.
    information: f64,
}

/// How far a family's base lies from where `reference` says, where its partials disagree on it by more than
/// noise explains; `None` where they do not.
///
/// * `reference`: `[frames]` phase of the base, in cycles, that the partials are held against.
pub fn disagreement(
    family: &Family<'_>,
    frames: &Range<usize>,
    reference: &[f64],
) -> Option<Disagreement> {
    let slopes = slopes(family, frames, reference)?;
    let freedom = slopes.len() as f64 - 1.0;
    if slopes.len() < LEAST_PARTIALS
        || misfit(&slopes, 0.0) < freedom + OVER_CHANCE * (2.0 * freedom).sqrt()
    {
        return None;
    }
    let (mean, sd, effective) = common(&slopes, scatter(&slopes));
    let cycles = reference.last()? - reference.first()?;
    let per_frame = cycles / (frames.len() - 1) as f64;
    let ci95 = t_975((effective - 1.0).max(2.0)) * sd / per_frame;
    Some(Disagreement { deviation: mean / per_frame, ci95 })
}

/// Of each partial that stands clear of the noise in each block, as its own phase turns. `None` where there are
/// too few frames.
fn slopes(family: &Family<'_>, frames: &Range<usize>, reference: &[f64]) -> Option<Vec<Slope>> {
    let per_block = frames.len().div_ceil(MOST_BLOCKS).max(LEAST_FRAMES);
    let count = frames.len() / per_block;
    if count < LEAST_BLOCKS {
        return None;
    }
    let times: Vec<f64> = (0..count).map(|k| (k * per_block) as f64).collect();
    let middle = times.iter().sum::<f64>() / times.len() as f64;
    let spread = times.iter().map(|t| (t - middle).powi(2)).sum::<f64>();
    let all = family.turned_back(frames.clone(), &offset(family, frames, reference));
    let told = family.multiples.iter().zip(&all).filter_map(|(&m, turned)| {
        let noise = family.noise.at(m) * NOISE_CORRELATION / per_block as f64;
        let blocks = turned.chunks_exact(per_block);
        let means: Vec<Complex<f64>> =
            blocks.map(|b| b.iter().sum::<Complex<f64>>() / per_block as f64).collect();
        let power = means.iter().map(Complex::norm_sqr).sum::<f64>() / count as f64 - noise;
        if means.len() < count || power < CLEAR * noise {
            return None;
        }
        let steps = means.windows(2).map(|pair| (pair[1] * pair[0].conj()).arg() / TAU);
        let phases = steps.scan(0.0, |phase, step| {
            *phase += step;
            Some(*phase / m as f64)
        });
        let phases: Vec<f64> = std::iter::once(0.0).chain(phases).collect();
        let m_square = (m * m) as f64;
        let information = 2.0 * TAU * TAU * m_square * power / noise * spread;
        Some(Slope { base: line(&times, &phases)?.slope, m_square, information })
    });
    Some(told.collect())
}

/// One over the variance of a slope when its phase scatters by `scatter` beyond the noise.
fn weight(slope: &Slope, scatter: f64) -> f64 {
    1.0 / (1.0 / slope.information + scatter / slope.m_square)
}

/// Sum of squares about the common slope, each over its variance.
fn misfit(slopes: &[Slope], scatter: f64) -> f64 {
    let weights = || slopes.iter().map(|slope| weight(slope, scatter));
    let all: f64 = weights().sum();
    let mean = slopes.iter().zip(weights()).map(|(slope, w)| slope.base * w).sum::<f64>() / all;
    slopes.iter().zip(weights()).map(|(slope, w)| w * (slope.base - mean).powi(2)).sum()
}

/// The scatter with which the sum of squares is what chance makes it.
fn scatter(slopes: &[Slope]) -> f64 {
    let freedom = slopes.len() as f64 - 1.0;
    // As phases the slopes scatter by no more than all of this.
    let most: f64 = slopes.iter().map(|slope| slope.m_square * slope.base.powi(2)).sum();
    let (mut low, mut high) = (1e-12 * most, 4.0 * most);
    for _ in 0..HALVINGS {
        let middle = (low * high).sqrt();
        if misfit(slopes, middle) > freedom { low = middle } else { high = middle }
    }
    high
}

/// The common slope, its standard deviation by how the partials scatter about it, and how many partials that
/// rests on.
fn common(slopes: &[Slope], scatter: f64) -> (f64, f64, f64) {
    let weights: Vec<f64> = slopes.iter().map(|slope| weight(slope, scatter)).collect();
    let mut counted = weights.clone();
    let mean_of = |counted: &[f64]| {
        let sum: f64 = slopes.iter().zip(counted).map(|(slope, w)| slope.base * w).sum();
        sum / counted.iter().sum::<f64>()
    };
    let mut mean = mean_of(&counted);
    for _ in 0..ROUNDS {
        for ((counted, weight), slope) in counted.iter_mut().zip(&weights).zip(slopes) {
            let strays = (slope.base - mean).abs() * weight.sqrt();
            *counted = weight * (STRAYS / strays.max(f64::MIN_POSITIVE)).min(1.0);
        }
        mean = mean_of(&counted);
    }
    let all: f64 = counted.iter().sum();
    let effective = (all * all / counted.iter().map(|w| w * w).sum::<f64>()).max(1.5);
    let off = slopes.iter().zip(&counted).map(|(s, w)| (w * (s.base - mean)).powi(2));
    let variance = off.sum::<f64>() / (all * all) * effective / (effective - 1.0);
    (mean, variance.sqrt(), effective)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slope(base: f64, number: f64, information: f64) -> Slope {
        Slope { base, m_square: number * number, information }
    }

    /// Paule and Mandel's rule: the sum of squares comes to its degrees of freedom.
    #[test]
    fn partials_that_disagree_scatter_as_much_as_they_are_said_to() {
        let slopes = [
            slope(1.0, 1.0, 1e4),
            slope(-0.4, 2.0, 1e7),
            slope(0.2, 3.0, 1e5),
            slope(0.05, 4.0, 1e6),
        ];
        let scatter = scatter(&slopes);
        assert!((misfit(&slopes, scatter) - 3.0).abs() < 1e-6);
        // The loudest no longer has it all its own way.
        let (mean, sd, effective) = common(&slopes, scatter);
        assert!(mean > -0.2 && sd > 0.05 && effective > 1.9, "{mean} {sd} {effective}");
    }
}
