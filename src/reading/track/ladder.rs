//! Which octave ladder a sound stands on: its lowest tone, found by explicit evidence.
//!
//! The strongest period says little about octaves: the period of an upper octave with a low one
//! 30 dB under it repeats almost perfectly. So the partials decide: multiples of the reference
//! that are not there lift the base, and a line at its odd halves, over the noise between the
//! partials and summed coherently over the steady part, lowers it.

use std::ops::Range;

use super::coarse::CoarseTrack;
use super::family::{Family, NoiseProfile};
use super::line::LOCKED_CENTS;
use super::line::Line;
use super::orders::{NOISE_BANDWIDTH_BINS, Orders};
use super::sought::{
    LEAST_ASIDE_SHARE, MOST_PARTIALS, REACH, Sought, most_certain_line, standing_power,
};
use crate::reading::find::hum::RoomLine;
use crate::units::CENTS_PER_E;

/// Lowest fundamental that is looked for, with a little slack.
const LOWEST_HZ: f64 = 95.0;
/// Highest fundamental, likewise.
const HIGHEST_HZ: f64 = 2100.0;
/// A multiple of the base stands over the noise when its mean power exceeds the noise by this.
const STANDS_OVER: f64 = 3.0;
/// And when it is no weaker than this, relative to all partials (−55 dB).
const LEAST_SHARE: f64 = 3e-6;
/// And when its partials together are no weaker than this, relative to all (−45 dB, under which nothing
/// sounds): what a converter or a room adds to a loud tone is not told from a reed's own octave.
const LEAST_LOW_SHARE: f64 = 3.16e-5;
/// Under this share (−30 dB) a low tone is faint, …
const FAINT_SHARE: f64 = 1e-3;
/// … and stands exactly at half the other within so many standard deviations, …
const EXACTLY_SD: f64 = 3.5;
/// … or so many cents where a room moves it …
const HALVES_WITHIN_CENTS: f64 = 1.5;
/// … or shows by this log likelihood.
const BEYOND_DOUBT: f64 = 50.0;
/// A tone lies no farther than this off half another, in cents: what seems to lie there is a partial of some
/// other.
const FARTHEST_CENTS: f64 = 205.0;
/// A locked tone holds this share of what stands in the bins of its partials (−10 dB), also one that is gone
/// for most of the time.
const LEAST_OF_ITS_BINS: f64 = 0.1;
/// A line between the multiples is strong from this power on, relative to the strongest (−20 dB), …
const STRONG_ASIDE: f64 = 0.01;
/// … among so many multiples, …
const LOW_MULTIPLES: usize = 5;
/// … of which a tone of its own has these at least, …
const LOW_ODD: [usize; 3] = [1, 3, 5];
/// … or so many where the base lies lower than any tone that is expected.
const LOW_MULTIPLES_OF_LOW: usize = 12;
/// A tone that stands off where only a halved vibration is expected is the reed's own from this share of the
/// upper tone's power on (−10 dB).
pub const LOUD_SHARE: f64 = 0.1;
/// It is so many times stronger than what is locked there (6 dB).
const CLEARLY_LOUDER: f64 = 4.0;
/// How exact a part that is not an octave must be (7 cents as a ratio).
const EXACT: f64 = 0.004;
/// Lower tones are sought at these parts of the base.
const PARTS: [usize; 2] = [2, 3];
/// And at these where the base is but the strongest partial: its own tone's first, before one that
/// stands off.
const PARTS_OF_STRONGEST: [usize; 3] = [5, 3, 2];
/// Of so many of the lowest partials of a part that is not an octave, all but one stand over the noise.
const LOWEST_PARTIALS: usize = 4;
/// The strongest lines of the mains' hum lie under this.
const OVER_MAINS_HZ: f64 = 260.0;
/// Two tones off the octave share a period, roughly, of so many of the lower one's at least, …
const LEAST_SHARED: usize = 4;
/// … and then stand no farther from it than 4 and 9 do.
const SHARED_REACH: f64 = 0.125;
/// A partial is missing between others under this share of the strongest (−14 dB).
const MISSING_SHARE: f64 = 0.04;

/// A sound along its lowest tone.
#[derive(Debug)]
pub struct Ladder {
    /// The sound along that tone; multiple m of the lowest tone is bin m·`bins_per_unit`.
    pub orders: Orders,
    /// The reference used.
    pub reference: CoarseTrack,
    /// Frames well inside the tone.
    pub core: Range<usize>,
}

