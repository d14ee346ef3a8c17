//! What a state of the reed is worth: left as it is, or worked on by a maker who finds out what is wrong;
//! and what work makes of it.

use super::choice::{Choice, Now};
use super::gates::tries;
use crate::advice::practice::{Cause, OfWork, PLACES, Practice};
use crate::advice::sample::{Amounts, Sample};
use crate::reed::Cut;

/// What was mended without a cut and is still there is so much less likely mended by another try (our
/// choice).
const STILL_THERE: f64 = 0.6;

/// Where a reed ends makers part ways: the shortest length is meant so well, in millimetres (our
/// choice).
const SOFT_MM: f64 = 0.25;

/// With every cut that was made, later ones cost so much more (our choice): work comes to an end.
const DEARER: f64 = 0.04;

/// Of what a reed bears of disorder, so much is left by a maker who stops in time (our choice).
const LEFT_IN: f64 = 0.75;

/// Of what a place bears being thin, so much is taken of it for the pitch's sake (our choice).
const DARED: f64 = 0.5;

/// A reed out of tune is worth a third as much with every so many cents (our choice).
const FAR_CENTS: f64 = 30.0;

/// A round that is less than so much of one is a round all the same.
const LEAST_ROUND: f64 = 0.6;

/// Cumulative standard normal.
pub fn normal(x: f64) -> f64 {
    0.5 * statrs::function::erf::erfc(-x / std::f64::consts::SQRT_2)
}

/// Everything a worth is reckoned from.
pub struct Reckoning<'a> {
    /// The tables.
    pub practice: &'a Practice,
    /// What is known besides the samples.
    pub now: &'a Now,
    /// Cents that a round in each place brings.
    rates: [f64; PLACES],
    /// What a flaw of structure leaves of the chance to save the reed, after what was tried.
    mended: Vec<f64>,
}

impl<'a> Reckoning<'a> {
    /// For a reed as it is now.
    pub fn new(practice: &'a Practice, now: &'a Now) -> Self {
        let mended =
            |cause: Cause| practice.of(cause).mended * STILL_THERE.powi(tries(now, cause) as i32);
        Self {
            practice,
            now,
            rates: std::array::from_fn(|place| {
                let work = now.proposed.iter().find(|(_, cause)| *cause as usize == place);
                let rate = work.and_then(|(cut, _)| now.rate(*cut));
                rate.map_or(-8.0, |rate| rate.mean.min(-1.0))
            }),
            mended: Cause::ALL.into_iter().map(mended).collect(),
        }
    }

    /// What a cut costs now.
    pub fn cut_costs(&self) -> f64 {
        self.practice.worth.cut_costs * (1.0 + DEARER * self.now.done.len() as f64)
    }

    /// Millimetres over the shortest length, and how well that is known.
    fn room(&self) -> (f64, f64) {
        let shortest = self.now.shortest_mm;
        match (self.now.length, shortest, self.now.usual_mm) {
            (Some((mm, sd)), Some(shortest), _) => (mm - shortest, sd),
            (None, Some(shortest), Some(usual)) => (usual - shortest, 1.0),
            _ => (2.5, 1.5),
        }
    }

    /// The chance of being in tune.
    pub fn in_tune(&self, cents: f64, sd: f64) -> f64 {
        if self.now.pitch_is_free {
            return 1.0;
        }
        let limit = self.now.tolerance;
        let sd = sd.max(0.5);
        normal((limit - cents) / sd) - normal((-limit - cents) / sd)
    }

    /// What the reed is worth if it is left as it is.
    pub fn left(&self, sample: &Sample, pitch: Option<(f64, f64)>) -> f64 {
        self.left_as(sample, &sample.amounts(self.practice), pitch)
    }

