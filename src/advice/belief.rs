//! What is believed about the reed on the bench: some thousands of weighted samples of what may be
//! wrong with it, drawn once, carried through everything heard, seen, measured and done.
//!
//! A sample holds a level for each cause. Crows, looks and the ruler weigh the samples; work changes
//! them. The pitch is no part of a sample: it is measured well, so only what the causes would make of
//! it weighs.

use super::Wanted;
use super::practice::{CAUSES, Cause, Practice, SOUNDS};
use crate::comparison::Rate;
use crate::reed::Cut;

/// How many samples: with fewer, rare causes stand on too few; more cost time and change nothing.
const SAMPLES: usize = 3000;

/// Under so many samples' worth of weight they are drawn anew from themselves.
const FEWEST: f64 = 200.0;

/// Of the samples drawn anew so many have one cause as before anything was heard: what all samples
/// have forgotten can so be remembered.
const REMEMBERED: f64 = 0.12;

/// Levels of every cause.
pub type Levels = [u8; CAUSES];

/// All crows of one state of the reed.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Heard {
    /// For each crow the chance of each sound, in the order of [`Sound`].
    pub crows: Vec<[f64; SOUNDS]>,
    /// How many of those are puffs beside crows.
    pub puffs: usize,
    /// The chance that each sign is there: the low octave held back, hard to blow, rough; `None` where
    /// nothing tells.
    pub signs: [Option<f64>; 3],
    /// The pitch against the target, where there is one.
    pub pitch: Option<Pitch>,
}

/// A pitch with its doubt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pitch {
    /// Cents above the target.
    pub cents: f64,
    /// Standard error.
    pub sd: f64,
    /// Standard deviation from crow to crow.
    pub spread: f64,
}

/// The samples.
#[derive(Debug, Clone)]
pub struct Belief<'a> {
    practice: &'a Practice,
    pub(super) levels: Vec<Levels>,
    log_weights: Vec<f64>,
    /// The pitch last heard, and for each sample what its causes made of it then.
    last: Option<(Pitch, Vec<f64>)>,
    /// What work since then should have moved it by, and the variance of that.
    moved: (f64, f64),
    /// Times it was worked on: numbers the draws.
    works: u64,
    /// What was done.
    done: Vec<Cut>,
}

/// Evenly spread in 0 … 1, the same for the same numbers on every machine and in every version: what
/// is advised must not hang on a library's generator. SplitMix64 (Steele, Lea & Flood 2014, OOPSLA;
/// constants from memory).
fn uniform(a: u64, b: u64, c: u64) -> f64 {
    let mut z = a
        .wrapping_mul(0x9E37_79B9_7F4A_7C15)
        .wrapping_add(b.wrapping_mul(0xD1B5_4A32_D192_ED03))
        .wrapping_add(c.wrapping_mul(0x8CB9_2BA7_2F3D_8DD7))
        .wrapping_add(0x632B_E59B_D9B4_E019);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^= z >> 31;
    (z >> 11) as f64 / (1_u64 << 53) as f64
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

/// The level that `u` in 0 … 1 falls on.
fn drawn(shares: &[f64], u: f64) -> u8 {
    let mut sum = 0.0;
    for (level, share) in shares.iter().enumerate() {
        sum += share;
        if u < sum {
            return level as u8;
        }
    }
    0
}

/// How many crows' worth `count` crows of one state say.
pub fn worth_of(count: usize, alike: f64) -> f64 {
    if count == 0 {
        return 0.0;
    }
    count as f64 / (1.0 + alike * (count as f64 - 1.0))
}

/// The chance of each sound of a reed with these levels.
pub fn sounds(practice: &Practice, levels: &Levels) -> [f64; SOUNDS] {
    let mut weights = practice.crow.kinds.each();
    for (cause, level) in present(levels) {
        let of = practice.of(cause).kinds.each();
        for (weight, more) in weights.iter_mut().zip(of) {
            *weight += more * f64::from(level);
        }
    }
    let each = weights.map(f64::exp);
    let sum: f64 = each.iter().sum();
    each.map(|one| one / sum)
}

/// The chance of each sign, in the order of [`Heard::signs`].
pub fn signs(practice: &Practice, levels: &Levels) -> [f64; 3] {
    let mut odds = [practice.crow.held, practice.crow.hard, practice.crow.rough];
    for (cause, level) in present(levels) {
        let (of, level) = (practice.of(cause), f64::from(level));
        odds[0] += of.held * level;
        odds[1] += of.hard * level;
        odds[2] += of.rough * level;
    }
    odds.map(logistic)
}

/// The causes that are there, with their levels.
pub fn present(levels: &Levels) -> impl Iterator<Item = (Cause, u8)> + '_ {
    Cause::ALL.into_iter().zip(levels.iter().copied()).filter(|(_, level)| *level > 0)
}