/// What is expected of tones lower than a reed's usual ones.
#[derive(Debug, Clone, Copy)]
pub struct Lowest {
    /// Under it no tone of the reed is expected but one that its own vibration halves to: exactly
    /// locked, its strongest partial among others. What else stands there is somebody else's.
    pub own_from_hz: f64,
    /// Whether it may halve.
    pub may_halve: bool,
}

/// Frames of `orders` between two moments; at least a few, if there are any.
pub fn frames_between(orders: &Orders, from_s: f64, to_s: f64) -> Range<usize> {
    let start = orders.time_s.partition_point(|t| *t < from_s);
    let end = orders.time_s.partition_point(|t| *t <= to_s);
    start..end.max(start)
}

/// Finds the ladder of `samples` about the coarse track, `None` when there is too little sound.
///
/// * `room_lines`: what stands in them is the room's.
/// * `lowest`: what is expected of low tones.
pub fn find_ladder(
    samples: &[f32],
    sample_rate_hz: f64,
    offset_s: f64,
    coarse: &CoarseTrack,
    top_hz: f64,
    room_lines: &[RoomLine],
    lowest: Lowest,
) -> Option<Ladder> {
    let (first_s, last_s) = (coarse.knots.first()?.0, coarse.knots.last()?.0);
    let trim = 0.05_f64.min((last_s - first_s) / 5.0);
    let along = &|reference: CoarseTrack| {
        let mut orders = Orders::new(samples, sample_rate_hz, offset_s, &reference, top_hz)?;
        orders.room_lines = room_lines.to_vec();
        let core = frames_between(&orders, first_s + trim, last_s - trim);
        (core.len() >= 4).then_some(Ladder { orders, reference, core })
    };
    // The strongest partial may lie over every fundamental; where no tone of its own is found under
    // it, the sound is looked at again without going there.
    let found = standing_on(along(coarse.clone())?, (lowest, f64::INFINITY), along)?;
    if found.orders.reference_hz <= HIGHEST_HZ {
        return Some(found);
    }
    standing_on(along(coarse.clone())?, (lowest, HIGHEST_HZ), along)
}

/// The ladder that a first one leads to: up, but no higher than `highest_hz`, to what its multiples
/// stand on, and down to the lowest tone that is the reed's own.
///
/// * `along`: the ladder along another reference.
fn standing_on(
    mut ladder: Ladder,
    (lowest, highest_hz): (Lowest, f64),
    along: impl Fn(CoarseTrack) -> Option<Ladder>,
) -> Option<Ladder> {
    let in_reach = |ladder: &Ladder, factor: f64| factor * ladder.orders.reference_hz <= highest_hz;
    let mut parts = &PARTS[..];
    if let Some(factor) =
        strongest_aside(&ladder, lowest).filter(|factor| in_reach(&ladder, *factor))
    {
        // Two tones that beat make the course of their common period ripple.
        let other = along(ladder.reference.straightened().map(|_, hz| hz * factor))?;
        if is_better_told(&other, &ladder, lowest) {
            ladder = other;
            parts = &PARTS_OF_STRONGEST;
        }
    }
    let factor = missing_multiples(&ladder).map(|factor| factor as f64);
    if let Some(factor) = factor.filter(|factor| in_reach(&ladder, *factor)) {
        ladder = along(ladder.reference.map(|_, hz| hz * factor))?;
    }
    while let Some((part, deviation)) = lower_tone(&ladder, parts, lowest) {
        let reference = ladder.reference.map(|_, hz| hz / part as f64);
        ladder = match ladder.orders.counted_in_parts(part) {
            Some(orders) => Ladder { orders, reference, core: ladder.core },
            None => along(reference)?,
        };
        // Two tones that stand off make combination tones all over; what lies lower is theirs.
        if deviation.abs() > LOCKED_CENTS / CENTS_PER_E {
            break;
        }
    }
    Some(ladder)
}

