//! Where a tone lies among the bins of orders taken along another.

use std::ops::Range;

use super::orders::Orders;
use crate::dsp::phase::PhaseTrack;

/// Where a tone's base lies among the bins.
#[derive(Debug, Clone)]
pub struct Base {
    /// Bins per multiple.
    pub bins: f64,
    /// `[frames]` phase of the base over that share of the reference's, in cycles, carried on
    /// beyond the track's ends.
    pub offset: Vec<f64>,
}

/// The bases of the tones of a crow.
#[derive(Debug, Clone)]
pub struct Bases {
    /// As the lower tone tells it.
    pub lower: Base,
    /// As the upper tone tells it: half that. The lower's where there is no other, and both the same
    /// where they are locked.
    pub upper: Base,
    /// Upper over lower, minus 1, where there are two.
    pub deviation: Option<f64>,
}

impl Bases {
    /// Whether each is its own tone's, or they are so nearly one that over `frames` not even the
    /// eighth partial tells.
    pub fn are_exact(&self, orders: &Orders, frames: &Range<usize>) -> bool {
        let cycles = |at: usize| orders.reference_cycles[at];
        let span = cycles(frames.end - 1) - cycles(frames.start);
        let apart = self.deviation.unwrap_or(0.0) - (self.upper.bins / self.lower.bins - 1.0);
        8.0 * span * apart.abs() < 0.1
    }
}

/// A base nearer than this to the reference (2 cents) is taken to lie on its bins.
const ON_BINS: f64 = 1.2e-3;
/// Frames at each end whose slope is carried on.
const REACH: usize = 12;

impl Base {
    /// Of the tone whose phase over the frames `core` of `orders` is `track`.
    pub fn new(orders: &Orders, core: &Range<usize>, track: &PhaseTrack) -> Self {
        let span = |values: &[f64]| match (values.first(), values.last()) {
            (Some(first), Some(last)) => last - first,
            _ => 0.0,
        };
        let ratio = span(&track.cycles) / span(&orders.reference_cycles[core.clone()]);
        let ratio = if (ratio - 1.0).abs() < ON_BINS || !ratio.is_finite() { 1.0 } else { ratio };
        let inside: Vec<f64> = core
            .clone()
            .zip(&track.cycles)
            .map(|(b, cycles)| cycles - ratio * orders.reference_cycles[b])
            .collect();
        let reach = inside.len().min(REACH);
        let slope = |part: &[f64]| span(part) / (part.len().max(2) - 1) as f64;
        let (before, after) = (slope(&inside[..reach]), slope(&inside[inside.len() - reach..]));
        let (first, last) =
            (inside.first().copied().unwrap_or(0.0), inside.last().copied().unwrap_or(0.0));
        let offset = (0..orders.frames())
            .map(|b| match b.checked_sub(core.start) {
                None => first - before * (core.start - b) as f64,
                Some(i) => inside
                    .get(i)
                    .copied()
                    .unwrap_or_else(|| last + after * (i + 1 - inside.len()) as f64),
            })
            .collect();
        Self { bins: ratio * orders.bins_per_unit as f64, offset }
    }

    /// `[frames]` its phase over that of the reference itself, in cycles.
    pub fn over_reference(&self, orders: &Orders, frames: Range<usize>) -> Vec<f64> {
        let more = self.bins / orders.bins_per_unit as f64 - 1.0;
        frames.map(|b| self.offset[b] + more * orders.reference_cycles[b]).collect()
    }
}
