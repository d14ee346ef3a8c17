//! What is believed about the reed on the bench: some thousands of weighted samples of what it may
//! be, drawn once, carried through everything heard, seen, measured and done.
//!
//! Crows, looks and the ruler weigh the samples; work changes them. The pitch is not part of a sample:
//! it is measured well, so only what the cane would make of it weighs.

use super::Wanted;
use super::practice::{CAUSES, Cause, Practice, SOUNDS};
use super::sample::{Crow, Sample, normal, uniform};
use crate::comparison::Rate;
use crate::reed::Cut;

/// How many samples: with fewer, rare causes stand on too few; more cost time and change nothing.
const SAMPLES: usize = 2400;

/// Under so many samples' worth of weight they are drawn anew from themselves.
const FEWEST: f64 = 400.0;

/// Of the samples drawn anew so many have one cause as before anything was heard: what all samples
/// have forgotten can so be remembered.
const REMEMBERED: f64 = 0.1;

/// Those drawn anew differ from what they were drawn from by so many rounds of cane (standard
/// deviation).
const ASIDE: f64 = 0.08;

/// Signs of one state are more alike than its sounds are (our choice).
const SIGNS_ALIKE: f64 = 0.35;

/// A level of a cause under this counts as none, in rounds.
const SLIGHT: f64 = 0.15;

/// All crows of one state of the reed.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Heard {
    /// For each crow the chance of each sound, in the order of [`super::Sound`].
    pub crows: Vec<[f64; SOUNDS]>,
    /// How many of those are puffs beside crows.
    pub puffs: usize,
    /// Sounds read as crows that no such reed makes, which are not among them.
    pub strangers: usize,
    /// Of each sign in how many crows it was: the low octave held back, hard to blow, rough.
    pub signs: [Sign; 3],
    /// The pitch against the target, where there is one.
    pub pitch: Option<Pitch>,
}

/// In how many crows a sign was.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sign {
    /// With it.
    pub with: usize,
    /// Of so many that tell.
    pub of: usize,
}

impl Sign {
    /// Whether it is there: in half of the crows or more.
    pub fn is_there(self) -> bool {
        self.of > 0 && 2 * self.with >= self.of
    }
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
    /// The octave in which most crows sound, counted from the target's; `None` where it is not known.
    pub register: Option<i32>,
}

/// What work since the last pitch should have moved it by.
#[derive(Debug, Clone, Default)]
struct Moved {
    /// In each sample, in cents.
    cents: Vec<f64>,
    variance: f64,
}

/// The samples.
#[derive(Debug, Clone)]
pub struct Belief<'a> {
    practice: &'a Practice,
    pub(super) samples: Vec<Sample>,
    log_weights: Vec<f64>,
    /// The pitch last heard.
    last: Option<Pitch>,
    moved: Moved,
    /// Times the samples were changed: numbers the draws.
    changes: u64,
}

/// How many crows' worth `count` crows of one state say.
pub fn worth_of(count: usize, alike: f64) -> f64 {
    if count == 0 {
        return 0.0;
    }
    count as f64 / (1.0 + alike * (count as f64 - 1.0))
}

impl<'a> Belief<'a> {
    /// Before anything is known of the reed.
    pub fn before(practice: &'a Practice) -> Self {
        Self {
            practice,
            samples: (0..SAMPLES as u64).map(|at| Sample::drawn(practice, at, 0)).collect(),
            log_weights: vec![0.0; SAMPLES],
            last: None,
            moved: Moved { cents: vec![0.0; SAMPLES], variance: 0.0 },
            changes: 0,
        }
    }

