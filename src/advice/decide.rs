//! From what is believed to one move: the worth of each that can be made, looked ahead by one move and
//! what a maker would make of the reed after it; asking is worth what it would change.

use super::belief::{Belief, Levels, Pitch, answers, present, signs, sounds, worth_of};
use super::practice::{CAUSES, Cause, OfWork, Practice, SOUNDS};
use super::{Wanted, Where};
use crate::comparison::Rate;
use crate::reed::{Cut, Move};

/// What is known besides the samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Now {
    /// The pitch as it was last heard, moved on by what was done since.
    pub pitch: Option<Pitch>,
    /// Crows of the reed as it is now.
    pub crows: usize,
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
    /// Whether the last take is doubtful as a recording.
    pub doubtful: bool,
    /// Whether only the ear can tell what the crow is.
    pub ask_ear: bool,
    /// What was told of the reed as it is now, oldest first.
    pub told: Vec<(Move, Where)>,
    /// What was told last before that, and the work done, newest last.
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

const LOOKS: [Wanted; 6] = [
    Wanted::Leak,
    Wanted::TipSides,
    Wanted::Corners,
    Wanted::Heart,
    Wanted::Bark,
    Wanted::Symmetry,
];

/// From this chance on a leak, a choke or a fault of structure comes before the knife (our choice).
const BEFORE_THE_KNIFE: f64 = 0.5;

/// Work that costs no cane is thought of from this chance on.
const THOUGHT_OF: f64 = 0.25;

/// What scraping does to the pitch where it takes nothing off a cause, as a share of the usual.
const IN_VAIN: f64 = 0.6;

/// A clip is cut in steps of this, in millimetres.
const CLIP_STEP_MM: f64 = 0.05;

/// Times the maker is asked to crow again between two moves.
const RECROWS: usize = 2;

/// Times in a row that one place is scraped.
const IN_A_ROW: usize = 3;

/// Under this chance of helping nothing is cut: of a reed that is surely not in order, and how much
/// more of one that surely is (our choice).
const LEAST_HELP: (f64, f64) = (0.1, 0.35);

/// No reed is given up that is less surely past help (our choice).
const LEAST_LOST: f64 = 0.5;

/// Of what is held back, so much is gained by an answer about a reed that surely is not in order (our
/// choice).
const OPENED: f64 = 0.3;

/// What was mended without a cut and is still there is so much less likely mended by another try (our
/// choice).
const STILL_THERE: f64 = 0.4;

/// With every cut that was made, later ones cost so much more (our choice): work comes to an end.
const DEARER: f64 = 0.06;

/// Cumulative standard normal.
fn normal(x: f64) -> f64 {
    0.5 * statrs::function::erf::erfc(-x / std::f64::consts::SQRT_2)
}

/// Everything a worth is reckoned from.
struct Reckoning<'a> {
    practice: &'a Practice,
    now: &'a Now,
    clean: (f64, f64),
}

impl<'a> Reckoning<'a> {
    fn new(practice: &'a Practice, now: &'a Now) -> Self {
        let none = [0; CAUSES];
        let quiet = signs(practice, &none).iter().map(|sign| 1.0 - sign).product();
        Self { practice, now, clean: (sounds(practice, &none)[0], quiet) }
    }

    fn cut_costs(&self) -> f64 {
        self.practice.worth.cut_costs * (1.0 + DEARER * self.now.done.len() as f64)
    }

    fn room(&self) -> (f64, f64) {
        let shortest = self.now.shortest_mm;
        match (self.now.length, shortest, self.now.usual_mm) {
            (Some((mm, sd)), Some(shortest), _) => (mm - shortest, sd),
            (None, Some(shortest), Some(usual)) => (usual - shortest, 1.0),
            _ => (2.5, 1.5),
        }
    }

