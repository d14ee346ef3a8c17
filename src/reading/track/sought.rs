//! A line beside the multiples that another tone predicts: where it stands, and whether noise explains it.

use std::iter;
use std::ops::Range;

use super::family::Family;
use super::line::LOCKED_CENTS;
use super::line::{CoarseLine, Line, LineSearch, log_chance};
use crate::dsp::statistics::NORMAL_95;
use crate::units::CENTS_PER_E;

/// A lower octave is claimed when noise alone would show it less often than this (as logarithm,
/// e^−12 = 6 in a million, all places that are searched included).
pub(super) const CHANCE: f64 = -12.0;
/// A tone that stands off holds no less than this in its line, relative to the tone it stands off
/// (−30 dB), …
pub(super) const LEAST_ASIDE_SHARE: f64 = 1e-3;
/// … or this many times the noise in its bins (3 dB). What is fainter is not told from what the modes
/// of a room make of breath: narrow peaks, ten times as high as noise alone would show, at any
/// frequency.
const CLEAR_ASIDE: f64 = 2.0;
/// A line that does not stand clear of the noise in its bins must show so many times the evidence of
/// any other place: where rooms make peaks of breath, noise does not keep to its own statistics.
const MORE_THAN_ELSEWHERE: f64 = 1.3;
/// The lower tone may stand this far off (200 cents as a ratio).
pub(super) const REACH: f64 = 0.12;
/// A family that stands on its multiples with this share of its power is sought nowhere else.
const NOTHING_ASIDE: f64 = 0.9;
/// The reach is searched in stretches so far apart (a ratio), …
pub(super) const STRETCH: f64 = 0.03;
/// … each so far to either side that the next begins before it ends, down to the lower end of the reach.
pub(super) const HALF_STRETCH: f64 = STRETCH / 2.0 / (1.0 - REACH - STRETCH);
/// A line that holds less than this share of another's power that is certain too is a partial of some
/// other tone that happens to lie there.
const LEAST_OF_STRONGEST: f64 = 0.05;
/// Numbers of partials the evidence is summed over.
pub(super) const PARTIALS: [usize; 4] = [1, 2, 4, MOST_PARTIALS];
pub(super) const MOST_PARTIALS: usize = 8;

/// Power of those of the lowest `most` partials that stand 6 dB over their noise: a tone that wavers
/// by itself has little of its power in one line.
pub(super) fn standing_power(family: &Family<'_>, most: usize, frames: &Range<usize>) -> f64 {
    let power = |m: &usize| family.partial_power(*m, frames.clone());
    let over = |m: &usize| power(m) > 4.0 * 0.5 * family.noise.at(*m);
    family.multiples.iter().take(most).filter(|m| over(m)).map(power).sum()
}

/// The multiples another tone predicts, beside which a line is sought stretch by stretch: far from them the
/// partials lie on other bins, and each stretch is read from its own.
pub(super) struct Stretches<'a> {
    /// Where it is sought.
    pub frames: Range<usize>,
    /// `[frames]` phase of the base of that tone, in cycles.
    pub reference: &'a [f64],
    /// Partials that are asked.
    pub partials: usize,
}

impl Stretches<'_> {
    /// Where the middle of each lies, as a ratio less one, from the lowest up.
    pub fn all() -> impl Iterator<Item = f64> {
        let aside = (REACH / STRETCH).round() as i32;
        (-aside..=aside).map(|i| f64::from(i) * STRETCH)
    }

    /// What stands in one, partial by partial.
    pub fn at(&self, family: &Family<'_>, detune: f64) -> Option<LineSearch> {
        let moved: Vec<f64> = self.reference.iter().map(|cycles| cycles * (1.0 + detune)).collect();
        let family = family.moved_beside(detune);
        LineSearch::new(&family, self.frames.clone(), &moved, self.partials)
    }

    /// Power of all that stands in the bins of one.
    pub fn power(&self, family: &Family<'_>, detune: f64) -> f64 {
        let family = family.moved_beside(detune);
        let asked = family.multiples.iter().take(self.partials);
        asked.map(|m| family.bin_power(*m, self.frames.clone())).sum()
    }

    /// The same partial by partial, without what stands on the multiples themselves.
    pub fn beside_own(&self, family: &Family<'_>, detune: f64) -> Option<LineSearch> {
        Some(self.at(family, detune)?.without(1.0 / (1.0 + detune) - 1.0))
    }
}

/// How far off the multiples lies what is so far off the middle of a stretch.
pub(super) fn from_multiples(detune: f64, deviation: f64) -> f64 {
    (1.0 + detune) * (1.0 + deviation) - 1.0
}

/// A line as it was read in a stretch, told from the multiples.
pub(super) fn line_from_multiples(detune: f64, line: Line) -> Line {
    let deviation = from_multiples(detune, line.deviation);
    Line { deviation, sd: line.sd * (1.0 + detune), ..line }
}

