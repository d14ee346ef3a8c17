//! How far the phases of two tones wander from one another: what neither the curvature of a
//! likelihood nor the noise between the partials knows of. Reflections of a room do that to a tone
//! that is not quite steady, and so does a reed.

use std::f64::consts::TAU;
use std::ops::Range;

use realfft::num_complex::Complex;

use super::family::Family;
use super::lasting::Steady;
use super::orders::NOISE_CORRELATION;
use crate::dsp::statistics::{correlation_widening, line, sample_sd, t_975};

/// Length of the blocks in which the phases are held against each other …
const BLOCK_S: f64 = 0.05;
/// … of which there are so many.
const BLOCKS: (usize, usize) = (6, 20);
/// Fewest frames of a block.
pub(super) const LEAST_FRAMES: usize = 3;
/// A partial takes part that stands so many times over the noise in each block.
pub(super) const CLEAR: f64 = 5.0;
/// The wander counts when its power exceeds the noise's by this many standard deviations: by chance
/// it does once in ten crows.
pub(super) const OVER_CHANCE: f64 = 1.3;
/// What noise keeps from one frame to the next, since they overlap.
pub(super) const NOISE_KEPT: f64 = 0.659;
/// From this correlation on, between one block and the next, the phase goes on as it was.
const KEEPS_ON: f64 = 0.4;

/// What sounds near the partials of a family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beside {
    /// Nothing that is known.
    Nothing,
    /// Another tone's partials that beat with them with this period in seconds; blocks of whole periods
    /// do not see it.
    Beats(f64),
    /// Another tone's own partials, at this deviation from the reference, which are taken out.
    Own(f64),
}

/// Half width of the 95 % interval of how far a family's base lies from where `reference` says, as
/// a ratio, from the scatter of its phase about a straight line; `None` where noise alone explains
/// the scatter, or there is too little to tell.
///
/// * `reference`: `[frames]` phase of the base, in cycles, as another tone predicts it.
/// * `beside`: what else sounds near its partials.
pub fn wander_ci95(
    family: &Family<'_>,
    frames: &Range<usize>,
    reference: &[f64],
    beside: Beside,
) -> Option<f64> {
    let blocks = block_count(family.orders.hop_s() * frames.len() as f64, beside);
    if blocks < BLOCKS.0 {
        return None;
    }
    let per_block = frames.len() / blocks;
    if per_block < LEAST_FRAMES {
        return None;
    }
    let cycles = reference.last()? - reference.first()?;
    let base_hz = cycles / (family.orders.hop_s() * (frames.len() - 1) as f64);
    let mut all = family.turned_back(frames.clone(), &offset(family, frames, reference));
    if let Beside::Own(own) = beside {
        let steady = Steady::new(&family.orders.time_s[frames.clone()]);
        let series = all.iter_mut().map(|turned| &mut turned[..]);
        steady.take_out(own * base_hz, family.multiples.iter().copied().zip(series));
    }
    let wander = Wander::of(family, &all, blocks, per_block)?;
    Some(wander.half_width_hz(family.orders.hop_s())? / base_hz)
}

/// In how many blocks a stretch is looked at.
fn block_count(span_s: f64, beside: Beside) -> usize {
    match beside {
        Beside::Nothing | Beside::Own(_) => ((span_s / BLOCK_S) as usize).clamp(BLOCKS.0, BLOCKS.1),
        Beside::Beats(beat_s) => {
            let block_s = beat_s * (BLOCK_S / beat_s).ceil().max(1.0);
            (span_s / block_s).round() as usize
        }
    }
}

/// `[frames]` phase of a family's base as another tone predicts it, over that of the orders' reference, in
/// cycles.
pub(super) fn offset(family: &Family<'_>, frames: &Range<usize>, reference: &[f64]) -> Vec<f64> {
    let unit = family.base_bins / family.orders.bins_per_unit as f64;
    let own = frames.clone().zip(reference);
    own.map(|(b, cycles)| cycles - family.orders.reference_cycles[b] * unit).collect()
}

/// The phase of a family's base about where it is predicted, block by block.
struct Wander {
    /// `[blocks]` in cycles.
    phases: Vec<f64>,
    /// Frames of a block.
    per_block: usize,
    /// What all partials together know of a block.
    information: f64,
}

