//! A difference of medians and its interval from the spread between crows.
//!
//! Source: B. L. Welch, Biometrika 34, 1947, 28-35; degrees of freedom after F. E. Satterthwaite,
//! Biometrics Bulletin 2, 1946, 110-114 (both from memory; checked against scipy).

use super::estimate::{NORMAL_95, median_widening, own_error};
use super::figures::Samples;
use crate::dsp::statistics::{median, t_975};

/// A difference, its interval, and what planning more crows needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Difference {
    pub difference: f64,
    /// Half width of the 95 % interval; `None` with one crow on a side.
    pub ci95: Option<f64>,
    pub plan: Option<Plan>,
}

/// How the interval would go with more crows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Plan {
    /// Sum of both sides' variances from crow to crow.
    pub variance: f64,
    /// Crows on the smaller side now.
    pub fewest: usize,
    /// Parameters that cost a degree of freedom beyond the two means: 1 for a level slope.
    pub slopes: usize,
    /// Whether the difference is one of medians.
    pub medians: bool,
    /// Half width that no number of crows makes narrower.
    pub fixed: f64,
}

/// Sample variance; `None` under two values.
pub(super) fn variance(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let squares: f64 = values.iter().map(|x| (x - mean).powi(2)).sum();
    Some(squares / (values.len() - 1) as f64)
}

/// Half width of Welch's 95 % interval.
///
/// * `first`, `second`: for each side the variance of its mean (or median) and the number of crows.
pub(super) fn half_width(first: (f64, usize), second: (f64, usize)) -> f64 {
    let total = first.0 + second.0;
    if total <= 0.0 {
        return 0.0;
    }
    let share = |(variance, count): (f64, usize)| variance.powi(2) / (count as f64 - 1.0);
    let freedom = total.powi(2) / (share(first) + share(second));
    t_975(freedom) * total.sqrt()
}

/// Half width that the crows' own intervals alone give the difference.
pub(super) fn own_half_width(before: &Samples, after: &Samples) -> f64 {
    NORMAL_95 * own_error(&before.own_ci95()).hypot(own_error(&after.own_ci95()))
}

/// The difference of the sides' medians; 0 where a side is empty (the caller has left it out).
pub(super) fn of_medians(before: &Samples, after: &Samples) -> Difference {
    let (first, second) = (before.values(), after.values());
    let difference = median(second.iter().copied())
        .zip(median(first.iter().copied()))
        .map_or(0.0, |(after, before)| after - before);
    let (Some(first_variance), Some(second_variance)) = (variance(&first), variance(&second))
    else {
        return Difference { difference, ci95: None, plan: None };
    };
    let of_median =
        |variance: f64, count: usize| (variance / count as f64 * median_widening(count), count);
    let between = half_width(
        of_median(first_variance, first.len()),
        of_median(second_variance, second.len()),
    );
    let own = |samples: &Samples| {
        let half_widths = samples.own_ci95();
        own_error(&half_widths).powi(2) * half_widths.len() as f64
    };
    let plan = Plan {
        variance: first_variance.max(own(before)) + second_variance.max(own(after)),
        fewest: first.len().min(second.len()),
        slopes: 0,
        medians: true,
        fixed: 0.0,
    };
    let ci95 = between.max(own_half_width(before, after));
    Difference { difference, ci95: Some(ci95), plan: Some(plan) }
}