    fn in_tune(&self, cents: f64, sd: f64) -> f64 {
        if self.now.pitch_is_free {
            return 1.0;
        }
        let limit = self.now.tolerance;
        let sd = sd.max(0.5);
        normal((limit - cents) / sd) - normal((-limit - cents) / sd)
    }

    /// What the reed is worth if it is left as it is.
    fn left(&self, levels: &Levels, pitch: Option<(f64, f64)>) -> f64 {
        let worth = &self.practice.worth;
        let octaves = sounds(self.practice, levels)[0] / self.clean.0;
        let quiet: f64 =
            signs(self.practice, levels).iter().map(|sign| 1.0 - sign).product::<f64>()
                / self.clean.1;
        let order = (octaves * quiet).min(1.0).powf(1.0 / worth.badly);
        let tune = match pitch {
            None => worth.out_of_tune,
            Some((cents, sd)) => {
                let sure = self.in_tune(cents, sd);
                let off = (cents.abs() - self.now.tolerance).max(0.0);
                sure + (1.0 - sure) * worth.out_of_tune * (-off / 60.0).exp()
            }
        };
        order * tune
    }

    /// What it is worth to a maker who goes on, and finds out what is wrong as it goes.
    fn worked_on(&self, levels: &Levels, cents: f64) -> f64 {
        let worth = &self.practice.worth;
        let (mut saved, mut moves, mut clip_mm, mut pitch) = (1.0, 0.0, 0.0, cents);
        for (cause, level) in present(levels) {
            let (of, level) = (self.practice.of(cause), f64::from(level));
            saved *= of.mended.powf(if cause.is_cane_to_take() { level } else { 1.0 });
            saved *= STILL_THERE.powi(tries(self.now, cause));
            moves += of.moves * level;
            pitch -= of.cents * level;
            if cause == Cause::TipThin {
                clip_mm += 0.13 * level;
            }
        }
        if !self.now.pitch_is_free {
            pitch += clip_mm * self.now.clip.mean;
            let half = self.now.tolerance / 2.0;
            if pitch < -half {
                let mm = -pitch / self.now.clip.mean.max(20.0);
                clip_mm += mm;
                moves += (mm / 0.45).ceil();
            } else if pitch > self.now.tolerance {
                // Sharp with nothing to take that asks for it: light work all over, at a risk.
                let rounds = (pitch - half) / 9.0;
                saved *= (-0.06 * rounds).exp();
                moves += rounds;
            }
        }
        if clip_mm > 0.0 {
            let (room, sd) = self.room();
            saved *= normal((room - clip_mm) / sd.max(0.05)).max(0.02);
        }
        (saved - worth.move_costs * moves).max(0.0)
    }

    fn best(&self, levels: &Levels, cents: f64) -> f64 {
        let pitch = self.now.pitch.map(|_| (cents, 4.0));
        self.worked_on(levels, cents).max(self.left(levels, pitch))
    }
}

/// What may be made of one sample by one move: worth, help, harm.
#[derive(Clone, Copy, Default)]
struct Outcome {
    worth: f64,
    helps: f64,
    harms: f64,
}

struct Candidate {
    choice: Choice,
    each: Vec<Outcome>,
}

