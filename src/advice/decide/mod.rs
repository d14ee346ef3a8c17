//! From what is believed to one move: the worth of each that can be made, looked ahead by one move and
//! what a maker would make of the reed after it; asking is worth what it would change.

mod asking;
mod clipping;
mod gates;
mod worth;

pub use clipping::spread_after;

use super::belief::{Belief, Pitch};
use super::practice::{Cause, Practice};
use super::sample::Sample;
use super::{Wanted, Where};
use asking::asked;
use clipping::{clipped, clips};
use gates::{Known, is_allowed};
use worth::{Outcome, Reckoning, mended, scraped};

use crate::comparison::Rate;
use crate::reed::{Cut, Move};

/// What is known besides the samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Now {
    /// The pitch as it was last heard, moved on by what was done since.
    pub pitch: Option<Pitch>,
    /// Crows of the reed as it is now.
    pub crows: usize,
    /// Of those the puffs of air without a tone, beside crows.
    pub puffs: usize,
    /// Of the others the ones in octaves from the lowest that is expected up.
    pub in_octaves: f64,
    /// Whether one of the signs was heard: the low octave held back, hard to blow, rough.
    pub signs: bool,
    /// Whether the low octave was held back in more than a stray crow.
    pub late: bool,
    /// Of the crows those without a tone to follow: puffs, air, wild ones.
    pub toneless: usize,
    /// Whether it was hard to blow.
    pub hard: bool,
    /// Whether it was hard to blow or rough, as what is built wrong makes it.
    pub blocked: bool,
    /// Crows wanted before a cut.
    pub crows_wanted: usize,
    /// Length and how well it is known, in millimetres.
    pub length: Option<(f64, f64)>,
    /// The usual length and the shortest, in millimetres.
    pub usual_mm: Option<f64>,
    /// As above.
    pub shortest_mm: Option<f64>,
    /// What counts as in tune, in cents.
    pub tolerance: f64,
    /// The longest and the shortest clip, in millimetres.
    pub longest_clip_mm: f64,
    /// As above.
    pub smallest_clip_mm: f64,
    /// Cents for a millimetre clipped.
    pub clip: Rate,
    /// What each kind of scraping does to the pitch.
    pub works: Vec<(Cut, Rate)>,
    /// Whether pitch does not count: no target, or it is in tune for some.
    pub pitch_is_free: bool,
    /// Whether there may be cut at all: the reed was heard, and heard well.
    pub heard: bool,
    /// Whether it lies too far off the target to be a crow of this kind of reed.
    pub far: bool,
    /// Whether the last take is doubtful as a recording.
    pub doubtful: bool,
    /// Whether only the ear can tell what the crow is.
    pub ask_ear: bool,
    /// What was told of the reed, oldest first.
    pub told: Vec<(Move, Where)>,
    /// How much of that was told of the reed as it is now.
    pub told_here: usize,
    /// How much of it was told since the reed was tied last.
    pub told_since_tied: usize,
    /// The work done, newest last.
    pub done: Vec<Done>,
    /// What was looked at since it was last worked on.
    pub seen: Vec<Wanted>,
    /// The leak seen since then.
    pub leak_seen: Option<Cause>,
    /// What was measured.
    pub measured: Vec<Wanted>,
    /// What the ruler wants to be measured again.
    pub measure_again: Vec<Wanted>,
}

/// Work that was done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Done {
    /// What.
    pub cut: Cut,
    /// Whether the reed was better after it; `None` where it was not blown since.
    pub helped: Option<bool>,
}

/// A move that can be made, and what speaks for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// What.
    pub next: Move,
    /// Where.
    pub at: Where,
    /// How much of a clip, in millimetres.
    pub amount_mm: Option<f64>,
    /// What it is worth, 0 … 1.
    pub worth: f64,
    /// The chance that it does what it is for.
    pub helps: f64,
    /// The chance that the reed ends worse for good.
    pub harms: f64,
    /// The cause it is for, where it is for one.
    pub cause: Option<Cause>,
}

/// A choice of moves, the best first.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// At least one.
    pub choices: Vec<Choice>,
}

/// The scraping that is proposed: not the whole tip or heart, which takes where nothing is to take.
const SCRAPES: [(Cut, Cause); 5] = [
    (Cut::TipSides, Cause::Sides),
    (Cut::TipCorners, Cause::Corners),
    (Cut::TipStep, Cause::Step),
    (Cut::HeartSides, Cause::Heart),
    (Cut::BackWindows, Cause::Back),
];

/// The work that takes no cane.
const MENDS: [(Cut, Cause); 5] = [
    (Cut::SealLow, Cause::LeakLow),
    (Cut::SealHeart, Cause::LeakHeart),
    (Cut::Retie, Cause::Winding),
    (Cut::OpeningWider, Cause::Closed),
    (Cut::OpeningNarrower, Cause::Wide),
];

/// Work that costs no cane is thought of from this chance on.
const THOUGHT_OF: f64 = 0.25;

/// Worth less than this at its best, a reed is past help.
const PAST_HELP: f64 = 0.35;

impl Now {
    /// What was told of the reed as it is now.
    pub fn told_of_this(&self) -> &[(Move, Where)] {
        &self.told[self.told.len().saturating_sub(self.told_here)..]
    }

    /// What work of a kind does to the pitch.
    pub fn rate(&self, cut: Cut) -> Option<Rate> {
        self.works.iter().find(|known| known.0 == cut).map(|known| known.1)
    }
}

struct Candidate {
    choice: Choice,
    each: Vec<Outcome>,
}

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

fn plain(next: Move, at: Where) -> Choice {
    Choice { next, at, amount_mm: None, worth: 0.0, helps: 0.5, harms: 0.0, cause: None }
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
    for (cut, cause) in SCRAPES {
        let Some(work) = practice.work(cut) else { continue };
        add(of_cut(cut, Some(cause)), &|one| scraped(reckoning, one, pitch, cut, work));
    }
    for (cut, cause) in MENDS {
        let Some(work) = practice.work(cut) else { continue };
        let is_seen = now.leak_seen == Some(cause);
        if is_seen || known.chances[cause as usize] >= THOUGHT_OF {
            add(of_cut(cut, Some(cause)), &|one| mended(reckoning, one, pitch, (cut, cause), work));
        }
    }
    for (amount_mm, cause) in clips(practice, now, &known.chances, sd) {
        let mut choice = of_cut(Cut::Clip, cause);
        choice.amount_mm = Some(amount_mm);
        add(choice, &|(sample, _)| clipped(reckoning, sample, (pitch, sd), amount_mm, cause));
    }
    all
}
