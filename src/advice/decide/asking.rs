//! Asking: another crow, eyes, ears and the ruler. It is worth what its answers would change.

use super::gates::{BEFORE_THE_KNIFE, is_allowed, is_good, is_possible, sounds_good};
use super::worth::Reckoning;
use super::{Candidate, Choice, Now, plain};
use crate::advice::belief::{Belief, answers, sounds, worth_of};
use crate::advice::practice::{Cause, SOUNDS};
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

/// So many looks are asked for at once.
const AT_ONCE: usize = 5;

/// Times the maker is asked to crow again.
const RECROWS: usize = 2;

/// Of what is held back, so much is gained by an answer about a reed that surely is not in order (our
/// choice).
const OPENED: f64 = 0.3;

/// A leak or a choke at least so likely is looked for, once, before the knife touches a reed that is
/// not in order (our choice): what is built wrong is no work for it.
const LOOKED_FOR: f64 = 0.005;

/// A look that gains less is not asked for.
const LEAST_GAIN: f64 = 1e-4;

/// A size is asked for where a cause that it would show is at least so likely (our choice).
const MEASURED_FOR: f64 = 0.12;

/// A length within this of the shortest is measured twice before the reed is given up for it, in
/// millimetres (our choice: slips of a ruler and of a keyboard are larger than its error).
pub const NEAR_SHORTEST_MM: f64 = 1.0;

