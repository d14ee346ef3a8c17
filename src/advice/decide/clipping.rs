//! The clip: how long it may be, and what may come of it.

use super::choice::Now;
use super::worth::{Outcome, Reckoning, normal};
use crate::advice::practice::{CAUSES, Cause, Practice};
use crate::advice::sample::Sample;
use crate::reed::Cut;

/// A clip is told in steps of this, in millimetres: as finely as callipers show and a hand hardly cuts.
const CLIP_STEP_MM: f64 = 0.02;

/// What may come of a clip.
pub fn clipped(
    reckoning: &Reckoning,
    sample: &Sample,
    (pitch, sd): (f64, f64),
    amount_mm: f64,
    cause: Option<Cause>,
) -> Outcome {
    let (now, practice) = (reckoning.now, reckoning.practice);
    let moved = now.clip.mean * amount_mm;
    let after_sd = spread_after(now, practice, sd, amount_mm);
    let mut after = sample.clipped(practice, amount_mm, 1.0);
    let mends = practice.work(Cut::Clip).and_then(|work| work.mends.get(&Cause::Chipped)).copied();
    let chipped = if sample.has(Cause::Chipped) { 1.0 - mends.unwrap_or(0.0) } else { 0.0 };
    after.set(Cause::Chipped, chipped > 0.5);
    let mut value = 0.0;
    // Three points of a Gaussian, with their weights (Gauss & Hermite).
    for (at, weight) in [(-1.732, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732, 1.0 / 6.0)] {
        value += weight * reckoning.best(&after, pitch + moved + at * after_sd);
    }
    let limit = now.tolerance;
    let sharp = 1.0 - normal((limit - pitch - moved) / after_sd.max(0.5));
    let nearer =
        normal((-2.0 * pitch - moved) / after_sd.max(0.5)) - normal(-moved / after_sd.max(0.5));
    let mended = |cause: Cause| match cause {
        Cause::Chipped => sample.has(Cause::Chipped),
        _ => sample.amounts(practice)[Cause::TipThin as usize] > 0.1,
    };
    match cause {
        None => Outcome {
            worth: value - reckoning.cut_costs(),
            helps: nearer.max(0.0),
            harms: sharp.max(0.0),
        },
        // A lost crow that comes back sharp can be lowered again.
        Some(cause) => Outcome {
            worth: value - reckoning.cut_costs(),
            helps: if mended(cause) { 0.9 } else { 0.0 },
            harms: 0.05,
        },
    }
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
pub fn clips(
    practice: &Practice,
    now: &Now,
    chances: &[f64; CAUSES],
    sd: f64,
) -> Vec<(f64, Option<Cause>)> {
    let room = match (now.length, now.shortest_mm) {
        (Some((mm, sd)), Some(shortest)) => mm - shortest - 0.5 * sd,
        _ => f64::INFINITY,
    };
    let steps =
        |mm: f64| ((mm / CLIP_STEP_MM + 1e-6).floor() * CLIP_STEP_MM * 1000.0).round() / 1000.0;
    let smallest = now.smallest_clip_mm;
    let mut all = Vec::new();
    let cents = now.pitch.map(|pitch| pitch.cents);
    if let Some(cents) =
        cents.filter(|cents| *cents + 0.5 * sd < -now.tolerance && !now.pitch_is_free)
    {
        let quantile = quantile(practice.clip.sharp_at_most);
        let most = now.longest_clip_mm.min(room);
        let fits = |mm: f64| {
            let sd = spread_after(now, practice, sd, mm);
            cents + now.clip.mean * mm + quantile * sd <= now.tolerance
                && cents + now.clip.mean * mm <= 0.0
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
        let needed = if sharp { 0.5 } else { 0.35 };
        let most = if sharp { 1.0 } else { 2.0 };
        for times in [1.0, most] {
            if chances[cause as usize] > needed && times * smallest <= room {
                all.push((times * smallest, Some(cause)));
            }
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