/// Two tones that stand off 2:1 repeat together, roughly, after many periods, and that period says
/// nothing: strong lines then stand between its multiples. Returns how far the strongest line lies
/// above the reference, as a factor, where that is so.
fn strongest_aside(ladder: &Ladder, lowest: Lowest) -> Option<f64> {
    let bins = ladder.orders.bins_per_unit;
    let mean = mean_powers(ladder);
    // Higher up, tones a little off the octave come to stand between the multiples as well, and the
    // strongest partial need not be one of the first.
    let is_low = ladder.orders.reference_hz < lowest.own_from_hz;
    let multiples = if is_low { LOW_MULTIPLES_OF_LOW } else { LOW_MULTIPLES };
    let top = (multiples * bins + bins / 2).min(mean.len().saturating_sub(1));
    let low = mean.iter().copied().enumerate().take(top).skip(bins / 2);
    let (strongest, most) = low.max_by(|a, b| a.1.total_cmp(&b.1))?;
    // Midway is where a lower octave has its partials, which is not a sign of another tone.
    let aside = |bin: usize| {
        let off = (bin % bins).min(bins - bin % bins);
        off.min(bins / 2 - off)
    };
    let stands_between = (bins / 2..top).any(|bin| {
        aside(bin) >= 2
            && mean[bin] > STRONG_ASIDE * most
            && mean[bin] >= mean[bin - 1]
            && mean[bin] >= mean[bin + 1]
    });
    let hz = top_near(&mean, strongest) * ladder.orders.bin_hz();
    let may_be = !is_low || hz >= lowest.own_from_hz;
    // A partial of the reference's own tone leads nowhere, whether that has even ones or not.
    let is_multiple = aside(strongest) <= 1 && (strongest + bins / 4) % bins < bins / 2;
    let is_own = is_multiple && {
        let sounding = sounding_multiples(ladder).0;
        LOW_ODD.iter().all(|m| sounding.contains(m))
    };
    (stands_between && !is_own && may_be).then(|| hz / ladder.orders.reference_hz)
}

/// Whether most of the lowest multiples of a ladder sound, or where a reed's tones are expected, as many as
/// of another ladder or those that hold most of what sounds: the top of two lines that are not told apart
/// lies on neither, and that of one of the mains' is not a tone.
fn is_better_told(ladder: &Ladder, other: &Ladder, lowest: Lowest) -> bool {
    let low = |sounding: &[usize]| sounding.iter().filter(|m| **m <= LOW_MULTIPLES).count();
    let (sounding, powers) = sounding_multiples(ladder);
    if 2 * low(&sounding) > LOW_MULTIPLES {
        return true;
    }
    let all = mean_powers(ladder).iter().sum::<f64>() / NOISE_BANDWIDTH_BINS;
    let most = 2.0 * powers.iter().sum::<f64>() > all;
    let expected = ladder.orders.reference_hz >= lowest.own_from_hz.max(OVER_MAINS_HZ);
    expected && (most || low(&sounding) >= low(&sounding_multiples(other).0))
}

/// Where the line whose strongest bin this is has its top: of a parabola through the levels of three bins,
/// which for a Hann frame is within some hundredths of a bin of it.
fn top_near(power: &[f64], bin: usize) -> f64 {
    let level = |bin: Option<usize>| bin.and_then(|bin| power.get(bin)).map(|power| power.ln());
    let (below, at, above) = (level(bin.checked_sub(1)), level(Some(bin)), level(Some(bin + 1)));
    let (Some(below), Some(at), Some(above)) = (below, at, above) else { return bin as f64 };
    let aside = 0.5 * (below - above) / (below - 2.0 * at + above);
    if aside.abs() <= 0.5 { bin as f64 + aside } else { bin as f64 }
}

fn mean_powers(ladder: &Ladder) -> Vec<f64> {
    (0..ladder.orders.bins)
        .map(|bin| 0.5 * ladder.orders.mean_square(bin, ladder.core.clone()))
        .collect()
}

