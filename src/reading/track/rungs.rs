//! The octave levels of a crow over time: when each sounds, how strongly, how it comes and goes.

use std::ops::Range;

use realfft::num_complex::Complex;

use super::family::{Family, NoiseProfile};
use super::line::log_chance;
use super::orders::{NOISE_BANDWIDTH_BINS, NOISE_CORRELATION, Orders};
use crate::dsp::statistics::running_mean;

/// A rung sounds at this level relative to all partials, or more.
///
/// A low octave 30 dB under the upper one is a real one to a maker and lies just under −30 dB of
/// all partials; a limit there would let it flicker. At −45 dB it does not, and a tone that weak is
/// still found over the noise of a quiet room.
const LEAST_LEVEL_DB: f64 = -45.0;
/// And at this much over the noise in its own bins …
const OVER_NOISE_DB: f64 = 6.0;
/// (and, somewhere, so strongly that noise alone does it once in e⁶ frames) …
const CHANCE: f64 = -6.0;
/// … which are this wide about each partial.
const OWN_BINS_HZ: f64 = 20.0;
/// Where it sounds it goes on sounding, both ways, until it is this much under the first limit.
const HYSTERESIS_DB: f64 = 3.0;
/// A weak rung is averaged, in phase, until its typical power is this many times the noise …
const CLEAR: f64 = 20.0;
/// … but no longer than this.
const LONGEST_AVERAGE_S: f64 = 0.25;
/// Shorter interruptions and soundings are not told from chance.
const SHORTEST_S: f64 = 0.02;
/// A rung has entered when it sounds this long.
const ENTRY_S: f64 = 0.05;

/// One rung of a crow over the frames of its orders.
#[derive(Debug, Clone)]
pub struct RungCourse {
    /// Multiples of the base that belong to it.
    pub multiples: Vec<usize>,
    /// Bins per multiple of the base.
    pub base_bins: f64,
    /// `[frames]` power of its partials, noise taken off.
    pub power: Vec<f64>,
    /// `[frames]` whether it sounds.
    pub sounds: Vec<bool>,
    /// Frames averaged to hear it; its beginnings and ends are blurred by as much.
    pub average: usize,
}

/// The multiples 1 … `most` whose largest power-of-two divisor is 2^`rung`.
pub fn multiples_of_rung(rung: u32, most: usize) -> Vec<usize> {
    (1..=most).filter(|m| m.trailing_zeros() == rung).collect()
}

/// Power of `family` in each frame of `orders`, noise taken off.
fn power_course(family: &Family<'_>) -> Vec<f64> {
    let count = family.orders.frames();
    let mut power = vec![0.0; count];
    for &m in &family.multiples {
        let noise = family.noise.at(m);
        for (power, square) in power.iter_mut().zip(family.squares(m, 0..count)) {
            *power += 0.5 * (square - noise);
        }
    }
    power
}

/// What is heard of a rung in each frame.
struct Heard {
    /// `[frames]` power of its partials, noise taken off.
    power: Vec<f64>,
    /// `[frames]` log likelihood over noise alone.
    evidence: Vec<f64>,
}

impl Heard {
    /// Of `family`, each partial averaged in phase over `average` frames after being turned back by
    /// `base_cycles`: `[frames]` phase of the base over the reference's, in cycles.
    ///
    /// * `louder`: `[frames]` noise of the moment over the family's.
    fn new(family: &Family<'_>, base_cycles: &[f64], average: usize, louder: &[f64]) -> Self {
        let count = family.orders.frames();
        let mut heard = Self { power: vec![0.0; count], evidence: vec![0.0; count] };
        if average <= 1 {
            // Without averaging the phases do not matter.
            for &m in &family.multiples {
                for (b, square) in family.squares(m, 0..count).enumerate() {
                    heard.add(b, square, family.noise.at(m) * louder[b]);
                }
            }
            return heard;
        }
        let all = family.turned_back(0..count, base_cycles);
        for (&m, turned) in family.multiples.iter().zip(&all) {
            let mut running = vec![Complex::<f64>::default(); count + 1];
            for (b, turned) in turned.iter().enumerate() {
                running[b + 1] = running[b] + turned;
            }
            for (b, louder) in louder.iter().enumerate() {
                let (low, high) = window(b, average, count);
                let span = (high - low) as f64;
                let mean = (running[high] - running[low]) / span;
                let noise = family.noise.at(m) * louder * averaged_noise(span);
                heard.add(b, mean.norm_sqr(), noise);
            }
        }
        heard
    }