impl Wander {
    /// By the partials that stand clear of the noise in each block; `None` without one.
    ///
    /// * `all`: `[multiples][frames]` each partial, turned back by the predicted phase.
    fn of(
        family: &Family<'_>,
        all: &[Vec<Complex<f64>>],
        blocks: usize,
        per_block: usize,
    ) -> Option<Self> {
        let (mut phases, mut information) = (vec![0.0; blocks], 0.0);
        for (&m, turned) in family.multiples.iter().zip(all) {
            let noise = family.noise.at(m) * NOISE_CORRELATION;
            let block_sums = turned.chunks_exact(per_block).take(blocks);
            let sums: Vec<Complex<f64>> = block_sums.map(|block| block.iter().sum()).collect();
            let whole: Complex<f64> = sums.iter().sum();
            let mean = whole / (blocks * per_block) as f64;
            let power = mean.norm_sqr() - noise / (blocks * per_block) as f64;
            if power * (per_block as f64) < CLEAR * noise {
                continue;
            }
            let weight = (m * m) as f64 * power / noise;
            for (phase, sum) in phases.iter_mut().zip(&sums) {
                *phase += weight * (sum * whole.conj()).arg() / (TAU * m as f64);
            }
            information += weight;
        }
        if !(information > 0.0) {
            return None;
        }
        phases.iter_mut().for_each(|phase| *phase /= information);
        Some(Self { phases, per_block, information })
    }

    /// Half width of the 95 % interval of the frequency that the phases tell, in hertz; `None` where noise
    /// alone explains how they scatter about a straight line.
    fn half_width_hz(&self, hop_s: f64) -> Option<f64> {
        let (blocks, per_block) = (self.phases.len(), self.per_block);
        let times: Vec<f64> = (0..blocks).map(|k| k as f64 * per_block as f64).collect();
        let straight = line(&times, &self.phases)?;
        let residual: Vec<f64> =
            times.iter().zip(&self.phases).map(|(t, phase)| phase - straight.at(*t)).collect();
        let power = residual.iter().map(|r| r * r).sum::<f64>();
        let freedom = blocks as f64 - 2.0;
        let noise = 1.0 / (2.0 * TAU * TAU * per_block as f64 * self.information);
        if power < noise * (freedom + OVER_CHANCE * (2.0 * freedom).sqrt()) {
            return None;
        }
        let block_s = per_block as f64 * hop_s;
        let lag: f64 = residual.windows(2).map(|pair| pair[0] * pair[1]).sum();
        Some(if lag > KEEPS_ON * power {
            // Phases that go on as they were are summed up from steps; a straight line takes most of
            // their wander for its own.
            let steps: Vec<f64> = residual.windows(2).map(|pair| pair[1] - pair[0]).collect();
            mean_ci95(&steps)? / block_s
        } else {
            let widening = correlation_widening(&residual);
            let middle = times.iter().sum::<f64>() / blocks as f64;
            let spread = times.iter().map(|t| (t - middle).powi(2)).sum::<f64>();
            let sd = (power / freedom / spread).sqrt() * widening / hop_s;
            t_975((freedom / widening.powi(2)).max(2.0)) * sd
        })
    }
}