/// What the causes make of the pitch, in cents.
pub fn cents(practice: &Practice, levels: &Levels) -> f64 {
    present(levels).map(|(cause, level)| practice.of(cause).cents * f64::from(level)).sum()
}

/// The chance of each answer to a look: first that nothing is seen, then each cause that may be.
pub fn answers(practice: &Practice, levels: &Levels, at: Wanted) -> Vec<(Option<Cause>, f64)> {
    let looks: Vec<(Cause, f64, f64)> = Cause::ALL
        .into_iter()
        .filter_map(|cause| {
            let look = practice.of(cause).look.as_ref().filter(|look| look.at == at)?;
            Some((cause, look.seen, look.mistaken))
        })
        .collect();
    let mut each = vec![(None, 1.0)];
    for (cause, seen, mistaken) in looks {
        let chance = match levels[cause as usize] {
            0 => mistaken,
            // What is slight is overlooked more often.
            1 if practice.of(cause).levels.len() > 2 => 0.75 * seen,
            _ => seen,
        };
        each[0].1 *= 1.0 - chance;
        each.push((Some(cause), chance));
    }
    let sum: f64 = each.iter().map(|answer| answer.1).sum();
    each.iter_mut().for_each(|answer| answer.1 /= sum);
    each
}

impl<'a> Belief<'a> {
    /// Before anything is known of the reed.
    pub fn before(practice: &'a Practice) -> Self {
        let one = |sample: usize| {
            let mut levels = [0; CAUSES];
            for cause in Cause::ALL {
                let u = uniform(sample as u64, cause as u64, 0);
                levels[cause as usize] = drawn(&practice.of(cause).levels, u);
            }
            levels
        };
        Self {
            practice,
            levels: (0..SAMPLES).map(one).collect(),
            log_weights: vec![0.0; SAMPLES],
            last: None,
            moved: (0.0, 0.0),
            works: 0,
            done: Vec::new(),
        }
    }

    /// Weighs the samples by the crows of one state.
    pub fn hears(&mut self, heard: &Heard) {
        let practice = self.practice;
        let count = heard.crows.len();
        let each =
            if count == 0 { 0.0 } else { worth_of(count, practice.crow.alike) / count as f64 };
        let cents: Vec<f64> = self.levels.iter().map(|levels| cents(practice, levels)).collect();
        for (index, levels) in self.levels.iter().enumerate() {
            let of = sounds(practice, levels);
            let likely = |crow: &[f64; SOUNDS]| -> f64 {
                crow.iter().zip(of).map(|(heard, chance)| heard * chance).sum::<f64>().max(1e-6)
            };
            let mut log: f64 = heard.crows.iter().map(|crow| likely(crow).ln()).sum::<f64>() * each;
            for (seen, chance) in heard.signs.iter().zip(signs(practice, levels)) {
                if let Some(seen) = seen {
                    log += (seen * chance + (1.0 - seen) * (1.0 - chance)).ln();
                }
            }
            if let Some(pitch) = heard.pitch {
                let (off, variance) = match &self.last {
                    None => (pitch.cents - cents[index], practice.crow.cents.powi(2)),
                    Some((then, was)) => (
                        pitch.cents - then.cents - self.moved.0 - (cents[index] - was[index]),
                        self.moved.1 + then.sd.powi(2) + 25.0,
                    ),
                };
                // Student's t with four degrees of freedom: one odd take does not overturn all.
                let z2 = off.powi(2) / (variance + pitch.sd.powi(2));
                log -= 2.5 * (1.0 + z2 / 4.0).ln();
            }
            self.log_weights[index] += log;
        }
        if let Some(pitch) = heard.pitch {
            self.last = Some((pitch, cents));
            self.moved = (0.0, 0.0);
        }
        self.draw_anew();
    }