    /// Weighs the samples by the crows of one state.
    pub fn hears(&mut self, heard: &Heard) {
        let practice = self.practice;
        let count = heard.crows.len();
        let each = worth_of(count, practice.crow.alike) / count.max(1) as f64;
        // Three crows alike are one likelihood.
        let mut kinds: Vec<([f64; SOUNDS], f64)> = Vec::new();
        for crow in &heard.crows {
            match kinds.iter_mut().find(|kind| kind.0 == *crow) {
                Some(kind) => kind.1 += each,
                None => kinds.push((*crow, each)),
            }
        }
        for (index, sample) in self.samples.iter().enumerate() {
            let Crow { sounds, signs, .. } = sample.crow(practice);
            let likely = |crow: &[f64; SOUNDS]| -> f64 {
                crow.iter().zip(sounds).map(|(heard, chance)| heard * chance).sum::<f64>().max(1e-6)
            };
            let mut log: f64 = kinds.iter().map(|(crow, times)| times * likely(crow).ln()).sum();
            for (seen, chance) in heard.signs.iter().zip(signs) {
                if seen.of > 0 {
                    let (with, of) = (seen.with as f64, seen.of as f64);
                    let told = with * chance.ln() + (of - with) * (1.0 - chance).ln();
                    log += told * worth_of(seen.of, SIGNS_ALIKE) / of;
                }
            }
            if let Some(pitch) = heard.pitch {
                let (off, variance) = match &self.last {
                    None => (pitch.cents - self.usual_cents(sample), practice.crow.cents.powi(2)),
                    Some(then) => (
                        pitch.cents - then.cents - self.moved.cents[index],
                        self.moved.variance + then.sd.powi(2) + 9.0,
                    ),
                };
                // Student's t with four degrees of freedom: one odd take does not overturn all.
                let z2 = off.powi(2) / (variance + pitch.sd.powi(2));
                log -= 2.5 * (1.0 + z2 / 4.0).ln();
            }
            self.log_weights[index] += log;
        }
        if heard.pitch.is_some() {
            self.last = heard.pitch;
            self.moved = Moved { cents: vec![0.0; self.samples.len()], variance: 0.0 };
        }
        self.draw_anew();
    }

    /// What such cane makes of the pitch of a reed that is new to the bench.
    fn usual_cents(&self, sample: &Sample) -> f64 {
        let amounts = sample.amounts(self.practice);
        amounts.iter().zip(self.practice.in_order()).map(|(amount, of)| amount * of.cents).sum()
    }

    /// Weighs them by what was seen; a second look at the same thing counts half.
    pub fn sees(&mut self, at: Wanted, saw: Option<Cause>, again: bool) {
        let power = if again { 0.5 } else { 1.0 };
        for (sample, log) in self.samples.iter().zip(&mut self.log_weights) {
            let answers = sample.answers(self.practice, at);
            let chance = answers.iter().find(|answer| answer.0 == saw).map_or(1.0, |of| of.1);
            *log += power * chance.max(1e-3).ln();
        }
        self.draw_anew();
    }

    /// Takes what is seen for a fact: the flaw is at least so sure from here on.
    ///
    /// The samples may have forgotten it, a leak that was sealed above all; what is before the eyes
    /// must not wait until an inference has caught up. What was inferred already counts once.
    ///
    /// * `sure`: how sure that is, 0 … 1.
    pub fn shows(&mut self, flaw: Cause, sure: f64) {
        let weights = self.weights();
        let each = self.samples.iter().zip(weights);
        let known: f64 =
            each.filter(|(sample, _)| sample.has(flaw)).map(|(_, weight)| weight).sum();
        if known >= sure {
            return;
        }
        let share = (sure - known) / (1.0 - known);
        self.changes += 1;
        for (index, sample) in self.samples.iter_mut().enumerate() {
            if !sample.has(flaw) && uniform(index as u64, 98, self.changes) < share {
                sample.set(flaw, true);
            }
        }
    }

    /// Weighs them by the chance that the ruler gives to a flaw; what it finds is a fact.
    pub fn measured(&mut self, flaw: Cause, sure: f64) {
        for (sample, log) in self.samples.iter().zip(&mut self.log_weights) {
            *log += (if sample.has(flaw) { sure } else { 1.0 - sure }).max(0.02).ln();
        }
        self.draw_anew();
        if sure > 0.5 {
            self.shows(flaw, sure);
        }
    }

