//! What a state of the reed is worth: left as it is, or worked on by a maker who finds out what is wrong;
//! and what work makes of it.

use super::Now;
use super::gates::tries;
use crate::advice::belief::{Levels, present, signs, sounds};
use crate::advice::practice::{CAUSES, Cause, OfWork, Practice};
use crate::reed::Cut;

/// What scraping does to the pitch where it takes nothing off a cause, as a share of the usual.
const IN_VAIN: f64 = 0.6;

/// What was mended without a cut and is still there is so much less likely mended by another try (our
/// choice).
const STILL_THERE: f64 = 0.4;

/// Where a reed ends makers part ways: the shortest length is meant so well, in millimetres (our
/// choice).
const SOFT_MM: f64 = 0.4;

/// With every cut that was made, later ones cost so much more (our choice): work comes to an end.
const DEARER: f64 = 0.06;

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
    clean: (f64, f64),
}

impl<'a> Reckoning<'a> {
    /// For a reed as it is now.
    pub fn new(practice: &'a Practice, now: &'a Now) -> Self {
        let none = [0; CAUSES];
        let quiet = signs(practice, &none).iter().map(|sign| 1.0 - sign).product();
        Self { practice, now, clean: (sounds(practice, &none)[0], quiet) }
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

    /// How surely it crows in octaves without a sign of trouble, against a reed with nothing wrong.
    pub fn in_order(&self, levels: &Levels) -> f64 {
        let octaves = sounds(self.practice, levels)[0] / self.clean.0;
        let quiet: f64 =
            signs(self.practice, levels).iter().map(|sign| 1.0 - sign).product::<f64>()
                / self.clean.1;
        (octaves * quiet).min(1.0)
    }

    /// What the reed is worth if it is left as it is.
    pub fn left(&self, levels: &Levels, pitch: Option<(f64, f64)>) -> f64 {
        let worth = &self.practice.worth;
        let order = self.in_order(levels).powf(1.0 / worth.badly);
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
            saved *= normal((room - clip_mm) / sd.hypot(SOFT_MM)).max(0.02);
        }
        (saved - worth.move_costs * moves).max(0.0)
    }

    /// The better of the two.
    pub fn best(&self, levels: &Levels, cents: f64) -> f64 {
        let pitch = self.now.pitch.map(|_| (cents, 4.0));
        self.worked_on(levels, cents).max(self.left(levels, pitch))
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

/// What may come of scraping, or of work that takes no cane.
pub fn scraped(
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
    let times = reckoning.now.done.iter().filter(|done| done.cut == cut).count();
    let overdoes = work.overdoes.map_or(0.0, |over| over.chance(took, times));
    // What it takes off other causes helps as well, if the reed is worth no more by it.
    let others: f64 = work
        .mends
        .iter()
        .filter(|one| *one.0 != cause && levels[*one.0 as usize] > 0)
        .map(|one| 1.0 - one.1)
        .product();
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
            if !over {
                sum.helps += share * if mended || lower { 1.0 } else { 1.0 - others };
            }
            if value < before - 0.25 {
                sum.harms += share;
            }
        }
    }
    sum
}