/// Half width of the 95 % interval of how far a family's base lies from where `reference` says, as
/// a ratio, from what its partials disagree by; `None` where noise alone explains it. A room winds
/// the phase of single partials, as its modes stand to them.
///
/// * `reference`: `[frames]` phase of the base, in cycles, that the partials are held against.
pub fn disagreement_ci95(
    family: &Family<'_>,
    frames: &Range<usize>,
    reference: &[f64],
) -> Option<f64> {
    let per_block = frames.len() / BLOCKS.0;
    if per_block < LEAST_FRAMES {
        return None;
    }
    let offset = offset(family, frames, reference);
    let times: Vec<f64> = (0..BLOCKS.0).map(|k| (k * per_block) as f64).collect();
    let middle = times.iter().sum::<f64>() / times.len() as f64;
    let spread = times.iter().map(|t| (t - middle).powi(2)).sum::<f64>();
    // Slope of each partial's phase, in cycles of the base per frame, and its information.
    let mut slopes: Vec<(f64, f64)> = Vec::new();
    for (&m, turned) in family.multiples.iter().zip(family.turned_back(frames.clone(), &offset)) {
        let noise = family.noise.at(m) * NOISE_CORRELATION;
        let sums: Vec<Complex<f64>> =
            turned.chunks_exact(per_block).take(BLOCKS.0).map(|b| b.iter().sum()).collect();
        let whole: Complex<f64> = sums.iter().sum();
        let count = (BLOCKS.0 * per_block) as f64;
        let power = (whole / count).norm_sqr() - noise / count;
        if power * (per_block as f64) < CLEAR * noise {
            continue;
        }
        let phases: Vec<f64> =
            sums.iter().map(|sum| (sum * whole.conj()).arg() / (TAU * m as f64)).collect();
        let information = 2.0 * TAU * TAU * per_block as f64 * (m * m) as f64 * power / noise;
        slopes.push((line(&times, &phases)?.slope, information * spread));
    }
    let all: f64 = slopes.iter().map(|(_, information)| information).sum();
    let freedom = slopes.len() as f64 - 1.0;
    if slopes.len() < 3 {
        return None;
    }
    let mean = slopes.iter().map(|(slope, information)| slope * information).sum::<f64>() / all;
    let off = |slope: &f64| (slope - mean).powi(2);
    let power: f64 = slopes.iter().map(|(slope, information)| off(slope) * information).sum();
    if power < freedom + OVER_CHANCE * (2.0 * freedom).sqrt() {
        return None;
    }
    // What a mean scatters by whose parts do, each by a measure of its own.
    let squares: f64 = slopes.iter().map(|(_, information)| information.powi(2)).sum();
    let effective = (all * all / squares).max(1.5);
    let variance = slopes.iter().map(|(slope, i)| i * i * off(slope)).sum::<f64>() / (all * all);
    let sd = (variance * effective / (effective - 1.0)).sqrt();
    let cycles = reference.last()? - reference.first()?;
    let per_frame = cycles / (frames.len() - 1) as f64;
    Some(t_975((effective - 1.0).max(2.0)) * sd / per_frame)
}

/// Blocks in which the partials' flutter is looked at.
const FLUTTER_BLOCKS: usize = 16;
/// Flutter counts from this many times what noise explains, …
const FLUTTER_CLEAR: f64 = 4.0;
/// … from this share of the power of its partials (−23 dB), …
const FLUTTER_SHARE: f64 = 0.005;
/// … and from this many times the share that flutters of the tone's other partials: what swells or fades,
/// and what a room does, is in all of them.
const FLUTTER_OVER_OTHERS: f64 = 4.0;

/// How much faster a tone turns than its flutter shows.
const FLUTTER_WIDENING: f64 = 1.25;

/// How far from its multiples a tone may stand, as a ratio, that hides beside the partials of `family` and
/// makes them flutter as `others`, partials of the same tone, do not: by how fast they flutter. `None` where
/// they do not.
///
/// * `reference`: `[frames]` phase of the base, in cycles, as `others` tell it.
pub fn hidden_beside(
    family: &Family<'_>,
    others: &Family<'_>,
    frames: &Range<usize>,
    reference: &[f64],
) -> Option<f64> {
    let envelope = Envelope::new(others, frames)?;
    let own = flutter(family, frames, reference, &envelope)?;
    let of_others = flutter(others, frames, reference, &envelope).map_or(0.0, |f| f.share);
    let counts = own.share > FLUTTER_SHARE && own.share > FLUTTER_OVER_OTHERS * of_others;
    counts.then_some(own.ratio)
}

/// How loud a tone's partials are together, block by block.
struct Envelope {
    per_block: usize,
    /// `[blocks]` amplitude, 1 on the mean of squares.
    amplitude: Vec<f64>,
}

