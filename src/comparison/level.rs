//! Pitch at one level: analysis of covariance with one slope for both sides, and a prior for it.
//!
//! What a decibel does to the pitch is known a little before any crow, and better from the crows within
//! each side. Both enter as a Gaussian prior and a likelihood; with a prior that says nothing it is the
//! usual ANCOVA, e.g. Snedecor & Cochran, Statistical Methods, chapter 18 (from memory; checked against
//! ordinary least squares in statsmodels).

use super::estimate::NORMAL_95;
use super::figures::Samples;
use super::welch::{Difference, Plan, own_half_width};
use crate::dsp::statistics::t_975;
use crate::profile::Profile;

/// Levels that differ by less than this count as one, in decibels (our choice: a phone or laptop
/// input is not steadier, nor the distance to it).
const SAME_LEVEL_DB: f64 = 1.0;

/// What is known of the slope before any crow, in units of the figure per decibel.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slope {
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
}

impl Slope {
    /// Of pitch, in cents per decibel: as this maker's crows have it, else as the profile does.
    pub fn of_pitch(profile: &Profile) -> Self {
        match profile.blowing {
            Some(known) => Self { mean: known.cents_per_db, sd: known.sd },
            None => Self { mean: 0.0, sd: profile.advice.level_slope_cents_per_db },
        }
    }

    /// The same for a figure of which one unit is so many cents.
    pub fn per(self, cents_per_unit: f64) -> Self {
        Self { mean: self.mean / cents_per_unit, sd: self.sd / cents_per_unit }
    }
}

/// What could be done about level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Levelled {
    /// All crows have one level, or too few crows have one.
    NotNeeded,
    /// The sides differ in level by more than their crows do: blown harder, or a microphone moved. The
    /// interval holds both.
    Apart {
        found: Difference,
        /// By how much, in decibels.
        step_db: f64,
    },
    /// The difference at the mean level.
    At {
        found: Difference,
        /// Change of the figure per decibel.
        slope_per_db: f64,
    },
}

/// The difference of pitch at the mean level of all crows.
pub(super) fn adjusted(before: &Samples, after: &Samples, prior: Slope) -> Levelled {
    let (Some(first), Some(second)) = (before.levels(), after.levels()) else {
        return Levelled::NotNeeded;
    };
    let range = |levels: &[f64]| {
        let least = levels.iter().copied().fold(f64::INFINITY, f64::min);
        levels.iter().copied().fold(f64::NEG_INFINITY, f64::max) - least
    };
    let all = [first.clone(), second.clone()].concat();
    if first.len() < 2 || second.len() < 2 || range(&all) < SAME_LEVEL_DB {
        return Levelled::NotNeeded;
    }
    let step_db = mean(&second) - mean(&first);
    // Half a range: from a side's middle level to its loudest or softest crow.
    let is_apart = step_db.abs() > range(&first).max(range(&second)) / 2.0;
    if is_apart && step_db.abs() < SAME_LEVEL_DB {
        return Levelled::NotNeeded;
    }
    let Some((found, slope_per_db)) = covariance(before, after, &first, &second, prior) else {
        return Levelled::NotNeeded;
    };
    if is_apart {
        return Levelled::Apart { found: either(before, after, found), step_db: step_db.abs() };
    }
    // The levels of the sides are known to each other no better than this.
    let of_input = (slope_per_db * SAME_LEVEL_DB).abs();
    let found = Difference {
        ci95: found.ci95.map(|half| half.hypot(of_input)),
        plan: found.plan.map(|plan| Plan { fixed: of_input, ..plan }),
        ..found
    };
    Levelled::At { found, slope_per_db }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// The interval that holds both what is found at one level and what is found as crowed: a step beyond
/// the crows' own reach may be blowing, or distance and gain, or some of each.
fn either(before: &Samples, after: &Samples, at_one_level: Difference) -> Difference {
    let as_crowed = mean(&after.values()) - mean(&before.values());
    let plain = super::welch::of_medians(before, after);
    let (Some(level), Some(crowed)) = (at_one_level.ci95, plain.ci95) else { return plain };
    let low = (at_one_level.difference - level).min(as_crowed - crowed);
    let high = (at_one_level.difference + level).max(as_crowed + crowed);
    let fixed = (at_one_level.difference - as_crowed).abs() / 2.0;
    Difference {
        difference: f64::midpoint(low, high),
        ci95: Some((high - low) / 2.0),
        plan: at_one_level.plan.map(|plan| Plan { fixed, ..plan }),
    }
}

/// Rounds in which slope and spread are found together: they settle in three.
const ROUNDS: usize = 8;

/// The difference at the mean level and the slope per decibel, both with the slope's uncertainty;
/// `None` with too few crows to tell a spread.
pub(super) fn covariance(
    before: &Samples,
    after: &Samples,
    first_levels: &[f64],
    second_levels: &[f64],
    prior: Slope,
) -> Option<(Difference, f64)> {
    let (first, second) = (before.values(), after.values());
    let count = (first.len() + second.len()) as f64;
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (levels, values) in [(first_levels, &first), (second_levels, &second)] {
        let (level, value) = (mean(levels), mean(values));
        for (x, y) in levels.iter().zip(values) {
            xx += (x - level).powi(2);
            xy += (x - level) * (y - value);
            yy += (y - value).powi(2);
        }
    }
    if count < 4.0 {
        return None;
    }
    let prior_precision = prior.sd.powi(2).recip();
    // Spread about the slope, the slope, its variance, and the share of it that the crows told: each
    // from the others.
    let mut variance = (yy / (count - 2.0)).max(1e-12);
    let (mut slope, mut of_slope, mut told) = (prior.mean, prior.sd.powi(2), 0.0);
    for _ in 0..ROUNDS {
        let precision = xx / variance + prior_precision;
        slope = (xy / variance + prior.mean * prior_precision) / precision;
        of_slope = precision.recip();
        told = xx / variance / precision;
        let residual = (yy - 2.0 * slope * xy + slope.powi(2) * xx).max(0.0);
        variance = (residual / (count - 2.0 - told).max(1.0)).max(1e-12);
    }
    let freedom = (count - 2.0 - told).max(1.0);
    let level_step = mean(second_levels) - mean(first_levels);
    let difference = mean(&second) - mean(&first) - slope * level_step;
    let spread = 1.0 / first.len() as f64 + 1.0 / second.len() as f64;
    // As far as the crows told the slope, it is known as well as their spread is.
    let student = t_975(freedom);
    let of_prior = told * student + (1.0 - told) * NORMAL_95;
    let half =
        (student * (variance * spread).sqrt()).hypot(of_prior * of_slope.sqrt() * level_step);
    let found = Difference {
        difference,
        ci95: Some(half.max(own_half_width(before, after))),
        plan: Some(Plan {
            // As if the crows to come had the levels of these.
            variance: variance * 2.0 + of_slope * level_step.powi(2) * count / 2.0,
            fewest: first.len().min(second.len()),
            slopes: 1,
            medians: false,
            fixed: 0.0,
        }),
    };
    Some((found, slope))
}
