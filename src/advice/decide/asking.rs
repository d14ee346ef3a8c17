//! Asking: another crow, eyes, ears and the ruler. It is worth what its answers would change.

use super::choice::{Choice, plain};
use super::gates::{
    BEFORE_THE_KNIFE, Known, NEAR_SHORTEST_MM, asks, is_allowed, is_flat_in_order, is_possible,
    is_sought_for, sounds_good, speaks_badly, was_asked, was_clipped_twice,
};
use super::worth::{Candidate, Reckoning};
use crate::advice::belief::{Belief, Pitch, worth_of};
use crate::advice::practice::{Cause, SOUNDS};
use crate::advice::sample::{Sample, uniform};
use crate::advice::{Wanted, Where};
use crate::reed::{Cut, Move};

const LOOKS: [Wanted; 6] = [
    Wanted::Leak,
    Wanted::TipSides,
    Wanted::Corners,
    Wanted::Heart,
    Wanted::Bark,
    Wanted::Symmetry,
];

/// What the ruler shows to be built wrong, and by which sizes.
const BUILT: [(Cause, &[Wanted]); 4] = [
    (Cause::Winding, &[Wanted::Winding, Wanted::Staple]),
    (Cause::Closed, &[Wanted::Opening]),
    (Cause::Wide, &[Wanted::Opening]),
    (Cause::High, &[Wanted::Tip, Wanted::Heart]),
];

/// So many looks are asked for at once.
const AT_ONCE: usize = 5;

/// Times the maker is asked to crow one and the same state again, and the reed in all.
const RECROWS: usize = 2;

/// As above.
const RECROWS_IN_ALL: usize = 4;

/// Of what is held back, so much is gained by an answer about a reed that surely is not in order (our
/// choice).
const OPENED: f64 = 0.3;

/// A leak or a choke at least so likely is looked for, once, before the knife touches a reed that is
/// not in order (our choice): what is built wrong is no work for it.
const LOOKED_FOR: f64 = 0.1;

/// What is likelier mended than this is mended before more is asked (our choice).
const MENDED_FIRST: f64 = 0.3;

/// The same look is asked for so often of one reed, each time it was worked on in between.
const LOOKED_AT_MOST: usize = 3;

/// An answer serves the moves after the next one too: so much more it gains (our choice).
const SERVES_ON: f64 = 2.5;

/// So surely in tune is in tune (our choice).
const SURELY_IN_TUNE: f64 = 0.8;

/// What three more crows gain of a reed in order that is as likely in tune as not (our choice).
const NEAR_THE_LIMIT: f64 = 0.06;

/// The same of crows, which are heard again after any move.
const CROWS_SERVE_ON: f64 = 1.25;

/// A look that gains less is not asked for.
const LEAST_GAIN: f64 = 1e-4;

/// A size is asked for where a cause that it would show is at least so likely (our choice).
const MEASURED_FOR: f64 = 0.04;

/// Sets of answers to several looks that are thought through.
const THOUGHT_THROUGH: usize = 32;

/// Answers a look can have: nothing, or one of two causes.
const ANSWERS: usize = 3;

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

/// One look that may be asked for.
struct Looked {
    at: Wanted,
    /// The chance of each answer in each sample.
    each: Vec<[f64; ANSWERS]>,
    gain: f64,
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

    /// Whether it was asked for of the reed as it is, or often enough.
    fn was_looked(&self, at: Wanted) -> bool {
        let now = self.reckoning.now;
        let asked =
            |told: &[(Move, Where)]| told.iter().filter(|told| asks(told, Move::Look, at)).count();
        asked(now.told_of_this()) > 0 || asked(&now.told) >= LOOKED_AT_MOST
    }

    fn chance(&self, cause: Cause) -> f64 {
        self.known.chances[cause as usize]
    }

    /// Looks, the most telling first.
    fn looks(&self) -> Option<Choice> {
        let now = self.reckoning.now;
        let leaks = self.chance(Cause::LeakLow) + self.chance(Cause::LeakHeart);
        let leak_first =
            (self.is_cut_blindly() && leaks > LOOKED_FOR) || self.seeks(Cause::LeakLow);
        let mut looks: Vec<Looked> = LOOKS
            .into_iter()
            .filter(|at| !now.seen.contains(at) && !self.was_looked(*at))
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

    /// The ruler: what is doubted, the length before a clip near the shortest or before the reed is given
    /// up for it, and what may be built wrong.
    fn measure(&self) -> Option<Choice> {
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

    /// Whether it may well be out of tune after all.
    fn is_near_the_limit(&self) -> bool {
        let in_tune = |pitch: Pitch| self.reckoning.in_tune(pitch.cents, pitch.sd);
        self.reckoning.now.pitch.is_some_and(|pitch| in_tune(pitch) < SURELY_IN_TUNE)
    }

    /// Another three crows.
    fn recrow(&self) -> Option<Choice> {
        let (practice, now) = (self.reckoning.practice, self.reckoning.now);
        let recrows =
            |told: &[(Move, Where)]| told.iter().filter(|told| told.0 == Move::Recrow).count();
        if recrows(now.told_of_this()) >= RECROWS
            || recrows(&now.told) >= RECROWS_IN_ALL
            || (sounds_good(now) && !now.doubtful && !self.is_near_the_limit())
        {
            return None;
        }
        let alike = practice.crow.alike;
        let more = (worth_of(now.crows + 3, alike) - worth_of(now.crows, alike)) / 3.0;
        let each: Vec<[f64; SOUNDS]> =
            self.belief.samples.iter().map(|sample| sample.crow(practice).sounds).collect();
        let each: Vec<[f64; SOUNDS]> = each.iter().map(|of| of.map(|one| one.powf(more))).collect();
        let gain = self.thought_through(|nth, from, weights| {
            for crow in 0..3 {
                let mut u = uniform(nth, crow, 8) * each[from].iter().sum::<f64>();
                let sound = (0..SOUNDS - 1).find(|sound| {
                    u -= each[from][*sound];
                    u < 0.0
                });
                let sound = sound.unwrap_or(SOUNDS - 1);
                weights.iter_mut().zip(&each).for_each(|(weight, of)| *weight *= of[sound]);
            }
        });
        let too_few = now.crows_wanted.saturating_sub(now.crows) as f64 * 0.04;
        let wide = now.pitch.map_or(0.0, |pitch| {
            let limit = now.tolerance.max(pitch.cents.abs() / 2.0);
            (pitch.sd * 2.0 / limit - 1.0).clamp(0.0, 1.0) * 0.1
        });
        // In tune, but hardly surely: more crows tell.
        let near =
            now.pitch.filter(|_| !self.is_knife && !now.pitch_is_free).map_or(0.0, |pitch| {
                let sure = self.reckoning.in_tune(pitch.cents, pitch.sd);
                NEAR_THE_LIMIT * self.known.in_order * 4.0 * sure * (1.0 - sure)
            });
        let doubtful = if now.doubtful { 0.08 } else { 0.0 };
        let unheard = if now.heard { 0.0 } else { 1.0 };
        let worth = self.surely_best
            + CROWS_SERVE_ON * gain.worth.max(0.0)
            + too_few
            + wide
            + near
            + doubtful
            + unheard
            - practice.worth.ask_costs;
        let helps = gain.changes.clamp(0.0, 1.0);
        Some(Choice { worth, helps, ..plain(Move::Recrow, Where::Nowhere) })
    }
}