/// Where a line is sought beside the multiples another family predicts.
#[derive(Debug, Clone, Copy)]
pub struct Sought {
    /// This far to either side (a ratio) …
    pub reach: f64,
    /// … or only about this deviation and none at all, where one is known.
    pub near: Option<f64>,
    /// A line that stands off holds at least this power.
    pub least_aside: f64,
}

impl Sought {
    /// Within `reach` of the multiples of a tone of this power.
    pub fn beside(power: f64, near: Option<f64>) -> Self {
        Self { reach: REACH, near, least_aside: LEAST_ASIDE_SHARE * power }
    }
}

/// The line of `family` for which noise is the least likely explanation, over several numbers of
/// partials; `None` where noise explains it well enough.
pub fn most_certain_line(
    family: &Family<'_>,
    frames: Range<usize>,
    reference: &[f64],
    Sought { reach, near, least_aside }: Sought,
) -> Option<Line> {
    let span_s = family.orders.hop_s() * frames.len() as f64;
    let base_hz =
        family.orders.reference_hz * family.base_bins / family.orders.bins_per_unit as f64;
    let places = 2.0 * reach * base_hz * span_s * PARTIALS.len() as f64;
    let chance = |line: &CoarseLine| {
        let anywhere = log_chance(line.evidence, line.partials, places);
        let locked = log_chance(line.locked_evidence, line.partials, PARTIALS.len() as f64);
        anywhere.min(locked)
    };
    let locked = LOCKED_CENTS / CENTS_PER_E;
    let stretches = (reach / STRETCH).round() as i32;
    // Chance that noise and one partial of another tone explain it, stretch, line.
    let mut certain: Vec<(f64, f64, CoarseLine)> = Vec::new();
    // What each number of partials shows elsewhere.
    let mut elsewhere = [0.0_f64; PARTIALS.len()];
    let there = Stretches { frames: frames.clone(), reference, partials: MOST_PARTIALS };
    let width = if stretches == 0 { reach } else { HALF_STRETCH };
    let worth = |i: &i32| {
        let beside = |deviation: f64| (f64::from(*i) * STRETCH - deviation).abs() <= STRETCH;
        *i == 0 || near.is_none_or(beside)
    };
    let aside = (1..=stretches).flat_map(|i| [-i, i]);
    for i in iter::once(0).chain(aside).filter(worth) {
        let detune = f64::from(i) * STRETCH;
        let Some(search) = there.at(family, detune) else { continue };
        for (most, elsewhere) in PARTIALS.into_iter().zip(&mut elsewhere) {
            let Some(mut line) = search.coarse(width, most) else { continue };
            let stands_off = |line: &CoarseLine| (detune + line.deviation).abs() > locked;
            let moved = || family.moved_beside(detune);
            let is_faint = |line: &CoarseLine| {
                line.power < CLEAR_ASIDE * line.noise
                    && line.power.max(standing_power(&moved(), most, &frames)) < least_aside
            };
            if stands_off(&line) && is_faint(&line) {
                // What stands there is nothing; it must not hide what is locked.
                match search.coarse(locked.min(width), most).filter(|_| i == 0) {
                    Some(near) => line = near,
                    None => continue,
                }
            }
            if i != 0 {
                line.locked_evidence = 0.0;
                *elsewhere = elsewhere.max(line.evidence);
            }
            let chance = chance(&line);
            if chance < CHANCE {
                certain.push((log_chance(line.of_several, line.partials, places), detune, line));
            }
        }
        if i == 0 && search.locked_share() > NOTHING_ASIDE {
            break;
        }
    }
    let strongest = certain.iter().map(|(_, _, line)| line.power).fold(0.0, f64::max);
    certain.retain(|(_, _, line)| line.power >= LEAST_OF_STRONGEST * strongest);
    let (_, detune, coarse) = certain.into_iter().min_by(|a, b| a.0.total_cmp(&b.0))?;
    let elsewhere = PARTIALS.iter().zip(elsewhere).find(|(most, _)| **most >= coarse.partials);
    let like_elsewhere = elsewhere.is_some_and(|(_, e)| coarse.evidence < MORE_THAN_ELSEWHERE * e);
    if detune == 0.0 && coarse.power < CLEAR_ASIDE * coarse.noise && like_elsewhere {
        return None;
    }
    let beside = there.at(family, detune)?;
    let stands_off = (detune + coarse.deviation).abs() > locked;
    if stands_off && detune == 0.0 && beside.is_disputed(&coarse) {
        let line = beside.refined(beside.coarse(locked, coarse.partials)?)?;
        let sd = line.sd.max(coarse.deviation.abs() / NORMAL_95);
        return Some(Line { sd, ..line });
    }
    Some(line_from_multiples(detune, beside.refined(coarse)?))
}