    fn left_as(&self, sample: &Sample, amounts: &Amounts, pitch: Option<(f64, f64)>) -> f64 {
        let worth = &self.practice.worth;
        let (prompt, octaves) = sample.order(self.practice, amounts);
        let order = prompt + worth.late * (octaves - prompt);
        if order < 0.05 {
            return order;
        }
        let tune = match pitch {
            None => worth.out_of_tune,
            Some((cents, sd)) => {
                let sure = self.in_tune(cents, sd);
                let off = (cents.abs() - self.now.tolerance).max(0.0);
                sure + (1.0 - sure) * worth.out_of_tune * (-off / FAR_CENTS).exp()
            }
        };
        order * tune
    }

    /// What it is worth to a maker who goes on, and finds out what is wrong as it goes.
    fn worked_on(&self, sample: &Sample, amounts: &Amounts, cents: f64) -> f64 {
        let practice = self.practice;
        let (mut saved, mut moves, mut clip_mm, mut pitch) = (1.0, 0.0, 0.0, cents);
        for (at, of) in practice.in_order().iter().enumerate().skip(PLACES) {
            if amounts[at] > 0.0 {
                saved *= self.mended[at];
                moves += of.moves;
            }
        }
        let (rounds, fell, left) = self.ordered(sample, amounts);
        moves += rounds;
        pitch += fell;
        let thin = amounts[Cause::TipThin as usize];
        if thin > 0.0 {
            clip_mm += (thin + 0.3) / practice.clip.restores_per_mm;
            moves += (clip_mm / 0.2).max(1.0);
        }
        if !self.now.pitch_is_free {
            pitch += clip_mm * self.now.clip.mean;
            let half = self.now.tolerance / 2.0;
            if pitch < -half {
                let mm = -pitch / self.now.clip.mean.max(20.0);
                clip_mm += mm;
                moves += (mm / 0.45).ceil();
            } else if pitch > half {
                let (rounds, saves) = self.lowered(sample, pitch - half, &left);
                moves += rounds;
                saved *= saves;
            }
        }
        if clip_mm > 0.0 {
            let (room, sd) = self.room();
            saved *= normal((room - clip_mm) / sd.hypot(SOFT_MM)).max(0.02);
        }
        (saved * (1.0 - practice.worth.move_costs * moves)).max(0.0)
    }

    /// What it takes to bring the octaves in order, the worst place first: rounds, cents, and the cane
    /// that is left.
    fn ordered(&self, sample: &Sample, amounts: &Amounts) -> (f64, f64, [f64; PLACES]) {
        let practice = self.practice;
        let of = |place: usize| practice.in_order()[place].disorder;
        let all: f64 = (0..PLACES).map(|place| amounts[place] * of(place)).sum();
        let (mut rounds, mut cents, mut cane) = (0.0, 0.0, sample.cane);
        if all <= 0.95 * sample.bears {
            return (rounds, cents, cane);
        }
        let mut too_much = all - LEFT_IN * sample.bears;
        let mut order = [0, 1, 2, 3, 4];
        order.sort_by(|a, b| (amounts[*b] * of(*b)).total_cmp(&(amounts[*a] * of(*a))));
        for place in order {
            let taken = amounts[place].min(too_much / of(place));
            if taken <= 0.0 {
                break;
            }
            rounds += (taken / sample.hand).max(LEAST_ROUND);
            cents += self.rates[place] * taken;
            cane[place] -= taken;
            too_much -= taken * of(place);
        }
        (rounds, cents, cane)
    }

    /// What it takes to bring a sharp crow down by so many cents: rounds, and the chance that the cane
    /// for it is there.
    fn lowered(&self, sample: &Sample, cents: f64, cane: &[f64; PLACES]) -> (f64, f64) {
        let hand = &self.practice.hand;
        let bears = [hand.tip_bears, hand.tip_bears, 0.3, hand.heart_bears, hand.back_bears];
        let (mut spare, mut steepest) = (0.0_f64, 4.0_f64);
        for place in 0..PLACES {
            let rounds = (cane[place] + DARED * bears[place] * sample.tough).max(0.0);
            spare += rounds * -self.rates[place];
            if rounds > 0.0 {
                steepest = steepest.max(-self.rates[place]);
            }
        }
        let lacks = (cents - spare).max(0.0);
        (cents / (steepest * sample.hand), (-lacks / 12.0).exp())
    }

