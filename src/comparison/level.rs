//! Pitch at one level: analysis of covariance with one slope for both sides.
//!
//! Source: the usual ANCOVA formulas, e.g. Snedecor & Cochran, Statistical Methods, chapter 18 (from
//! memory; checked against ordinary least squares in statsmodels).

use super::figures::Samples;
use super::welch::{Difference, Plan, own_half_width};
use crate::dsp::statistics::t_975;

/// Levels that differ by less than this count as one, in decibels (our choice: a phone or laptop
/// input is not steadier, nor the distance to it).
const SAME_LEVEL_DB: f64 = 1.0;

/// What could be done about level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Levelled {
    /// All crows have one level, or too few crows have one.
    NotNeeded,
    /// Levels differ, and the crows within the sides do not tell how pitch moves with level.
    NotPossible,
    /// The sides differ in level by more than their crows do, in decibels: a slope would be carried
    /// beyond the crows it is taken from, and a microphone moved looks like a reed blown harder.
    Apart(f64),
    /// The difference at the mean level.
    At {
        found: Difference,
        /// Change of the figure per decibel.
        slope_per_db: f64,
    },
}

/// The difference of pitch at the mean level of all crows, where the levels within the sides reach
/// as far as the step between them.
pub(super) fn adjusted(before: &Samples, after: &Samples) -> Levelled {
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
    let step = (mean(&second) - mean(&first)).abs();
    // Half a range: from a side's middle level to its loudest or softest crow.
    if step > range(&first).max(range(&second)) / 2.0 {
        return if step < SAME_LEVEL_DB { Levelled::NotNeeded } else { Levelled::Apart(step) };
    }
    match covariance(before, after, &first, &second) {
        None => Levelled::NotPossible,
        Some((mut found, slope_per_db)) => {
            // The levels of the sides are known to each other no better than this.
            let of_input = slope_per_db * SAME_LEVEL_DB;
            found.ci95 = found.ci95.map(|half| half.hypot(of_input));
            found.plan = found.plan.map(|plan| Plan { fixed: of_input.abs(), ..plan });
            Levelled::At { found, slope_per_db }
        }
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// The difference at the mean level and the slope per decibel, both with the slope's uncertainty;
/// `None` where the crows within the sides tell no slope.
pub(super) fn covariance(
    before: &Samples,
    after: &Samples,
    first_levels: &[f64],
    second_levels: &[f64],
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
    let freedom = count - 3.0;
    // Within the sides the level must move by a tenth of a decibel at least to tell a slope.
    if freedom < 1.0 || xx < 0.01 * (count - 2.0) {
        return None;
    }
    let slope = xy / xx;
    let level_step = mean(second_levels) - mean(first_levels);
    let difference = mean(&second) - mean(&first) - slope * level_step;
    let variance = (yy - slope * xy).max(0.0) / freedom;
    let spread = 1.0 / first.len() as f64 + 1.0 / second.len() as f64 + level_step.powi(2) / xx;
    let half = t_975(freedom) * (variance * spread).sqrt();
    let found = Difference {
        difference,
        ci95: Some(half.max(own_half_width(before, after))),
        plan: Some(Plan {
            // As if the crows to come had the levels of these.
            variance: variance * (2.0 + level_step.powi(2) * (count / 2.0) / xx),
            fewest: first.len().min(second.len()),
            slopes: 1,
            medians: false,
            fixed: 0.0,
        }),
    };
    Some((found, slope))
}