    /// Changes them by what was done.
    ///
    /// * `amount_mm`: of a clip.
    /// * `rate`: cents for a millimetre, or for a round.
    pub fn worked(&mut self, cut: Cut, amount_mm: Option<f64>, rate: Rate) {
        self.changes += 1;
        let practice = self.practice;
        let Some(work) = practice.work(cut) else { return };
        let changes = self.changes;
        let mm = amount_mm.unwrap_or(0.0);
        for (index, sample) in self.samples.iter_mut().enumerate() {
            let number = index as u64;
            let spread = |sd: f64| (sd * normal(number, 60, changes)).exp();
            if cut == Cut::Clip {
                *sample = sample.clipped(practice, mm, spread(practice.clip.thickness_sd));
                self.moved.cents[index] += rate.mean * mm;
            } else if !work.takes.is_empty() {
                let (after, took) = sample.scraped(work, spread(practice.hand.round_sd));
                *sample = after;
                self.moved.cents[index] += rate.mean * took;
            }
            for (flaw, mends) in &work.mends {
                let of_size = if cut == Cut::Clip { (mm / 0.1).min(1.0) } else { 1.0 };
                if uniform(number, *flaw as u64 + 100, changes) < mends * of_size {
                    sample.set(*flaw, false);
                }
            }
            if work.spoils > 0.0 && uniform(number, 99, changes) < work.spoils {
                sample.set(Cause::Cane, true);
            }
        }
        self.moved.variance += match cut {
            Cut::Clip => (rate.sd * mm).powi(2) + work.cents_sd.powi(2),
            _ => work.cents_sd.powi(2),
        };
    }

    /// The samples' weights, which add up to 1.
    pub fn weights(&self) -> Vec<f64> {
        let most = self.log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let each: Vec<f64> = self.log_weights.iter().map(|log| (log - most).exp()).collect();
        let sum: f64 = each.iter().sum();
        each.into_iter().map(|one| one / sum).collect()
    }

    /// The chance of each cause being there.
    pub fn chances(&self) -> [f64; CAUSES] {
        let mut all = [0.0; CAUSES];
        for (sample, weight) in self.samples.iter().zip(self.weights()) {
            for (sum, amount) in all.iter_mut().zip(sample.amounts(self.practice)) {
                *sum += if amount > SLIGHT { weight } else { 0.0 };
            }
        }
        all
    }

    /// The chance that a cause is there.
    pub fn chance(&self, cause: Cause) -> f64 {
        self.chances()[cause as usize]
    }

    /// The chance that it crows in octaves, at once and without a sign.
    pub fn in_order(&self) -> f64 {
        let each = self.samples.iter().zip(self.weights());
        let practice = self.practice;
        each.map(|(sample, weight)| weight * sample.order(practice, &sample.amounts(practice)).0)
            .sum()
    }

    /// The chance of each sound in the next crow.
    pub fn next_sounds(&self) -> [f64; SOUNDS] {
        let mut sum = [0.0; SOUNDS];
        for (sample, weight) in self.samples.iter().zip(self.weights()) {
            for (all, one) in sum.iter_mut().zip(sample.crow(self.practice).sounds) {
                *all += weight * one;
            }
        }
        sum
    }

    /// The share of three crows that should be in octaves: its mean, and within which it lies 19 times
    /// in 20.
    pub fn share_of_octaves(&self) -> (f64, f64, f64) {
        let mut chances = [0.0; 4];
        for (sample, weight) in self.samples.iter().zip(self.weights()) {
            let p = sample.crow(self.practice).sounds[0];
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
        self.changes += 1;
        let salt = 1000 + self.changes;
        let mut samples = Vec::with_capacity(SAMPLES);
        let mut moved = Vec::with_capacity(SAMPLES);
        let (mut from, mut sum) = (0, weights[0]);
        for number in 0..SAMPLES {
            let at = (number as f64 + 0.5) / SAMPLES as f64;
            while sum < at && from + 1 < SAMPLES {
                from += 1;
                sum += weights[from];
            }
            let mut one = self.samples[from];
            let number = number as u64;
            for (place, cane) in one.cane.iter_mut().enumerate() {
                *cane += ASIDE * normal(number, place as u64 + 300, salt);
            }
            let u = |at: u64| uniform(number, at, salt);
            if u(301) < REMEMBERED {
                let cause = Cause::ALL[(u(302) * CAUSES as f64) as usize % CAUSES];
                one.draw(self.practice, cause, number, salt);
            }
            samples.push(one);
            moved.push(self.moved.cents[from]);
        }
        self.samples = samples;
        self.log_weights = vec![0.0; SAMPLES];
        self.moved.cents = moved;
    }
}