/// How many times the base the lowest tone lies that sounds: the largest factor such that only its
/// multiples sound, or the lowest multiple of two tones that are off the octave and share no more than
/// the period after which both repeat, roughly. `None` where it is the base.
fn missing_multiples(ladder: &Ladder) -> Option<usize> {
    let (sounding, powers) = sounding_multiples(ladder);
    let common = (2..=6).rev().find(|factor| sounding.iter().all(|m| m % factor == 0));
    if sounding.is_empty() || common.is_some() {
        return common.filter(|_| !sounding.is_empty());
    }
    // Combination tones of two lie at any multiple, and are weak.
    let most = powers.iter().copied().fold(0.0, f64::max);
    let of_tones = sounding.iter().zip(&powers).filter(|(_, power)| **power > MISSING_SHARE * most);
    let strong: Vec<usize> = of_tones.map(|(m, _)| *m).collect();
    let lowest = *strong.first()?;
    let octave_off = |upper: &usize| {
        let ratio = *upper as f64 / (2 * lowest) as f64;
        *upper != 2 * lowest && (ratio - 1.0).abs() <= SHARED_REACH
    };
    let of_two = |upper: &usize| strong.iter().all(|m| m % lowest == 0 || m % upper == 0);
    let two = || strong.iter().any(|upper| octave_off(upper) && of_two(upper));
    (lowest >= LEAST_SHARED && two()).then_some(lowest)
}

/// The multiples of the base that stand over the noise about them, and their powers.
fn sounding_multiples(ladder: &Ladder) -> (Vec<usize>, Vec<f64>) {
    let orders = &ladder.orders;
    let bins = orders.bins_per_unit;
    let mean = mean_powers(ladder);
    let multiples = (orders.bins.saturating_sub(1) / bins).min(24);
    let total: f64 = (1..=multiples).map(|m| mean[m * bins]).sum();
    (1..=multiples)
        .filter(|m| {
            let around: Vec<f64> = (m * bins - bins / 2..=m * bins + bins / 2)
                .filter(|bin| bin.abs_diff(m * bins) >= 3)
                .filter_map(|bin| mean.get(bin).copied())
                .collect();
            let noise = crate::dsp::statistics::median(around).unwrap_or(0.0);
            let at = m * bins;
            // A line of another tone near it has its top beside it.
            let is_top =
                mean[at] >= mean[at - 1] && mean.get(at + 1).is_none_or(|p| mean[at] >= *p);
            is_top && mean[at] > STANDS_OVER * noise && mean[at] > LEAST_SHARE * total
        })
        .map(|m| (m, mean[m * bins]))
        .unzip()
}

/// The part of the base at which a lower tone stands, and how far off it is (a ratio).
fn lower_tone(ladder: &Ladder, parts: &[usize], lowest: Lowest) -> Option<(usize, f64)> {
    let orders = &ladder.orders;
    let bins = orders.bins_per_unit as f64;
    let noise = NoiseProfile::new(orders, bins, ladder.core.clone());
    let base = Family {
        orders,
        base_bins: bins,
        multiples: (1..=(orders.bins as f64 / bins) as usize).collect(),
        noise: &noise,
    };
    let track = base.phase_track(ladder.core.clone())?;
    let power = base.power(ladder.core.clone());
    parts
        .iter()
        .copied()
        .filter(|part| {
            let hz = orders.reference_hz / *part as f64;
            hz >= LOWEST_HZ && (lowest.may_halve || hz >= lowest.own_from_hz)
        })
        .find_map(|part| {
            let may_stand_off = orders.reference_hz / part as f64 >= lowest.own_from_hz;
            let line = lower_line(ladder, part, may_stand_off, &track.cycles, power)?;
            Some((part, line.deviation))
        })
}