    fn add(&mut self, frame: usize, square: f64, noise: f64) {
        self.power[frame] += 0.5 * (square - noise);
        self.evidence[frame] += square / noise;
    }
}

fn window(b: usize, average: usize, count: usize) -> (usize, usize) {
    let before = (average - 1) / 2;
    (b.saturating_sub(before), (b + average - before).min(count))
}

/// What averaging in phase over `span` frames leaves of the noise power.
fn averaged_noise(span: f64) -> f64 {
    (NOISE_CORRELATION / span).min(1.0)
}

/// Courses of several families over one set of orders.
///
/// * `families`: one per rung, lowest first.
/// * `base_cycles`: for each family `[frames]` phase of its base over the reference's, in cycles.
/// * `core`: frames well inside the tone.
pub fn courses(
    orders: &Orders,
    families: &[Family<'_>],
    base_cycles: &[&[f64]],
    core: Range<usize>,
) -> Vec<RungCourse> {
    let count = orders.frames();
    let bin_noise_hz = NOISE_BANDWIDTH_BINS * orders.bin_hz();
    let raw: Vec<Vec<f64>> = families.iter().map(power_course).collect();
    let total: Vec<f64> =
        (0..count).map(|b| raw.iter().map(|power| power[b].max(0.0)).sum()).collect();
    let total = running_mean(&total, 3);
    families
        .iter()
        .zip(base_cycles)
        .zip(raw)
        .map(|((family, cycles), raw)| {
            let telling = telling_partials(family, cycles, core.clone());
            let noise: f64 = telling.multiples.iter().map(|m| 0.5 * family.noise.at(*m)).sum();
            let typical = telling.power(core.clone());
            let wanted = CLEAR * noise / typical.max(f64::MIN_POSITIVE) * NOISE_CORRELATION;
            let longest = (LONGEST_AVERAGE_S / orders.hop_s()).round().max(1.0);
            let average =
                if typical > CLEAR * noise { 1 } else { wanted.min(longest).ceil() as usize };
            let average = average.max(1);
            let louder = telling.noise_course(&core);
            let heard = Heard::new(&telling, cycles, average, &louder);
            // Averaging longer makes its own bins narrower.
            let own_bins_hz = OWN_BINS_HZ.min(1.0 / (average as f64 * orders.hop_s()));
            let own_noise = noise * own_bins_hz / bin_noise_hz;
            let by_level = |b: usize| 10.0_f64.powf(LEAST_LEVEL_DB / 10.0) * total[b];
            let by_noise = |b: usize| 10.0_f64.powf(OVER_NOISE_DB / 10.0) * own_noise * louder[b];
            let partials = telling.multiples.len();
            let certain: Vec<bool> = (0..count)
                .map(|b| {
                    total[b] > 0.0
                        && heard.power[b] >= by_level(b).max(by_noise(b))
                        && log_chance(heard.evidence[b], partials, 1.0) <= CHANCE
                })
                .collect();
            let possible: Vec<bool> = (0..count)
                .map(|b| {
                    let level = by_level(b) * 10.0_f64.powf(-HYSTERESIS_DB / 10.0);
                    total[b] > 0.0 && heard.power[b] >= level.max(by_noise(b))
                })
                .collect();
            let mut sounds = spread(&certain, &possible);
            let shortest = (SHORTEST_S / orders.hop_s()).round().max(1.0) as usize;
            drop_short_runs(&mut sounds, true, shortest);
            drop_short_runs(&mut sounds, false, shortest);
            RungCourse {
                multiples: family.multiples.clone(),
                base_bins: family.base_bins,
                power: raw,
                sounds,
                average,
            }
        })
        .collect()
}

/// Every run of `possible` that holds something `certain`.
fn spread(certain: &[bool], possible: &[bool]) -> Vec<bool> {
    let mut sounds = certain.to_vec();
    for b in 1..sounds.len() {
        sounds[b] |= sounds[b - 1] && possible[b];
    }
    for b in (1..sounds.len()).rev() {
        sounds[b - 1] |= sounds[b] && possible[b - 1];
    }
    sounds
}

/// A partial that stands this many times over the noise is certainly there; …
const CERTAIN: f64 = 3.0;
/// … one that comes up to the noise helps to hear its rung; …
const HELPS: f64 = 1.0;
/// … and one under the noise does when its sum in phase has this log likelihood over noise alone.
const HELPS_IN_PHASE: f64 = 3.0;

/// The partials by which a rung is heard: those that stand over the noise; where none does, those
/// that do so when summed in phase, or the strongest of them.
fn telling_partials<'a>(
    family: &Family<'a>,
    base_cycles: &[f64],
    core: Range<usize>,
) -> Family<'a> {
    let snr = |m: &usize| family.partial_power(*m, core.clone()) / (0.5 * family.noise.at(*m));
    let with = |multiples: Vec<usize>| Family { multiples, ..family.clone() };
    let over = |limit: f64| family.multiples.iter().copied().filter(move |m| snr(m) > limit);
    if over(CERTAIN).next().is_some() {
        return with(over(HELPS).collect());
    }
    let all = family.turned_back(core.clone(), &base_cycles[core.clone()]);
    let mut in_phase: Vec<(usize, f64)> = family
        .multiples
        .iter()
        .zip(&all)
        .map(|(&m, turned)| {
            let sum: Complex<f64> = turned.iter().sum();
            let noise = family.noise.at(m) * NOISE_CORRELATION * turned.len() as f64;
            (m, sum.norm_sqr() / noise)
        })
        .collect();
    let best = in_phase.iter().map(|(_, evidence)| *evidence).fold(0.0, f64::max);
    in_phase.retain(|(_, evidence)| *evidence >= HELPS_IN_PHASE.min(best));
    with(in_phase.into_iter().map(|(m, _)| m).collect())
}

