//! The ruler: which sizes are asked for, and what they would show.

use super::{Asking, LEAST_GAIN, SERVES_ON};
use crate::advice::decide::choice::{Choice, plain};
use crate::advice::decide::gates::{
    NEAR_SHORTEST_MM, is_flat_in_order, was_asked, was_clipped_twice,
};
use crate::advice::practice::Cause;
use crate::advice::sample::Sample;
use crate::advice::{Wanted, Where};
use crate::reed::Move;

/// What the ruler shows to be built wrong, and by which sizes.
const BUILT: [(Cause, &[Wanted]); 4] = [
    (Cause::Winding, &[Wanted::Winding, Wanted::Staple]),
    (Cause::Closed, &[Wanted::Opening]),
    (Cause::Wide, &[Wanted::Opening]),
    (Cause::High, &[Wanted::Tip, Wanted::Heart]),
];

/// A size is asked for where a cause that it would show is at least so likely (our choice).
const MEASURED_FOR: f64 = 0.04;

impl Asking<'_> {
    /// The ruler: what is doubted, the length before a clip near the shortest or before the reed is given
    /// up for it, and what may be built wrong.
    pub(super) fn measure(&self) -> Option<Choice> {
        let now = self.reckoning.now;
        let mut wanted: Vec<Wanted> = now.measure_again.clone();
        if self.wants_length() {
            wanted.push(Wanted::Length);
        }
        if self.seeks(Cause::Winding) {
            wanted.extend([Wanted::Winding, Wanted::Staple]);
        }
        // Two clips in a row: how long it is now is measured before another.
        let is_clipped_on = was_clipped_twice(now) && is_flat_in_order(now);
        let is_due = !wanted.is_empty() || is_clipped_on;
        let shown: Vec<(Cause, &[Wanted])> = BUILT
            .into_iter()
            .filter(|(_, by)| by.iter().any(|one| self.is_unmeasured(*one)))
            .collect();
        let gain = SERVES_ON * self.ruler_gains(&shown);
        if gain > LEAST_GAIN {
            let likely = |one: &&(Cause, &[Wanted])| self.chance(one.0) > MEASURED_FOR;
            wanted.extend(shown.iter().filter(likely).flat_map(|one| one.1));
        }
        wanted.retain(|one| !was_asked(now, Move::Measure, *one));
        if is_clipped_on && !wanted.contains(&Wanted::Length) {
            wanted.push(Wanted::Length);
        }
        if wanted.is_empty() {
            return None;
        }
        // The ruler is in the hand: what every clip needs, and what chokes.
        let beside: &[Wanted] = match self.is_orderly() {
            true => &[Wanted::Length],
            false => &[Wanted::Length, Wanted::Winding, Wanted::Staple, Wanted::Opening],
        };
        wanted.extend(beside.iter().filter(|one| self.is_unmeasured(**one)));
        let mut once = Vec::new();
        for one in wanted {
            if !once.contains(&one) {
                once.push(one);
            }
        }
        let costs = self.reckoning.practice.worth.ask_costs;
        let worth = self.best + if is_due { 0.03 } else { gain - costs };
        Some(Choice { worth, ..plain(Move::Measure, Where::Wanted(once)) })
    }

    fn is_unmeasured(&self, one: Wanted) -> bool {
        let now = self.reckoning.now;
        !now.measured.contains(&one) && !was_asked(now, Move::Measure, one)
    }

    /// What is gained by knowing which of these flaws there are.
    fn ruler_gains(&self, shown: &[(Cause, &[Wanted])]) -> f64 {
        if shown.is_empty() {
            return 0.0;
        }
        let found = |sample: &Sample| {
            shown.iter().enumerate().map(|(bit, one)| usize::from(sample.has(one.0)) << bit).sum()
        };
        let each: Vec<usize> = self.belief.samples.iter().map(found).collect();
        let of_answer = |answer: usize| -> Vec<f64> {
            let is = |(found, weight): (&usize, &f64)| if *found == answer { *weight } else { 0.0 };
            each.iter().zip(self.weights).map(is).collect()
        };
        self.gain((0..1 << shown.len()).map(of_answer)).worth
    }

    fn wants_length(&self) -> bool {
        let now = self.reckoning.now;
        let Some(shortest) = now.shortest_mm else { return false };
        let clip = self
            .allowed
            .iter()
            .filter(|one| one.choice.next == Move::Clip)
            .max_by(|a, b| a.choice.worth.total_cmp(&b.choice.worth));
        let is_flat = now.pitch.is_some_and(|pitch| pitch.cents < -now.tolerance);
        // The smallest clip is dared without a ruler.
        let wants_clip = clip.is_some_and(|clip| {
            clip.choice.worth > self.best - 0.03
                && (clip.choice.cause.is_none() || now.length.is_some())
        }) || (is_flat && now.length.is_some());
        let amount = clip.and_then(|clip| clip.choice.amount_mm).unwrap_or(now.smallest_clip_mm);
        match now.length {
            None => wants_clip,
            Some((mm, sd)) => {
                let is_short = mm - shortest < NEAR_SHORTEST_MM;
                let near_clip = sd > 0.22 && mm - amount - shortest < 2.5 * sd;
                wants_clip && (near_clip || is_short)
            }
        }
    }
}