impl Envelope {
    fn new(family: &Family<'_>, frames: &Range<usize>) -> Option<Self> {
        let per_block = (frames.len() / FLUTTER_BLOCKS).max(1);
        let blocks = frames.len() / per_block;
        if blocks < FLUTTER_BLOCKS / 2 {
            return None;
        }
        let power = |block: usize| {
            let start = frames.start + block * per_block;
            family.power(start..start + per_block)
        };
        let powers: Vec<f64> = (0..blocks).map(power).collect();
        let mean = powers.iter().sum::<f64>() / blocks as f64;
        let amplitude = powers.iter().map(|power| (power / mean).max(1e-3).sqrt()).collect();
        (mean > 0.0).then_some(Self { per_block, amplitude })
    }
}

/// What flutters of a family's partials.
struct Flutter {
    /// Share of their power.
    share: f64,
    /// How fast it turns, over the base's own frequency and the partial's number.
    ratio: f64,
}

/// `None` where noise explains it, or nothing stands over the noise.
fn flutter(
    family: &Family<'_>,
    frames: &Range<usize>,
    reference: &[f64],
    envelope: &Envelope,
) -> Option<Flutter> {
    let orders = family.orders;
    let unit = family.base_bins / orders.bins_per_unit as f64;
    let own = frames.clone().zip(reference);
    let offset: Vec<f64> =
        own.map(|(b, cycles)| cycles - orders.reference_cycles[b] * unit).collect();
    let (mut steady, mut moving, mut expected) = (0.0, 0.0, 0.0);
    // From one frame to the next: over the partial's number, and over all.
    let (mut turning, mut of) = (0.0, 0.0);
    for (&m, turned) in family.multiples.iter().zip(family.turned_back(frames.clone(), &offset)) {
        let blocks = turned.chunks_exact(envelope.per_block).zip(&envelope.amplitude);
        let relative: Vec<Complex<f64>> = blocks
            .map(|(block, amplitude)| {
                block.iter().sum::<Complex<f64>>() / (block.len() as f64 * amplitude)
            })
            .collect();
        let count = relative.len() as f64;
        let mean = relative.iter().sum::<Complex<f64>>() / count;
        let noise = family.noise.at(m) * (NOISE_CORRELATION / envelope.per_block as f64).min(1.0);
        if mean.norm_sqr() < CLEAR * noise {
            continue;
        }
        let about: Vec<Complex<f64>> = relative.iter().map(|z| z - mean).collect();
        steady += mean.norm_sqr() * count;
        moving += about.iter().map(Complex::norm_sqr).sum::<f64>();
        expected += noise * count;
        // Blocks are longer than what turns fast.
        let blocks = turned.chunks(envelope.per_block).zip(&envelope.amplitude);
        let fine: Vec<Complex<f64>> = blocks
            .flat_map(|(block, amplitude)| block.iter().map(move |z| z / amplitude - mean))
            .collect();
        let frame_noise = family.noise.at(m);
        let frames = fine.len() as f64;
        let steps = fine.windows(2).map(|pair| (pair[1] - pair[0]).norm_sqr()).sum::<f64>();
        let of_noise = 2.0 * (1.0 - NOISE_KEPT) * frame_noise * (frames - 1.0);
        let all = fine.iter().map(Complex::norm_sqr).sum::<f64>() - frame_noise * frames;
        turning += (steps - of_noise).max(0.0) / (m * m) as f64;
        of += all.max(0.0);
    }
    if !(moving > FLUTTER_CLEAR * expected && of > 0.0) {
        return None;
    }
    let cycles = reference.last()? - reference.first()?;
    let base_hz = cycles / (orders.hop_s() * (reference.len() - 1) as f64);
    let radians_per_frame = (turning / of).sqrt();
    Some(Flutter {
        share: (moving - expected) / (steady + moving),
        ratio: FLUTTER_WIDENING * radians_per_frame / (TAU * orders.hop_s()) / base_hz,
    })
}

/// Half width of the 95 % interval of the mean of values that follow one another.
fn mean_ci95(values: &[f64]) -> Option<f64> {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let about: Vec<f64> = values.iter().map(|value| value - mean).collect();
    let widening = correlation_widening(&about);
    let freedom = (values.len() as f64 / widening.powi(2) - 1.0).max(2.0);
    Some(t_975(freedom) * sample_sd(values)? * widening / (values.len() as f64).sqrt())
}
