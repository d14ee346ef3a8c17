//! Asking: another crow, eyes, ears and the ruler. It is worth what its answers would change.

mod crows;
mod looks;
mod ruler;

use super::choice::{Choice, plain};
use super::gates::{
    BEFORE_THE_KNIFE, Known, is_allowed, is_possible, is_sought_for, speaks_badly, was_asked,
};
use super::worth::{Candidate, Reckoning};
use crate::advice::belief::Belief;
use crate::advice::practice::Cause;
use crate::advice::{Wanted, Where};
use crate::reed::{Cut, Move};

/// Of what is held back, so much is gained by an answer about a reed that surely is not in order (our
/// choice).
const OPENED: f64 = 0.3;

/// What is likelier mended than this is mended before more is asked (our choice).
const MENDED_FIRST: f64 = 0.3;

/// An answer serves the moves after the next one too: so much more it gains (our choice).
const SERVES_ON: f64 = 2.5;

/// A look that gains less is not asked for.
const LEAST_GAIN: f64 = 1e-4;

/// Sets of answers to several looks that are thought through.
const THOUGHT_THROUGH: usize = 32;

/// What asking is compared with.
struct Asking<'a> {
    reckoning: &'a Reckoning<'a>,
    belief: &'a Belief<'a>,
    known: &'a Known,
    weights: &'a [f64],
    /// Also what is not sure enough to be cut now: an answer may make it so.
    allowed: Vec<&'a Candidate>,
    /// The best that may be done now.
    surely_best: f64,
    /// The best there would be were it surer: what the gates hold back is not gained by asking alone.
    gain_over: f64,
    /// What an answer opens is worth a share of what is held back, where something is wrong.
    best: f64,
    /// Whether the best that may be done now takes cane.
    is_knife: bool,
}

fn mean_worth(one: &Candidate, weights: &[f64]) -> f64 {
    one.each.iter().zip(weights).map(|(outcome, weight)| outcome.worth * weight).sum()
}

/// What an answer would bring.
#[derive(Clone, Copy)]
struct Gain {
    worth: f64,
    /// The chance that it changes what is best.
    changes: f64,
}

/// Every question, with its worth.
pub fn asked(
    reckoning: &Reckoning,
    belief: &Belief,
    known: &Known,
    weights: &[f64],
    candidates: &[Candidate],
) -> Vec<Choice> {
    let now = reckoning.now;
    let asking = Asking::new(reckoning, belief, known, weights, candidates);
    // What most likely is wrong, and is mended without a cut, is mended before more is asked.
    let is_mended_first = asking.allowed.iter().any(|one| {
        let cut = Cut::at(one.choice.next, one.choice.at.place());
        let likely = |cause: Cause| {
            now.leak_seen == Some(cause) || known.chances[cause as usize] > BEFORE_THE_KNIFE
        };
        let is_mended = now.leak_seen.is_some() || one.choice.helps >= MENDED_FIRST;
        let takes_none = cut.is_some_and(|cut| !cut.takes_cane());
        takes_none && is_mended && one.choice.cause.is_some_and(likely)
    });
    let mut all = Vec::new();
    if !is_mended_first {
        all.extend(asking.looks());
    }
    if now.ask_ear && !was_asked(now, Move::Look, Wanted::Ear) {
        let at = Where::Wanted(vec![Wanted::Ear]);
        all.push(Choice { worth: asking.best + 0.05, ..plain(Move::Look, at) });
    }
    if !is_mended_first || !now.measure_again.is_empty() {
        all.extend(asking.measure());
    }
    let seals_first = is_mended_first && now.leak_seen.is_some();
    if !seals_first {
        all.extend(asking.recrow());
    }
    all
}

