//! Eyes: which looks are asked for together, and what their answers would change.

use super::{Asking, Gain, LEAST_GAIN, SERVES_ON};
use crate::advice::decide::choice::{Choice, plain};
use crate::advice::decide::gates::{is_leak_settled, speaks_badly, was_asked, was_looked};
use crate::advice::practice::Cause;
use crate::advice::sample::uniform;
use crate::advice::{Wanted, Where};
use crate::reed::Move;

const LOOKS: [Wanted; 6] = [
    Wanted::Leak,
    Wanted::TipSides,
    Wanted::Corners,
    Wanted::Heart,
    Wanted::Bark,
    Wanted::Symmetry,
];

/// So many looks are asked for at once.
const AT_ONCE: usize = 5;

/// A leak or a choke at least so likely is looked for, once, before the knife touches a reed that is
/// not in order (our choice): what is built wrong is no work for it.
const LOOKED_FOR: f64 = 0.1;

/// Answers a look can have: nothing, or one of two causes.
const ANSWERS: usize = 3;

/// One look that may be asked for.
struct Looked {
    at: Wanted,
    /// The chance of each answer in each sample.
    each: Vec<[f64; ANSWERS]>,
    gain: f64,
}

impl Asking<'_> {
    /// Looks, the most telling first.
    pub(super) fn looks(&self) -> Option<Choice> {
        let now = self.reckoning.now;
        let leaks = self.chance(Cause::LeakLow) + self.chance(Cause::LeakHeart);
        // Before a reed that speaks badly is given up it is looked at once more as it is now.
        let is_given_up = speaks_badly(now)
            && !is_leak_settled(now)
            && self.surely_best <= self.reckoning.practice.worth.stop;
        let leak_first = (self.is_cut_blindly() && leaks > LOOKED_FOR)
            || self.seeks(Cause::LeakLow)
            || is_given_up;
        let mut looks: Vec<Looked> = LOOKS
            .into_iter()
            .filter(|at| !now.seen.contains(at) && !was_looked(now, *at))
            .map(|at| self.looked(at))
            .filter(|look| look.gain > LEAST_GAIN || (leak_first && look.at == Wanted::Leak))
            .collect();
        let is_first = |one: &Looked| leak_first && one.at == Wanted::Leak;
        looks.sort_by(|a, b| is_first(b).cmp(&is_first(a)).then(b.gain.total_cmp(&a.gain)));
        looks.truncate(AT_ONCE);
        let first = looks.first()?;
        let costs = self.reckoning.practice.worth.ask_costs;
        let least = if is_first(first) { costs + 0.01 } else { 0.0 };
        // Of what was seen before a second look tells little that the next crow will not.
        let is_new = looks.iter().any(|one| !was_asked(now, Move::Look, one.at));
        let serves = if is_new { SERVES_ON } else { 1.0 };
        let together = self.together(&looks);
        let at = Where::Wanted(looks.iter().map(|one| one.at).collect());
        Some(Choice {
            worth: self.best + (serves * together.worth).max(least) - costs,
            helps: together.changes.clamp(0.0, 1.0),
            ..plain(Move::Look, at)
        })
    }

    /// One look: the chance of its answers in each sample, and what it would gain alone.
    fn looked(&self, at: Wanted) -> Looked {
        let practice = self.reckoning.practice;
        let each: Vec<[f64; ANSWERS]> = self
            .belief
            .samples
            .iter()
            .map(|sample| {
                let answers = sample.answers(practice, at);
                std::array::from_fn(|of| answers.get(of).map_or(0.0, |answer| answer.1))
            })
            .collect();
        let gain = self.gain((0..ANSWERS).map(|answer| {
            each.iter().zip(self.weights).map(|(of, weight)| of[answer] * weight).collect()
        }));
        Looked { at, each, gain: gain.worth }
    }

    /// What several looks would gain together.
    fn together(&self, looks: &[Looked]) -> Gain {
        self.thought_through(|nth, from, weights| {
            for look in looks {
                let mut u = uniform(nth, look.at as u64, 7);
                let answer = (0..ANSWERS - 1).find(|answer| {
                    u -= look.each[from][*answer];
                    u < 0.0
                });
                let answer = answer.unwrap_or(ANSWERS - 1);
                weights.iter_mut().zip(&look.each).for_each(|(weight, of)| *weight *= of[answer]);
            }
        })
    }
}
