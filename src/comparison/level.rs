//! Pitch at one level: analysis of covariance with one slope for both sides.
//!
//! Source: the usual ANCOVA formulas, e.g. Snedecor & Cochran, Statistical Methods, chapter 18 (from
//! memory; checked against ordinary least squares in statsmodels).

use super::figures::Samples;
use super::welch::{Difference, Plan, own_half_width, student_975};

/// Levels that differ by less than this over all crows count as one, in decibels (our choice: a
/// phone or laptop input is not steadier).
const SAME_LEVEL_DB: f64 = 1.0;

/// What could be done about level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Levelled {
    /// All crows have one level, or too few crows have one.
    NotNeeded,
    /// Levels differ, and the crows within the sides do not tell how pitch moves with level.
    NotPossible,
    /// The difference at the mean level.
    At {
        found: Difference,
        /// Change of the figure per decibel.
        slope_per_db: f64,
        /// Whether the sides' levels do not overlap, so that the slope is carried beyond them.
        apart: bool,
    },
}

/// The difference of pitch at the mean level of all crows.
pub(super) fn adjusted(before: &Samples, after: &Samples) -> Levelled {
    let (Some(first_levels), Some(second_levels)) = (before.levels(), after.levels()) else {
        return Levelled::NotNeeded;
    };
    let (first, second) = (before.values(), after.values());
    let count = first.len() + second.len();
    let all = [first_levels.clone(), second_levels.clone()].concat();
    let range = |levels: &[f64]| {
        let least = levels.iter().copied().fold(f64::INFINITY, f64::min);
        let most = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (least, most)
    };
    let (least, most) = range(&all);
    if first.len() < 2 || second.len() < 2 || most - least < SAME_LEVEL_DB {
        return Levelled::NotNeeded;
    }
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (levels, values) in [(&first_levels, &first), (&second_levels, &second)] {
        let (level, value) = (mean(levels), mean(values));
        for (x, y) in levels.iter().zip(values) {
            xx += (x - level).powi(2);
            xy += (x - level) * (y - value);
            yy += (y - value).powi(2);
        }
    }
    let freedom = count as f64 - 3.0;
    // Within the sides the level must move by a tenth of a decibel at least to tell a slope.
    if freedom < 1.0 || xx < 0.01 * (count as f64 - 2.0) {
        return Levelled::NotPossible;
    }
    let slope = xy / xx;
    let level_step = mean(&second_levels) - mean(&first_levels);
    let difference = mean(&second) - mean(&first) - slope * level_step;
    let variance = (yy - slope * xy).max(0.0) / freedom;
    let spread = 1.0 / first.len() as f64 + 1.0 / second.len() as f64 + level_step.powi(2) / xx;
    let half = student_975(freedom) * (variance * spread).sqrt();
    let (first_range, second_range) = (range(&first_levels), range(&second_levels));
    Levelled::At {
        found: Difference {
            difference,
            ci95: Some(half.max(own_half_width(before, after))),
            plan: Some(Plan {
                // As if the crows to come had the levels of these.
                variance: variance * (2.0 + level_step.powi(2) * (count as f64 / 2.0) / xx),
                fewest: first.len().min(second.len()),
                slopes: 1,
                medians: false,
            }),
        },
        slope_per_db: slope,
        apart: first_range.1 < second_range.0 || second_range.1 < first_range.0,
    }
}