impl<'a> Asking<'a> {
    fn new(
        reckoning: &'a Reckoning<'a>,
        belief: &'a Belief<'a>,
        known: &'a Known,
        weights: &'a [f64],
        candidates: &'a [Candidate],
    ) -> Self {
        let now = reckoning.now;
        let allowed: Vec<&Candidate> =
            candidates.iter().filter(|one| is_possible(&one.choice, known, now)).collect();
        let best_now = candidates
            .iter()
            .filter(|one| is_allowed(&one.choice, known, now))
            .max_by(|a, b| a.choice.worth.total_cmp(&b.choice.worth));
        let surely_best = best_now.map_or(0.0, |one| one.choice.worth.max(0.0));
        let gain_over = allowed.iter().map(|one| one.choice.worth).fold(surely_best, f64::max);
        let opened = OPENED * (gain_over - surely_best) * (1.0 - known.in_order).powi(2);
        Self {
            reckoning,
            belief,
            known,
            weights,
            allowed,
            surely_best,
            gain_over,
            best: surely_best + opened,
            is_knife: best_now.is_some_and(|one| one.choice.next.is_cut()),
        }
    }

    /// What is gained by an answer.
    ///
    /// * `each`: for each answer the chance of it in each sample.
    fn gain(&self, each: impl Iterator<Item = Vec<f64>>) -> Gain {
        let now = self.best_of(self.weights).0;
        let mut gain = Gain { worth: -self.gain_over, changes: 0.0 };
        for chances in each {
            let (at, worth) = self.best_of(&chances);
            gain.worth += worth;
            if at != now {
                gain.changes += chances.iter().sum::<f64>();
            }
        }
        gain
    }

    /// The best move under such weights, and what it is worth.
    fn best_of(&self, weights: &[f64]) -> (usize, f64) {
        let each = self.allowed.iter().map(|one| mean_worth(one, weights)).enumerate();
        each.fold((usize::MAX, 0.0), |best, one| if one.1 > best.1 { one } else { best })
    }

    /// Octaves that come at all, late or not, and easily: nothing leaks or chokes.
    fn is_orderly(&self) -> bool {
        let now = self.reckoning.now;
        now.crows > 0 && now.in_octaves > 0.85 * now.crows as f64 && !now.blocked
    }

    /// Whether the reed is not in order, and about to be cut all the same.
    fn is_cut_blindly(&self) -> bool {
        self.is_knife && !self.is_orderly()
    }

    /// Whether a cause that can be mended without a cut is sought before anything else: the reed speaks badly,
    /// and nobody has looked for it.
    fn seeks(&self, cause: Cause) -> bool {
        let now = self.reckoning.now;
        speaks_badly(now) && !is_sought_for(now, cause)
    }

    fn chance(&self, cause: Cause) -> f64 {
        self.known.chances[cause as usize]
    }

    /// What answers would gain that are drawn as the samples give them.
    ///
    /// * `answered`: weighs the samples by an answer, given its number and the sample it comes from.
    fn thought_through(&self, answered: impl Fn(u64, usize, &mut [f64])) -> Gain {
        let now = self.best_of(self.weights).0;
        let (mut changes, mut worth) = (0.0, 0.0);
        let mut of_each = vec![0.0; self.allowed.len()];
        let (mut from, mut sum) = (0, self.weights[0]);
        let share = 1.0 / THOUGHT_THROUGH as f64;
        for nth in 0..THOUGHT_THROUGH {
            let at = (nth as f64 + 0.5) * share;
            while sum < at && from + 1 < self.weights.len() {
                from += 1;
                sum += self.weights[from];
            }
            let mut weights = self.weights.to_vec();
            answered(nth as u64, from, &mut weights);
            let all: f64 = weights.iter().sum();
            weights.iter_mut().for_each(|weight| *weight /= all.max(1e-300));
            let worths: Vec<f64> =
                self.allowed.iter().map(|one| mean_worth(one, &weights)).collect();
            let best = (0..worths.len()).max_by(|a, b| worths[*a].total_cmp(&worths[*b]));
            worth += share * best.map_or(0.0, |best| worths[best].max(0.0));
            changes += if best == Some(now) { 0.0 } else { share };
            of_each.iter_mut().zip(&worths).for_each(|(sum, one)| *sum += share * one);
        }
        // Against the best of what the same answers say of each move: few draws then do no harm.
        let without = of_each.into_iter().fold(0.0, f64::max);
        Gain { worth: worth - without, changes }
    }
}