/// The moves that can be made, the best first.
pub fn decide(practice: &Practice, belief: &Belief, now: &Now) -> Decision {
    let reckoning = Reckoning::new(practice, now);
    let weights = belief.weights();
    let mut candidates = candidates(&reckoning, belief);
    for candidate in &mut candidates {
        let all = mean(&candidate.each, &weights);
        candidate.choice.worth = all.worth;
        candidate.choice.helps = all.helps;
        candidate.choice.harms = all.harms;
    }
    let mut choices: Vec<Choice> = candidates.iter().map(|one| one.choice.clone()).collect();
    choices.extend(asked(&reckoning, belief, &weights, &candidates));
    choices.retain(|choice| is_allowed(choice, belief, now));
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

fn candidates(reckoning: &Reckoning, belief: &Belief) -> Vec<Candidate> {
    let (practice, now) = (reckoning.practice, reckoning.now);
    let pitch = now.pitch.map_or(0.0, |pitch| pitch.cents);
    let sd = now.pitch.map_or(30.0, |pitch| pitch.sd);
    let told = now.pitch.map(|pitch| (pitch.cents, pitch.sd));
    let mut all = Vec::new();
    let mut add = |choice: Choice, of: &dyn Fn(&Levels) -> Outcome| {
        let each = belief.levels.iter().map(of).collect();
        all.push(Candidate { choice, each });
    };
    let in_tune = told.map_or(1.0, |(cents, sd)| reckoning.in_tune(cents, sd));
    add(plain(Move::Leave, Where::Nowhere), &|levels| {
        let good = present(levels).next().is_none();
        let worth = reckoning.left(levels, told);
        Outcome { worth, helps: if good { in_tune } else { 0.0 }, harms: 0.0 }
    });
    add(plain(Move::Stop, Where::Nowhere), &|levels| {
        let past_help = reckoning.best(levels, pitch) < 0.35;
        let helps = if past_help { 1.0 } else { 0.0 };
        Outcome { worth: practice.worth.stop, helps, harms: 1.0 - helps }
    });
    for (cut, cause) in SCRAPES.into_iter().chain(MENDS) {
        let Some(work) = practice.work(cut) else { continue };
        let is_seen = now.leak_seen == Some(cause);
        if !cut.takes_cane() && !is_seen && belief.chance(cause) < THOUGHT_OF {
            continue;
        }
        let rate = now.works.iter().find(|known| known.0 == cut).map_or(work.cents, |r| r.1.mean);
        add(of_cut(cut, Some(cause)), &|levels| {
            scraped(reckoning, levels, pitch, (cut, cause, work, rate))
        });
    }
    for (amount_mm, cause) in clips(now, belief, sd) {
        let mut choice = of_cut(Cut::Clip, cause);
        choice.amount_mm = Some(amount_mm);
        add(choice, &|levels| clipped(reckoning, levels, (pitch, sd), amount_mm));
    }
    all
}

fn scraped(
    reckoning: &Reckoning,
    levels: &Levels,
    pitch: f64,
    (cut, cause, work, rate): (Cut, Cause, &OfWork, f64),
) -> Outcome {
    let worth = &reckoning.practice.worth;
    let costs = if cut.takes_cane() { reckoning.cut_costs() } else { worth.ask_costs };
    let level = levels[cause as usize];
    let mends = work.mends.get(&cause).copied().unwrap_or(0.0);
    let took = work.mends.keys().any(|cause| levels[*cause as usize] > 0);
    let overdoes = work.overdoes.map_or(0.0, |over| if took { over.some } else { over.none });
    let before = reckoning.best(levels, pitch);
    let mut sum = Outcome { worth: -costs, ..Outcome::default() };
    let mends = if level > 0 { mends } else { 0.0 };
    for (mended, chance) in [(true, mends), (false, 1.0 - mends)] {
        if chance <= 0.0 {
            continue;
        }
        let mut after = *levels;
        let mut cents = pitch + if cut.takes_cane() { rate * IN_VAIN } else { 0.0 };
        if mended {
            after[cause as usize] -= 1;
            cents = pitch - reckoning.practice.of(cause).cents;
        }
        for over in [false, true] {
            let of_over = if over { overdoes } else { 1.0 - overdoes };
            if of_over <= 0.0 {
                continue;
            }
            let mut after = after;
            if let Some(overdone) = work.overdoes.filter(|_| over) {
                let level = &mut after[overdone.cause as usize];
                let most = reckoning.practice.of(overdone.cause).levels.len() as u8 - 1;
                *level = (*level + 1).min(most);
            }
            let share = chance * of_over;
            let value = reckoning.best(&after, cents);
            sum.worth += share * value;
            // It helps where it takes off what is too much, or brings a sharp crow nearer.
            let is_thin =
                [Cause::TipThin, Cause::HeartThin].iter().any(|c| levels[*c as usize] > 0);
            let lower = pitch > reckoning.now.tolerance && cents < pitch && !is_thin;
            if (mended || lower) && !over {
                sum.helps += share;
            }
            if value < before - 0.25 {
                sum.harms += share;
            }
        }
    }
    sum
}

fn clipped(
    reckoning: &Reckoning,
    levels: &Levels,
    (pitch, sd): (f64, f64),
    amount_mm: f64,
) -> Outcome {
    let now = reckoning.now;
    let rate = now.clip;
    let moved = rate.mean * amount_mm;
    let after_sd = spread_after(now, reckoning.practice, sd, amount_mm);
    let work = reckoning.practice.work(Cut::Clip);
    let mut after = *levels;
    let mut mends = 0.0;
    for (cause, chance) in work.iter().flat_map(|work| &work.mends) {
        if levels[*cause as usize] > 0 {
            after[*cause as usize] -= 1;
            mends = chance * (amount_mm / 0.1).min(1.0);
        }
    }
    let mut value = 0.0;
    // Three points of a Gaussian, with their weights (Gauss & Hermite).
    for (at, weight) in [(-1.732, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732, 1.0 / 6.0)] {
        let cents = pitch + moved + at * after_sd;
        let mended = if mends > 0.0 { reckoning.best(&after, cents) } else { 0.0 };
        value += weight * (mends * mended + (1.0 - mends) * reckoning.best(levels, cents));
    }
    let flat = pitch < -now.tolerance;
    let limit = now.tolerance;
    let sharp = 1.0 - normal((limit - pitch - moved) / after_sd.max(0.5));
    let nearer =
        normal((-2.0 * pitch - moved) / after_sd.max(0.5)) - normal(-moved / after_sd.max(0.5));
    let helps = if flat { nearer.max(0.0) } else { mends };
    // A lost crow that comes back sharp can be lowered again.
    let harms = if flat { sharp.max(0.0) } else { 0.05 };
    Outcome { worth: value - reckoning.cut_costs(), helps, harms }
}

/// Standard deviation of the pitch after a clip.
pub fn spread_after(now: &Now, practice: &Practice, sd: f64, amount_mm: f64) -> f64 {
    let of = &practice.clip;
    let rate = now.clip.sd * amount_mm;
    (sd.powi(2) + rate.powi(2) + (of.cut_sd_mm * now.clip.mean).powi(2) + of.cents_sd.powi(2))
        .sqrt()
}

/// The clips that can be made: for a flat crow the largest that hardly can end sharp; for a tip too
/// thin, or a chipped corner, the smallest.
fn clips(now: &Now, belief: &Belief, sd: f64) -> Vec<(f64, Option<Cause>)> {
    let room = match (now.length, now.shortest_mm) {
        (Some((mm, sd)), Some(shortest)) => mm - shortest - 1.0 * sd,
        _ => f64::INFINITY,
    };
    let steps =
        |mm: f64| ((mm / CLIP_STEP_MM + 1e-6).floor() * CLIP_STEP_MM * 1000.0).round() / 1000.0;
    let smallest = now.smallest_clip_mm;
    let mut all = Vec::new();
    let cents = now.pitch.map(|pitch| pitch.cents);
    if let Some(cents) = cents.filter(|cents| *cents < -now.tolerance && !now.pitch_is_free) {
        let practice = Practice::built_in();
        let quantile = quantile(practice.clip.sharp_at_most);
        let most = now.longest_clip_mm.min(room);
        // It aims a little flat: what is left can still be clipped.
        let fits = |mm: f64| {
            let sd = spread_after(now, practice, sd, mm);
            cents + now.clip.mean * mm + quantile * sd <= now.tolerance
                && cents + now.clip.mean * mm + 0.5 * sd <= 0.0
        };
        let mut mm = 0.0;
        while mm + CLIP_STEP_MM <= most + 1e-9 && fits(mm + CLIP_STEP_MM) {
            mm += CLIP_STEP_MM;
        }
        if steps(mm) >= smallest - 1e-9 {
            all.push((steps(mm), None));
        }
    }
    let sharp = cents.is_some_and(|cents| cents > now.tolerance);
    for cause in [Cause::TipThin, Cause::Chipped] {
        let needed = if sharp { 0.5 } else { 0.2 };
        if belief.chance(cause) > needed && smallest <= room {
            all.push((smallest, Some(cause)));
        }
    }
    all
}

/// How many standard deviations lie under all but a share of `upper`.
fn quantile(upper: f64) -> f64 {
    // By halving: it is asked for once a decision.
    let (mut low, mut high) = (0.0, 8.0);
    for _ in 0..50 {
        let middle = f64::midpoint(low, high);
        if 1.0 - normal(middle) > upper { low = middle } else { high = middle }
    }
    low
}

/// Asking: what it is worth by what it would change.
fn asked(
    reckoning: &Reckoning,
    belief: &Belief,
    weights: &[f64],
    candidates: &[Candidate],
) -> Vec<Choice> {
    let (practice, now) = (reckoning.practice, reckoning.now);
    let worth = &practice.worth;
    // Also what is not sure enough to be cut now: an answer may make it so.
    let allowed: Vec<&Candidate> =
        candidates.iter().filter(|one| is_possible(&one.choice, belief, now)).collect();
    // What the best move is worth once an answer with these chances has come.
    let after = |chances: &[f64]| -> f64 {
        let sums = allowed.iter().map(|one| {
            one.each
                .iter()
                .zip(chances)
                .map(|(outcome, chance)| outcome.worth * chance)
                .sum::<f64>()
        });
        sums.fold(0.0, f64::max)
    };
    // The best that may be done now, and the best there would be were it surer: what the gate holds
    // back is not gained by asking alone.
    let surely_best = candidates
        .iter()
        .filter(|one| is_allowed(&one.choice, belief, now))
        .map(|one| one.choice.worth)
        .fold(0.0, f64::max);
    let gain_over = allowed.iter().map(|one| one.choice.worth).fold(surely_best, f64::max);
    // An answer opens the gate only where something is wrong.
    let opened = OPENED * (gain_over - surely_best) * (1.0 - belief.chance_of(is_good)).powi(2);
    let best = surely_best + opened;
    // What most likely is wrong, and is mended without a cut, is mended before more is asked.
    let is_mended_first = allowed.iter().any(|one| {
        let cut = Cut::at(one.choice.next, one.choice.at.place());
        let likely =
            |cause: Cause| now.leak_seen == Some(cause) || belief.chance(cause) > BEFORE_THE_KNIFE;
        cut.is_some_and(|cut| !cut.takes_cane()) && one.choice.cause.is_some_and(likely)
    });
    let mut all = Vec::new();
    let mut looks: Vec<(Wanted, f64)> = Vec::new();
    for at in LOOKS {
        if is_mended_first || now.seen.contains(&at) || was_asked(now, at) {
            continue;
        }
        let each: Vec<Vec<(Option<Cause>, f64)>> =
            belief.levels.iter().map(|levels| answers(practice, levels, at)).collect();
        let Some(count) = each.first().map(Vec::len) else { continue };
        let gained: f64 = (0..count)
            .map(|answer| {
                let chances: Vec<f64> =
                    each.iter().zip(weights).map(|(of, weight)| of[answer].1 * weight).collect();
                after(&chances)
            })
            .sum::<f64>()
            - gain_over;
        if gained > 0.003 {
            looks.push((at, gained));
        }
    }
    looks.sort_by(|a, b| b.1.total_cmp(&a.1));
    looks.truncate(4);
    if !looks.is_empty() {
        let gained: f64 =
            looks.iter().enumerate().map(|(n, one)| one.1 * 0.6_f64.powi(n as i32)).sum();
        let at = Where::Wanted(looks.into_iter().map(|one| one.0).collect());
        all.push(Choice { worth: best + gained - worth.ask_costs, ..plain(Move::Look, at) });
    }
    if now.ask_ear && !was_asked(now, Wanted::Ear) {
        let at = Where::Wanted(vec![Wanted::Ear]);
        all.push(Choice { worth: best + 0.05, ..plain(Move::Look, at) });
    }
    if !is_mended_first || !now.measure_again.is_empty() {
        all.extend(measure(reckoning, belief, best, &allowed));
    }
    let recrows = now.told.iter().filter(|told| told.0 == Move::Recrow).count();
    let seals_first = is_mended_first && now.leak_seen.is_some();
    if recrows < RECROWS && !seals_first {
        let more =
            worth_of(now.crows + 3, practice.crow.alike) - worth_of(now.crows, practice.crow.alike);
        let each: Vec<[f64; SOUNDS]> =
            belief.levels.iter().map(|levels| sounds(practice, levels)).collect();
        let next = belief.next_sounds();
        let share = more.min(1.0);
        let gained: f64 = (0..SOUNDS)
            .map(|sound| {
                let chances: Vec<f64> = each
                    .iter()
                    .zip(weights)
                    .map(|(of, weight)| (share * of[sound] + (1.0 - share) * next[sound]) * weight)
                    .collect();
                after(&chances)
            })
            .sum::<f64>()
            - gain_over;
        let too_few = now.crows_wanted.saturating_sub(now.crows) as f64 * 0.04;
        let wide = now.pitch.map_or(0.0, |pitch| {
            let limit = now.tolerance.max(pitch.cents.abs() / 2.0);
            (pitch.sd * 2.0 / limit - 1.0).clamp(0.0, 1.0) * 0.1
        });
        let doubtful = if now.doubtful { 0.08 } else { 0.0 };
        let unheard = if now.heard { 0.0 } else { 1.0 };
        let worth = surely_best + gained.max(0.0) + too_few + wide + doubtful + unheard
            - worth.ask_costs * 2.0;
        all.push(Choice { worth, ..plain(Move::Recrow, Where::Nowhere) });
    }
    all
}

/// The ruler: what is doubted, the length before a clip near the shortest, and what may be built wrong.
fn measure(
    reckoning: &Reckoning,
    belief: &Belief,
    best: f64,
    allowed: &[&Candidate],
) -> Option<Choice> {
    let now = reckoning.now;
    let clip = allowed
        .iter()
        .filter(|one| one.choice.next == Move::Clip)
        .max_by(|a, b| a.choice.worth.total_cmp(&b.choice.worth));
    let wants_clip = clip.is_some_and(|clip| clip.choice.worth > best - 0.03)
        || now.pitch.is_some_and(|pitch| pitch.cents < -now.tolerance);
    let amount = clip.and_then(|clip| clip.choice.amount_mm).unwrap_or(now.smallest_clip_mm);
    let near = match (now.length, now.shortest_mm) {
        (Some((mm, sd)), Some(shortest)) => sd > 0.22 && mm - amount - shortest < 2.5 * sd,
        (None, Some(_)) => true,
        _ => false,
    };
    let mut wanted: Vec<Wanted> = now.measure_again.clone();
    if wants_clip && near {
        wanted.push(Wanted::Length);
    }
    let built = [
        (Cause::Winding, &[Wanted::Winding, Wanted::Staple][..]),
        (Cause::Closed, &[Wanted::Opening]),
        (Cause::Wide, &[Wanted::Opening]),
        (Cause::High, &[Wanted::Tip, Wanted::Heart]),
    ];
    for (cause, by) in built {
        if belief.chance(cause) > 0.12 && by.iter().any(|one| !now.measured.contains(one)) {
            wanted.extend(by.iter().filter(|one| !now.measured.contains(one)));
        }
    }
    wanted.retain(|one| !was_asked_to_measure(now, *one));
    let mut once = Vec::new();
    wanted.into_iter().for_each(|one| {
        if !once.contains(&one) {
            once.push(one);
        }
    });
    if once.is_empty() {
        return None;
    }
    Some(Choice { worth: best + 0.03, ..plain(Move::Measure, Where::Wanted(once)) })
}

fn was_asked(now: &Now, at: Wanted) -> bool {
    told(now, Move::Look, at)
}

fn was_asked_to_measure(now: &Now, at: Wanted) -> bool {
    told(now, Move::Measure, at)
}

fn told(now: &Now, next: Move, at: Wanted) -> bool {
    let asks = |told: &&(Move, Where)| match &told.1 {
        Where::Wanted(each) => told.0 == next && each.contains(&at),
        _ => false,
    };
    now.told.iter().any(|told| asks(&told))
}

/// Whether a move may be made now, whatever it is worth.
fn is_allowed(choice: &Choice, belief: &Belief, now: &Now) -> bool {
    // The knife needs a cause: what hardly can help is not cut, and what is likelier to harm.
    let least = LEAST_HELP.0 + LEAST_HELP.1 * belief.chance_of(is_good);
    let is_sure = choice.helps >= least && choice.helps >= choice.harms;
    let is_gate_open = match choice.next {
        Move::Stop => choice.helps >= LEAST_LOST,
        next => is_sure || !next.is_cut(),
    };
    is_gate_open && is_possible(choice, belief, now)
}

/// Whether a move may be made at all, were it only sure enough.
fn is_possible(choice: &Choice, belief: &Belief, now: &Now) -> bool {
    let is_last = |told: &(Move, Where)| told.0 == choice.next && told.1 == choice.at;
    // The same thing is not told three times running, whether or not it was done.
    let twice = now.told.len() >= 2 && now.told.iter().rev().take(2).all(is_last);
    if twice && !choice.next.ends() {
        return false;
    }
    let cut = Cut::at(choice.next, choice.at.place());
    let takes_cane = cut.is_some_and(Cut::takes_cane);
    // A leak before the eyes is a fact, whatever the samples make of it.
    if takes_cane && (!now.heard || now.leak_seen.is_some()) {
        return false;
    }
    let waits = [Cause::LeakLow, Cause::Winding].into_iter().any(|cause| {
        let is_it = choice.cause == Some(cause);
        !is_it && belief.chance(cause) > BEFORE_THE_KNIFE && tries(now, cause) < 2
    });
    if cut.is_some() && waits {
        return false;
    }
    let Some(cut) = cut else { return true };
    let last: Vec<&Done> = now.done.iter().rev().take_while(|done| done.cut == cut).collect();
    let in_vain = last.first().is_some_and(|done| done.helped == Some(false));
    if cut == Cut::Clip {
        // A clip is as long as is needed: another one is never unchanged.
        return !(in_vain && choice.cause.is_some() && last.len() >= 2);
    }
    let all = now.done.iter().filter(|done| done.cut == cut).count();
    if cut.takes_cane() {
        !in_vain && last.len() < IN_A_ROW && all < 6
    } else {
        // A retie is tried once, a seal and the opening twice.
        all < if cut == Cut::Retie { 1 } else { 2 }
    }
}

/// How often work that takes no cane was done for a cause.
fn tries(now: &Now, cause: Cause) -> i32 {
    let of_it = |done: &&Done| MENDS.contains(&(done.cut, cause));
    now.done.iter().filter(of_it).count() as i32
}

/// The chance of a state that is in order and in tune, or would be left as it is.
pub fn is_good(levels: &Levels) -> bool {
    present(levels).next().is_none()
}