/// The line at the multiples of the base's `part`th part that the base lacks, where there is one.
///
/// * `may_stand_off`: whether an octave may be a tone that is not locked to the base.
/// * `cycles`, `power`: phase of the base over the core, and its partials' power.
fn lower_line(
    ladder: &Ladder,
    part: usize,
    may_stand_off: bool,
    cycles: &[f64],
    power: f64,
) -> Option<Line> {
    let orders = &ladder.orders;
    let base_bins = orders.bins_per_unit as f64 / part as f64;
    let core = ladder.core.clone();
    let noise = NoiseProfile::new(orders, base_bins, core.clone());
    let most = (orders.bins as f64 / base_bins) as usize;
    let new = Family {
        orders,
        base_bins,
        multiples: (1..=most).filter(|m| m % part != 0).collect(),
        noise: &noise,
    };
    // Where two tones stand off, a high partial of one may lie at a third of the other: a tone that
    // is there has its lowest partials.
    let stands = |m: &usize| new.partial_power(*m, core.clone()) > STANDS_OVER * 0.5 * noise.at(*m);
    let lowest = new.multiples.iter().take(LOWEST_PARTIALS);
    if part > 2 && lowest.filter(|m| stands(m)).count() + 1 < LOWEST_PARTIALS {
        return None;
    }
    if !may_stand_off && is_of_a_consonant_note(&new, &core) {
        return None;
    }
    let reference: Vec<f64> = cycles.iter().map(|c| c / part as f64).collect();
    let line_within = |reach: f64| {
        let sought = Sought { reach, near: None, least_aside: LEAST_ASIDE_SHARE * power };
        most_certain_line(&new, core.clone(), &reference, sought)
    };
    // A third that is not exact is another tone's partial.
    let line = match part == 2 && may_stand_off {
        true => line_within(REACH)?,
        false => {
            let exact = line_within(EXACT);
            // One that wavers by itself holds little of its power in one line.
            let all = |line: &Line| {
                let moved = new.moved_beside(line.deviation);
                line.power.max(standing_power(&moved, MOST_PARTIALS, &core))
            };
            // Who plays beside the bench is seldom so loud.
            let least = exact.map_or(0.0, |line| CLEARLY_LOUDER * line.power);
            let is_loud = |line: &Line| all(line) >= least.max(LOUD_SHARE * power);
            let may_be_loud = part == 2 && holds_more_than_multiples(ladder);
            let loud = may_be_loud.then(|| line_within(REACH)).flatten().filter(is_loud);
            loud.or(exact)?
        }
    };
    if (1200.0 * (1.0 + line.deviation).log2()).abs() > FARTHEST_CENTS {
        return None;
    }
    // Where it stands: its bins lie beside the multiples when it does.
    let is_locked = line.deviation.abs() <= LOCKED_CENTS / CENTS_PER_E;
    let own = if is_locked { new } else { new.moved_beside(line.deviation) };
    let told = own.multiples.iter().take(line.partials);
    let strength: f64 = told.map(|m| own.partial_power(*m, core.clone())).sum();
    // What a line near by leaves in their bins is no octave: a locked one holds what stands there itself.
    let is_itself = !is_locked || line.power >= LEAST_OF_ITS_BINS * strength;
    // A halved vibration stands exactly at half; what stands a little off and is faint is a peak that a room
    // makes of breath, unless it is beyond doubt.
    let is_off = line.deviation.abs() > EXACTLY_SD * line.sd;
    let may_be_breath = strength < FAINT_SHARE * power && is_off && line.evidence < BEYOND_DOUBT;
    // So far off, what is no tone that stands off by itself is a meeting of two others.
    let is_meeting = is_locked
        && !may_stand_off
        && is_off
        && line.deviation.abs() > HALVES_WITHIN_CENTS / CENTS_PER_E;
    if is_meeting {
        return None;
    }
    (strength >= LEAST_LOW_SHARE * power && is_itself && !may_be_breath).then_some(line)
}

/// Whether so much stands between the multiples of a ladder's base that another tone may be as loud.
fn holds_more_than_multiples(ladder: &Ladder) -> bool {
    let mean = mean_powers(ladder);
    let all = mean.iter().sum::<f64>() / NOISE_BANDWIDTH_BINS;
    let at_multiples: f64 =
        mean.iter().skip(ladder.orders.bins_per_unit).step_by(ladder.orders.bins_per_unit).sum();
    at_multiples < (1.0 - LOUD_SHARE / 2.0) * all
}

/// Whether a lower tone's strongest partial stands alone: a note a third or a fifth above has its
/// partials at every fifth or third of the octave below, and nothing at those in between. A reed that
/// halves its vibration has them all.
fn is_of_a_consonant_note(family: &Family<'_>, frames: &Range<usize>) -> bool {
    let power = |m: usize| family.partial_power(m, frames.clone());
    let noise = |m: usize| 0.5 * family.noise.at(m);
    let told = family.multiples.iter().copied().take(2 * MOST_PARTIALS);
    let Some(strongest) = told.max_by(|a, b| power(*a).total_cmp(&power(*b))) else {
        return false;
    };
    // Missing is what would be seen at a share of the strongest.
    let is_missing = |m: usize| {
        let least = MISSING_SHARE * power(strongest);
        noise(m) < least && power(m) < least
    };
    strongest >= 3 && is_missing(strongest - 2) && is_missing(strongest + 2)
}