    /// Weighs them by what was seen; a second look at the same thing counts half.
    pub fn sees(&mut self, at: Wanted, saw: Option<Cause>, again: bool) {
        let power = if again { 0.5 } else { 1.0 };
        for (levels, log) in self.levels.iter().zip(&mut self.log_weights) {
            let answers = answers(self.practice, levels, at);
            let chance = answers.iter().find(|answer| answer.0 == saw).map_or(1.0, |of| of.1);
            *log += power * chance.max(1e-3).ln();
        }
        self.draw_anew();
    }

    /// Takes what is seen for a fact: nearly every sample has the cause from here on.
    ///
    /// The samples may have forgotten it, a leak that was sealed above all; what is before the eyes
    /// must not wait until an inference has caught up.
    ///
    /// * `sure`: how sure that is, 0 … 1.
    pub fn shows(&mut self, cause: Cause, sure: f64) {
        self.works += 1;
        for (index, levels) in self.levels.iter_mut().enumerate() {
            let level = &mut levels[cause as usize];
            if *level == 0 && uniform(index as u64, 98, self.works) < sure {
                *level = 1;
                // It was there when the reed was last heard, too.
                if let Some((_, was)) = &mut self.last {
                    was[index] += self.practice.of(cause).cents;
                }
            }
        }
    }

    /// Weighs them by the chance that the ruler gives to a cause; what it finds is a fact.
    pub fn measured(&mut self, cause: Cause, sure: f64) {
        for (levels, log) in self.levels.iter().zip(&mut self.log_weights) {
            let there = levels[cause as usize] > 0;
            *log += (if there { sure } else { 1.0 - sure }).max(0.02).ln();
        }
        self.draw_anew();
        if sure > 0.5 {
            self.shows(cause, sure);
        }
    }

    /// Changes them by what was done.
    ///
    /// * `amount_mm`: of a clip.
    /// * `rate`: cents for a millimetre, or for the work as a whole.
    pub fn worked(&mut self, cut: Cut, amount_mm: Option<f64>, rate: Rate) {
        self.works += 1;
        let times = self.done.iter().filter(|done| **done == cut).count();
        self.done.push(cut);
        let Some(work) = self.practice.work(cut) else { return };
        let works = self.works;
        for (index, levels) in self.levels.iter_mut().enumerate() {
            let chance = |salt: u64| uniform(index as u64, salt, works);
            let mut took = false;
            for (cause, mends) in &work.mends {
                let level = &mut levels[*cause as usize];
                let size = match (cut, *cause) {
                    (Cut::Clip, Cause::TipThin) => (amount_mm.unwrap_or(0.1) / 0.1).clamp(0.3, 1.0),
                    _ => 1.0,
                };
                if *level > 0 {
                    took = true;
                    if chance(*cause as u64 + 100) < mends * size {
                        *level -= 1;
                    }
                }
            }
            for (cause, per_mm) in &work.thickens {
                let level = &mut levels[*cause as usize];
                let most = self.practice.of(*cause).levels.len() as u8 - 1;
                if chance(*cause as u64 + 200) < per_mm * amount_mm.unwrap_or(0.0) {
                    *level = (*level + 1).min(most);
                }
            }
            if let Some(overdone) = work.overdoes
                && chance(99) < overdone.chance(took, times)
            {
                let level = &mut levels[overdone.cause as usize];
                let most = self.practice.of(overdone.cause).levels.len() as u8 - 1;
                *level = (*level + 1).min(most);
            }
        }
        match cut {
            Cut::Clip => {
                let mm = amount_mm.unwrap_or(0.0);
                self.moved.0 += rate.mean * mm;
                self.moved.1 += (rate.sd * mm).powi(2) + work.cents_sd.powi(2);
            }
            // What it takes off a cause is in the samples' own cents.
            _ => self.moved.1 += work.cents_sd.powi(2),
        }
    }

