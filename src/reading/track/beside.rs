//! An upper tone beside the even partials that the lower one has of its own.

use std::ops::Range;

use super::family::Family;
use super::line::LOCKED_CENTS;
use super::line::{CoarseLine, Line, LineSearch, log_chance};
use super::sought::{
    CHANCE, HALF_STRETCH, MOST_PARTIALS, PARTIALS, REACH, Stretches, line_from_multiples,
};
use crate::dsp::statistics::{mean, sample_sd};
use crate::units::CENTS_PER_E;

/// A tone beside another's own partials turns against them so often within the stretch, …
const LEAST_TURNS: f64 = 2.0;
/// … holds this share of what stands there (−23 dB: one 20 dB weaker, of which some partials lie too near the
/// other's to be asked), …
const BESIDE_SHARE: f64 = 0.005;
/// … is more than this of what is left there without them, …
const EXPLAINED: f64 = 0.5;
/// … shows in two of its partials by this log likelihood, …
const LEAST_EACH: f64 = 8.0;
/// … and has less than this share of it on the other side of the multiples, or beside the odd ones.
const OTHER_SIDE: f64 = 0.2;

/// A tone that wanders by itself is no one line over a whole crow: it is sought in so many parts, …
const PARTS: usize = 3;
/// … each at least so long, …
const LEAST_PART_S: f64 = 0.15;
/// … where less than this share of the even partials' power stands where the odd ones predict it, …
const ALL_LOCKED: f64 = 0.97;
/// … and is one tone where the parts agree to within this (20 cents as a ratio).
const PARTS_AGREE: f64 = 0.0116;
/// Degrees of freedom of how far the parts scatter.
pub const PARTS_FREEDOM: f64 = PARTS as f64 - 1.0;

/// The same line sought part by part of a crow: the mean of what the parts tell, and how far they scatter
/// as its standard deviation, with [`PARTS_FREEDOM`] degrees of freedom.
pub fn line_beside_own_in_parts(
    family: &Family<'_>,
    odd: &Family<'_>,
    frames: Range<usize>,
    reference: &[f64],
    least_own: f64,
) -> Option<Line> {
    let per_part = frames.len() / PARTS;
    if (per_part as f64) * family.orders.hop_s() < LEAST_PART_S {
        return None;
    }
    let whole = LineSearch::new(family, frames.clone(), reference, MOST_PARTIALS)?;
    if whole.locked_power() > ALL_LOCKED * family.power(frames.clone()) {
        return None;
    }
    let lines: Vec<Line> = (0..PARTS)
        .map(|part| {
            let start = part * per_part;
            let led = &reference[start..start + per_part];
            let start = frames.start + start;
            line_beside_own(family, odd, start..start + per_part, led, least_own)
        })
        .collect::<Option<_>>()?;
    let deviations: Vec<f64> = lines.iter().map(|line| line.deviation).collect();
    let (mean, sd) = (mean(&deviations)?, sample_sd(&deviations)?);
    let agree = deviations.iter().all(|deviation| (deviation - mean).abs() < PARTS_AGREE);
    let sd = sd / (PARTS as f64).sqrt();
    agree.then(|| Line { deviation: mean, sd, ..lines[0] })
}

fn base_hz(family: &Family<'_>) -> f64 {
    family.orders.reference_hz * family.base_bins / family.orders.bins_per_unit as f64
}

/// How far from a tone's own partials another stands at least, as a ratio, over so many frames: nearer it is not
/// told from what changes slowly.
pub(super) fn nearest(family: &Family<'_>, frames: usize) -> Option<f64> {
    let span_s = family.orders.hop_s() * frames as f64;
    let lowest = *family.multiples.first()? as f64;
    Some((LEAST_TURNS / (lowest * base_hz(family) * span_s)).max(LOCKED_CENTS / CENTS_PER_E))
}

/// Another tone's line beside the even partials of a tone, which it has of its own: the upper tone that
/// is off the octave stands beside them and beats with them. `None` where the lower tone has none to
/// speak of, or what is there is told by them alone, or by what makes them swell and fade.
///
/// * `odd`: the same tone's odd partials, which have no such neighbour.
/// * `least_own`: share of the family's power that the lower tone's own partials hold at least.
/// * `reference`: `[frames]` phase of the base as they tell it, in cycles.
pub fn line_beside_own(
    family: &Family<'_>,
    odd: &Family<'_>,
    frames: Range<usize>,
    reference: &[f64],
    least_own: f64,
) -> Option<Line> {
    let span_s = family.orders.hop_s() * frames.len() as f64;
    let base_hz = base_hz(family);
    let nearest = nearest(family, frames.len())?;
    let places = 2.0 * REACH * base_hz * span_s * PARTIALS.len() as f64;
    let power = family.power(frames.clone());
    let there = Stretches { frames: frames.clone(), reference, partials: MOST_PARTIALS };
    if there.at(family, 0.0)?.locked_power() < least_own * power {
        return None;
    }
    let mut best: Option<(f64, f64, LineSearch, CoarseLine)> = None;
    for detune in Stretches::all() {
        // Where little stands at all, less is left beside.
        if there.power(family, detune) <= BESIDE_SHARE * power {
            continue;
        }
        let Some(search) = there.beside_own(family, detune) else { continue };
        if search.whole_power() <= BESIDE_SHARE * power {
            continue;
        }
        let lines = PARTIALS.into_iter().filter_map(|most| search.coarse(HALF_STRETCH, most));
        let found = lines
            .map(|line| (log_chance(line.evidence, line.partials, places), line))
            .filter(|(chance, line)| {
                *chance < CHANCE
                    && (detune + line.deviation).abs() > nearest
                    && line.power > BESIDE_SHARE * power
                    && line.power > EXPLAINED * search.power_over_noise(line)
                    && search.telling(line, LEAST_EACH) >= 2
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let better = |(chance, _): &(f64, CoarseLine)| {
            best.as_ref().is_none_or(|(least, ..)| chance < least)
        };
        if let Some((chance, line)) = found.filter(better) {
            best = Some((chance, detune, search, line));
        }
    }
    let (_, detune, search, coarse) = best?;
    let deviation = detune + coarse.deviation;
    let stands_there = |family: &Family<'_>, deviation: f64| {
        there.beside_own(family, deviation)?.coarse(nearest / 4.0, coarse.partials)
    };
    // What swells, fades or winds has as much on the other side of the multiples …
    let mirrored = stands_there(family, -deviation).map_or(0.0, |other| other.evidence);
    // … and what a room keeps of where a tone was, it keeps of all its partials.
    let of_odd = stands_there(odd, deviation).map_or(0.0, |other| other.power);
    let share_of_odd = of_odd / odd.power(frames.clone());
    if mirrored > OTHER_SIDE * coarse.evidence || share_of_odd > OTHER_SIDE * coarse.power / power {
        return None;
    }
    Some(line_from_multiples(detune, search.refined(coarse)?))
}
