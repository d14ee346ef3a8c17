//! From what is believed to one move: the worth of each that can be made, looked ahead by one move and
//! what a maker would make of the reed after it; asking is worth what it would change.

mod asking;
mod choice;
mod clipping;
mod gates;
mod worth;

pub use clipping::spread_after;
pub use gates::{speaks_badly, waits_for_pitch};

use super::Where;
use super::belief::Belief;
use super::practice::{Cause, Practice};
use super::sample::Sample;
use asking::asked;
use choice::plain;
pub use choice::{Choice, Done, Now};
use clipping::{clipped, clips};
use gates::{Known, is_allowed};
use worth::{Candidate, Outcome, Reckoning, mended, scraped};

use crate::reed::{Cut, Move};

/// A choice of moves, the best first.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// At least one.
    pub choices: Vec<Choice>,
}

/// Work that costs no cane is thought of from this chance on.
const THOUGHT_OF: f64 = 0.25;

/// Worth less than this at its best, a reed is past help.
const PAST_HELP: f64 = 0.35;

/// The moves that can be made, the best first.
pub fn decide(practice: &Practice, belief: &Belief, now: &Now) -> Decision {
    let reckoning = Reckoning::new(practice, now);
    let weights = belief.weights();
    let mut known =
        Known { chances: belief.chances(), in_order: belief.in_order(), past_help: 0.0 };
    let mut candidates = candidates(&reckoning, belief, &known);
    for candidate in &mut candidates {
        let all = mean(&candidate.each, &weights);
        candidate.choice.worth = all.worth;
        candidate.choice.helps = all.helps;
        candidate.choice.harms = all.harms;
    }
    let stop = candidates.iter().find(|one| one.choice.next == Move::Stop);
    known.past_help = stop.map_or(0.0, |stop| stop.choice.helps);
    let mut choices: Vec<Choice> = candidates.iter().map(|one| one.choice.clone()).collect();
    choices.extend(asked(&reckoning, belief, &known, &weights, &candidates));
    choices.retain(|choice| is_allowed(choice, &known, now));
    if choices.is_empty() {
        choices.push(plain(Move::Leave, Where::Nowhere));
    }
    choices.sort_by(|a, b| b.worth.total_cmp(&a.worth));
    Decision { choices }
}

fn mean(each: &[Outcome], weights: &[f64]) -> Outcome {
    let mut sum = Outcome::default();
    for (one, weight) in each.iter().zip(weights) {
        sum.worth += weight * one.worth;
        sum.helps += weight * one.helps;
        sum.harms += weight * one.harms;
    }
    sum
}

fn of_cut(cut: Cut, cause: Option<Cause>) -> Choice {
    let at = cut.place().map_or(Where::Nowhere, Where::At);
    Choice { cause, ..plain(cut.of(), at) }
}

fn candidates(reckoning: &Reckoning, belief: &Belief, known: &Known) -> Vec<Candidate> {
    let (practice, now) = (reckoning.practice, reckoning.now);
    let pitch = now.pitch.map_or(0.0, |pitch| pitch.cents);
    let sd = now.pitch.map_or(30.0, |pitch| pitch.sd);
    let told = now.pitch.map(|pitch| (pitch.cents, pitch.sd));
    let mut all = Vec::new();
    let best: Vec<f64> =
        belief.samples.iter().map(|sample| reckoning.best(sample, pitch)).collect();
    let mut add = |choice: Choice, of: &dyn Fn((&Sample, f64)) -> Outcome| {
        let each = belief.samples.iter().zip(best.iter().copied()).map(of).collect();
        all.push(Candidate { choice, each });
    };
    let in_tune = told.map_or(1.0, |(cents, sd)| reckoning.in_tune(cents, sd));
    add(plain(Move::Leave, Where::Nowhere), &|(sample, _)| {
        let worth = reckoning.left(sample, told);
        let prompt = sample.order(practice, &sample.amounts(practice)).0;
        Outcome { worth, helps: prompt * in_tune, harms: 0.0 }
    });
    add(plain(Move::Stop, Where::Nowhere), &|(_, best)| {
        let helps = if best < PAST_HELP { 1.0 } else { 0.0 };
        Outcome { worth: practice.worth.stop, helps, harms: 1.0 - helps }
    });
    for (cut, cause) in practice.proposed() {
        let Some(work) = practice.work(cut) else { continue };
        let choice = of_cut(cut, Some(cause));
        let is_seen = now.leak_seen == Some(cause);
        if choice.next.is_cut() {
            add(choice, &|one| scraped(reckoning, one, pitch, cut, work));
        } else if is_seen || known.chances[cause as usize] >= THOUGHT_OF {
            add(choice, &|one| mended(reckoning, one, pitch, (cut, cause), work));
        }
    }
    for (amount_mm, cause) in clips(practice, now, &known.chances, sd) {
        let mut choice = of_cut(Cut::Clip, cause);
        choice.amount_mm = Some(amount_mm);
        add(choice, &|(sample, _)| clipped(reckoning, sample, (pitch, sd), amount_mm, cause));
    }
    all
}