/// What asking is compared with.
struct Asking<'a> {
    reckoning: &'a Reckoning<'a>,
    belief: &'a Belief<'a>,
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
    weights: &[f64],
    candidates: &[Candidate],
) -> Vec<Choice> {
    let now = reckoning.now;
    let asking = Asking::new(reckoning, belief, weights, candidates);
    // What most likely is wrong, and is mended without a cut, is mended before more is asked.
    let is_mended_first = asking.allowed.iter().any(|one| {
        let cut = Cut::at(one.choice.next, one.choice.at.place());
        let likely =
            |cause: Cause| now.leak_seen == Some(cause) || belief.chance(cause) > BEFORE_THE_KNIFE;
        cut.is_some_and(|cut| !cut.takes_cane()) && one.choice.cause.is_some_and(likely)
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
        weights: &'a [f64],
        candidates: &'a [Candidate],
    ) -> Self {
        let now = reckoning.now;
        let allowed: Vec<&Candidate> =
            candidates.iter().filter(|one| is_possible(&one.choice, belief, now)).collect();
        let best_now = candidates
            .iter()
            .filter(|one| is_allowed(&one.choice, belief, now))
            .max_by(|a, b| a.choice.worth.total_cmp(&b.choice.worth));
        let surely_best = best_now.map_or(0.0, |one| one.choice.worth.max(0.0));
        let gain_over = allowed.iter().map(|one| one.choice.worth).fold(surely_best, f64::max);
        let opened = OPENED * (gain_over - surely_best) * (1.0 - belief.chance_of(is_good)).powi(2);
        Self {
            reckoning,
            belief,
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
        let best = |chances: &[f64]| {
            let sums = self.allowed.iter().enumerate().map(|(at, one)| {
                let of = |(outcome, chance): (&super::Outcome, &f64)| outcome.worth * chance;
                (at, one.each.iter().zip(chances).map(of).sum::<f64>())
            });
            sums.fold((usize::MAX, 0.0), |best, one| if one.1 > best.1 { one } else { best })
        };
        let now = best(self.weights).0;
        let mut gain = Gain { worth: -self.gain_over, changes: 0.0 };
        for chances in each {
            let (at, worth) = best(&chances);
            gain.worth += worth;
            if at != now {
                gain.changes += chances.iter().sum::<f64>();
            }
        }
        gain
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

    /// Whether it was asked for, and nothing since makes a second look worth while: two cuts in vain do
    /// of leaks, which are easily overlooked.
    fn was_looked(&self, at: Wanted) -> bool {
        let now = self.reckoning.now;
        let times = now.told.iter().filter(|told| asks(told, Move::Look, at)).count();
        let in_vain = now.done.iter().filter(|done| done.helped == Some(false)).count();
        times > if at == Wanted::Leak { (in_vain / 2).min(1) } else { 0 }
    }

    /// Looks, the most telling first.
    fn looks(&self) -> Option<Choice> {
        let (practice, now) = (self.reckoning.practice, self.reckoning.now);
        let leaks = self.belief.chance(Cause::LeakLow) + self.belief.chance(Cause::LeakHeart);
        let leak_first = self.is_cut_blindly() && leaks > LOOKED_FOR;
        let mut looks: Vec<(Wanted, Gain)> = Vec::new();
        for at in LOOKS {
            if now.seen.contains(&at) || self.was_looked(at) {
                continue;
            }
            let each: Vec<Vec<(Option<Cause>, f64)>> =
                self.belief.levels.iter().map(|levels| answers(practice, levels, at)).collect();
            let Some(count) = each.first().map(Vec::len) else { continue };
            let gain = self.gain((0..count).map(|answer| {
                each.iter().zip(self.weights).map(|(of, weight)| of[answer].1 * weight).collect()
            }));
            if gain.worth > LEAST_GAIN || (leak_first && at == Wanted::Leak) {
                looks.push((at, gain));
            }
        }
        let is_first = |one: &(Wanted, Gain)| leak_first && one.0 == Wanted::Leak;
        looks.sort_by(|a, b| is_first(b).cmp(&is_first(a)).then(b.1.worth.total_cmp(&a.1.worth)));
        looks.truncate(AT_ONCE);
        let first = looks.first()?;
        let gained: f64 = looks
            .iter()
            .enumerate()
            .map(|(nth, one)| one.1.worth.max(0.0) * 0.6_f64.powi(nth as i32))
            .sum();
        let least = if is_first(first) { practice.worth.ask_costs + 0.01 } else { 0.0 };
        let same = looks.iter().map(|one| 1.0 - one.1.changes.clamp(0.0, 1.0)).product::<f64>();
        let at = Where::Wanted(looks.iter().map(|one| one.0).collect());
        Some(Choice {
            worth: self.best + gained.max(least) - practice.worth.ask_costs,
            helps: 1.0 - same,
            ..plain(Move::Look, at)
        })
    }

    /// The ruler: what is doubted, the length before a clip near the shortest or before the reed is given
    /// up for it, and what may be built wrong.
    fn measure(&self) -> Option<Choice> {
        let now = self.reckoning.now;
        let mut wanted: Vec<Wanted> = now.measure_again.clone();
        if self.wants_length() {
            wanted.push(Wanted::Length);
        }
        let built = [
            (Cause::Winding, &[Wanted::Winding, Wanted::Staple][..]),
            (Cause::Closed, &[Wanted::Opening]),
            (Cause::Wide, &[Wanted::Opening]),
            (Cause::High, &[Wanted::Tip, Wanted::Heart]),
        ];
        let is_first = self.is_cut_blindly();
        for (cause, by) in built {
            let is_choke_first = cause == Cause::Winding && is_first;
            let least = if is_choke_first { LOOKED_FOR } else { MEASURED_FOR };
            if self.belief.chance(cause) > least {
                wanted.extend(by.iter().filter(|one| !now.measured.contains(one)));
            }
        }
        wanted.retain(|one| !was_asked(now, Move::Measure, *one));
        if wanted.is_empty() {
            return None;
        }
        // The ruler is in the hand: the length is the one size that every clip needs.
        let is_new =
            |one: Wanted| !now.measured.contains(&one) && !was_asked(now, Move::Measure, one);
        let beside: &[Wanted] = match self.is_orderly() {
            true => &[Wanted::Length],
            false => &[Wanted::Length, Wanted::Winding, Wanted::Staple, Wanted::Opening],
        };
        wanted.extend(beside.iter().filter(|one| is_new(**one)));
        let mut once = Vec::new();
        for one in wanted {
            if !once.contains(&one) {
                once.push(one);
            }
        }
        Some(Choice { worth: self.best + 0.03, ..plain(Move::Measure, Where::Wanted(once)) })
    }

    fn wants_length(&self) -> bool {
        let now = self.reckoning.now;
        let Some(shortest) = now.shortest_mm else { return false };
        let clip = self
            .allowed
            .iter()
            .filter(|one| one.choice.next == Move::Clip)
            .max_by(|a, b| a.choice.worth.total_cmp(&b.choice.worth));
        let wants_clip = clip.is_some_and(|clip| clip.choice.worth > self.best - 0.03)
            || now.pitch.is_some_and(|pitch| pitch.cents < -now.tolerance);
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

    /// Another three crows.
    fn recrow(&self) -> Option<Choice> {
        let (practice, now) = (self.reckoning.practice, self.reckoning.now);
        let recrows = now.told.iter().filter(|told| told.0 == Move::Recrow).count();
        if recrows >= RECROWS || (sounds_good(now) && !now.doubtful) {
            return None;
        }
        let alike = practice.crow.alike;
        let more = worth_of(now.crows + 3, alike) - worth_of(now.crows, alike);
        let each: Vec<[f64; SOUNDS]> =
            self.belief.levels.iter().map(|levels| sounds(practice, levels)).collect();
        let next = self.belief.next_sounds();
        let share = more.min(1.0);
        let gain = self.gain((0..SOUNDS).map(|sound| {
            let of = |(of, weight): (&[f64; SOUNDS], &f64)| {
                (share * of[sound] + (1.0 - share) * next[sound]) * weight
            };
            each.iter().zip(self.weights).map(of).collect()
        }));
        let too_few = now.crows_wanted.saturating_sub(now.crows) as f64 * 0.04;
        let wide = now.pitch.map_or(0.0, |pitch| {
            let limit = now.tolerance.max(pitch.cents.abs() / 2.0);
            (pitch.sd * 2.0 / limit - 1.0).clamp(0.0, 1.0) * 0.1
        });
        let doubtful = if now.doubtful { 0.08 } else { 0.0 };
        let unheard = if now.heard { 0.0 } else { 1.0 };
        let worth = self.surely_best + gain.worth.max(0.0) + too_few + wide + doubtful + unheard
            - practice.worth.ask_costs * 2.0;
        let helps = gain.changes.clamp(0.0, 1.0);
        Some(Choice { worth, helps, ..plain(Move::Recrow, Where::Nowhere) })
    }
}

/// Whether it was asked for, ever: an answer that does not come is not waited for.
pub fn was_asked(now: &Now, next: Move, at: Wanted) -> bool {
    now.told.iter().any(|told| asks(told, next, at))
}

fn asks(told: &(Move, Where), next: Move, at: Wanted) -> bool {
    matches!(&told.1, Where::Wanted(each) if told.0 == next && each.contains(&at))
}