    /// The best that can be made of it.
    pub fn best(&self, sample: &Sample, cents: f64) -> f64 {
        let pitch = self.now.pitch.map(|_| (cents, 4.0));
        let amounts = sample.amounts(self.practice);
        let kept = self.worked_on(sample, &amounts, cents);
        kept.max(self.left_as(sample, &amounts, pitch)).max(self.practice.worth.stop)
    }
}

/// What may be made of one sample by one move: worth, help, harm.
#[derive(Clone, Copy, Default)]
pub struct Outcome {
    /// What it is worth, 0 … 1.
    pub worth: f64,
    /// The chance that it does what it is for.
    pub helps: f64,
    /// The chance that the reed ends worse for good.
    pub harms: f64,
}

/// Worth so much less is harm for good.
const HARM: f64 = 0.15;

/// What may come of scraping.
///
/// * `before`: the best of it without.
pub fn scraped(
    reckoning: &Reckoning,
    (sample, before): (&Sample, f64),
    pitch: f64,
    cut: Cut,
    work: &OfWork,
) -> Outcome {
    let practice = reckoning.practice;
    let was = sample.amounts(practice);
    let rate = reckoning.now.rate(cut).map_or(work.cents, |rate| rate.mean);
    let mut sum = Outcome { worth: -reckoning.cut_costs(), ..Outcome::default() };
    // A light round and a heavy one.
    for (heavy, chance) in [(-1.0, 0.5), (1.0, 0.5)] {
        let (after, took) = sample.scraped(work, (practice.hand.round_sd * heavy).exp());
        let cents = pitch + rate * took;
        let is = after.amounts(practice);
        let value = reckoning.best(&after, cents);
        sum.worth += chance * value;
        // It helps where it takes off what is too much, or brings a sharp crow nearer.
        let takes: f64 = (0..PLACES).map(|place| was[place] - is[place]).sum();
        let thins = is[Cause::TipThin as usize] > was[Cause::TipThin as usize].max(0.1)
            || is[Cause::HeartThin as usize] > was[Cause::HeartThin as usize]
            || is[Cause::Bark as usize] > was[Cause::Bark as usize];
        let nearer = pitch > reckoning.now.tolerance && cents > -reckoning.now.tolerance;
        if !thins && (takes > 0.1 || nearer) {
            sum.helps += chance;
        } else {
            sum.worth -= chance * practice.worth.vain_costs;
        }
        if value < before - HARM {
            sum.harms += chance;
        }
    }
    sum
}

/// What may come of work that takes no cane.
pub fn mended(
    reckoning: &Reckoning,
    (sample, before): (&Sample, f64),
    pitch: f64,
    (cut, cause): (Cut, Cause),
    work: &OfWork,
) -> Outcome {
    let mends =
        if sample.has(cause) { work.mends.get(&cause).copied().unwrap_or(0.0) } else { 0.0 };
    let tries = tries(reckoning.now, cause);
    let mends = mends * STILL_THERE.powi(tries as i32);
    let mut after = *sample;
    after.set(cause, false);
    let is = if mends > 0.0 { reckoning.best(&after, pitch) } else { before };
    let kept = mends * is + (1.0 - mends) * before;
    let lost = work.spoils;
    let costs =
        if cut == Cut::Retie { reckoning.cut_costs() } else { reckoning.practice.worth.ask_costs };
    Outcome {
        worth: (1.0 - lost) * kept + lost * reckoning.practice.worth.stop - costs,
        helps: (1.0 - lost) * mends,
        harms: if before > 0.5 { lost } else { 0.0 },
    }
}

pub struct Candidate {
    pub choice: Choice,
    pub each: Vec<Outcome>,
}