/// Turns runs of `value` shorter than `shortest` frames, not at either end, into the opposite.
fn drop_short_runs(states: &mut [bool], value: bool, shortest: usize) {
    let mut start = 0;
    while start < states.len() {
        let end = states[start..]
            .iter()
            .position(|s| *s != states[start])
            .map_or(states.len(), |n| start + n);
        let inside = start > 0 && end < states.len();
        if states[start] == value && end - start < shortest && inside {
            states[start..end].fill(!value);
        }
        start = end;
    }
}

impl RungCourse {
    /// Its partials in `orders`, over `noise`.
    pub fn family<'a>(&self, orders: &'a Orders, noise: &'a NoiseProfile) -> Family<'a> {
        Family { orders, base_bins: self.base_bins, multiples: self.multiples.clone(), noise }
    }

    /// Takes back what it seemed to sound before and after the tone itself.
    pub fn keep_within(&mut self, tone: &Range<usize>) {
        for (b, sounds) in self.sounds.iter_mut().enumerate() {
            *sounds &= tone.contains(&b);
        }
    }

    /// Share of `frames` in which it sounds, 0 … 1.
    pub fn present(&self, frames: &[usize]) -> f64 {
        let sounding = frames.iter().filter(|b| self.sounds[**b]).count();
        sounding as f64 / frames.len().max(1) as f64
    }

    /// How often it goes out and comes back within `frames`.
    pub fn switches(&self, frames: &[usize]) -> usize {
        let states: Vec<bool> = frames.iter().map(|b| self.sounds[*b]).collect();
        let goes_out = states.windows(2).filter(|pair| pair[0] && !pair[1]).count();
        let comes_back = states.windows(2).filter(|pair| !pair[0] && pair[1]).count();
        goes_out.min(comes_back)
    }

    /// The first frame from which it sounds long enough to have entered.
    pub fn entry(&self, orders: &Orders) -> Option<usize> {
        let long = ((ENTRY_S / orders.hop_s()).round() as usize).max(1);
        self.sounds.windows(long).position(|run| run.iter().all(|s| *s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn partials_belong_to_the_rung_of_their_largest_power_of_two() {
        assert_eq!(multiples_of_rung(0, 9), [1, 3, 5, 7, 9]);
        assert_eq!(multiples_of_rung(1, 9), [2, 6]);
        assert_eq!(multiples_of_rung(2, 12), [4, 12]);
        assert_eq!(multiples_of_rung(3, 7), [0_usize; 0]);
    }

    #[test]
    fn short_gaps_close_and_short_blips_vanish() {
        let mut states = [true, true, false, true, true, false, false, false, true, false];
        drop_short_runs(&mut states, false, 2);
        assert_eq!(states, [true, true, true, true, true, false, false, false, true, false]);
        drop_short_runs(&mut states, true, 2);
        assert!(!states[8]);
    }
}