    /// The samples' weights, which add up to 1.
    pub fn weights(&self) -> Vec<f64> {
        let most = self.log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let each: Vec<f64> = self.log_weights.iter().map(|log| (log - most).exp()).collect();
        let sum: f64 = each.iter().sum();
        each.into_iter().map(|one| one / sum).collect()
    }

    /// The chance that a cause is there.
    pub fn chance(&self, cause: Cause) -> f64 {
        self.chance_of(|levels| levels[cause as usize] > 0)
    }

    /// The chance of what holds of a sample.
    pub fn chance_of(&self, holds: impl Fn(&Levels) -> bool) -> f64 {
        let weights = self.weights();
        self.levels.iter().zip(weights).filter(|(levels, _)| holds(levels)).map(|(_, w)| w).sum()
    }

    /// The chance of each sound in the next crow.
    pub fn next_sounds(&self) -> [f64; SOUNDS] {
        let mut sum = [0.0; SOUNDS];
        for (levels, weight) in self.levels.iter().zip(self.weights()) {
            for (all, one) in sum.iter_mut().zip(sounds(self.practice, levels)) {
                *all += weight * one;
            }
        }
        sum
    }

    /// The share of three crows that should be in octaves: its mean, and within which it lies 19 times
    /// in 20.
    pub fn share_of_octaves(&self) -> (f64, f64, f64) {
        let mut chances = [0.0; 4];
        for (levels, weight) in self.levels.iter().zip(self.weights()) {
            let p = sounds(self.practice, levels)[0];
            let q = 1.0 - p;
            let of = [q.powi(3), 3.0 * p * q * q, 3.0 * p * p * q, p.powi(3)];
            chances.iter_mut().zip(of).for_each(|(all, one)| *all += weight * one);
        }
        let mean = (chances[1] + 2.0 * chances[2] + 3.0 * chances[3]) / 3.0;
        let at = |limit: f64, order: [usize; 4]| {
            let mut sum = 0.0;
            let found = order.into_iter().find(|count| {
                sum += chances[*count];
                sum > limit
            });
            found.unwrap_or(order[3]) as f64 / 3.0
        };
        (mean, at(0.025, [0, 1, 2, 3]), at(0.025, [3, 2, 1, 0]))
    }

    fn draw_anew(&mut self) {
        let weights = self.weights();
        let squares: f64 = weights.iter().map(|weight| weight * weight).sum();
        if squares.recip() >= FEWEST {
            return;
        }
        let was = self.last.as_ref().map(|(_, cents)| cents.clone());
        let mut levels = Vec::with_capacity(SAMPLES);
        let mut cents = Vec::with_capacity(SAMPLES);
        let (mut from, mut sum) = (0, weights[0]);
        for sample in 0..SAMPLES {
            let at = (sample as f64 + 0.5) / SAMPLES as f64;
            while sum < at && from + 1 < SAMPLES {
                from += 1;
                sum += weights[from];
            }
            let mut one = self.levels[from];
            let u = |salt: u64| uniform(sample as u64, salt, 1000 + self.works);
            if u(1) < REMEMBERED {
                let cause = Cause::ALL[(u(2) * CAUSES as f64) as usize % CAUSES];
                one[cause as usize] = drawn(&self.practice.of(cause).levels, u(3));
            }
            levels.push(one);
            cents.extend(was.as_ref().map(|was| was[from]));
        }
        self.levels = levels;
        self.log_weights = vec![0.0; SAMPLES];
        if let Some((_, was)) = &mut self.last {
            *was = cents;
        }
    }
}
